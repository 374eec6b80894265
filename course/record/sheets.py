"""Sheets of one attempt: which marks are live, which values, which answers about the order."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

from course.record import facts
from course.record.events import (
    AttemptClosed,
    Body,
    JointLineAgreed,
    MarksGiven,
    OrderAnswered,
    SheetStarted,
    ValueMeasured,
    WholeAttemptClean,
)
from course.record.statements import Statement

_B = TypeVar("_B", bound=Body)


def holding(statements: Sequence[Statement], model: type[_B]) -> list[tuple[Statement, _B]]:
    """Return the statements of one kind that still hold, with their bodies."""
    return [(s, s.body) for s in statements if isinstance(s.body, model) and not s.withdrawn]


def build_sheets(statements: Sequence[Statement]) -> tuple[facts.Sheet, ...]:
    """Return every sheet of an attempt, in the order in which they were started."""
    closed = [s.event.order for s, _ in holding(statements, AttemptClosed)]
    return tuple(_sheet(body, statements, min(closed, default=None)) for _, body in holding(statements, SheetStarted))


def build_joint_lines(statements: Sequence[Statement]) -> tuple[facts.JointLine, ...]:
    """Return what observers agreed on, the latest for each step."""
    by_step = {
        body.line.step: facts.JointLine(
            event=s.event.id,
            observers=body.observers,
            value=body.value,
            **body.line.model_dump(exclude={"replaces"}),
        )
        for s, body in holding(statements, JointLineAgreed)
    }
    return tuple(by_step.values())


def _sheet(started: SheetStarted, statements: Sequence[Statement], closed: tuple[int, str, int] | None) -> facts.Sheet:
    marks = [(s, body) for s, body in holding(statements, MarksGiven) if body.sheet == started.sheet]
    cleans = [s.event.id for s, body in holding(statements, WholeAttemptClean) if body.sheet == started.sheet]
    return facts.Sheet(
        id=started.sheet,
        observer=started.observer,
        role=started.role,
        capacity=started.capacity,
        source=started.source,
        started=started.observed,
        marks=_live_marks(marks, closed),
        values=_live_values(statements, started.sheet),
        orders=_live_orders(statements, started.sheet),
        whole_clean=cleans[0] if cleans else None,
        first_taps=_first_taps(statements, started.sheet),
    )


def _live_marks(
    marks: Iterable[tuple[Statement, MarksGiven]], closed: tuple[int, str, int] | None
) -> tuple[facts.MarkLine, ...]:
    lines = [(s, body, line) for s, body in marks for line in body.marks]
    replaced = {(line.step, earlier) for _, _, line in lines for earlier in line.replaces}
    return tuple(
        facts.MarkLine(
            event=s.event.id,
            utc=body.observed.utc,
            late=closed is not None and s.event.order > closed,
            **line.model_dump(exclude={"replaces"}),
        )
        for s, body, line in lines
        if (line.step, s.event.id) not in replaced
    )


def _live_values(statements: Sequence[Statement], sheet: str) -> tuple[facts.ValueLine, ...]:
    given = [(s, body) for s, body in holding(statements, ValueMeasured) if body.sheet == sheet]
    replaced = {earlier for _, body in given for earlier in body.replaces}
    return tuple(
        facts.ValueLine(event=s.event.id, step=body.step, quantity=body.quantity, unit=body.unit, value=body.value)
        for s, body in given
        if s.event.id not in replaced
    )


def _live_orders(statements: Sequence[Statement], sheet: str) -> tuple[facts.OrderLine, ...]:
    given = [(s, body) for s, body in holding(statements, OrderAnswered) if body.sheet == sheet]
    replaced = {earlier for _, body in given for earlier in body.replaces}
    return tuple(
        facts.OrderLine(
            event=s.event.id,
            first_done=body.first_done,
            should_come_first=body.should_come_first,
            seen_so=body.seen_so,
        )
        for s, body in given
        if s.event.id not in replaced
    )


def _first_taps(statements: Sequence[Statement], sheet: str) -> tuple[tuple[str, str], ...]:
    """Each step's first tap, also one that was taken back or replaced since: the order is of what was seen."""
    taps: dict[str, str] = {}
    for s in statements:
        if isinstance(s.body, MarksGiven) and s.body.sheet == sheet and len(s.body.marks) == 1:
            taps.setdefault(s.body.marks[0].step, s.body.observed.utc)
    return tuple(sorted(taps.items(), key=lambda tap: (tap[1], tap[0])))
