"""A skill as a form that people fill; steps and errors are added, moved and taken out. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from course.standards.rubric import OTHER_ERROR, Rule, Skill, Step

NEW_SKILL = "new-skill"
"""The id of a skill that nobody named yet; it becomes one of its title's words."""
_LONGEST_ID = 40


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
    written: dict[str, Any] | None = field(default=None, compare=False)
    """The step as it was written, None for a new one: what the form does not show comes back with it."""

    @property
    def was(self) -> Step | None:
        """The step that the form began with."""
        return Step.model_validate(self.written) if self.written else None


@dataclass(frozen=True)
class NeedsForm:
    """Which unit features a skill needs, as filled in."""

    all: tuple[str, ...] = ()
    any: tuple[str, ...] = ()
    none: tuple[str, ...] = ()


@dataclass(frozen=True)
class SourceForm:
    """Where a trade fact comes from, as filled in."""

    kind: str = "common_practice"
    ref: str = ""


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
    setting: tuple[str, ...] = ()
    needs: NeedsForm = NeedsForm()
    before: tuple[str, ...] = ()
    sources: tuple[SourceForm, ...] = ()


def form_of(skill: Skill) -> SkillForm:
    """Return a skill as a form."""
    return SkillForm(
        id=skill.id,
        title=skill.title,
        purpose=skill.purpose,
        caution=skill.caution,
        currency_days=skill.currency_days,
        rule=skill.rule,
        steps=tuple(step_form(step) for step in skill.steps),
        setting=skill.setting,
        needs=NeedsForm(skill.needs.all, skill.needs.any, skill.needs.none),
        before=skill.before,
        sources=tuple(SourceForm(source.kind, source.ref) for source in skill.sources),
    )


def step_form(step: Step) -> StepForm:
    """Return a step as a form."""
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
        written=step.model_dump(mode="json", by_alias=True, exclude_unset=True),
    )


def plain_form(form: SkillForm) -> dict[str, Any]:
    """Return a form as plain data, to be joined with another one field by field."""
    rule = form.rule.model_dump() if isinstance(form.rule, Rule) else form.rule
    return asdict(replace(form, rule=dict(rule)))


def form_from(plain: Mapping[str, Any]) -> SkillForm:
    """Return the form that plain data hold."""
    rule = {**plain["rule"], "settings": tuple(plain["rule"]["settings"])}
    return SkillForm(
        **{name: plain[name] for name in ("id", "title", "purpose", "caution", "currency_days")},
        rule=rule,
        steps=tuple(_step_from(step) for step in plain["steps"]),
        setting=tuple(plain["setting"]),
        needs=NeedsForm(**{name: tuple(plain["needs"][name]) for name in ("all", "any", "none")}),
        before=tuple(plain["before"]),
        sources=tuple(SourceForm(**source) for source in plain["sources"]),
    )


def _step_from(plain: Mapping[str, Any]) -> StepForm:
    return StepForm(
        **{
            **plain,
            "after": tuple(plain["after"]),
            "after_critical": tuple(plain["after_critical"]),
            "errors": tuple(ErrorForm(**error) for error in plain["errors"]),
            "limit": LimitForm(**plain["limit"]) if plain["limit"] else None,
        }
    )


def empty_form() -> SkillForm:
    """Return the form of a skill that is not there yet: three empty steps, the least a skill has."""
    steps = tuple(StepForm(name) for name in ("new-step", "new-step-2", "new-step-3"))
    rule = {
        "in_a_row": 2, "distinct_days": 1, "settings": ("dry",), "prompts_allowed": 0, "minor_errors_allowed": 0,
        "assessors": 1, "same_unit_type": True, "reteach": 0, "budget": 8,
    }  # fmt: skip
    return SkillForm(NEW_SKILL, "", "", "", 90, rule, steps, setting=("dry",), sources=(SourceForm(),))


def fresh_id(text: str, taken: Iterable[str]) -> str:
    """Make an id out of the first words of a text; nobody has to think of one."""
    words = "-".join(re.findall(r"[a-z0-9]+", text.lower())[:4])[:_LONGEST_ID].strip("-") or "new"
    known = {*taken, OTHER_ERROR}
    return next(name for name in (words, *(f"{words}-{n}" for n in range(2, 1000))) if name not in known)


def named(form: SkillForm) -> SkillForm:
    """Return the form with ids for what is new, made of its own words; what refers to it follows."""
    taken = {step.id for step in form.steps if step.written}
    ids: dict[str, str] = {}
    for step in form.steps:
        ids[step.id] = step.id if step.id in taken else fresh_id(step.do, {*taken, *ids.values()})
    return replace(form, steps=tuple(_named_step(step, ids) for step in form.steps))


def _named_step(step: StepForm, ids: Mapping[str, str]) -> StepForm:
    known = {error["id"] for error in (step.written or {}).get("errors", ())}
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
