"""A skill as a form that people fill, and the form put back into plain data. Pure: no page, no file, no ledger.

Only what differs is written. A skill's hash is that of its written form, and attempts are pinned to it: a form that
was opened and saved with nothing changed must leave every byte as it was. What a form does not show is kept.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from course.standards.difference import StandardsDifference, difference
from course.standards.plain import At, Flaw, Path
from course.standards.rubric import OTHER_ERROR, Rule, Skill, Step
from course.standards.shape import own_flaws
from course.standards.standards import Standards, examine, problem_of

_LONGEST_ID = 40
_KEY_WORDS = {
    "if_left_out: critical": "the tick at “Leaving it out is critical”",
    "if_left_out": "“Leaving it out is critical”",
    "left_out_why": "“why leaving it out is not”",
    "in_a_row": "“In a row”",
    "distinct_days": "“Over so many days”",
    "reteach": "“Re-teach attempts”",
    "after_critical": "“Critical when it comes before”",
    "in after": "in “Has to come after”",
    "into after": "into “Has to come after”",
    "of an after": "of a “Has to come after”",
    "at_least": "“At least”",
    "at_most": "“At most”",
}
"""A file's keys in the words of the form, which is what its reader sees."""


@dataclass(frozen=True)
class ErrorForm:
    """One error of a step as filled in."""

    id: str
    label: str = ""
    consequence: str = ""
    critical: bool = False


@dataclass(frozen=True)
class LimitForm:
    """The bounds of a step's measured value as filled in; quantity, unit and basis stay as they are."""

    at_least: str = ""
    at_most: str = ""
    from_: str = ""
    error: str = ""


@dataclass(frozen=True)
class StepForm:
    """One step as filled in."""

    id: str
    do: str = ""
    why: str = ""
    left_out_critical: bool = False
    left_out_why: str = ""
    after: tuple[str, ...] = ()
    after_critical: tuple[str, ...] = ()
    errors: tuple[ErrorForm, ...] = ()
    limit: LimitForm | None = None
    prompt_error: str = ""


@dataclass(frozen=True)
class SkillForm:
    """One skill as filled in."""

    id: str
    title: str
    purpose: str
    caution: str
    currency_days: int
    rule: Rule | dict[str, Any]
    """A rule, or its numbers as typed where they make none."""
    steps: tuple[StepForm, ...]


@dataclass(frozen=True)
class Edited:
    """What a form makes of a set of standards: the new set with its difference, or every flaw at its place."""

    files: dict[str, Any]
    standards: Standards | None
    changes: StandardsDifference
    flaws: dict[Path, tuple[str, ...]]
    """By path inside the skill, such as ("steps", 2, "do"): what is wrong and the way out."""
    elsewhere: tuple[str, ...]
    """Flaws outside the skill, each with its place."""

    @property
    def sound(self) -> bool:
        """Whether it can be saved."""
        return self.standards is not None

    def at(self, *path: str | int) -> tuple[str, ...]:
        """What is wrong at a field or inside it."""
        return tuple(told for place, flaws in self.flaws.items() if place[: len(path)] == path for told in flaws)

    def exactly_at(self, *path: str | int) -> tuple[str, ...]:
        """What is wrong with a block as a whole."""
        return self.flaws.get(path, ())


def form_of(skill: Skill) -> SkillForm:
    """Return a skill as a form."""
    return SkillForm(
        id=skill.id,
        title=skill.title,
        purpose=skill.purpose,
        caution=skill.caution,
        currency_days=skill.currency_days,
        rule=skill.rule,
        steps=tuple(_step_form(step) for step in skill.steps),
    )


def _step_form(step: Step) -> StepForm:
    limit = step.limit
    return StepForm(
        id=step.id,
        do=step.do,
        why=step.why,
        left_out_critical=step.if_left_out is not None,
        left_out_why=step.left_out_why or "",
        after=step.after,
        after_critical=step.after_critical,
        errors=tuple(ErrorForm(e.id, e.label, e.consequence, e.critical) for e in step.errors),
        limit=LimitForm(limit.at_least or "", limit.at_most or "", limit.from_, limit.error or "") if limit else None,
        prompt_error=step.prompt_error or "",
    )


def edited(standards: Standards, form: SkillForm, revision: str) -> Edited:
    """Put a form into a set of standards and check the whole set.

    Args:
        standards: the set that the form began from.
        form: the skill as filled in.
        revision: the new name of the revision of the skill's phase; used only when something else changed.

    Raises:
        NotFoundError: the set has no such skill.
    """
    skill = standards.skill(form.id)
    form = named(form, skill)
    files: dict[str, Any] = json.loads(json.dumps(dict(standards.written)))
    file, number = _place(files, form.id)
    before = json.dumps(files)
    files[file]["skills"][number] = _skill(files[file]["skills"][number], skill, form)
    if json.dumps(files) != before:
        files[file]["revision"] = revision
    found, flaws = examine(files)
    flaws += _same_name(standards.written, files, file)
    inside, elsewhere = _sorted(flaws, files, file, number)
    sound = found if not flaws else None
    changes = difference(standards, sound) if sound else StandardsDifference()
    return Edited(files, sound, changes, inside, elsewhere)


