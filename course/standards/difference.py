"""What changed between two sets of standards, in plain sentences, skill by skill. Pure; nothing is left out.

Every field of every model is compared, so that two sets without a difference mean the same. Where a skill is only
written differently its attempts are pinned to another form all the same, and that is told too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from pydantic import BaseModel

from course.standards.figure import Figure
from course.standards.profile_difference import profile_sentences
from course.standards.rubric import Skill, Step, StepError
from course.standards.standards import Standards
from course.words import SETTING_WORDS, listed

_CUT = 70
_ORDER = {
    "after": ("comes after", "no longer comes after"),
    "after_critical": ("is critical when it comes before", "is no longer critical when it comes before"),
}
_FIELD_WORDS = {
    "figure": "in numbers",
    "reading": "what of the unit it reads",
    "in_a_row": "in a row",
    "distinct_days": "days",
    "settings": "settings asked for",
    "setting": "settings",
    "prompts_allowed": "prompts allowed",
    "minor_errors_allowed": "minor errors allowed",
    "assessors": "observers",
    "same_unit_type": "each unit type by itself",
    "reteach": "re-teach after a critical error",
    "budget": "attempts it is meant for",
    "currency_days": "days it stays in date",
    "do": "what to do",
    "if_left_out": "left out",
    "left_out_why": "why leaving it out is not critical",
    "opens_gas": "opens gas",
    "only_if": "only for units with",
    "needs": "only for units with",
    "before": "skills to show first",
    "limit": "limit",
    "prompt_error": "a prompt stands for",
    "for_whom": "for",
    "consent_under_years": "a guardian's consent is needed below the age of",
    "counts_after_window": "attempts count after the days to finish in",
}
_NO_TITLES: Mapping[str, str] = {}


@dataclass(frozen=True)
class SkillDifference:
    """What changed in one skill."""

    skill: str
    title: str
    sentences: tuple[str, ...]
    other_form: bool
    """Whether attempts marked by the older form are kept and shown, and do not count under the newer one."""


@dataclass(frozen=True)
class StandardsDifference:
    """What changed between two sets of standards."""

    skills: tuple[SkillDifference, ...] = ()
    others: tuple[str, ...] = ()
    """Requirements, unit types, features, planted faults, phases and revisions."""

    def __bool__(self) -> bool:
        return bool(self.skills or self.others)

    @property
    def sentences(self) -> tuple[str, ...]:
        """Everything in order, each sentence with its skill's title."""
        return (*(f"{one.title}: {told}" for one in self.skills for told in one.sentences), *self.others)


def difference(old: Standards, new: Standards) -> StandardsDifference:
    """Return what changed from one set of standards to another; empty when they say the same in the same form."""
    skills = [*new.skills, *(name for name in old.skills if name not in new.skills)]
    return StandardsDifference(
        tuple(filter(None, (_of_skill(old, new, name) for name in skills))), tuple(_others(old, new))
    )


def _of_skill(old: Standards, new: Standards, name: str) -> SkillDifference | None:
    before, after = old.skills.get(name), new.skills.get(name)
    if before is None or after is None:
        there = after or before
        told = "added." if before is None else "taken out; its attempts are kept and shown."
        return SkillDifference(name, there.title if there else name, (told,), other_form=before is not None)
    same_form = old.written_skill(name) == new.written_skill(name)
    sentences = list(skill_sentences(before, after, _titles(old) | _titles(new)))
    if old.phase_of[name] != new.phase_of[name]:
        sentences.append(f"moved from phase {old.phase_of[name]} to {new.phase_of[name]}.")
    if not sentences and not same_form:
        sentences.append("written differently; it asks for the same.")
    return SkillDifference(name, after.title, tuple(sentences), other_form=not same_form) if sentences else None


def _titles(standards: Standards) -> dict[str, str]:
    """What skills and features are called, by id."""
    return {
        name: f"“{thing.title}”" for things in (standards.features, standards.skills) for name, thing in things.items()
    }


