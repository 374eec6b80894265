"""From the statements about a unit or a fault slip to what is true of it."""

from __future__ import annotations

from typing import Any

from course.record import events as kinds
from course.record.statements import Statements
from course.record.unit_facts import CareDone, Hold, Reading, SetAside, SlipReply


def build_unit(statements: Statements) -> dict[str, Any]:
    """Return the care, the holds and the readings of a unit."""
    care = tuple(
        CareDone(
            id=body.care, event=s.event.id, what=body.what, observed=body.observed, good_until=body.good_until,
            good_minutes=body.good_minutes, done_by=s.event.actor,
        )
        for s, body in statements.holding(kinds.UnitCared)
    )  # fmt: skip
    return {"care": care, "holds": _holds(statements), "readings": _readings(statements)}


def _readings(statements: Statements) -> tuple[Reading, ...]:
    """Every reading that stands, the earliest first."""
    found = (
        Reading(
            id=body.reading, event=s.event.id, hash=s.event.hash, what=body.what, cell=body.cell, amounts=body.amounts,
            observed=body.observed, taken_by=s.event.actor, attempt=body.attempt, step=body.step,
        )
        for s, body in statements.holding(kinds.ReadingTaken)
    )  # fmt: skip
    return tuple(sorted(found, key=lambda one: (one.observed.utc, one.id)))


def build_set_aside(statements: Statements) -> tuple[SetAside, ...]:
    """Return which readings of its unit were set aside in an attempt, for which step and by whom."""
    return tuple(
        SetAside(event=s.event.id, step=body.step, readings=body.readings, by=s.event.actor)
        for s, body in statements.holding(kinds.ReadingSetAside)
    )


def _holds(statements: Statements) -> tuple[Hold, ...]:
    """Of two releases of one hold the later one counts: the unit stays out of the water the longer."""
    released = {
        body.hold: (s, body)
        for s, body in sorted(statements.holding(kinds.UnitReleased), key=lambda pair: pair[1].observed.utc)
    }
    made = []
    for s, body in statements.holding(kinds.UnitHeld):
        hold = Hold(
            id=body.hold, event=s.event.id, slip=body.slip, since=body.observed, held_by=s.event.actor
        )  # fmt: skip
        if body.hold in released:
            at, release = released[body.hold]
            hold = hold.model_copy(
                update={
                    "until": release.observed,
                    "released_by": at.event.actor,
                    "release_event": at.event.id,
                    "list_passed_by": release.list_passed_by,
                }
            )
        made.append(hold)
    return tuple(made)


def build_slip(statements: Statements) -> dict[str, Any]:
    """Return what people made of a fault, and when it was cleared."""
    answered = statements.holding(kinds.FaultAnswered)
    replaced = {earlier for _, body in answered for earlier in body.replaces}
    replies = tuple(
        SlipReply(
            event=s.event.id, person=body.person, answer=body.answer, told_by=s.event.actor, observed=body.observed
        )
        for s, body in answered
        if s.event.id not in replaced
    )  # fmt: skip
    cleared = max(statements.holding(kinds.FaultCleared), key=lambda pair: pair[1].observed.utc, default=None)
    return {
        "replies": replies,
        "cleared": cleared[1].observed if cleared else None,
        "cleared_by": cleared[0].event.actor if cleared else None,
    }