def _same_name(old: Mapping[str, object], new: dict[str, Any], file: str) -> list[Flaw]:
    """Another content needs another name of its revision."""
    was = At(old.get(file))["revision"].text
    if new == old or new[file].get("revision") != was:
        return []
    place = At(new[file], (), file)["revision"]
    return [place.flaw(f'The revision is still called "{was}".', "Give the new revision another name.")]


def _sorted(
    flaws: Sequence[Flaw], files: Mapping[str, object], file: str, number: int
) -> tuple[dict[Path, tuple[str, ...]], tuple[str, ...]]:
    """Flaws by their place inside the skill, and those outside it as whole sentences."""
    head: Path = ("skills", number)
    inside: dict[Path, tuple[str, ...]] = {}
    elsewhere = []
    for flaw in flaws:
        told = form_words(flaw)
        if flaw.file == file and flaw.path[:2] == head:
            inside[flaw.path[2:]] = (*inside.get(flaw.path[2:], ()), told)
        elif flaw.file == file and flaw.path == ("revision",):
            inside["revision",] = (*inside.get(("revision",), ()), told)
        else:
            elsewhere.append(str(problem_of(flaw, files)))
    return inside, tuple(elsewhere)


def form_words(flaw: Flaw) -> str:
    """Tell a flaw in the words of the form instead of the keys of a file."""
    keys = "|".join(re.escape(key) for key in sorted(_KEY_WORDS, key=len, reverse=True))
    return re.sub(rf"\b({keys})\b", lambda found: _KEY_WORDS[found[1]], f"{flaw.wrong} {flaw.remedy}")


def next_revision(name: str) -> str:
    """Suggest the name of the next revision: "example-1" becomes "example-2"."""
    match = re.fullmatch(r"(.*?)(\d+)", name)
    return f"{match[1]}{int(match[2]) + 1}" if match else f"{name}-2"


def checked_rule(skill: Skill, numbers: Mapping[str, Any]) -> tuple[Rule | None, tuple[str, ...]]:
    """Return the rule that some numbers make for a skill, or None and every reason why it is none.

    Args:
        skill: the skill, which says in which settings it may be tried and whether anything critical can happen.
        numbers: the rule's fields by name.
    """
    plain = {**skill.model_dump(mode="json", by_alias=True), "rule": {**numbers, "settings": list(numbers["settings"])}}
    flaws = [flaw for flaw in own_flaws(Skill, At(plain)) if flaw.path[:1] == ("rule",)]
    if not numbers["settings"]:
        return None, ("Choose at least one setting that the rule asks for.",)
    if flaws:
        return None, tuple(map(form_words, flaws))
    return Rule.model_validate({**numbers, "settings": tuple(numbers["settings"])}), ()


def fresh_id(text: str, taken: Iterable[str]) -> str:
    """Make an id out of the first words of a text; nobody has to think of one."""
    words = "-".join(re.findall(r"[a-z0-9]+", text.lower())[:4])[:_LONGEST_ID].strip("-") or "new"
    known = {*taken, OTHER_ERROR}
    return next(name for name in (words, *(f"{words}-{n}" for n in range(2, 1000))) if name not in known)


def named(form: SkillForm, skill: Skill) -> SkillForm:
    """Return the form with ids for what is new, made of its own words; what refers to it follows."""
    taken = {step.id for step in form.steps if skill.step(step.id)}
    ids: dict[str, str] = {}
    for step in form.steps:
        ids[step.id] = step.id if step.id in taken else fresh_id(step.do, {*taken, *ids.values()})
    return replace(form, steps=tuple(_named_step(step, skill.step(step.id), ids) for step in form.steps))


def _named_step(step: StepForm, was: Step | None, ids: Mapping[str, str]) -> StepForm:
    known = {error.id for error in was.errors} if was else set()
    errors: list[ErrorForm] = []
    for error in step.errors:
        others = {*known, *(e.id for e in errors)}
        errors.append(error if error.id in known else replace(error, id=fresh_id(error.label, others)))
    return replace(
        step,
        id=ids[step.id],
        after=tuple(ids.get(name, name) for name in step.after),
        after_critical=tuple(ids.get(name, name) for name in step.after_critical),
        errors=tuple(errors),
    )


def without_step(form: SkillForm, step_id: str) -> SkillForm:
    """Return the form without a step, which is taken out of the order of the others too; the difference says so."""
    kept = tuple(step for step in form.steps if step.id != step_id)
    return replace(
        form,
        steps=tuple(
            replace(
                step,
                after=tuple(name for name in step.after if name != step_id),
                after_critical=tuple(name for name in step.after_critical if name != step_id),
            )
            for step in kept
        ),
    )


