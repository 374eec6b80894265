"""The one transaction that adds events: place in the chain, hash, event, facts and head together, or nothing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby, islice
from typing import Any, NamedTuple, TypeVar

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from course import moments
from course.errors import ConflictError
from course.record.chain import FIRST_PREV, Event, plain_hash
from course.record.facts import Fact
from course.record.projection import PROJECTION_VERSION, fact_text, keys, project
from course.storage import tables
from course.storage.entries import Entry
from course.storage.ready import Ready, among, among_listed, is_near
from course.storage.tables import HASHED, event, fact, head

Progress = Callable[[int, int], None]
"""Told (done, of) while something long runs."""
_AT_ONCE = 500
_T = TypeVar("_T")

_centre: sa.BindParameter[str] = sa.bindparam("of_centre")
_chain: sa.BindParameter[str] = sa.bindparam("of_chain")
_own_head = (head.c.centre == _centre) & (head.c.chain == _chain)
_head = sa.select(head.c.seq, head.c.hash, head.c.lamport).where(_own_head)
_HEAD, _HELD_HEAD = Ready(_head), Ready(_head.with_for_update())
_HEADS = Ready(
    sa.select(head.c.chain, head.c.seq, head.c.hash, head.c.lamport)
    .where(head.c.centre == _centre)
    .order_by(head.c.chain)
)
_MOVE_HEAD = Ready(sa.update(head).where(_own_head), sets=("seq", "hash", "lamport", "device"))
# of a fork that was brought in, the branch that is not the head may have come further
_BROUGHT_IN = (
    sa.select(sa.cast(tables.meta.c.value, sa.Integer))
    .where(tables.meta.c.centre == _centre, tables.meta.c.name == sa.literal_column("'lamport_brought_in'"))
    .scalar_subquery()
)
_HIGHEST = sa.select(sa.func.max(head.c.lamport), _BROUGHT_IN).where(head.c.centre == _centre)
_every = head.alias("every")
_END = Ready(
    sa.select(
        head.c.seq,
        head.c.hash,
        head.c.lamport,
        sa.select(sa.func.max(_every.c.lamport)).where(_every.c.centre == _centre).scalar_subquery(),
        _BROUGHT_IN,
        sa.select(sa.func.max(event.c.recorded_at))
        .where(event.c.centre == _centre, event.c.chain == _chain, event.c.seq == head.c.seq)
        .scalar_subquery(),
    )
    .where(_own_head)
    .with_for_update(of=head)
)
_ADD_EVENT = Ready(sa.insert(event), sets=[*(column.name for column in HASHED), "origin"])
_OWN = sa.select(*HASHED).where(event.c.centre == _centre)
_KNOWN = Ready(
    _OWN.where(among(event.c.id, "wanted")).order_by(event.c.pos.desc()),
    on_sqlite=_OWN.where(among_listed(event.c.id, "wanted")).order_by(event.c.pos.desc()),
)
_SUBJECTS = Ready(
    _OWN.where(among(event.c.subject, "wanted")), on_sqlite=_OWN.where(among_listed(event.c.subject, "wanted"))
)
_beside = event.alias("beside")


def _met_by(one_of: Callable[[sa.ColumnElement[str], str], sa.ColumnElement[bool]]) -> sa.Select[Any]:
    """Events that have one of some ids or are about one of some subjects. With OR, SQLite would go through them all."""
    place = sa.select(_beside.c.pos).where(_beside.c.centre == _centre)
    places = sa.union_all(place.where(one_of(_beside.c.id, "ids")), place.where(one_of(_beside.c.subject, "subjects")))
    return sa.select(*HASHED).where(event.c.pos.in_(places)).order_by(event.c.pos.desc())


_MET = Ready(_met_by(among), on_sqlite=_met_by(among_listed))
_FACT_KEY = ("centre", "kind", "id")


def _replacing(insert: Any) -> Any:
    """An insert of a fact that takes the place of what was held true before."""
    new = {column.name: insert.excluded[column.name] for column in fact.c if column.name not in _FACT_KEY}
    return insert.on_conflict_do_update(index_elements=_FACT_KEY, set_=new)


_WRITE_FACT = Ready(
    _replacing(postgresql.insert(fact)), on_sqlite=_replacing(sqlite.insert(fact)), sets=[c.name for c in fact.c]
)
_LOOKED_UP_BY = ("course", "person", "skill", "session")
_to_say = sqlite.insert(fact)
_SAY = Ready(
    _to_say.on_conflict_do_update(
        index_elements=_FACT_KEY,
        set_={"fact": _to_say.excluded["fact"]},
        where=sa.and_(*(fact.c[name].is_not_distinct_from(_to_say.excluded[name]) for name in _LOOKED_UP_BY)),
    ),
    sets=[c.name for c in fact.c],
)


class Head(NamedTuple):
    """How far one chain has come; seq 0 before its first event."""

    chain: str
    seq: int
    hash: str
    lamport: int


@dataclass(frozen=True)
class Stamp:
    """What every event that is added here has in common."""

    centre: str
    chain: str
    device: str


@dataclass(frozen=True)
class Added:
    """What came of one list of entries, and how far the chain had come before and has come with it."""

    events: list[Event]
    before: Head
    head: Head
    clock_back: timedelta


def add_entries(connection: sa.Connection, stamp: Stamp, entries: Sequence[Entry]) -> Added:
    """Add entries as events, in order; one whose id is known with the same content is given back as it is.

    Raises:
        ConflictError: an id is known with other content.
    """
    before, lamport, last_recorded = _end(connection, stamp)
    stored = _met(connection, stamp.centre, entries)
    known = {one.id: one for one in stored}
    recorded = moments.stored(moments.now())
    new: list[Event] = []
    latest = before
    for entry in entries:
        if entry.id in known:
            _refuse_other_content(known[entry.id], entry)
            continue
        lamport += 1
        made = _place(entry, stamp, latest, lamport, recorded)
        latest = Head(stamp.chain, made.seq, made.hash, lamport)
        known[entry.id] = made
        new.append(made)
    back = timedelta(0)
    if new:
        back = _clock_back(last_recorded, recorded)
        add_events(connection, new, origin=0)
        write_head(connection, stamp, latest)
        changed = {made.subject for made in new}
        tell_facts(connection, stamp.centre, [one for one in (*stored, *new) if one.subject in changed])
    return Added([known[entry.id] for entry in entries], before, latest, back)


def add_events(connection: sa.Connection, events: Iterable[Event], *, origin: int) -> None:
    """Add events as they are: of this ledger's own making (origin 0) or brought in from another (1)."""
    _ADD_EVENT.change_each(connection, [tables.row_of(one, origin) for one in events])


