"""An invented centre's ledger for tests, and ways to damage it."""

from __future__ import annotations

import shutil
from contextlib import closing
from pathlib import Path
from typing import Any

from course.moments import new_id, observed_at, read_stored
from course.record.events import (
    AttemptOpened,
    Body,
    CentreMade,
    Draft,
    MarkGiven,
    MarksGiven,
    PersonAdded,
    SheetStarted,
    UnitAdded,
)
from course.storage.database import SQLITE
from course.storage.ledger import Ledger, create
from course.storage.tables import SQLITE_GUARDS
from course.words import Capacity, Mark, Role, SheetSource

LEAD = "0192d000-0000-7000-8000-00000000000a"
SEEN = observed_at(read_stored("2026-10-22T09:30:00.000000Z"), "Atlantic/Azores")


def new_centre(folder: Path) -> Ledger:
    """A centre with its lead: two events."""
    centre = CentreMade(centre=new_id(), name="Kelpwater", zone="Atlantic/Azores", lead=LEAD)
    lead = PersonAdded(person=LEAD, roles=(Role.LEAD,), name="Tamsin Okoro-Vale")
    return create(folder, [drafted(centre), drafted(lead, private_of=LEAD)])


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
    """Change the database behind the program's back, as somebody with the file could."""
    with closing(SQLITE.connect(str(folder / "ledger.db"), isolation_level=None)) as connection:
        connection.execute("PRAGMA ignore_check_constraints=ON")
        for guard in () if guarded else SQLITE_GUARDS:
            connection.execute(f"DROP TRIGGER {guard}")
        connection.execute(statement, values)
        for sql in () if guarded else SQLITE_GUARDS.values():
            connection.execute(sql)


def lose_tail(folder: Path, count: int) -> None:
    """Take the last events out of the database, leaving it whole in itself; the witness stays as it was."""
    with closing(SQLITE.connect(str(folder / "ledger.db"))) as connection:
        (last,) = connection.execute("SELECT max(seq) FROM event").fetchone()
    end = last - count
    change(folder, "DELETE FROM event WHERE seq > ?", end)
    change(folder, "UPDATE head SET (seq, hash, lamport) = (SELECT seq, hash, lamport FROM event WHERE seq = ?)", end)


def copy_of(folder: Path, to: Path) -> Path:
    """A folder copied with everything in it."""
    shutil.copytree(folder, to, ignore=shutil.ignore_patterns("lock"))
    return to