def skill_sentences(old: Skill, new: Skill, titles: Mapping[str, str]) -> Iterator[str]:
    """Yield what changed between two forms of one skill.

    Args:
        titles: how skills and features are told, by id.
    """
    yield from _fields(old, new, ("rule", "steps"), titles)
    yield from (f"rule: {told}" for told in _fields(old.rule, new.rule))
    yield from _steps(old.steps, new.steps)


def _steps(old: Sequence[Step], new: Sequence[Step]) -> Iterator[str]:
    before, after = {step.id: step for step in old}, {step.id: step for step in new}
    yield from (f"step added: {_step(step)}." for step in new if step.id not in before)
    yield from (f"step taken out: {_step(step)}." for step in old if step.id not in after)
    kept = [[step.id for step in steps if step.id in before and step.id in after] for steps in (old, new)]
    if kept[0] != kept[1]:
        yield f"steps in another order: {', then '.join(_step(after[name]) for name in kept[1])}."
    for name in kept[1]:
        where = f"step {_step(before[name])}"
        yield from (f"{where}: {told}" for told in _fields(before[name], after[name], skip=("errors", *_ORDER)))
        yield from (f"{where}: {told}" for told in _order(before[name], after[name], {**before, **after}))
        yield from (f"{where}: {told}" for told in _errors(before[name].errors, after[name].errors))


def _order(old: Step, new: Step, steps: Mapping[str, Step]) -> Iterator[str]:
    """What came to stand in the order of a step and what went, by the words of the steps."""
    for name, (words, no_longer) in _ORDER.items():
        before, after = getattr(old, name), getattr(new, name)
        came = [_step(steps[one]) for one in after if one not in before and one in steps]
        went = [_step(steps[one]) for one in before if one not in after and one in steps]
        if came:
            yield f"{words} {listed(came)}, which is new."
        if went:
            yield f"{no_longer} {listed(went)}."
        if before != after and not came and not went:
            yield f"{words}: the same steps, written in another order."


def _errors(old: Sequence[StepError], new: Sequence[StepError]) -> Iterator[str]:
    before, after = {error.id: error for error in old}, {error.id: error for error in new}
    for error in new:
        if error.id not in before:
            yield f"error added: “{error.label}”{' (critical)' if error.critical else ''}."
    yield from (f"error taken out: “{error.label}”." for error in old if error.id not in after)
    kept = [[error.id for error in errors if error.id in before and error.id in after] for errors in (old, new)]
    if kept[0] != kept[1]:
        yield "errors in another order, and so with other letters."
    for name in kept[1]:
        label = before[name].label
        yield from (f"error “{label}”: {told}" for told in _fields(before[name], after[name], skip=("critical",)))
        if before[name].critical != after[name].critical:
            yield f"error “{label}” {'is critical now' if after[name].critical else 'is not critical any more'}."


def _others(old: Standards, new: Standards) -> Iterator[str]:
    yield from _things("Phase", {one.id: one for one in old.phases}, {one.id: one for one in new.phases})
    yield from _revisions(old, new)
    yield from _things("Unit type", old.unit_types, new.unit_types, _titles(old) | _titles(new))
    yield from _things("Feature", old.features, new.features)
    yield from _things("Planted fault", old.planted_faults, new.planted_faults)
    yield from _requirements(old, new)


def _requirements(old: Standards, new: Standards) -> Iterator[str]:
    """What came and went; a new revision is told by what it changes of the one before it."""
    titles = {skill.id: skill.title for standards in (old, new) for skill in standards.skills.values()}
    before, after = ({(p.id, p.revision): p for p in standards.profiles} for standards in (old, new))
    for name, profile in after.items():
        head = f"Requirements “{profile.title}” {profile.revision}"
        older = before.get(name) or after.get((profile.id, profile.supersedes or ""))
        if name not in before:
            beside = f", after {profile.supersedes}" if older else ""
            yield f"{head}: added{beside}, in force from {profile.in_force_from}."
        elif before[name].in_force_from != profile.in_force_from:
            yield f"{head}: in force from {before[name].in_force_from} becomes {profile.in_force_from}."
        if name in before and before[name].supersedes != profile.supersedes:
            yield f"{head}: follows {before[name].supersedes or 'none'} becomes {profile.supersedes or 'none'}."
        yield from (f"{head}: {told}" for told in profile_sentences(older, profile, titles)) if older else ()
    gone = [profile for name, profile in before.items() if name not in after]
    yield from (f"Requirements “{profile.title}” {profile.revision}: taken out." for profile in gone)
    kept = [[name for name in names if name in before and name in after] for names in (before, after)]
    if kept[0] != kept[1]:
        yield "Requirements: in another order."


