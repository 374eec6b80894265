"""The ledger: what is acknowledged is there, what is not is not, and every loss or change shows."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import threading
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from ledger_examples import (
    LEAD,
    a_person,
    a_unit,
    an_attempt,
    change,
    copy_of,
    drafted,
    lose_tail,
    new_centre,
    tables_in,
)
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable

from course import moments
from course.errors import BusyError, ConflictError, DamageError, NotFoundError, RefusedError, StorageError
from course.moments import new_id
from course.record.chain import breaks, canonical
from course.record.events import CentreMade, Corrected, Draft, UnitAdded
from course.record.facts import Attempt, Unit
from course.storage import database, opening, witness
from course.storage.appending import add_entries
from course.storage.database import SQLITE, connect, wal_is_safe
from course.storage.entries import Entry
from course.storage.inspection import verify
from course.storage.ledger import Ledger, create, open_ledger
from course.storage.mending import continue_after_loss, rebuild
from course.storage.site import site_of
from course.storage.tables import CENTRE_TABLES, event, metadata
from course.storage.waiting import Job
from course.storage.witness import Witness, read_witness
from course.words import Mark

HERE = Path(__file__).parent


@pytest.fixture(autouse=True)
def _own_device(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOOPLEDGER_STATE", str(tmp_path / "device"))


@pytest.fixture
def folder(tmp_path: Path, either_database: str | None) -> Path:
    """A centre's folder with two events, closed; the ledger is in it, and in another run in PostgreSQL."""
    new_centre(tmp_path / "centre", either_database).close()
    return tmp_path / "centre"


def _filled(folder: Path, count: int) -> None:
    with open_ledger(folder, write=True) as ledger:
        ledger.append([a_unit(f"Unit {number}") for number in range(count)])


# --- adding and reading --------------------------------------------------------------------------------------------


def test_what_was_saved_is_there_when_the_ledger_is_opened_again(folder: Path) -> None:
    """Events, facts, head and order."""
    drafts = an_attempt(Mark.DONE, Mark.ERROR)
    with open_ledger(folder, write=True) as ledger:
        saved = ledger.append(drafts)
    with open_ledger(folder) as ledger:
        attempt = drafts[0].body.subject
        assert [event.id for event in ledger.events(attempt)] == [draft.id for draft in drafts]
        assert ledger.event(drafts[2].id) == saved[2]
        fact = ledger.fact("attempt", attempt)
        assert isinstance(fact, Attempt)
        assert [line.mark for line in fact.sheets[0].marks] == [Mark.DONE, Mark.ERROR]
        assert tuple(ledger.head()) == (saved[-1].chain, saved[-1].seq, saved[-1].hash, saved[-1].lamport)
        assert list(breaks(ledger.events())) == []


def test_facts_are_found_by_each_of_their_keys(folder: Path) -> None:
    """And by several together; nothing is found by a key that no fact has."""
    drafts = an_attempt(Mark.DONE)
    with open_ledger(folder, write=True) as ledger:
        ledger.append([*drafts, *an_attempt(Mark.DONE)])
        fact = ledger.fact("attempt", drafts[0].body.subject)
        assert isinstance(fact, Attempt)
        assert len(ledger.facts("attempt")) == 2
        assert ledger.facts("attempt", course=fact.course) == [fact]
        assert ledger.facts("attempt", person=fact.student, skill="bailout") == [fact]
        assert ledger.facts("attempt", session=fact.session) == [fact]
        assert ledger.facts("attempt", course=fact.course, person=LEAD) == []
        assert ledger.fact("attempt", new_id()) is None
        assert ledger.event(new_id()) is None


def test_a_fact_whose_keys_were_corrected_is_found_by_the_new_ones_alone(folder: Path) -> None:
    """A save that changes no key writes the fact's text alone; this one must write the keys too."""
    opened, *taps = an_attempt(Mark.DONE)
    attempt, other = opened.body.subject, new_id()
    with open_ledger(folder, write=True) as ledger:
        for draft in (opened, *taps):
            ledger.append([draft])
        before = ledger.fact("attempt", attempt)
        assert isinstance(before, Attempt)
        ledger.append([drafted(Corrected(thing=attempt, corrects=opened.id, change={"student": other}))])
        after = ledger.fact("attempt", attempt)
        assert ledger.facts("attempt", person=other) == [after]
        assert ledger.facts("attempt", person=before.student) == []
    assert verify(folder).fine


def test_the_same_draft_again_adds_nothing_and_gives_the_stored_event(folder: Path) -> None:
    """A double tap, or a form sent twice over a bad connection; also within one list."""
    person = a_person("Amaru Tendelle")
    with open_ledger(folder, write=True) as ledger:
        first = ledger.append([person])
        assert ledger.append([person, a_unit(), person])[0] == first[0]
        assert ledger.append([person]) == first
        assert len(list(ledger.events())) == 4


