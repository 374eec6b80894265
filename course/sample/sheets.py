"""One line of attempts.csv as a sheet: ticks, other marks, values, order and notes in the words of the rubric."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from pydantic import ValidationError

from course.actions.attempts import SheetContent, Value
from course.moments import Observed
from course.record.events import MarkGiven, plain_faults
from course.sample.tables import Fault, Row, known_word
from course.standards.plain import did_you_mean
from course.standards.rubric import OTHER_ERROR, Skill, decimal_of, order_closure
from course.words import Closing, Mark

_FLAGS = ("prompted", "fixed_self")
_ENDINGS: dict[str, tuple[Closing, Literal["student", "instructor"] | None]] = {
    "": (Closing.COMPLETED, None),
    "stopped by student": (Closing.STOPPED, "student"),
    "stopped by instructor": (Closing.STOPPED, "instructor"),
    "void": (Closing.VOID, None),
}


@dataclass(frozen=True)
class Try:
    """One attempt: its first line, when it was seen, and what each observer wrote."""

    row: Row
    at: Observed
    sheets: list[tuple[str, SheetContent]]


def ending_of(row: Row) -> tuple[Closing, Literal["student", "instructor"] | None]:
    """Return how an attempt ended and who stopped it."""
    ending = row.cells["ending"]
    if ending not in _ENDINGS:
        remedy = did_you_mean(ending, [word for word in _ENDINGS if word])
        raise Fault("ending", f'"{ending}" is no ending.', remedy)
    return _ENDINGS[ending]


def content_of(row: Row, skill: Skill, features: frozenset[str]) -> SheetContent:
    """Return what one observer wrote; only steps that the student's unit has can be named."""
    steps = [step.id for step in skill.steps_for(features)]
    marks = [MarkGiven(step=step, mark=Mark.DONE) for step in row.names("done", steps, "step")]
    marks += [_mark(part, skill, steps) for part in row.parts("marks")]
    marked = [mark.step for mark in marks]
    for step in marked:
        if marked.count(step) > 1:
            raise Fault("marks", f'"{step}" is marked twice.', "Keep one of the two.")
    return SheetContent(
        marks=tuple(sorted(marks, key=lambda mark: steps.index(mark.step))),
        values=tuple(_value(word, skill, steps) for word in row.cells["values"].split()),
        whole_clean=row.yes("whole_clean"),
        out_of_order=tuple(_pair(part, skill, steps) for part in row.parts("order")),
        notes=dict(_note(part, marked) for part in row.parts("notes")),
    )


def _mark(part: str, skill: Skill, steps: Sequence[str]) -> MarkGiven:
    """Read `co-out error co-open-out`, `mk-po2 prompted`, `cl-dry not_seen` or `pl-stop left_out`."""
    name, *words = part.split()
    step = skill.step(known_word(name, "marks", steps, "step"))
    mark = known_word(words[0] if words else "", "marks", [word.value for word in Mark], "mark")
    errors: tuple[str, ...] = ()
    flags = words[1:]
    if mark == Mark.ERROR:
        known = [OTHER_ERROR, *(error.id for error in step.errors)] if step else []
        errors = tuple(known_word(e, "marks", known, "error") for e in (flags[0] if flags else "").split("+"))
        flags = flags[1:]
    for flag in flags:
        known_word(flag, "marks", _FLAGS, "flag")
    try:
        return MarkGiven(
            step=name, mark=Mark(mark), errors=errors, prompted="prompted" in flags, fixed_self="fixed_self" in flags
        )
    except ValidationError as error:
        raise Fault("marks", plain_faults(error), "Put the mark right.") from None


def _value(word: str, skill: Skill, steps: Sequence[str]) -> Value:
    """Read `neg-mark=41`, in the unit that the rubric asks for."""
    name, _, value = word.partition("=")
    step = skill.step(known_word(name, "values", steps, "step"))
    if step is None or step.limit is None:
        raise Fault("values", f'The step "{name}" asks for no value.', "Take it out.")
    try:
        decimal_of(value)
    except ValueError as error:
        raise Fault("values", str(error), "Write it like neg-mark=41.") from None
    return Value(name, value)


def _pair(part: str, skill: Skill, steps: Sequence[str]) -> tuple[str, str]:
    """Read `A before B`: A was seen done first, and B should have come first."""
    first, _, second = part.partition(" before ")
    for name in (first, second):
        known_word(name, "order", steps, "step")
    if (second, first) not in set(order_closure(skill.steps)):
        raise Fault("order", f'The rubric does not ask for "{second}" before "{first}".', "Take it out.")
    return first, second


def _note(part: str, marked: Sequence[str]) -> tuple[str, str]:
    """Read `co-out: A sentence.`; notes are kept with a mark."""
    step, _, text = part.partition(": ")
    known_word(step, "notes", marked, "mark of the step")
    if not text.strip():
        raise Fault("notes", f'The note on "{step}" is empty.', "Write it, or take it out.")
    return step, text.strip()
