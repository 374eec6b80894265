"""An invented centre's ledger for tests, and ways to damage it."""

from __future__ import annotations

import shutil
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg

from course.moments import new_id, observed_at, read_stored
from course.record.events import (
    AttemptOpened,
    Body,
    CentreMade,
    Draft,
    MarkGiven,
    MarksGiven,
    PersonAdded,
    PersonErased,
    SheetStarted,
    UnitAdded,
)
from course.storage.database import SQLITE
from course.storage.ledger import Ledger, create
from course.storage.site import site_of
from course.storage.tables import SQLITE_GUARDS
from course.words import Authority, Capacity, Mark, Role, SheetSource

LEAD = "0192d000-0000-7000-8000-00000000000a"
SEEN = observed_at(read_stored("2026-10-22T09:30:00.000000Z"), "Atlantic/Azores")


def new_centre(folder: Path, database: str | None = None) -> Ledger:
    """A centre with its lead: two events."""
    centre = CentreMade(centre=new_id(), name="Kelpwater", zone="Atlantic/Azores", lead=LEAD)
    lead = PersonAdded(person=LEAD, roles=(Role.LEAD,), name="Tamsin Okoro-Vale")
    return create(folder, [drafted(centre), drafted(lead, private_of=LEAD)], database=database)


def drafted(body: Body, *, private_of: str | None = None) -> Draft:
    """A draft by the lead."""
    return Draft(new_id(), LEAD, body, private_of)


def a_unit(label: str = "Unit 4") -> Draft:
    """A unit; its label is sealed with the key of the centre."""
    return drafted(UnitAdded(unit=new_id(), label=label, unit_type="type-a"))


def a_person(name: str, **private: Any) -> Draft:
    """A student whose private data have a key of their own."""
    person = new_id()
    return drafted(PersonAdded(person=person, roles=(Role.STUDENT,), name=name, **private), private_of=person)


def an_erasing(person: str) -> Draft:
    """Somebody's data were erased at their own word."""
    return drafted(PersonErased(person=person, authority=Authority.PERSON, reason="They asked.", observed=SEEN))


def an_attempt(*marks: Mark) -> list[Draft]:
    """An attempt with one sheet and one tap for each mark."""
    attempt, sheet, student = new_id(), new_id(), new_id()
    opened = AttemptOpened(
        attempt=attempt, course=new_id(), session=new_id(), student=student, skill="bailout", rubric="0" * 64,
        setting="pool", number=1, observed=SEEN,
    )  # fmt: skip
    started = SheetStarted(
        attempt=attempt, sheet=sheet, observer=LEAD, role=Role.LEAD, capacity=Capacity.EVALUATING,
        source=SheetSource.PAD, observed=SEEN,
    )  # fmt: skip
    taps = [
        MarksGiven(attempt=attempt, sheet=sheet, marks=(a_mark(f"step-{number}", mark),), observed=SEEN)
        for number, mark in enumerate(marks, 1)
    ]
    return [drafted(body) for body in (opened, started, *taps)]


def a_mark(step: str, mark: Mark) -> MarkGiven:
    """One step's mark; an error is the step's first."""
    return MarkGiven(step=step, mark=mark, errors=("a",) if mark == Mark.ERROR else ())


def change(folder: Path, statement: str, *values: Any, guarded: bool = False) -> None:
    """Change the database behind the program's back, as somebody with the file or the server could."""
    if site_of(folder).server:
        off = [] if guarded else [f"ALTER TABLE event DISABLE TRIGGER ALL, {', '.join(_LIFTED)}"]
        on = [] if guarded else [f"ALTER TABLE event ENABLE ALWAYS TRIGGER {name}" for name in _POSTGRESQL]
        _tell(
            folder, *((done, ()) for done in off), (statement.replace("?", "%s"), values), *((done, ()) for done in on)
        )
        return
    with closing(SQLITE.connect(str(folder / "ledger.db"), isolation_level=None)) as connection:
        connection.execute("PRAGMA ignore_check_constraints=ON")
        for guard in () if guarded else SQLITE_GUARDS:
            connection.execute(f"DROP TRIGGER {guard}")
        connection.execute(statement, values)
        for sql in () if guarded else SQLITE_GUARDS.values():
            connection.execute(sql)


_POSTGRESQL = ("event_no_change", "event_no_truncate")
_LIFTED = tuple(
    f"DROP CONSTRAINT IF EXISTS event_{name}"
    for name in ("check", "check1", "seq_check", "origin_check", "recorded_at_check", "body_check")
)


def look(folder: Path, asked: str) -> list[tuple[Any, ...]]:
    """What a ledger's database holds, seen past the program."""
    if site_of(folder).server:
        return _tell(folder, (asked, ()))
    with closing(SQLITE.connect(str(folder / "ledger.db"))) as connection:
        rows: list[tuple[Any, ...]] = connection.execute(asked).fetchall()
        return rows


def tables_in(folder: Path) -> list[tuple[Any, ...]]:
    """Every row of what is true now."""
    return look(folder, "SELECT * FROM fact ORDER BY centre, kind, id")


def _tell(folder: Path, *statements: tuple[str, tuple[Any, ...]]) -> list[Any]:
    server = site_of(folder).server
    assert server
    place = f"host={server.url.query['host']} user=postgres dbname={server.url.database}"
    rows: list[Any] = []
    with psycopg.connect(f"{place} options='-c search_path=loopledger'", autocommit=True) as connection:
        for statement, values in statements:
            done = connection.execute(statement, values or None)
            rows = done.fetchall() if done.description else []
    return rows


def lose_tail(folder: Path, count: int) -> None:
    """Take the last events out of the database, leaving it whole in itself; the witness stays as it was."""
    centre = site_of(folder).centre or look(folder, "SELECT centre FROM head")[0][0]
    ((last,),) = look(folder, f"SELECT max(seq) FROM event WHERE centre = '{centre}'")  # noqa: S608 - our own id
    end = last - count
    change(folder, "DELETE FROM event WHERE centre = ? AND seq > ?", centre, end)
    left = "SELECT seq, hash, lamport FROM event WHERE centre = ? AND seq = ?"
    change(folder, f"UPDATE head SET (seq, hash, lamport) = ({left}) WHERE centre = ?", centre, end, centre)  # noqa: S608


def copy_of(folder: Path, to: Path) -> Path:
    """A folder copied with everything in it."""
    shutil.copytree(folder, to, ignore=shutil.ignore_patterns("lock"))
    return to