def test_a_known_id_with_other_content_is_refused_and_nothing_of_the_list_is_saved(folder: Path) -> None:
    """The list stands or falls as one."""
    unit = a_unit("Unit 4")
    other = Draft(unit.id, LEAD, UnitAdded(unit=unit.body.subject, label="Unit 5", unit_type="type-a"))
    with open_ledger(folder, write=True) as ledger:
        ledger.append([unit])
        with pytest.raises(ConflictError, match="other content"):
            ledger.append([a_unit("Unit 6"), other])
        assert [fact.label for fact in ledger.facts("unit") if isinstance(fact, Unit)] == ["Unit 4"]
    assert verify(folder).fine


@pytest.mark.parametrize("draft", [Draft("no-id", LEAD, a_unit().body), Draft(new_id(), "", a_unit().body)])
def test_a_draft_without_id_or_actor_is_refused(folder: Path, draft: Draft) -> None:
    """Whoever reads the ledger later must know who did it."""
    with open_ledger(folder, write=True) as ledger, pytest.raises(RefusedError, match="needs an id"):
        ledger.append([draft])


def test_an_empty_list_saves_nothing(folder: Path) -> None:
    """And is no error."""
    with open_ledger(folder, write=True) as ledger:
        assert ledger.append([]) == []


def test_reading_only_refuses_to_add_or_erase(folder: Path) -> None:
    """In words, not as a fault of the database."""
    with open_ledger(folder) as ledger:
        with pytest.raises(RefusedError, match="reading only"):
            ledger.append([a_unit()])
        with pytest.raises(RefusedError, match="reading only"):
            ledger.forget(LEAD)


def test_a_kind_from_a_newer_version_is_kept_and_shown(folder: Path) -> None:
    """It is part of the chain, and the fact names it."""
    unit = a_unit()
    with open_ledger(folder, write=True) as ledger:
        ledger.append([unit])
        stamp = ledger._opened.stamp
    engine = site_of(folder).engine("write")
    with engine.begin() as connection:
        added = add_entries(
            connection, stamp, [Entry(new_id(), LEAD, unit.body.subject, "unit_painted/7", '{"colour":"red"}')]
        )
    engine.dispose()
    assert added.head.seq == 4
    with open_ledger(folder, write=True) as ledger:
        fact = ledger.fact("unit", unit.body.subject)
        assert fact is not None
        assert fact.unread == ("unit_painted/7",)
    assert verify(folder).fine


def test_twelve_people_saving_at_once_lose_nothing(folder: Path) -> None:
    """One chain, each event once, in an order that all agree on."""
    drafts = [[a_unit(f"{hand}-{tap}") for tap in range(15)] for hand in range(12)]
    with open_ledger(folder, write=True) as ledger:
        hands = [threading.Thread(target=lambda own=own: [ledger.append([one]) for one in own]) for own in drafts]
        for hand in hands:
            hand.start()
        for hand in hands:
            hand.join()
        assert {fact.id for fact in ledger.facts("unit")} == {one.body.subject for own in drafts for one in own}
    report = verify(folder)
    assert report.fine
    assert report.events == 2 + 12 * 15


def test_what_is_wrong_with_one_list_does_not_keep_others_from_being_saved(folder: Path) -> None:
    """They share a commit, not a fate; whether it is seen before or after something was written."""
    with open_ledger(folder, write=True) as ledger:
        unit = a_unit()
        ledger.append([unit])
        known = Entry(unit.id, LEAD, unit.body.subject, "unit_added/1", "{}")
        unreadable = Entry(new_id(), LEAD, new_id(), "unit_added/1", "{}")
        for bad, complaint in ((known, ConflictError), (unreadable, RefusedError)):
            good = a_unit()
            fine = Entry(good.id, LEAD, good.body.subject, "unit_added/1", _text(good))
            jobs = [Job(lambda bad=bad: [bad]), Job(lambda fine=fine: [fine])]
            assert ledger._writer
            ledger._writer._save_together(jobs)
            assert jobs[1].done.result()[0].id == good.id
            with pytest.raises(complaint):
                jobs[0].done.result()
        assert ledger.event(unreadable.id) is None
    assert verify(folder).fine


def _text(draft: Draft) -> str:
    return canonical(draft.body.public_part()).decode()


