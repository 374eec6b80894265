"""What is allowed in a rubric and yet worth a second look: warnings, never refusals."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from course.standards.rubric import Skill, Step, order_closure
from course.standards.standards import Standards
from course.standards.units import applies


class Concerning(StrEnum):
    """Why something is worth a second look."""

    LEFT_OUT = "left_out"
    RESTATES_ORDER = "restates_order"
    LEFT_SHUT = "left_shut"
    NO_UNIT = "no_unit"
    SAME_LABEL = "same_label"


@dataclass(frozen=True, order=True)
class Concern:
    """One thing worth a second look: where (skill, or skill/step), why, and a sentence."""

    where: str
    why: Concerning
    sentence: str

    def __str__(self) -> str:
        return f"{self.where}: {self.sentence}"


def concerns(standards: Standards) -> list[Concern]:
    """Return every warning, skill by skill as the standards have them."""
    return [concern for skill in standards.skills.values() for concern in _of_skill(skill, standards)]


def _of_skill(skill: Skill, standards: Standards) -> Iterator[Concern]:
    units = standards.unit_types.values()
    if units and not any(applies(skill, unit) for unit in units):
        yield Concern(skill.id, Concerning.NO_UNIT, "No unit type here has what this skill needs.")
    yield from _same_labels(skill)
    yield from _left_out(skill)
    yield from _restated_order(skill)
    yield from _left_shut(skill)


def _same_labels(skill: Skill) -> Iterator[Concern]:
    labels = Counter(error.label for step in skill.steps for error in step.errors)
    for label, times in labels.items():
        if times > 1:
            sentence = f'{times} errors have the label "{label}": on a sheet they look the same.'
            yield Concern(skill.id, Concerning.SAME_LABEL, sentence)


def _left_out(skill: Skill) -> Iterator[Concern]:
    for step in skill.steps:
        if step.can_be_critical and step.if_left_out is None:
            sentence = f"It can be critical, yet leaving it out is minor. The file says why: {step.left_out_why}"
            yield Concern(f"{skill.id}/{step.id}", Concerning.LEFT_OUT, sentence)


_ORDER = re.compile(r"\b(before|too early|too soon|ahead of|out of order|wrong order)\b|\bfirst$", re.IGNORECASE)
_WORD = re.compile(r"[a-z0-9]{3,}")
_EMPTY = re.compile(
    r"\b(after|ahead|and|any|are|before|both|does|each|early|ends|first|for|from|has|its|not|off|once|one|order|other|out"
    r"|own|skill|soon|step|that|the|then|this|too|two|until|with|wrong)\b"
)


def _restated_order(skill: Skill) -> Iterator[Concern]:
    """An error whose label speaks of order and of the step that has to come first."""
    earlier_of: dict[str, list[str]] = {}
    for earlier, later in order_closure(skill.steps):
        earlier_of.setdefault(later, []).append(earlier)
    by_id = {step.id: step for step in skill.steps}
    for step in skill.steps:
        for error in step.errors:
            if not _ORDER.search(error.label):
                continue
            for name in earlier_of.get(step.id, ()):
                if _speaks_of(error.label, by_id[name], step):
                    sentence = (
                        f'The error "{error.label}" seems to say again that {name} comes first;'
                        " the order says so already, and both would count."
                    )
                    yield Concern(f"{skill.id}/{step.id}", Concerning.RESTATES_ORDER, sentence)


def _speaks_of(label: str, earlier: Step, own: Step) -> bool:
    """Whether a label names what the earlier step is about and its own step is not."""
    return bool(_stems(label) & _stems(f"{earlier.id} {earlier.do}") - _stems(f"{own.id} {own.do}"))


def _stems(text: str) -> set[str]:
    return {re.sub(r"(ing|ed|es|s|e)$", "", word) for word in _WORD.findall(_EMPTY.sub(" ", text.lower()))}


_SHUTS = re.compile(r"\b(shut|close)\b[^.;:]*\b(valve|shut-off|supply|cylinder|oxygen|diluent)", re.IGNORECASE)
_OPENS = re.compile(r"\b(open|reopen)\b", re.IGNORECASE)
_PROVES = re.compile(r"\b(read|see|show|prove|check|watch|breathe)\b", re.IGNORECASE)
_WATER = frozenset({"pool", "open_water"})


def shuts_valve(step: Step) -> bool:
    """Whether the words of a step tell someone to shut a valve."""
    return bool(_SHUTS.search(step.do))


def proves_open(step: Step) -> bool:
    """Whether the words of a step tell someone to open something and to see that it is open."""
    return bool(_OPENS.search(step.do) and _PROVES.search(step.do))


def _left_shut(skill: Skill) -> Iterator[Concern]:
    if not _WATER & set(skill.setting):
        return
    for number, step in enumerate(skill.steps):
        if shuts_valve(step) and not any(proves_open(later) for later in skill.steps[number + 1 :]):
            sentence = "It shuts a valve, and no later step opens it and looks: the dive would go on with it shut."
            yield Concern(f"{skill.id}/{step.id}", Concerning.LEFT_SHUT, sentence)
