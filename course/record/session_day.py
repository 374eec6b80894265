"""From a session's statements to its day: paper sheets, roll calls, incidents, whether it is closed."""

from __future__ import annotations

from typing import Any

from course.moments import Observed
from course.record import events as kinds
from course.record.day_facts import Incident, IncidentLine, RollCall, SetPoint, Slate
from course.record.statements import Statements


def build_day(statements: Statements) -> dict[str, Any]:
    """Return the day's fields of a session."""
    return {
        "slates": _slates(statements),
        "rolls": _rolls(statements),
        "incidents": _incidents(statements),
        "site_plans": _site_plans(statements),
        "closed_at": _closed_at(statements),
        "set_points": _set_points(statements),
        **_visibility(statements),
    }


def _slates(statements: Statements) -> tuple[Slate, ...]:
    aside = {body.slate: (body.how, s.event.actor) for s, body in reversed(statements.holding(kinds.SlateSetAside))}
    made = []
    for s, body in statements.holding(kinds.SlateIssued):
        how, by = aside.get(body.slate, (None, None))
        fields = body.model_dump(exclude={"sealed", "session", "slate"})
        made.append(
            Slate(
                id=body.slate, event=s.event.id, issued_by=s.event.actor, set_aside=how, set_aside_by=by, **fields
            )
        )  # fmt: skip
    return tuple(made)


def _rolls(statements: Statements) -> tuple[RollCall, ...]:
    return tuple(
        RollCall(
            id=body.roll, event=s.event.id, when=body.when, present=body.present, missing=body.missing,
            called_by=s.event.actor, observed=body.observed,
        )
        for s, body in statements.holding(kinds.RollCalled)
    )  # fmt: skip


def _incidents(statements: Statements) -> tuple[Incident, ...]:
    resumed: dict[str, tuple[Observed, str]] = {}
    for s, going_on in statements.holding(kinds.SessionResumed):
        resumed.setdefault(going_on.incident, (going_on.observed, s.event.actor))
    noted = statements.holding(kinds.IncidentNoted)
    made = []
    for s, body in statements.holding(kinds.SessionFrozen):
        at, by = resumed.get(body.incident, (None, None))
        lines = tuple(
            IncidentLine(event=n.event.id, written_by=n.event.actor, observed=note.observed)
            for n, note in noted
            if note.incident == body.incident
        )
        made.append(
            Incident(
                id=body.incident, event=s.event.id, people=body.people, units=body.units, attempts=body.attempts,
                tablets_waiting=body.tablets_waiting, frozen_by=s.event.actor, observed=body.observed, lines=lines,
                resumed=at, resumed_by=by,
            )
        )  # fmt: skip
    return tuple(made)


def _site_plans(statements: Statements) -> tuple[str, ...]:
    made = statements.holding(kinds.SitePlanned)
    replaced = {earlier for _, body in made for earlier in body.replaces}
    return tuple(s.event.id for s, _ in made if s.event.id not in replaced)


def _visibility(statements: Statements) -> dict[str, Any]:
    called = statements.holding(kinds.VisibilityCalled)
    replaced = {earlier for _, body in called for earlier in body.replaces}
    live = [(s.event.id, body.low) for s, body in called if s.event.id not in replaced]
    return {"called_low": any(low for _, low in live), "visibility_calls": tuple(event for event, _ in live)}


def _set_points(statements: Statements) -> tuple[SetPoint, ...]:
    """Every one that no other takes the place of; two live ones of one person and moment are two laptops'."""
    noted = statements.holding(kinds.SetPointNoted)
    replaced = {earlier for _, body in noted for earlier in body.replaces}
    return tuple(_set_point(s.event.id, body) for s, body in noted if s.event.id not in replaced)


def _set_point(event: str, body: kinds.SetPointNoted) -> SetPoint:
    if not isinstance(body, kinds.SetPointReached):
        return SetPoint(event=event, person=body.person, bar=body.set_point_bar)
    return SetPoint(
        event=event, person=body.person, bar=body.set_point_bar, begins=body.begins, over_minutes=body.over_minutes
    )


def _closed_at(statements: Statements) -> Observed | None:
    """The last closing, unless the session was opened again after it, in the order that settles statements."""
    closed: Observed | None = None
    for s in statements:
        if s.withdrawn:
            continue
        if isinstance(s.body, kinds.SessionClosed):
            closed = s.body.observed
        elif isinstance(s.body, kinds.SessionReopened):
            closed = None
    return closed