# --- nothing is changed or removed ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE event SET actor = 'x'",
        "DELETE FROM event",
        "INSERT OR REPLACE INTO event SELECT * FROM event WHERE seq = 1",
        (
            "INSERT OR REPLACE INTO event SELECT pos + 100, centre, zeroblob(32), prev, chain, seq, lamport, id, "
            "device, actor, "
            "subject, recorded_at, kind, body, origin FROM event WHERE seq = 1"
        ),
    ],
)
def test_the_database_refuses_to_change_or_remove_an_event(folder: Path, statement: str) -> None:
    """Also by the way around the first two guards: replacing on insert."""
    with pytest.raises(SQLITE.DatabaseError, match="append-only"):
        change(folder, statement, guarded=True)
    assert verify(folder).fine


def test_a_chain_cannot_fork_here(folder: Path) -> None:
    """Two local events in one place of a chain: refused by the unique index even without the guards."""
    with pytest.raises(SQLITE.IntegrityError, match="UNIQUE"):
        change(
            folder,
            "INSERT INTO event SELECT pos + 100, centre, zeroblob(32), prev, chain, seq, lamport, 'other', "
            "device, actor, "
            "subject, recorded_at, kind, body, origin FROM event WHERE seq = 1",
        )


def test_missing_guards_are_found(folder: Path) -> None:
    """Somebody took them off to change something."""
    with closing(SQLITE.connect(str(folder / "ledger.db"))) as connection:
        connection.execute("DROP TRIGGER event_no_update")
    assert "event_no_update" in verify(folder).findings[0]


# --- how safe a save is --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("version", "safe"),
    [
        ((3, 40, 1), False), ((3, 44, 5), False), ((3, 44, 6), True), ((3, 45, 0), False), ((3, 50, 6), False),
        ((3, 50, 7), True), ((3, 51, 2), False), ((3, 51, 3), True), ((3, 53, 4), True),
    ],
)  # fmt: skip
def test_a_write_ahead_log_is_kept_only_by_repaired_versions(version: tuple[int, ...], *, safe: bool) -> None:
    """Source: sqlite.org/wal.html, "the WAL-reset bug", as told in this project's notes: 3.7.0 to 3.51.2 have it."""
    assert wal_is_safe(version) is safe


@pytest.mark.parametrize(("safe", "journal", "level"), [(True, "wal", 2), (False, "delete", 3)])
def test_each_connection_that_writes_has_the_settings_that_keep_a_save_safe(
    folder: Path, monkeypatch: pytest.MonkeyPatch, *, safe: bool, journal: str, level: int
) -> None:
    """2 is FULL, 3 is EXTRA (sqlite.org, PRAGMA synchronous)."""
    monkeypatch.setattr(database, "wal_is_safe", lambda _: safe)
    with closing(connect(folder / "ledger.db", "write")) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone()[0] == journal
        assert connection.execute("PRAGMA synchronous").fetchone()[0] == level


