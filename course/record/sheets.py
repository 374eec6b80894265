"""Sheets of one attempt: which marks are live, which values, which answers about the order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

from course.record import facts
from course.record.events import (
    AttemptClosed,
    JointLineAgreed,
    MarkGiven,
    MarksGiven,
    OrderAnswered,
    OrderAnswered2,
    SheetStarted,
    ValueMeasured,
    WholeAttemptClean,
)
from course.record.statements import Statement, Statements
from course.words import SheetSource

_OnSheet = TypeVar("_OnSheet", MarksGiven, WholeAttemptClean, ValueMeasured, OrderAnswered)
_OF_A_MARK = tuple(name for name in MarkGiven.model_fields if name != "replaces")


@dataclass(frozen=True)
class _Closing:
    """The first closing in the order of statements, and when it was observed."""

    order: tuple[int, str, int, str]
    utc: str


def build_sheets(statements: Statements) -> tuple[facts.Sheet, ...]:
    """Return every sheet of an attempt, in the order in which they were started."""
    closed = [_Closing(s.event.order, body.observed.utc) for s, body in statements.holding(AttemptClosed)]
    first = min(closed, key=lambda closing: closing.order, default=None)
    return tuple(_sheet(body, statements, first) for _, body in statements.holding(SheetStarted))


def build_joint_lines(statements: Statements) -> tuple[facts.JointLine, ...]:
    """Return what observers agreed on; two live lines of one step are two laptops' and both are kept."""
    agreed = statements.holding(JointLineAgreed)
    replaced = {earlier for _, body in agreed for earlier in body.line.replaces}
    return tuple(
        facts.JointLine(
            event=s.event.id,
            observers=body.observers,
            value=body.value,
            **body.line.model_dump(exclude={"replaces"}),
        )
        for s, body in agreed
        if s.event.id not in replaced
    )


def _said(statements: Statements, model: type[_OnSheet], sheet: str) -> list[tuple[Statement, _OnSheet]]:
    """What holds on one sheet; where two corrections disagree, each of the two readings, and the stricter counts."""
    return [
        (s, body)
        for s, own in statements.holding(model)
        if own.sheet == sheet
        for body in (s.readings() if s.claims else (own,))
        if isinstance(body, model)
    ]


def _sheet(started: SheetStarted, statements: Statements, closed: _Closing | None) -> facts.Sheet:
    cleans = [s.event.id for s, _ in _said(statements, WholeAttemptClean, started.sheet)]
    pad = started.source == SheetSource.PAD
    return facts.Sheet(
        id=started.sheet,
        observer=started.observer,
        role=started.role,
        capacity=started.capacity,
        source=started.source,
        slate=started.slate,
        slate_try=started.slate_try,
        started=started.observed,
        marks=_live_marks(_said(statements, MarksGiven, started.sheet), closed),
        values=_live_values(_said(statements, ValueMeasured, started.sheet)),
        orders=_live_orders(_said(statements, OrderAnswered, started.sheet)),
        whole_clean=cleans[0] if cleans else None,
        first_taps=_first_taps(statements, started.sheet) if pad else (),
    )


def _live_marks(marks: Sequence[tuple[Statement, MarksGiven]], closed: _Closing | None) -> tuple[facts.MarkLine, ...]:
    """A mark is late where it was given after the closing; one that only arrived after it is not."""
    lines = [(s, body, line) for s, body in marks for line in body.marks]
    replaced = {(line.step, earlier) for _, _, line in lines for earlier in line.replaces}
    return tuple(
        _mark_line(s.event.id, body.observed.utc, line, late=_is_late(s, body, closed))
        for s, body, line in lines
        if (line.step, s.event.id) not in replaced
    )


def _is_late(given: Statement, body: MarksGiven, closed: _Closing | None) -> bool:
    return closed is not None and given.event.order > closed.order and body.observed.utc > closed.utc


@lru_cache(maxsize=4096)
def _mark_line(event: str, utc: str, line: MarkGiven, *, late: bool) -> facts.MarkLine:
    """Kept, since each tap has the whole attempt read again; all of it is frozen."""
    return facts.MarkLine(event=event, utc=utc, late=late, **{name: getattr(line, name) for name in _OF_A_MARK})


def _live_values(given: Sequence[tuple[Statement, ValueMeasured]]) -> tuple[facts.ValueLine, ...]:
    replaced = {earlier for _, body in given for earlier in body.replaces}
    return tuple(
        facts.ValueLine(event=s.event.id, step=body.step, quantity=body.quantity, unit=body.unit, value=body.value)
        for s, body in given
        if s.event.id not in replaced
    )


def _live_orders(given: Sequence[tuple[Statement, OrderAnswered]]) -> tuple[facts.OrderLine, ...]:
    replaced = {earlier for _, body in given for earlier in body.replaces}
    return tuple(
        facts.OrderLine(
            event=s.event.id,
            first_done=body.first_done,
            should_come_first=body.should_come_first,
            seen_so=body.seen_so,
            fixed_self=isinstance(body, OrderAnswered2) and body.seen_so and body.fixed_self,
        )
        for s, body in given
        if s.event.id not in replaced
    )


def _first_taps(statements: Statements, sheet: str) -> tuple[tuple[str, str], ...]:
    """Each step's first tap, also one that was taken back or replaced since: the order is of what was seen."""
    taps: dict[str, str] = {}
    for _, body in statements.said(MarksGiven):
        if body.sheet == sheet and len(body.marks) == 1:
            step, utc = body.marks[0].step, body.observed.utc
            taps[step] = min(taps.get(step, utc), utc)
    return tuple(sorted(taps.items(), key=lambda tap: (tap[1], tap[0])))