def known_events(connection: sa.Connection, centre: str, ids: Iterable[str]) -> Iterator[Event]:
    """Yield the events here that have one of these ids; of several of one id the first that came comes last."""
    for some in _some_at_once(ids):
        rows = _KNOWN.rows(connection, {"of_centre": centre, "wanted": some})
        yield from map(tables.event_of, rows)


def _met(connection: sa.Connection, centre: str, entries: Sequence[Entry]) -> list[Event]:
    """What is here already of the entries themselves and of all that they are about; see `known_events` on order."""
    ids, subjects = [entry.id for entry in entries], sorted({entry.subject for entry in entries})
    rows = _MET.rows(connection, {"of_centre": centre, "ids": ids, "subjects": subjects})
    return [tables.event_of(row) for row in rows]


def read_head(connection: sa.Connection, centre: str, chain: str, *, hold: bool = False) -> Head:
    """Return the head of a chain; to write, hold it against other writers where the database knows that."""
    for seq, hash_, lamport in (_HELD_HEAD if hold else _HEAD).rows(
        connection, {"of_centre": centre, "of_chain": chain}
    ):
        return Head(chain, seq, hash_.hex(), lamport)
    return Head(chain, 0, FIRST_PREV, 0)


def read_heads(connection: sa.Connection, centre: str) -> list[Head]:
    """Return the head of every chain here."""
    rows = _HEADS.rows(connection, {"of_centre": centre})
    return [Head(chain, seq, hash_.hex(), lamport) for chain, seq, hash_, lamport in rows]


def write_head(connection: sa.Connection, stamp: Stamp, latest: Head) -> None:
    """Move a chain's head."""
    now = {"seq": latest.seq, "hash": bytes.fromhex(latest.hash), "lamport": latest.lamport, "device": stamp.device}
    own = {"of_centre": stamp.centre, "of_chain": stamp.chain}
    if _MOVE_HEAD.change(connection, own | now) == 0:
        connection.execute(sa.insert(head), {"centre": stamp.centre, "chain": stamp.chain} | now)


def highest_lamport(connection: sa.Connection, centre: str) -> int:
    """Return the highest place in the order of statements that any chain here knows; 0 at the beginning."""
    return max(known or 0 for known in connection.execute(_HIGHEST, {"of_centre": centre}).one())


def fact_row(centre: str, told: Fact) -> dict[str, Any]:
    """Return the row that keeps a fact."""
    by = keys(told)
    looked_up = {name: getattr(by, name) for name in _LOOKED_UP_BY}
    return {"centre": centre, "kind": by.kind, "id": told.id, **looked_up, "fact": fact_text(told)}


