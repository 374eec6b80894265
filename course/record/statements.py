"""Events as statements: which still hold, and with which values after corrections."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from course.errors import RefusedError
from course.record.chain import Event
from course.record.events import Body, Corrected, Withdrawn, read_body


@dataclass(frozen=True)
class Statement:
    """One event of one subject, read, with what became of it.

    `body` is None for a kind from a newer version. `contested` are fields for which live corrections disagree;
    `claims` holds each of their values.
    """

    event: Event
    body: Body | None
    withdrawn: bool = False
    contested: tuple[str, ...] = ()
    claims: dict[str, tuple[Any, ...]] = field(default_factory=dict)


def live_statements(events: Iterable[Event]) -> list[Statement]:
    """Read events, settle withdrawals and corrections, and return them in (lamport, chain, seq) order.

    An id that came twice counts once: the first in that order holds.
    """
    ordered = _once(events)
    read = {event.id: read_body(event.kind, json.loads(event.body)) for event in ordered}
    dead = _withdrawn_ids(ordered, read)
    corrections = _live_corrections(ordered, read, dead)
    return [_statement(event, read[event.id], event.id in dead, corrections.get(event.id, [])) for event in ordered]


def _once(events: Iterable[Event]) -> list[Event]:
    first: dict[str, Event] = {}
    for event in sorted(events, key=lambda event: event.order):
        first.setdefault(event.id, event)
    return list(first.values())


def _withdrawn_ids(ordered: Sequence[Event], read: dict[str, Body | None]) -> set[str]:
    """Ids that no longer hold; the latest withdrawals are settled first, since a withdrawal can be withdrawn."""
    dead: set[str] = set()
    for event in reversed(ordered):
        body = read[event.id]
        if isinstance(body, Withdrawn) and event.id not in dead:
            dead.add(body.withdraws)
    return dead


def _live_corrections(
    ordered: Sequence[Event], read: dict[str, Body | None], dead: set[str]
) -> dict[str, list[Corrected]]:
    bodies = [
        (event.id, body) for event in ordered if isinstance(body := read[event.id], Corrected) and event.id not in dead
    ]
    replaced = {earlier for _, body in bodies for earlier in body.replaces}
    by_event: dict[str, list[Corrected]] = defaultdict(list)
    for event_id, body in bodies:
        if event_id not in replaced:
            by_event[body.corrects].append(body)
    return by_event


def _statement(event: Event, body: Body | None, withdrawn: bool, corrections: list[Corrected]) -> Statement:  # noqa: FBT001
    if body is None or not corrections:
        return Statement(event, body, withdrawn)
    claims: dict[str, list[Any]] = defaultdict(list)
    for correction in corrections:
        for name, value in correction.change.items():
            if value not in claims[name]:
                claims[name].append(value)
    contested = tuple(sorted(name for name, values in claims.items() if len(values) > 1))
    settled = {name: values[0] for name, values in claims.items() if name not in contested}
    return Statement(
        event,
        _with(body, settled),
        withdrawn,
        contested,
        {name: tuple(claims[name]) for name in contested},
    )


def _with(body: Body, change: dict[str, Any]) -> Body:
    """The body with changed fields; a change that does not fit leaves it as it was (it was refused on the way in)."""
    plain = body.model_dump(mode="json", by_alias=True, exclude_none=True) | change
    try:
        changed = read_body(body.kind, {name: value for name, value in plain.items() if value is not None})
    except RefusedError:
        return body
    return changed or body
