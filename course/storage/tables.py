"""The tables of the ledger: events that nothing changes, heads of chains, and what is true now.

`pos` and `origin` are this database's own and never hashed. `origin` 0: appended here; 1: brought in from another
ledger. Each unique index begins with the centre. What only one kind of database knows stands in `ddl_if`,
`execute_if` and `with_variant`. On PostgreSQL every text is ordered by its bytes, as SQLite does.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy import BigInteger, CheckConstraint, Column, Identity, Index, Integer, LargeBinary, Table, Text

from course.record.chain import Event

SCHEMA = "ledger/1"
metadata = sa.MetaData()
_Text = Text().with_variant(Text(collation="C"), "postgresql")
_Whole = Integer().with_variant(BigInteger(), "postgresql")

event = Table(
    "event",
    metadata,
    Column("pos", _Whole, Identity(always=True), primary_key=True),
    Column("centre", _Text, nullable=False),
    Column("hash", LargeBinary, nullable=False),
    Column("prev", LargeBinary, nullable=False),
    Column("chain", _Text, nullable=False),
    Column("seq", _Whole, nullable=False),
    Column("lamport", _Whole, nullable=False),
    Column("id", _Text, nullable=False),
    Column("device", _Text, nullable=False),
    Column("actor", _Text, nullable=False),
    Column("subject", _Text, nullable=False),
    Column("recorded_at", _Text, nullable=False),
    Column("kind", _Text, nullable=False),
    Column("body", _Text, nullable=False),
    Column("origin", _Whole, nullable=False),
    CheckConstraint("seq >= 1"),
    CheckConstraint("lamport >= seq"),
    CheckConstraint("origin IN (0, 1)"),
    CheckConstraint("length(recorded_at) = 27"),
    CheckConstraint("length(hash) = 32 AND length(prev) = 32").ddl_if(dialect="sqlite"),
    CheckConstraint("json_valid(body)").ddl_if(dialect="sqlite"),
    CheckConstraint("octet_length(hash) = 32 AND octet_length(prev) = 32").ddl_if(dialect="postgresql"),
    CheckConstraint("json_typeof(body::json) = 'object'").ddl_if(dialect="postgresql"),
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
    Column("centre", _Text, primary_key=True),
    Column("chain", _Text, primary_key=True),
    Column("seq", _Whole, nullable=False),
    Column("hash", LargeBinary, nullable=False),
    Column("lamport", _Whole, nullable=False),
    Column("device", _Text, nullable=False),
    sqlite_strict=True,
)

fact = Table(
    "fact",
    metadata,
    Column("centre", _Text, primary_key=True),
    Column("kind", _Text, primary_key=True),
    Column("id", _Text, primary_key=True),
    Column("course", _Text),
    Column("person", _Text),
    Column("skill", _Text),
    Column("session", _Text),
    Column("fact", _Text, nullable=False),
    sqlite_strict=True,
    sqlite_with_rowid=False,
)
Index("ix_fact_course", fact.c.centre, fact.c.kind, fact.c.course)
Index("ix_fact_person", fact.c.centre, fact.c.kind, fact.c.person, fact.c.skill)
Index("ix_fact_session", fact.c.centre, fact.c.kind, fact.c.session)

meta = Table(
    "meta",
    metadata,
    Column("centre", _Text, primary_key=True),
    Column("name", _Text, primary_key=True),
    Column("value", _Text, nullable=False),
    sqlite_strict=True,
)

layout = Table("alembic_version", metadata, Column("version_num", sa.String(32), nullable=False))
layout.append_constraint(sa.PrimaryKeyConstraint("version_num", name="alembic_version_pkc"))
FIRST_LAYOUT, NEWEST_LAYOUT = KNOWN_LAYOUTS = ("0001", "0002")
"""Of the tables, as revisions in `layouts/`; the newest is the one that is described here."""

SQLITE_GUARDS = {
    "event_no_update": "CREATE TRIGGER event_no_update BEFORE UPDATE ON event "
    "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END",
    "event_no_delete": "CREATE TRIGGER event_no_delete BEFORE DELETE ON event "
    "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END",
    # INSERT OR REPLACE removes the row in its way without firing the two above. Each question is one of its own: asked
    # with OR in one query, SQLite goes through every event of the centre, and a save costs more as the ledger grows.
    "event_no_replace": "CREATE TRIGGER event_no_replace BEFORE INSERT ON event "
    "WHEN EXISTS (SELECT 1 FROM event WHERE pos = NEW.pos) "
    "OR EXISTS (SELECT 1 FROM event WHERE centre = NEW.centre AND hash = NEW.hash) "
    "OR (NEW.origin = 0 AND EXISTS (SELECT 1 FROM event WHERE origin = 0 AND centre = NEW.centre AND id = NEW.id)) "
    "OR (NEW.origin = 0 AND EXISTS (SELECT 1 FROM event WHERE origin = 0 AND centre = NEW.centre "
    "AND chain = NEW.chain AND seq = NEW.seq)) "
    "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END",
}
EARLIER_GUARDS = {
    "event_no_replace": "CREATE TRIGGER event_no_replace BEFORE INSERT ON event WHEN EXISTS (SELECT 1 FROM event "
    "WHERE pos = NEW.pos OR (centre = NEW.centre AND hash = NEW.hash)) "
    "OR (NEW.origin = 0 AND EXISTS (SELECT 1 FROM event WHERE origin = 0 AND centre = NEW.centre "
    "AND (id = NEW.id OR (chain = NEW.chain AND seq = NEW.seq)))) "
    "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END",
}
"""Guards of the first layout: they refuse the same, slowly."""
POSTGRESQL_REFUSAL = "BEGIN RAISE EXCEPTION 'the ledger is append-only'; END"
POSTGRESQL_GUARDS = {
    "event_no_change": "BEFORE UPDATE OR DELETE ON event FOR EACH ROW",
    "event_no_truncate": "BEFORE TRUNCATE ON event FOR EACH STATEMENT",
}
CENTRE_TABLES = (event, fact, head, meta)
"""Those whose rows belong to a centre."""
OWN_ROWS = "(centre IN ( SELECT own.centre\n   FROM login own\n  WHERE (own.login = (CURRENT_USER)::text)))"
"""Which rows a login of a server sees that does not own the tables, as the server itself writes it: those of the
centres that are entered for it in `login`."""


def _guards() -> Iterator[tuple[str, str]]:
    """Yield (kind of database, statement) for all that refuses to change an event."""
    for made in SQLITE_GUARDS.values():
        yield "sqlite", made
    yield (
        "postgresql",
        f"CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $${POSTGRESQL_REFUSAL}$$",
    )
    for name, when in POSTGRESQL_GUARDS.items():
        yield "postgresql", f"CREATE TRIGGER {name} {when} EXECUTE FUNCTION refuse_change()"
        # Also where a session passes for a replica, which fires no ordinary trigger.
        yield "postgresql", f"ALTER TABLE event ENABLE ALWAYS TRIGGER {name}"


for _dialect, _guard in _guards():
    _make_guard: Any = sa.DDL  # its signature has no types
    sa.event.listen(event, "after_create", _make_guard(_guard).execute_if(dialect=_dialect))


def _own_rows() -> Iterator[str]:
    """Yield the statements that keep the centres of one server apart, see layout 0002."""
    yield (
        'CREATE TABLE login (login TEXT COLLATE "C" NOT NULL, centre TEXT COLLATE "C" NOT NULL, '
        "PRIMARY KEY (login, centre))"
    )
    yield "GRANT SELECT ON login, alembic_version TO PUBLIC"  # who may not use the schema reads neither
    yield "ALTER TABLE login ENABLE ROW LEVEL SECURITY"
    yield "CREATE POLICY own_rows ON login FOR SELECT USING (login = current_user::text)"
    for table in CENTRE_TABLES:
        yield f"ALTER TABLE {table.name} ENABLE ROW LEVEL SECURITY"
        yield f"CREATE POLICY own_centre ON {table.name} USING {OWN_ROWS}"


@sa.event.listens_for(metadata, "after_create")
def _finish(_: sa.MetaData, connection: sa.Connection, **made: Any) -> None:
    """Name the layout of tables that were just made, and keep centres apart where a database may hold several."""
    if layout not in made["tables"]:
        return
    connection.execute(sa.insert(layout).values(version_num=NEWEST_LAYOUT))
    if connection.dialect.name == "postgresql":
        for statement in _own_rows():
            connection.exec_driver_sql(statement)


HASHED = tuple(column for column in event.c if column.name not in ("pos", "origin"))
"""The columns that make an `Event`; every one of them is covered by its hash."""
STREAMED = {"yield_per": 1000}
"""How a statement is executed whose rows are not all to be held at once."""
_SUBJECT = (
    sa.select(*HASHED)
    .where(event.c.centre == sa.bindparam("of_centre"), event.c.subject == sa.bindparam("of_subject"))
    .order_by(event.c.lamport, event.c.chain, event.c.seq, event.c.hash)
)


def row_of(stored: Event, origin: int) -> dict[str, Any]:
    """Return the row that keeps an event."""
    return stored._asdict() | {
        "hash": bytes.fromhex(stored.hash), "prev": bytes.fromhex(stored.prev), "origin": origin
    }  # fmt: skip


def may_be_id(text: str) -> bool:
    """Whether a database can be asked for it: half a letter or a null byte from an address is nobody's id."""
    return text.isascii() and text.isprintable()