def write_facts(connection: sa.Connection, centre: str, subjects: Sequence[str]) -> None:
    """Derive what is true of these subjects from all of their events, in the place of what was held true before."""
    for some in _some_at_once(subjects):
        rows = _SUBJECTS.rows(connection, {"of_centre": centre, "wanted": some})
        tell_facts(connection, centre, map(tables.event_of, rows))


def tell_facts(connection: sa.Connection, centre: str, events: Iterable[Event]) -> None:
    """As `write_facts`, from events that were read already: all that there are of each of their subjects."""
    by_subject: defaultdict[str, list[Event]] = defaultdict(list)
    for one in events:
        by_subject[one.subject].append(one)
    told = [project(own) for _, own in sorted(by_subject.items())]
    if facts := [fact_row(centre, one) for one in told if one is not None]:
        _write(connection, facts)


def _write(connection: sa.Connection, facts: Sequence[dict[str, Any]]) -> None:
    """Most saves say more of what is known: then only its text is written, and no index of what it is looked up by."""
    if not is_near(connection) or _SAY.change_each(connection, facts) < len(facts):
        _WRITE_FACT.change_each(connection, facts)


def write_all_facts(connection: sa.Connection, centre: str, progress: Progress | None = None) -> int:
    """Write every fact anew from the events; return how many there are."""
    connection.execute(sa.delete(fact).where(fact.c.centre == centre))
    written = 0
    told = (project(own) for _, own in events_by_subject(connection, centre, progress))
    for facts in _some_at_once(one for one in told if one is not None):
        connection.execute(sa.insert(fact), [fact_row(centre, one) for one in facts])
        written += len(facts)
    tables.set_setting(connection, centre, "projection_version", str(PROJECTION_VERSION))
    return written


def events_by_subject(
    connection: sa.Connection, centre: str, progress: Progress | None = None
) -> Iterator[tuple[str, list[Event]]]:
    """Yield each subject with all of its events."""
    own = event.c.centre == centre
    of = connection.execute(sa.select(sa.func.count()).select_from(event).where(own)).scalar_one()
    asked = sa.select(*HASHED).where(own).order_by(event.c.subject, event.c.lamport)
    done = 0
    for subject, group in groupby(tables.read_events(connection, asked), key=lambda one: one.subject):
        events = list(group)
        yield subject, events
        done += len(events)
        if progress:
            progress(done, of)


def _end(connection: sa.Connection, stamp: Stamp) -> tuple[Head, int, str | None]:
    """The end of the chain, held; the highest place in the order of statements; when the last event was recorded."""
    for seq, hash_, lamport, highest, brought_in, recorded_at in _END.rows(
        connection, {"of_centre": stamp.centre, "of_chain": stamp.chain}
    ):
        return Head(stamp.chain, seq, hash_.hex(), lamport), max(lamport, highest, brought_in or 0), recorded_at
    return Head(stamp.chain, 0, FIRST_PREV, 0), highest_lamport(connection, stamp.centre), None


def _place(entry: Entry, stamp: Stamp, latest: Head, lamport: int, recorded_at: str) -> Event:
    seq = latest.seq + 1
    line = (
        stamp.centre, stamp.chain, seq, lamport, entry.id, stamp.device, entry.actor, entry.subject, recorded_at,
        entry.kind,
    )  # fmt: skip
    hash_ = plain_hash(line, entry.body.encode(), bytes.fromhex(latest.hash)).hex()
    return Event(
        id=entry.id, centre=stamp.centre, chain=stamp.chain, seq=seq, lamport=lamport, device=stamp.device,
        actor=entry.actor, subject=entry.subject, kind=entry.kind, recorded_at=recorded_at, body=entry.body,
        prev=latest.hash, hash=hash_,
    )  # fmt: skip


def _refuse_other_content(stored: Event, entry: Entry) -> None:
    if (stored.kind, stored.subject, stored.body) != (entry.kind, entry.subject, entry.body):
        raise ConflictError(
            f"The id {entry.id} is in the ledger already with other content ({stored.kind}, recorded "
            f"{stored.recorded_at}). Nothing was saved. Load the page again, and enter it anew if it is still "
            "missing."
        )


def _clock_back(last: str | None, recorded_at: str) -> timedelta:
    if last is None or last <= recorded_at:
        return timedelta(0)
    return moments.read_stored(last) - moments.read_stored(recorded_at)


def _some_at_once(things: Iterable[_T]) -> Iterator[list[_T]]:
    rest = iter(things)
    while some := list(islice(rest, _AT_ONCE)):
        yield some
