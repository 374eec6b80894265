"""A form put back into plain data and checked with the whole set. Pure: no page, no file, no ledger.

Only what differs is written. A skill's hash is that of its written form, and attempts are pinned to it: a form that
was opened and saved with nothing changed must leave every byte as it was. What a form does not show is kept.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from course.standards.difference import StandardsDifference, difference
from course.standards.plain import At, Flaw, Path
from course.standards.rubric import Rule, Skill
from course.standards.shape import own_flaws
from course.standards.skill_form import (
    NEW_SKILL,
    ErrorForm,
    LimitForm,
    NeedsForm,
    SkillForm,
    StepForm,
    form_of,
    fresh_id,
    named,
    step_form,
)
from course.standards.standards import Standards, examine
from course.standards.told_flaws import form_words, place_words, titles_of

_UNWRITTEN = object()
"""Differs from every value: whatever a new thing's form holds is written."""


@dataclass(frozen=True)
class Edited:
    """What a form makes of a set of standards: the new set with its difference, or every flaw at its place."""

    files: dict[str, Any]
    standards: Standards | None
    changes: StandardsDifference
    flaws: dict[Path, tuple[str, ...]]
    """By path inside the thing that is edited, such as ("steps", 2, "do"): what is wrong and the way out."""
    elsewhere: tuple[str, ...]
    """Flaws outside it, each with its place."""

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


def edited(standards: Standards, form: SkillForm, revision: str, phase: str | None = None) -> Edited:
    """Put a form into a set of standards and check the whole set.

    Args:
        standards: the set that the form began from.
        form: the skill as filled in.
        revision: the new name of the revision of the skill's phase; used only when something else changed.
        phase: where a skill goes that the set does not have.

    Raises:
        NotFoundError: the set has no such skill, and no phase is given.
    """
    skill = standards.skill(form.id) if phase is None or form.id in standards.skills else None
    form = named(form)
    files = copied(standards)
    if skill is not None:
        file, number = place_of(files, "skills", form.id)
        was = files[file]["skills"][number]
    else:
        file = next(n for n, content in files.items() if content.get("phase", {}).get("id") == phase)
        number, was = len(files[file]["skills"]), {"id": _own_id(standards, form)}
        files[file]["skills"].append(was)
    files[file]["skills"][number] = now = _skill(was, skill, form)
    if now != was:
        files[file]["revision"] = revision
    return judged(standards, files, file, ("skills", number), _same_name(standards.written, files, file))


def without_skill(standards: Standards, skill_id: str, day: date) -> Edited:
    """Take a skill out of a set; what still holds it is told instead.

    Requirements that are in force no more on that day let go of it without being asked.

    Raises:
        NotFoundError: the set has no such skill.
    """
    if holds := held_by(standards, skill_id, day):
        return Edited(copied(standards), None, StandardsDifference(), {}, holds)
    files = copied(standards)
    file, number = place_of(files, "skills", skill_id)
    del files[file]["skills"][number]
    files[file]["revision"] = next_revision(files[file]["revision"])
    for profile in (profile for content in files.values() for profile in content.get("profiles", ())):
        for name in ("required_skills", "optional_skills"):
            if skill_id in profile.get(name, ()):
                profile[name] = [one for one in profile[name] if one != skill_id]
    return judged(standards, files, file, ("skills", number))


def held_by(standards: Standards, skill_id: str, day: date) -> tuple[str, ...]:
    """Return what keeps a skill from being taken out on a day, each with the way out.

    Raises:
        NotFoundError: the set has no such skill.
    """
    told = []
    title = standards.skill(skill_id).title
    for profile in standards.profiles:
        newer = [p for p in standards.revisions(profile.id) if profile.first_day < p.first_day <= day]
        if skill_id in (*profile.required_skills, *profile.optional_skills) and not newer:
            told.append(
                f"“{profile.title}” {profile.revision} asks for “{title}”: save a new revision of these requirements "
                "without it first, in force from today."
            )
    after = [other.title for other in standards.skills.values() if skill_id in other.before]
    told += [f"“{other}” has “{title}” among its skills to show first: take it out there first." for other in after]
    faults = [fault.title for fault in standards.planted_faults.values() if skill_id in fault.found_in]
    told += [f"The planted fault “{fault}” is found in “{title}”: the skill stays while it does." for fault in faults]
    return tuple(told)


def copied(standards: Standards) -> dict[str, Any]:
    """Return the files of a set as plain data that can be changed."""
    files: dict[str, Any] = json.loads(json.dumps(dict(standards.written)))
    return files