def event_of(row: Sequence[Any]) -> Event:
    """Return the event in a row of `HASHED`."""
    (centre, hash_, prev, chain, seq, lamport, id_, device, actor, subject, recorded_at, kind, body) = row
    return Event(
        id_, centre, chain, seq, lamport, device, actor, subject, kind, recorded_at, body, prev.hex(), hash_.hex()
    )


def read_events(connection: sa.Connection, asked: sa.Select[Any]) -> Iterator[Event]:
    """Yield the events that a statement on `HASHED` finds, without holding them all."""
    for row in connection.execute(asked, execution_options=STREAMED):
        yield event_of(row)


def subject_events(connection: sa.Connection, centre: str, subject: str) -> list[Event]:
    """Return all events about one thing, in the order that settles them."""
    return [event_of(row) for row in connection.execute(_SUBJECT, {"of_centre": centre, "of_subject": subject})]


def centre_in(connection: sa.Connection, named: str | None) -> str | None:
    """Return the id of the centre whose ledger is here: the named one, or the only one; None when it is not here."""
    if not sa.inspect(connection).has_table(meta.name):
        return None
    asked = sa.select(meta.c.centre).where(meta.c.name == "schema")
    return connection.execute(asked if named is None else asked.where(meta.c.centre == named)).scalar()


