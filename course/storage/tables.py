"""The tables of the ledger: events that nothing changes, heads of chains, and what is true now.

`pos` and `origin` are this database's own and never hashed. `origin` 0: appended here; 1: brought in from another
ledger. Each unique index begins with the centre. What only one kind of database knows stands in `ddl_if` and
`execute_if`; a second kind adds its own beside them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, Column, Index, Integer, LargeBinary, Table, Text

from course.record.chain import Event

SCHEMA = "ledger/1"
metadata = sa.MetaData()

event = Table(
    "event",
    metadata,
    Column("pos", Integer, primary_key=True),
    Column("centre", Text, nullable=False),
    Column("hash", LargeBinary, nullable=False),
    Column("prev", LargeBinary, nullable=False),
    Column("chain", Text, nullable=False),
    Column("seq", Integer, nullable=False),
    Column("lamport", Integer, nullable=False),
    Column("id", Text, nullable=False),
    Column("device", Text, nullable=False),
    Column("actor", Text, nullable=False),
    Column("subject", Text, nullable=False),
    Column("recorded_at", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("origin", Integer, nullable=False),
    CheckConstraint("seq >= 1"),
    CheckConstraint("lamport >= seq"),
    CheckConstraint("origin IN (0, 1)"),
    CheckConstraint("length(recorded_at) = 27"),
    CheckConstraint("length(hash) = 32 AND length(prev) = 32").ddl_if(dialect="sqlite"),
    CheckConstraint("json_valid(body)").ddl_if(dialect="sqlite"),
    sqlite_strict=True,
)
_here = sa.text("origin = 0")
Index("ux_event_hash", event.c.centre, event.c.hash, unique=True)
Index(
    "ux_event_seq", event.c.centre, event.c.chain, event.c.seq, unique=True, sqlite_where=_here, postgresql_where=_here
)
Index("ux_event_id", event.c.centre, event.c.id, unique=True, sqlite_where=_here, postgresql_where=_here)
Index("ix_event_chain", event.c.centre, event.c.chain, event.c.seq)
Index("ix_event_subject", event.c.centre, event.c.subject, event.c.lamport)
Index("ix_event_id", event.c.centre, event.c.id)

head = Table(
    "head",
    metadata,
    Column("centre", Text, primary_key=True),
    Column("chain", Text, primary_key=True),
    Column("seq", Integer, nullable=False),
    Column("hash", LargeBinary, nullable=False),
    Column("lamport", Integer, nullable=False),
    Column("device", Text, nullable=False),
    sqlite_strict=True,
)

fact = Table(
    "fact",
    metadata,
    Column("centre", Text, primary_key=True),
    Column("kind", Text, primary_key=True),
    Column("id", Text, primary_key=True),
    Column("course", Text),
    Column("person", Text),
    Column("skill", Text),
    Column("session", Text),
    Column("fact", Text, nullable=False),
    sqlite_strict=True,
    sqlite_with_rowid=False,
)
Index("ix_fact_course", fact.c.centre, fact.c.kind, fact.c.course)
Index("ix_fact_person", fact.c.centre, fact.c.kind, fact.c.person, fact.c.skill)
Index("ix_fact_session", fact.c.centre, fact.c.kind, fact.c.session)

meta = Table(
    "meta",
    metadata,
    Column("centre", Text, primary_key=True),
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
    sqlite_strict=True,
)

SQLITE_GUARDS = {
    "event_no_update": "CREATE TRIGGER event_no_update BEFORE UPDATE ON event "
    "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END",
    "event_no_delete": "CREATE TRIGGER event_no_delete BEFORE DELETE ON event "
    "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END",
    # INSERT OR REPLACE removes the row in its way without firing the two above.
    "event_no_replace": "CREATE TRIGGER event_no_replace BEFORE INSERT ON event WHEN EXISTS (SELECT 1 FROM event "
    "WHERE pos = NEW.pos OR (centre = NEW.centre AND hash = NEW.hash)) "
    "OR (NEW.origin = 0 AND EXISTS (SELECT 1 FROM event WHERE origin = 0 AND centre = NEW.centre "
    "AND (id = NEW.id OR (chain = NEW.chain AND seq = NEW.seq)))) "
    "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END",
}
for _guard in SQLITE_GUARDS.values():
    _make_guard: Any = sa.DDL  # its signature has no types
    sa.event.listen(metadata, "after_create", _make_guard(_guard).execute_if(dialect="sqlite"))

HASHED = tuple(column for column in event.c if column.name not in ("pos", "origin"))
"""The columns that make an `Event`; every one of them is covered by its hash."""
_NAMES = tuple(column.name for column in HASHED)
_SUBJECT = (
    sa.select(*HASHED)
    .where(event.c.centre == sa.bindparam("of_centre"), event.c.subject == sa.bindparam("of_subject"))
    .order_by(event.c.lamport, event.c.chain, event.c.seq)
)


def row_of(stored: Event, origin: int) -> dict[str, Any]:
    """Return the row that keeps an event."""
    row: dict[str, Any] = {name: getattr(stored, name) for name in _NAMES}
    return row | {"hash": bytes.fromhex(stored.hash), "prev": bytes.fromhex(stored.prev), "origin": origin}


def event_of(row: Sequence[Any]) -> Event:
    """Return the event in a row of `HASHED`."""
    (centre, hash_, prev, chain, seq, lamport, id_, device, actor, subject, recorded_at, kind, body) = row
    return Event(
        id_, centre, chain, seq, lamport, device, actor, subject, kind, recorded_at, body, prev.hex(), hash_.hex()
    )


def read_events(connection: sa.Connection, asked: sa.Select[Any]) -> Iterator[Event]:
    """Yield the events that a statement on `HASHED` finds, without holding them all."""
    for row in connection.execution_options(yield_per=1000).execute(asked):
        yield event_of(row)


def subject_events(connection: sa.Connection, centre: str, subject: str) -> list[Event]:
    """Return all events about one thing, in the order that settles them."""
    return [event_of(row) for row in connection.execute(_SUBJECT, {"of_centre": centre, "of_subject": subject})]


def setting(connection: sa.Connection, name: str) -> tuple[str, str] | None:
    """Return (centre, value) of one of the database's own settings, None when it was never set."""
    row = connection.execute(sa.select(meta.c.centre, meta.c.value).where(meta.c.name == name)).first()
    return (row[0], row[1]) if row else None


def set_setting(connection: sa.Connection, centre: str, name: str, value: str | None) -> None:
    """Set one of the database's own settings; None removes it."""
    connection.execute(sa.delete(meta).where(meta.c.centre == centre, meta.c.name == name))
    if value is not None:
        connection.execute(sa.insert(meta).values(centre=centre, name=name, value=value))
