"""Events as statements: which still hold, and with which values after corrections."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar

import orjson

from course.errors import RefusedError
from course.record.chain import Event
from course.record.events import Body, Corrected, Withdrawn, read_body

_B = TypeVar("_B", bound=Body)
_NO_CLAIMS: Mapping[str, tuple[Any, ...]] = MappingProxyType({})


class Statement(NamedTuple):
    """One event of one subject, read, with what became of it.

    `body` is None for a kind from a newer version. `contested` are fields for which live corrections disagree, or
    that do not fit together; `claims` holds each of their values.
    """

    event: Event
    body: Body | None
    withdrawn: bool = False
    contested: tuple[str, ...] = ()
    claims: Mapping[str, tuple[Any, ...]] = _NO_CLAIMS

    def readings(self) -> tuple[Body, ...]:
        """The body once with each value that is claimed for a contested field; the body alone where none is."""
        if self.body is None:
            return ()
        if not self.claims:
            return (self.body,)
        claimed = [changed_body(self.body, {name: value}) for name, values in self.claims.items() for value in values]
        return tuple(body for body in claimed if body is not None) or (self.body,)


class Statements(list[Statement]):
    """What was said of one subject, in the order that settles it, and at hand by kind: each tap reads it all again."""

    def __init__(self, statements: Iterable[Statement]) -> None:
        super().__init__(statements)
        self._of_kind: defaultdict[type[Body], list[tuple[Statement, Any]]] = defaultdict(list)
        for statement in self:
            if statement.body is not None:
                for kind in _forms(type(statement.body)):
                    self._of_kind[kind].append((statement, statement.body))

    def said(self, model: type[_B]) -> Sequence[tuple[Statement, _B]]:
        """Return the statements of one kind, or of one that carries it on, with their bodies."""
        return self._of_kind.get(model, ())

    def holding(self, model: type[_B]) -> Sequence[tuple[Statement, _B]]:
        """As `said`, those that still hold."""
        return [pair for pair in self.said(model) if not pair[0].withdrawn]


@cache
def _forms(kind: type[Body]) -> tuple[type[Body], ...]:
    """A kind of body and those that it carries on."""
    return tuple(one for one in kind.__mro__ if issubclass(one, Body) and one is not Body)


def live_statements(events: Iterable[Event]) -> Statements:
    """Read events, settle withdrawals and corrections, and return them in (lamport, chain, seq) order.

    An id that came twice counts once: the first in that order holds.
    """
    ordered = _once(events)
    read = {event.id: kept_body(event.kind, event.body) for event in ordered}
    dead = _withdrawn_ids(ordered, read)
    corrections = _live_corrections(ordered, read, dead)
    return Statements(
        _statement(event, read[event.id], event.id in dead, corrections.get(event.id, {})) for event in ordered
    )


@lru_cache(maxsize=2048)
def kept_body(kind: str, body: str) -> Body | None:
    """Read one body as it is stored; kept, since each tap has the whole attempt read again. Bodies are frozen.

    Raises:
        RefusedError: the data do not fit the kind, told field by field.
    """
    return read_body(kind, orjson.loads(body))


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


Claims = dict[str, list[Any]]
"""Per field, each value that a live correction gives it."""


def _live_corrections(ordered: Sequence[Event], read: dict[str, Body | None], dead: set[str]) -> dict[str, Claims]:
    """What live corrections claim of each event; one that replaces another does so in the fields that it names."""
    bodies = [
        (event.id, body) for event in ordered if isinstance(body := read[event.id], Corrected) and event.id not in dead
    ]
    replaced = {(earlier, name) for _, body in bodies for earlier in body.replaces for name in body.change}
    by_event: dict[str, Claims] = defaultdict(lambda: defaultdict(list))
    for event_id, body in bodies:
        for name, value in body.change.items():
            claims = by_event[body.corrects][name]
            if (event_id, name) not in replaced and value not in claims:
                claims.append(value)
    return by_event


def _statement(event: Event, body: Body | None, withdrawn: bool, claims: Claims) -> Statement:  # noqa: FBT001
    if body is None or not claims:
        return Statement(event, body, withdrawn)
    contested = sorted(name for name, values in claims.items() if len(values) > 1)
    changed = changed_body(body, {name: values[0] for name, values in claims.items() if len(values) == 1})
    if changed is None:  # each of them fitted by itself, on its own laptop; together they do not
        contested = sorted(name for name, values in claims.items() if values)
    told = {name: tuple(claims[name]) for name in contested}
    return Statement(event, changed or body, withdrawn, tuple(contested), told)


def changed_body(body: Body, change: dict[str, Any]) -> Body | None:
    """Return the body with changed fields, None when the change does not fit it."""
    plain = body.model_dump(mode="json", by_alias=True, exclude_none=True) | change
    try:
        return read_body(body.kind, {name: value for name, value in plain.items() if value is not None})
    except RefusedError:
        return None
