"""The Figures page: what to read at each step on this unit, what it should say, why, and what it said last."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from course.access import Sight
from course.answers.consequence import consequence_of
from course.answers.course_view import CourseView
from course.answers.csv_text import csv_text
from course.answers.days import at_words
from course.asker import question
from course.assessment.cell_votes import votes
from course.assessment.unit_readings import judged
from course.errors import RefusedError
from course.physics import pictures, telling, typed
from course.physics.pictures import Picture
from course.physics.quantity import Choice, Input, Quantity, Text
from course.physics.registry import quantity
from course.physics.result import DEFERS, Answer, NoResult
from course.record.facts import Unit
from course.standards.rubric import Limit, Skill, Step
from course.standards.units import applies
from course.words import EXAMPLE_NOTE, QUANTITY_WORDS, READING_WORDS, ReadingKind, plural

_SHOULD = {
    ReadingKind.CELL_AIR: "within the manual's millivolts, brought to dry air at 1.01325 bar",
    ReadingKind.CELL_GAS: "4.773 times the dry reading in air at one pressure, less for moist air; 0.95 to 1.05 of it",
    ReadingKind.CELL_HIGH: "0.95 and more of what its calibration leads to, above the highest set point",
    ReadingKind.FLUSH: "the diluent's own PO2 at that depth",
    ReadingKind.POSITIVE: "no more loss than the manual allows, for the manual's time",
    ReadingKind.NEGATIVE: "no more loss than the manual allows, for the manual's time",
}
_BASIS = {"example": "example", "unit_manual": "unit manual", "agency": "agency"}


@dataclass(frozen=True)
class FigureRow:
    """One thing to read at one step of a skill."""

    skill: str
    step: str
    read: str
    should: str
    why: str
    last: str
    """What was read of this unit last, where something was."""
    outside: bool


@dataclass(frozen=True)
class FigureTable:
    """Everything that is read on one unit, skill by skill."""

    sentence: str
    rows: tuple[FigureRow, ...]
    caution: str = f"{DEFERS} {EXAMPLE_NOTE}"

    def csv(self) -> str:
        """The table to take away."""
        rows = [(one.skill, one.step, one.read, one.should, one.why, one.last) for one in self.rows]
        return csv_text(("skill", "step", "what_to_read", "what_it_should_say", "why", "last_reading"), rows)


@dataclass(frozen=True)
class FigureAsked:
    """One quantity as it was asked, with all that it needs to be read."""

    quantity: Quantity
    answer: Answer
    head: str
    """The number with its unit, or that there is none."""
    words: str
    assumed: str
    picture: Picture | None


@question(Sight.FIGURES)
def figure_table(seen: CourseView, unit_id: str | None) -> FigureTable:
    """Return what is read on a unit; None: on any unit of the course, without what was read last."""
    unit = seen.units.get(unit_id or "")
    unit_type = seen.adopted.standards.unit_types.get(unit.unit_type) if unit else None
    rows = [
        row
        for skill in seen.skills()
        if unit_type is None or applies(skill, unit_type)
        for row in _rows(skill, unit_type.feature_set if unit_type else None, unit)
    ]
    wrong = sum(one.outside for one in rows)
    where = f"on {unit.label}" if unit else "on this course"
    told = f"{plural(len(rows), 'thing')} to read {where}."
    return FigureTable(f"{told} {plural(wrong, 'last reading')} outside its bounds." if wrong else told, tuple(rows))


def _rows(skill: Skill, features: frozenset[str] | None, unit: Unit | None) -> Iterator[FigureRow]:
    for step in skill.steps if features is None else skill.steps_for(features):
        figures = [found for error in step.errors if (found := consequence_of(error))]
        if step.limit or step.reading or figures:
            last, outside = _last(unit, step)
            yield FigureRow(
                skill=skill.title,
                step=step.do,
                read=_read(step),
                should=_should(step),
                why=" ".join((step.why, *(one.told for one in figures))),
                last=last,
                outside=outside,
            )


def _read(step: Step) -> str:
    parts = [READING_WORDS[step.reading]] if step.reading else []
    asked = step.limit.quantity if step.limit else ""
    parts += ["the clock" if asked == "time" else QUANTITY_WORDS[asked]] if asked else []
    return ", ".join(parts) or "nothing to write down"


def _should(step: Step) -> str:
    parts = [_SHOULD[step.reading]] if step.reading else []
    parts += [_bounds(step.limit)] if step.limit else []
    return "; ".join(parts) or "done as the step says"


def _bounds(limit: Limit) -> str:
    ends = (("at least", limit.at_least), ("at most", limit.at_most))
    told = [f"{word} {end} {limit.unit}".removesuffix(" 1") for word, end in ends if end is not None]
    return f"{', '.join(told)} ({_BASIS[limit.basis]})"


def _last(unit: Unit | None, step: Step) -> tuple[str, bool]:
    """What was read last, of each cell: those outside their bounds alone, where there are any."""
    own = [one for one in unit.readings if one.what == step.reading] if unit and step.reading else []
    last = {one.cell: judged(one) for one in own}
    outside = [one for one in last.values() if one.outside]
    told = [f"{at_words(one.reading.observed.local)}: {one.told}" for one in outside or last.values()]
    voted = [one.told for one in votes(own) if one.outvoted]
    return " ".join((*told, *voted)), bool(outside or voted)


def asked(name: str, given: Mapping[str, str]) -> FigureAsked:
    """Return a quantity from what was typed; empty inputs are left to their usual values.

    Raises:
        NotFoundError: there is no such quantity.
        RefusedError: an input is missing, cannot be read, or may mean two things.
    """
    one = quantity(name)
    values = typed.read(one, {key: text.strip() for key, text in given.items() if text.strip()})
    answer = one.answer(**values)
    head = f"No number. {answer.reason}" if isinstance(answer, NoResult) else answer.told
    return FigureAsked(
        quantity=one,
        answer=answer,
        head=head,
        words=" ".join(telling.sentences(one, answer)) if answer.has_number else "",
        assumed=telling.assumed(answer),
        picture=_picture(one, values),
    )


def _picture(one: Quantity, values: Mapping[str, Any]) -> Picture | None:
    try:
        found = pictures.picture(one, values)
    except RefusedError:
        return None
    return found if found and any(curve.places for curve in found.series.curves) else None


def usual(each: Input | Choice | Text) -> str:
    """Return what stands in an input's field before anybody types."""
    if isinstance(each, Text):
        return ""
    if isinstance(each, Choice):
        return each.default or each.options[0]
    if isinstance(each.default, tuple):
        return f"{each.default[0]:g}..{each.default[1]:g}"
    return "" if each.default is None else f"{each.default:g}"