def layout_of(connection: sa.Connection) -> str:
    """Return the layout of the tables of a ledger; those from before it was named have the first."""
    if not sa.inspect(connection).has_table(layout.name):
        return FIRST_LAYOUT
    return connection.execute(sa.select(layout.c.version_num)).scalar() or FIRST_LAYOUT


def setting(connection: sa.Connection, centre: str, name: str) -> str | None:
    """Return one of a centre's own settings in this database, None when it was never set."""
    own = (meta.c.centre == centre) & (meta.c.name == name)
    return connection.execute(sa.select(meta.c.value).where(own)).scalar()


def set_setting(connection: sa.Connection, centre: str, name: str, value: str | None) -> None:
    """Set one of a centre's own settings in this database; None removes it."""
    connection.execute(sa.delete(meta).where(meta.c.centre == centre, meta.c.name == name))
    if value is not None:
        connection.execute(sa.insert(meta).values(centre=centre, name=name, value=value))


def copy_centre(source: sa.Connection, target: sa.Connection, centre: str) -> None:
    """Copy every row of one centre into another database's tables, events in the order in which they arrived."""
    for table in CENTRE_TABLES:
        columns = [column for column in table.c if column is not event.c.pos]  # a place is each database's own
        asked = sa.select(*columns).where(table.c.centre == centre).order_by(*table.primary_key)
        for rows in source.execute(asked, execution_options=STREAMED).mappings().partitions():
            target.execute(sa.insert(table), [dict(row) for row in rows])