def judged(standards: Standards, files: dict[str, Any], file: str, head: Path, found: Sequence[Flaw] = ()) -> Edited:
    """Check a changed set as a whole.

    Args:
        standards: the set as it was.
        files: the set as it would be.
        file: the file of the thing that is edited.
        head: the path of the thing in its file.
        found: flaws that are known already.
    """
    new, flaws = examine(files)
    flaws += found
    inside: dict[Path, tuple[str, ...]] = {}
    elsewhere = []
    titles = titles_of(files, file, head)
    for flaw in flaws:
        told = form_words(flaw, titles)
        path = flaw.path[len(head) :] if flaw.path[: len(head)] == head else flaw.path
        if flaw.file == file and (flaw.path[: len(head)] == head or flaw.path == ("revision",)):
            inside[path] = (*inside.get(path, ()), told)
        else:
            elsewhere.append(f"{place_words(flaw, files)}{told}")
    sound = new if not flaws else None
    changes = difference(standards, sound) if sound else StandardsDifference()
    return Edited(files, sound, changes, inside, tuple(elsewhere))


def _same_name(old: Mapping[str, object], new: dict[str, Any], file: str) -> list[Flaw]:
    """Another content needs another name of its revision."""
    was = At(old.get(file))["revision"].text
    if new == old or new[file].get("revision") != was:
        return []
    place = At(new[file], (), file)["revision"]
    return [place.flaw(f'The revision is still called "{was}".', "Give the new revision another name.")]


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


def place_of(files: Mapping[str, Any], kind: str, thing_id: str) -> tuple[str, int]:
    """Return the file and the number of a thing of a kind (`skills`, `unit_types`) that is in the set."""
    return next(
        (name, number)
        for name, content in files.items()
        for number, thing in enumerate(content.get(kind, ()))
        if thing["id"] == thing_id
    )


# --- a skill back into plain data -----------------------------------------------------------------------------------


def _own_id(standards: Standards, form: SkillForm) -> str:
    return fresh_id(form.title or NEW_SKILL, standards.skills)


def _skill(plain: dict[str, Any], skill: Skill | None, form: SkillForm) -> dict[str, Any]:
    was = form_of(skill) if skill else None
    now = dict(plain)
    for name in ("title", "purpose", "caution", "currency_days", "setting"):
        put(now, name, getattr(form, name), getattr(was, name, _UNWRITTEN))
    put(now, "before", form.before, was.before if was else (), ())
    if form.needs != (was.needs if was else NeedsForm()):
        needs = {name: list(names) for name, names in asdict(form.needs).items() if names}
        put(now, "needs", needs, _UNWRITTEN, {})
    if was is None or form.sources != was.sources:
        now["sources"] = [{n: v for n, v in asdict(one).items() if n == "kind" or v} for one in form.sources]
    now["rule"] = _rule(plain.get("rule", {}), skill.rule if skill else None, form.rule)
    old = {step["id"]: step for step in plain.get("steps", ())}
    now["steps"] = [_step(old.get(step.id) or step.written, skill, step) for step in form.steps]
    return now


def _rule(plain: dict[str, Any], rule: Rule | None, numbers: Rule | dict[str, Any]) -> dict[str, Any]:
    wanted = numbers.model_dump() if isinstance(numbers, Rule) else numbers
    now = dict(plain)
    for name, value in wanted.items():
        put(now, name, value, getattr(rule, name, _UNWRITTEN))
    return now


def _step(written: dict[str, Any] | None, skill: Skill | None, form: StepForm) -> dict[str, Any]:
    """A step by what is written of it: in the set, else where the form began, for one that was taken out meanwhile."""
    step, plain = (skill and skill.step(form.id)) or form.was, written or {"id": form.id}
    was = step_form(step) if step else StepForm(form.id)
    now = dict(plain)
    for name in ("do", "why"):
        put(now, name, getattr(form, name), getattr(was, name))
    put(now, "if_left_out", "critical" if form.left_out_critical else "", _critical(was), "")
    for name in ("left_out_why", "prompt_error"):
        put(now, name, getattr(form, name), getattr(was, name), "")
    for name in ("after", "after_critical"):
        put(now, name, getattr(form, name), getattr(was, name), ())
    old = {error["id"]: error for error in plain.get("errors", ())}
    known = {error.id: error for error in was.errors}
    errors = [_error(old.get(e.id, {"id": e.id}), known.get(e.id, ErrorForm(e.id)), e) for e in form.errors]
    if errors != list(plain.get("errors", ())):
        put(now, "errors", errors, None, [])
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
        put(now, name, getattr(form, name), getattr(was, name))
    put(now, "critical", form.critical, was.critical, was_empty=False)
    return now


def _limit(plain: dict[str, Any], was: LimitForm, form: LimitForm) -> dict[str, Any]:
    now = dict(plain)
    for name, key in (("at_least", "at_least"), ("at_most", "at_most"), ("from_", "from"), ("error", "error")):
        put(now, key, getattr(form, name), getattr(was, name), "")
    return now


def put(plain: dict[str, Any], key: str, value: Any, was: Any, was_empty: Any = None) -> None:
    """Write a value where it is another one than before; an empty one takes its key away."""
    if value == was:
        return
    if was_empty is not None and value == was_empty:
        plain.pop(key, None)
    else:
        plain[key] = list(value) if isinstance(value, tuple) else value