def _revisions(old: Standards, new: Standards) -> Iterator[str]:
    """Revision names of phases, each once."""
    names = [{standards.phase_of[s]: standards.revision_of[s] for s in standards.skills} for standards in (old, new)]
    for phase in new.phases:
        before, after = names[0].get(phase.id), names[1].get(phase.id)
        if before and after and before != after:
            yield f"Phase “{phase.title}”: revision {before} becomes {after}."


def _things(
    what: str, old: Mapping[str, BaseModel], new: Mapping[str, BaseModel], titles: Mapping[str, str] = _NO_TITLES
) -> Iterator[str]:
    yield from (f"{what} added: {_title(thing, name)}." for name, thing in new.items() if name not in old)
    yield from (f"{what} taken out: {_title(thing, name)}." for name, thing in old.items() if name not in new)
    for name in (name for name in new if name in old):
        yield from (f"{what} {_title(new[name], name)}: {told}" for told in _fields(old[name], new[name], (), titles))
    kept = [[name for name in things if name in old and name in new] for things in (old, new)]
    if kept[0] != kept[1]:
        yield f"{what}: in another order."


def _title(thing: BaseModel, name: str) -> str:
    return f"“{getattr(thing, 'title', name)}”" + (f" {thing.revision}" if hasattr(thing, "revision") else "")


def _fields(
    old: BaseModel, new: BaseModel, skip: Iterable[str] = (), titles: Mapping[str, str] = _NO_TITLES
) -> Iterator[str]:
    """Yield every field that changed, from what to what."""
    for name in type(new).model_fields:
        before, after = getattr(old, name), getattr(new, name)
        if name in skip or before == after:
            continue
        words = _FIELD_WORDS.get(name, name.strip("_").replace("_", " "))
        if isinstance(before, tuple) and isinstance(after, tuple) and len(before) + len(after) > 6:
            yield from _list_change(words, before, after, titles)
        else:
            yield f"{words}: {_told(before, titles)} becomes {_told(after, titles)}."


def _list_change(
    words: str, before: Sequence[object], after: Sequence[object], titles: Mapping[str, str]
) -> Iterator[str]:
    """A long list is told by what came and went."""
    came = [_told(one, titles) for one in after if one not in before]
    went = [_told(one, titles) for one in before if one not in after]
    if came:
        yield f"{words}: added {listed(came)}."
    if went:
        yield f"{words}: taken out {listed(went)}."
    if not came and not went:
        yield f"{words}: in another order."


def _told(value: object, titles: Mapping[str, str] = _NO_TITLES) -> str:
    """A value for people."""
    if isinstance(value, str) and value in titles:
        return titles[value]
    if value is None or value in ((), ""):
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, BaseModel) and not isinstance(value, Figure):
        pairs = ((name.strip("_"), getattr(value, name)) for name in type(value).model_fields)
        return ", ".join(
            f"{name.replace('_', ' ')} {_told(one, titles)}" for name, one in pairs if one not in (None, ())
        )
    if isinstance(value, tuple):
        return listed([_told(one, titles) for one in value])
    text = SETTING_WORDS.get(str(value), str(value))
    return f"“{text}”" if " " in text and text == value else text


def _step(step: Step) -> str:
    """A step by what it says to do, cut where it is long."""
    text = step.do.removesuffix(".")
    return f"“{text if len(text) <= _CUT else text[: _CUT - 1].rstrip() + '…'}”"