def test_an_older_library_saves_too_and_says_how(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a rollback journal."""
    monkeypatch.setattr(database, "wal_is_safe", lambda _: False)
    with new_centre(tmp_path / "centre") as ledger:
        ledger.append(an_attempt(Mark.DONE))
        assert "rollback journal" in ledger.storage_mode
        assert len(ledger.facts("attempt")) == 1
        assert not (tmp_path / "centre" / "ledger.db-wal").exists()
    assert verify(tmp_path / "centre").fine


def test_a_save_is_acknowledged_only_after_its_witness_line(folder: Path) -> None:
    """One line for each, in order."""
    with open_ledger(folder, write=True) as ledger:
        for _ in range(3):
            (event,) = ledger.append([a_unit()])
            last = read_witness(folder).seen[-1]
            assert (last.chain, last.seq, last.hash) == (event.chain, event.seq, event.hash)


def test_a_witness_that_cannot_be_written_makes_the_save_not_acknowledged(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Doing it again gives the one event, and the witness then knows it."""
    unit = a_unit()
    with open_ledger(folder, write=True) as ledger:
        with monkeypatch.context() as full:
            full.setattr(witness, "sync_file", _no_room)
            with pytest.raises(StorageError, match="NOT saved: the disk is full"):
                ledger.append([unit])
        (event,) = ledger.append([unit])
        assert [one.id for one in ledger.events()].count(unit.id) == 1
        assert read_witness(folder).last[event.chain].hash == event.hash
    assert verify(folder).fine


def _no_room(*_: object) -> None:
    raise OSError(28, os.strerror(28))


@pytest.mark.parametrize("error", [KeyboardInterrupt(), SystemExit(), MemoryError(), RuntimeError("x")])
def test_whatever_breaks_a_save_it_is_taken_back_whole_and_told(
    folder: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    """Also what is no ordinary error; the next save goes through."""

    def broken(*_: object) -> None:
        raise error

    with open_ledger(folder, write=True) as ledger:
        with monkeypatch.context() as then:
            then.setattr("course.storage.appending.tell_facts", broken)
            with pytest.raises(StorageError, match="NOT saved"):
                ledger.append([a_unit()])
        assert ledger.facts("unit") == []
        ledger.append([a_unit()])
    assert verify(folder).fine
    assert verify(folder).events == 3


def test_an_event_whose_content_was_torn_is_told_as_damage_when_it_is_opened(folder: Path) -> None:
    with open_ledger(folder, write=True) as ledger:
        (event,) = ledger.append([a_unit()])
        with pytest.raises(DamageError, match=f"The content of event {event.id} cannot be read"):
            ledger.private_of(event._replace(body="\0" * 20))


def test_after_closing_nothing_is_taken(folder: Path) -> None:
    """A page that is still open hears that it was not saved."""
    with open_ledger(folder, write=True) as ledger:
        pass
    with pytest.raises(StorageError, match="NOT saved: the ledger is closed"):
        ledger.append([a_unit()])


# --- the disk ------------------------------------------------------------------------------------------------------


def test_a_full_database_says_so_and_keeps_what_was_saved(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SQLite itself reports that there is no room; with room the same draft goes in."""
    real = database._make_durable

    def small(connection: Any) -> None:
        real(connection)
        connection.execute(f"PRAGMA max_page_count={pages}")

    with closing(SQLITE.connect(str(folder / "ledger.db"))) as connection:
        pages = connection.execute("PRAGMA page_count").fetchone()[0] + 6
    monkeypatch.setattr(database, "_make_durable", small)
    drafts = [a_unit("x" * 150) for _ in range(400)]
    saved = 0
    with open_ledger(folder, write=True) as ledger:
        told = ""
        while not told:
            try:
                ledger.append([drafts[saved]])
                saved += 1
            except StorageError as error:
                told = error.sentence
        assert told.startswith("NOT saved: the disk is full")
        assert len(ledger.facts("unit")) == saved
    monkeypatch.setattr(database, "_make_durable", real)
    with open_ledger(folder, write=True) as ledger:
        assert ledger.damage is None
        ledger.append([drafts[saved]])
        assert len(ledger.facts("unit")) == saved + 1
    assert verify(folder).fine


_LIMITED = """
import resource, sys
from pathlib import Path
from ledger_examples import a_unit
from course.errors import StorageError
from course.storage.ledger import open_ledger
folder = Path(sys.argv[1])
saved = 0
with open_ledger(folder, write=True) as ledger:
    resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, resource.RLIM_INFINITY))
    try:
        while saved < 5000:
            ledger.append([a_unit("x" * 150)])
            saved += 1
    except StorageError as error:
        print(error)
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    print(saved, len(ledger.facts("unit")))
    ledger.append([a_unit("after")])
"""


def test_a_file_that_may_not_grow_says_so_and_keeps_what_was_saved(folder: Path) -> None:
    """The system refuses to let files grow, as on a full disk; when it lets them again, saving goes on."""
    told, counts = _python(_LIMITED, folder).splitlines()
    assert told.startswith("NOT saved: the disk")
    saved, there = map(int, counts.split())
    assert 0 < saved < 5000
    assert there == saved
    report = verify(folder)
    assert report.fine
    assert report.events == 2 + saved + 1


def _python(script: str, *arguments: object) -> str:
    paths = os.pathsep.join([str(HERE.parent), str(HERE)])
    done = subprocess.run(
        [sys.executable, "-c", script, *map(str, arguments)],
        env=os.environ | {"PYTHONPATH": paths},
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    return done.stdout


_AS_NOBODY = """
import os, sys
from pathlib import Path
from ledger_examples import a_unit
from course.errors import CourseError
from course.storage.inspection import verify
from course.storage.ledger import create, open_ledger
from ledger_examples import new_centre
folder = Path(sys.argv[1])
if os.getuid() == 0:
    os.setgroups([])
    os.setresgid(65534, 65534, 65534)
    os.setresuid(65534, 65534, 65534)
for act in (lambda: open_ledger(folder, write=True), lambda: new_centre(folder / "new")):
    try:
        act()
    except CourseError as error:
        print(type(error).__name__, error)
with open_ledger(folder) as ledger:
    print(len(list(ledger.events())), len(ledger.facts("person")), ledger.damage)
print(verify(folder).findings)
"""


def test_a_folder_that_cannot_be_written_is_read_and_not_written(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Run as a user without rights there, as an auditor with a read-only disk would."""
    monkeypatch.setenv("LOOPLEDGER_STATE", str(tmp_path / "guest"))
    (tmp_path / "guest").mkdir(mode=0o777)
    (tmp_path / "guest").chmod(0o777)
    shared = Path(tempfile.gettempdir())
    for outer in (tmp_path, *tmp_path.parents):
        if outer != shared and outer.is_relative_to(shared):
            outer.chmod(0o755)  # else the guest could not even reach the folder
    for file in folder.iterdir():
        file.chmod(0o444)
    folder.chmod(0o555)
    opened, made, read, found = _python(_AS_NOBODY, folder).splitlines()
    folder.chmod(0o755)
    assert opened.startswith(
        f"StorageError {folder / 'ledger.db'} cannot be opened for writing: the folder or a file in it"
    )
    assert made.startswith("StorageError NOT saved: the folder or a file in it cannot be written")
    assert read == "2 1 None"
    assert found == "()"


def test_a_file_that_is_no_database_is_told_and_left_as_it_is(folder: Path) -> None:
    """Reading, writing and checking."""
    (folder / "ledger.db").write_bytes(b"not a database at all" * 500)
    for write in (False, True):
        with pytest.raises(DamageError, match="no whole database"):
            open_ledger(folder, write=write)
    assert "cannot be read to its end" in verify(folder).findings[0]
    assert (folder / "ledger.db").read_bytes() == b"not a database at all" * 500


# --- one writer, many readers --------------------------------------------------------------------------------------


def test_a_second_program_cannot_write_and_can_read(folder: Path) -> None:
    """It sees each save as soon as it is acknowledged."""
    with open_ledger(folder, write=True) as ledger:
        with pytest.raises(BusyError, match="Another program has"):
            open_ledger(folder, write=True)
        with open_ledger(folder) as reader:
            ledger.append([a_unit()])
            assert len(reader.facts("unit")) == 1
        assert verify(folder).fine
    open_ledger(folder, write=True).close()


def test_checking_leaves_no_file_behind(folder: Path) -> None:
    """Nor changes one."""
    before = {file.name: file.read_bytes() for file in folder.iterdir()}
    verify(folder)
    with open_ledger(folder) as ledger:
        list(ledger.events())
    assert {file.name: file.read_bytes() for file in folder.iterdir()} == before


# --- making a ledger -----------------------------------------------------------------------------------------------


def test_a_ledger_is_not_made_over_another(folder: Path) -> None:
    """Nor is it touched."""
    before = (folder / "ledger.db").read_bytes()
    with pytest.raises(RefusedError, match="already"):
        new_centre(folder)
    assert (folder / "ledger.db").read_bytes() == before


def test_the_first_event_makes_the_centre(tmp_path: Path) -> None:
    """Anything else is refused, and no folder is made."""
    with pytest.raises(RefusedError, match="first event"):
        create(tmp_path / "new", [a_unit()])
    assert not (tmp_path / "new").exists()


def test_a_ledger_that_could_not_be_made_leaves_no_database(tmp_path: Path, either_database: str | None) -> None:
    """The second draft is refused, so the first is not there either."""
    drafts = [drafted(_centre_body()), Draft("no-id", LEAD, a_unit().body)]
    with pytest.raises(RefusedError):
        create(tmp_path / "two", drafts, database=either_database)
    assert not {file.name for file in (tmp_path / "two").iterdir()} & {"ledger.db", "ledger.url"}
    with pytest.raises(NotFoundError):
        open_ledger(tmp_path / "two")
    with new_centre(tmp_path / "two", either_database) as ledger:
        assert next(ledger.events()).kind == "centre_made/1"


def _centre_body() -> Any:
    return CentreMade(centre=new_id(), name="Kelpwater", zone="UTC", lead=LEAD)


def test_a_folder_without_a_ledger_is_told(tmp_path: Path) -> None:
    """Missing, empty, or with its database gone."""
    for place in (tmp_path / "none", tmp_path):
        with pytest.raises(NotFoundError, match="no ledger"):
            open_ledger(place)
        with pytest.raises(NotFoundError, match="no ledger"):
            verify(place)


def test_a_database_that_went_missing_is_not_made_anew_over_its_traces(folder: Path) -> None:
    """The witness knows that there was one."""
    (folder / "ledger.db").unlink()
    with pytest.raises(DamageError, match="missing"):
        open_ledger(folder)
    with pytest.raises(DamageError, match="not there"):
        new_centre(folder)
    assert "missing" in verify(folder).findings[0]


def test_a_ledger_of_a_newer_program_is_left_alone(folder: Path) -> None:
    """Writing into it could lose what that one knows."""
    change(folder, "UPDATE meta SET value = 'ledger/9' WHERE name = 'schema'")
    for write in (False, True):
        with pytest.raises(StorageError, match="another version"):
            open_ledger(folder, write=write)


# --- losses that a chain alone cannot see --------------------------------------------------------------------------


def test_a_lost_tail_is_told_and_nothing_is_added(folder: Path) -> None:
    """The chain that is left fits in itself; the witness knows better. Reading works."""
    _filled(folder, 30)
    lose_tail(folder, 18)
    change(folder, "DELETE FROM fact WHERE id NOT IN (SELECT subject FROM event)")
    with open_ledger(folder, write=True) as ledger:
        assert ledger.damage
        assert ledger.damage.startswith("18 events that had been saved are missing at the end")
        with pytest.raises(DamageError, match="NOT saved: 18 events"):
            ledger.append([a_unit()])
        assert len(ledger.facts("unit")) == 12
    report = verify(folder)
    assert "18 events" in " ".join(report.findings)


def test_after_a_loss_a_person_can_go_on_with_what_is_left(folder: Path) -> None:
    """On a new chain that names the last event left; the loss stays a finding."""
    _filled(folder, 5)
    lose_tail(folder, 1)
    change(folder, "DELETE FROM fact WHERE id NOT IN (SELECT subject FROM event)")
    with continue_after_loss(folder) as ledger:
        assert ledger.damage is None
        ledger.append([a_unit()])
        assert len(ledger.heads()) == 2
    assert ["1 event that had been saved is missing" in finding for finding in verify(folder).findings] == [True]
    with pytest.raises(RefusedError, match="Nothing is missing"):
        continue_after_loss(folder)


def test_a_log_left_behind_by_a_copy_is_a_lost_tail(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the ledger is open its newest part is in ledger.db-wal; a copy without it is not whole."""
    monkeypatch.setattr(database, "wal_is_safe", lambda _: True)
    with open_ledger(folder, write=True) as ledger:
        ledger.append([a_unit()])
        copy = copy_of(folder, tmp_path / "copy")
    assert (copy / "ledger.db-wal").stat().st_size
    (copy / "ledger.db-wal").unlink()
    with open_ledger(copy) as half:
        assert half.damage
        assert "missing at the end" in half.damage
        assert "ledger.db-wal" in half.damage


def test_a_log_cut_short_is_a_lost_tail(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SQLite keeps what is whole in it and says nothing; the witness does."""
    monkeypatch.setattr(database, "wal_is_safe", lambda _: True)
    with open_ledger(folder, write=True) as ledger:
        for _ in range(40):
            ledger.append([a_unit()])
        copy = copy_of(folder, tmp_path / "copy")
    log = copy / "ledger.db-wal"
    os.truncate(log, log.stat().st_size // 2)
    (copy / "ledger.db-shm").unlink()
    findings = verify(copy).findings
    assert len(findings) == 1
    assert "missing at the end" in findings[0]


def test_an_older_copy_that_was_continued_is_a_fork(folder: Path, tmp_path: Path) -> None:
    """A whole machine was set back and went on; only the witness, kept elsewhere, saw the first course of things."""
    older, device = copy_of(folder, tmp_path / "older"), copy_of(tmp_path / "device", tmp_path / "device-older")
    _filled(folder, 3)
    kept = (folder / "ledger.head").read_bytes()
    for place, back in ((folder, older), (tmp_path / "device", device)):
        shutil.rmtree(place)
        copy_of(back, place)
    _filled(folder, 3)
    assert verify(folder).fine
    (folder / "ledger.head").write_bytes(kept)
    assert any("an older copy that was continued" in finding for finding in verify(folder).findings)


def test_another_event_than_the_witness_saw_is_told(folder: Path) -> None:
    """Same place, other hash."""
    lines = (folder / "ledger.head").read_text().split()
    (folder / "ledger.head").write_text(f"{lines[0]} {lines[1]} {'a' * 64}\n")
    with open_ledger(folder, write=True) as ledger:
        assert ledger.damage
        assert "another event 2 than the one that had been saved" in ledger.damage
    assert any("another event 2" in finding for finding in verify(folder).findings)


def test_a_witness_that_is_behind_catches_up_and_a_cut_off_line_is_no_fault(folder: Path) -> None:
    """A save that was cut off after its commit was never acknowledged."""
    _filled(folder, 2)
    lines = (folder / "ledger.head").read_bytes().splitlines(keepends=True)
    (folder / "ledger.head").write_bytes(lines[0] + lines[1][:20])
    assert verify(folder).fine
    with open_ledger(folder, write=True) as ledger:
        assert ledger.notices == ()
        assert read_witness(folder).last[ledger.head().chain].seq == 4
    assert (folder / "ledger.head").read_bytes() == b"".join(lines)


def test_a_missing_witness_is_told_and_written_anew(folder: Path) -> None:
    """What it would have shown cannot be shown any more."""
    (folder / "ledger.head").unlink()
    assert "no ledger.head" in verify(folder).notices[0]
    with open_ledger(folder, write=True) as ledger:
        assert "ledger.head was missing" in ledger.notices[0]
    assert read_witness(folder).last


def test_a_changed_line_of_the_witness_is_found(folder: Path) -> None:
    """Whether it can still be read or not."""
    _filled(folder, 1)
    _filled(folder, 1)
    whole = (folder / "ledger.head").read_bytes()
    for at in (5, len(whole) // 2, len(whole) - 3):
        changed = bytearray(whole)
        changed[at] ^= 1
        (folder / "ledger.head").write_bytes(bytes(changed))
        assert verify(folder).findings, at


def test_a_long_witness_is_shortened_to_its_newest_lines(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The last line of each chain stays."""
    _filled(folder, 1)
    before = read_witness(folder)
    monkeypatch.setattr(witness, "_SHORTEN_AT_BYTES", 10)
    monkeypatch.setattr(witness, "_KEPT_LINES", 1)
    Witness(folder).shorten()
    assert read_witness(folder).seen == before.seen[-1:]
    assert verify(folder).fine


def test_a_change_among_the_newest_events_is_told_at_opening(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One further back is found by the full check."""
    monkeypatch.setattr(opening, "CHECKED_AT_OPENING", 5)
    _filled(folder, 10)
    change(folder, "UPDATE event SET actor = 'x' WHERE seq = 3")
    with open_ledger(folder, write=True) as ledger:
        assert ledger.damage is None
    assert any("event 3: its content" in finding for finding in verify(folder).findings)
    change(folder, "UPDATE event SET actor = 'x' WHERE seq = 11")
    with open_ledger(folder, write=True) as ledger:
        assert ledger.damage
        assert "event 11" in ledger.damage


# --- lives of a database -------------------------------------------------------------------------------------------


def _chains(ledger: Ledger) -> int:
    return len(ledger.heads())


def test_opening_again_goes_on_with_the_same_chain(folder: Path) -> None:
    """On the same device and in the same folder."""
    _filled(folder, 1)
    with open_ledger(folder, write=True) as ledger:
        assert _chains(ledger) == 1
        assert ledger.notices == ()


def test_a_copied_folder_begins_a_new_chain_that_names_the_old_head(folder: Path, tmp_path: Path) -> None:
    """So that the two never put different events in one place."""
    copy = copy_of(folder, tmp_path / "copy")
    with open_ledger(copy, write=True) as ledger, open_ledger(folder, write=True) as original:
        assert "copy" in ledger.notices[0]
        (started,) = [event for event in ledger.events() if event.kind == "chain_started/1"]
        assert original.head().hash in started.body
        assert ledger.head().lamport > original.head().lamport
        assert _chains(original) == 1
    assert verify(copy).fine


def test_a_moved_folder_goes_on_with_its_chain(folder: Path, tmp_path: Path) -> None:
    """Nothing is left where it was, so nothing can fork."""
    folder.rename(tmp_path / "elsewhere")
    with open_ledger(tmp_path / "elsewhere", write=True) as ledger:
        assert _chains(ledger) == 1


def test_a_folder_from_another_device_begins_a_new_chain(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both devices may hold a copy; events say which wrote them."""
    monkeypatch.setenv("LOOPLEDGER_STATE", str(tmp_path / "other-device"))
    with open_ledger(folder, write=True) as ledger:
        assert "another device" in ledger.notices[0]
        (event,) = ledger.append([a_unit()])
        assert event.device != next(ledger.events()).device
        assert _chains(ledger) == 2
    assert verify(folder).fine


def test_an_older_copy_put_back_in_place_begins_a_new_chain(folder: Path, tmp_path: Path) -> None:
    """Even with its own older witness: this device knows that the ledger had come further."""
    older = copy_of(folder, tmp_path / "older")
    _filled(folder, 3)
    shutil.rmtree(folder)
    copy_of(older, folder)
    with open_ledger(folder, write=True) as ledger:
        assert "put back" in ledger.notices[0]
        assert _chains(ledger) == 2


def test_a_chain_that_names_a_predecessor_that_is_not_there_is_found(folder: Path, tmp_path: Path) -> None:
    """Its beginning would otherwise hang in the air."""
    copy = copy_of(folder, tmp_path / "copy")
    open_ledger(copy, write=True).close()
    change(copy, "UPDATE event SET hash = zeroblob(32) WHERE seq = 2")
    assert any("which is not there" in finding for finding in verify(copy).findings)


def test_a_clock_that_went_back_changes_no_order_and_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The event is kept with the time that the clock showed."""
    later, earlier = a_unit("later"), a_unit("earlier")
    with open_ledger(folder, write=True) as ledger:
        ledger.append([later])
        real = moments.now()
        monkeypatch.setattr(moments, "now", lambda: real - timedelta(minutes=10))
        ledger.append([earlier])
        assert [event.id for event in ledger.events()][-2:] == [later.id, earlier.id]
        assert timedelta(minutes=9) < ledger.clock_went_back < timedelta(minutes=11)
        assert "clock went back" in ledger.notices[-1]
    report = verify(folder)
    assert report.fine
    assert "clock had gone back" in report.notices[0]


# --- tables --------------------------------------------------------------------------------------------------------


def test_rebuilding_gives_the_tables_that_were_there(folder: Path) -> None:
    """And tells how far it is."""
    with open_ledger(folder, write=True) as ledger:
        ledger.append([*an_attempt(Mark.DONE, Mark.PROMPTED), a_person("Amaru"), a_unit()])
    before, told = tables_in(folder), list[tuple[int, int]]()
    assert rebuild(folder, lambda done, of: told.append((done, of))) == len(before)
    assert tables_in(folder) == before
    assert told[-1] == (8, 8)


def test_a_changed_table_is_found_and_mended_by_rebuilding(folder: Path) -> None:
    """The chain cannot see it."""
    unit = a_unit("Unit 4")
    with open_ledger(folder, write=True) as ledger:
        ledger.append([unit])
    before = tables_in(folder)
    change(folder, "UPDATE fact SET fact = replace(fact, 'type-a', 'type-b')")
    change(
        folder, "INSERT INTO fact SELECT centre, kind, 'ghost', course, person, skill, session, fact FROM fact LIMIT 1"
    )
    findings = verify(folder).findings
    assert any(f"something else of the unit {unit.body.subject}" in finding for finding in findings)
    assert any("ghost that no event tells of" in finding for finding in findings)
    assert verify(folder, events_only=True).fine
    rebuild(folder)
    assert verify(folder).fine
    assert tables_in(folder) == before


def test_the_check_of_the_events_alone_finds_a_changed_event(folder: Path) -> None:
    """The tables, which it leaves out, are what a person reads; the event is what was said."""
    with open_ledger(folder, write=True) as ledger:
        ledger.append([a_unit()])
    change(folder, "UPDATE event SET body = replace(body, 'type-a', 'type-b')")
    findings = verify(folder, events_only=True).findings
    assert ["its content is not what was hashed" in finding for finding in findings] == [True]


def test_tables_of_another_version_are_written_anew_at_opening(folder: Path) -> None:
    """For a reader, who may not write, from a copy of its own."""
    _filled(folder, 2)
    before = tables_in(folder)
    change(folder, "UPDATE meta SET value = '0' WHERE name = 'projection_version'")
    change(folder, "UPDATE fact SET fact = '{}'")
    assert verify(folder).fine
    with open_ledger(folder) as reader:
        assert len(reader.facts("unit")) == 2
        assert "another version" in reader.notices[0]
    assert tables_in(folder) != before
    with open_ledger(folder, write=True) as ledger:
        assert "another version" in ledger.notices[0]
        assert len(ledger.facts("unit")) == 2
    assert tables_in(folder) == before


def test_the_check_tells_how_far_it_is(folder: Path) -> None:
    """Each event is met twice."""
    told: list[tuple[int, int]] = []
    verify(folder, lambda done, of: told.append((done, of)))
    assert told[-1] == (4, 4)
    assert told == sorted(told)


def test_an_event_of_another_centre_or_origin_is_found(folder: Path) -> None:
    """Neither is covered by its own chain's numbers; the origin not even by the hash."""
    _filled(folder, 3)
    change(folder, "UPDATE event SET origin = 1 WHERE seq = 3")
    assert any("brought in" in finding for finding in verify(folder).findings)
    change(folder, "UPDATE event SET centre = ? WHERE seq = 4", new_id())
    assert any("of another centre" in finding for finding in verify(folder).findings)


def test_the_head_in_the_tables_must_be_the_chains_end(folder: Path) -> None:
    """Or the next event would go to the wrong place."""
    change(folder, "UPDATE head SET lamport = 77")
    assert any("its head is kept as 2" in finding for finding in verify(folder).findings)


def test_every_unique_index_and_key_begins_with_the_centre() -> None:
    """So that many centres can share one database later without a collision."""
    unique = [index for table in metadata.tables.values() for index in table.indexes if index.unique]
    assert len(unique) == 3
    assert all(next(iter(index.columns)).name == "centre" for index in unique)
    keyed = [table for table in CENTRE_TABLES if table.name != "event"]
    assert all(next(iter(table.primary_key.columns)).name == "centre" for table in keyed)


def test_the_tables_can_be_made_on_postgresql_too() -> None:
    """Only what SQLite alone knows is left out; nothing of it reaches another database."""
    made = [str(CreateTable(table).compile(dialect=postgresql.dialect())) for table in metadata.sorted_tables]
    made += [str(CreateIndex(index).compile(dialect=postgresql.dialect())) for index in event.indexes]
    assert not any("json_valid" in text or "STRICT" in text for text in made)
    assert any("WHERE origin = 0" in text for text in made)