def with_step(form: SkillForm, after: int) -> SkillForm:
    """Return the form with an empty step after so many steps."""
    fresh = StepForm(id=fresh_id("new step", (step.id for step in form.steps)))
    return replace(form, steps=(*form.steps[:after], fresh, *form.steps[after:]))


def step_moved(form: SkillForm, step_id: str, by: int) -> SkillForm:
    """Return the form with a step moved up (-1) or down (1); at an end it stays."""
    steps = list(form.steps)
    at = next(number for number, step in enumerate(steps) if step.id == step_id)
    to = min(max(at + by, 0), len(steps) - 1)
    steps.insert(to, steps.pop(at))
    return replace(form, steps=tuple(steps))


def with_error(form: SkillForm, step_id: str) -> SkillForm:
    """Return the form with an empty error at the end of a step."""
    return _on_step(form, step_id, lambda step: replace(step, errors=(*step.errors, ErrorForm(_error_id(step)))))


def without_error(form: SkillForm, step_id: str, error_id: str) -> SkillForm:
    """Return the form without an error of a step."""
    return _on_step(form, step_id, lambda step: replace(step, errors=tuple(e for e in step.errors if e.id != error_id)))


def _on_step(form: SkillForm, step_id: str, change: Callable[[StepForm], StepForm]) -> SkillForm:
    return replace(form, steps=tuple(change(step) if step.id == step_id else step for step in form.steps))


def _error_id(step: StepForm) -> str:
    return fresh_id(f"{step.id} error", (error.id for error in step.errors))


# --- back into plain data ------------------------------------------------------------------------------------------


def _place(files: Mapping[str, Any], skill_id: str) -> tuple[str, int]:
    """The file and the number of a skill."""
    return next(
        (name, number)
        for name, content in files.items()
        for number, skill in enumerate(content.get("skills", ()))
        if skill["id"] == skill_id
    )


def _skill(plain: dict[str, Any], skill: Skill, form: SkillForm) -> dict[str, Any]:
    now = dict(plain)
    for name in ("title", "purpose", "caution", "currency_days"):
        _put(now, name, getattr(form, name), getattr(skill, name), None)
    now["rule"] = _rule(plain["rule"], skill.rule, form.rule)
    old = {step["id"]: step for step in plain["steps"]}
    now["steps"] = [_step(old.get(step.id, {"id": step.id}), skill.step(step.id), step) for step in form.steps]
    return now


def _rule(plain: dict[str, Any], rule: Rule, numbers: Rule | dict[str, Any]) -> dict[str, Any]:
    wanted = numbers.model_dump() if isinstance(numbers, Rule) else numbers
    now = dict(plain)
    for name, value in wanted.items():
        _put(now, name, value, getattr(rule, name), None)
    return now


def _step(plain: dict[str, Any], step: Step | None, form: StepForm) -> dict[str, Any]:
    was = _step_form(step) if step else StepForm(form.id)
    now = dict(plain)
    for name in ("do", "why"):
        _put(now, name, getattr(form, name), getattr(was, name), None)
    _put(now, "if_left_out", "critical" if form.left_out_critical else "", _critical(was), "")
    for name in ("left_out_why", "prompt_error"):
        _put(now, name, getattr(form, name), getattr(was, name), "")
    for name in ("after", "after_critical"):
        _put(now, name, getattr(form, name), getattr(was, name), ())
    old = {error["id"]: error for error in plain.get("errors", ())}
    known = {error.id: error for error in was.errors}
    errors = [_error(old.get(e.id, {"id": e.id}), known.get(e.id, ErrorForm(e.id)), e) for e in form.errors]
    if errors != list(plain.get("errors", ())):
        _put(now, "errors", errors, None, [])
    if form.limit is not None and was.limit is not None:
        now["limit"] = _limit(plain["limit"], was.limit, form.limit)
    if step is None:  # so that an empty field of a new step is told where it stands
        now = {"id": form.id, "do": form.do, "why": form.why} | now
    return now


def _critical(step: StepForm) -> str:
    return "critical" if step.left_out_critical else ""


def _error(plain: dict[str, Any], was: ErrorForm, form: ErrorForm) -> dict[str, Any]:
    now = {"label": "", "consequence": ""} | plain if len(plain) == 1 else dict(plain)
    for name in ("label", "consequence"):
        _put(now, name, getattr(form, name), getattr(was, name), None)
    _put(now, "critical", form.critical, was.critical, was_empty=False)
    return now


def _limit(plain: dict[str, Any], was: LimitForm, form: LimitForm) -> dict[str, Any]:
    now = dict(plain)
    for name, key in (("at_least", "at_least"), ("at_most", "at_most"), ("from_", "from"), ("error", "error")):
        _put(now, key, getattr(form, name), getattr(was, name), "")
    return now


def _put(plain: dict[str, Any], key: str, value: Any, was: Any, was_empty: Any) -> None:
    """Write a value where it is another one than before; an empty one takes its key away."""
    if value == was:
        return
    if was_empty is not None and value == was_empty:
        plain.pop(key, None)
    else:
        plain[key] = list(value) if isinstance(value, tuple) else value
