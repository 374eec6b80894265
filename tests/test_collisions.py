"""Saves that stand in another transaction's way on a real PostgreSQL server, and lines that break at the worst moment.

Source: postgresql.org, "PostgreSQL Error Codes": 40001 serialization_failure, 40P01 deadlock_detected; "Explicit
Locking" (the one that waits longest looks for a deadlock first and is the one that is taken back).
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
import sqlalchemy as sa
from ledger_examples import LEAD, a_unit, drafted, lose_tail, new_centre
from postgresql_server import PostgresqlServer

from course.errors import DamageError, StorageError
from course.exchange.bundle import Bundle, open_bundle
from course.exchange.merging import hand_over, merge
from course.record.events import Draft, UnitAdded
from course.storage import appending, merging, postgresql, writer
from course.storage.backup import backup, restore
from course.storage.inspection import verify
from course.storage.ledger import Ledger, open_ledger
from course.storage.site import site_of

UNIT = "0192d000-0000-7000-8000-0000000000aa"


@pytest.fixture
def folder(tmp_path: Path, database: str) -> Path:
    """A centre on a server, with one unit that is known by its id; closed."""
    with new_centre(tmp_path / "centre", database) as ledger:
        ledger.append([drafted(UnitAdded(unit=UNIT, label="Unit 4", unit_type="type-a"))])
    return tmp_path / "centre"


def _name(folder: Path) -> str:
    server = site_of(folder).server
    assert server
    return str(server.url.database)


def of_the_unit() -> Draft:
    """One more event about the unit: its fact is written anew."""
    return drafted(UnitAdded(unit=UNIT, label="Unit 4 again", unit_type="type-a"))


def codes_met(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The states by which the server took a save back, as they are met."""
    met: list[str] = []
    collided = writer.collided

    def noting(error: BaseException) -> bool:
        met.append(str(getattr(getattr(error, "orig", None), "sqlstate", "")))
        return collided(error)

    monkeypatch.setattr(writer, "collided", noting)
    return met


@contextmanager
def in_the_way(server: PostgresqlServer, folder: Path) -> Iterator[Callable[[], None]]:
    """Another transaction that holds the unit's fact and then asks for the head: a deadlock with whoever holds that."""
    with psycopg.connect(server.conninfo(_name(folder))) as other:
        other.execute("SET deadlock_timeout = '1min'")  # so that it is not the one that is taken back
        other.execute("UPDATE fact SET course = course WHERE id = %s", (UNIT,))

        def ask() -> None:
            waiting = "SELECT 1 FROM pg_stat_activity WHERE datname = %s AND wait_event_type = 'Lock'"
            while not server.tell("postgres", waiting, _name(folder)):
                pass  # the save does not stand at the unit's fact yet
            other.execute("SELECT * FROM head FOR UPDATE")
            other.commit()

        yield ask


def test_a_save_that_the_server_takes_back_from_a_deadlock_is_done_again(
    folder: Path, postgresql_server: PostgresqlServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    met = codes_met(monkeypatch)
    with open_ledger(folder, write=True) as ledger, in_the_way(postgresql_server, folder) as ask:
        hand = threading.Thread(target=ask)
        hand.start()
        (saved,) = ledger.append([of_the_unit()])
        hand.join()
        assert set(met) == {"40P01"}
        assert [one.id for one in ledger.events(UNIT)].count(saved.id) == 1
    assert verify(folder).fine


def test_a_save_that_could_not_be_put_in_a_row_with_another_is_done_again(
    folder: Path, postgresql_server: PostgresqlServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A server may be set so that transactions see one moment; then 40001 is what it says of a row that moved."""
    met, first = codes_met(monkeypatch), [True]
    add_entries = appending.add_entries

    def meanwhile(connection: sa.Connection, *rest: Any) -> Any:
        connection.execute(sa.text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ"))
        connection.execute(sa.text("SELECT count(*) FROM fact"))
        if first:
            first.clear()
            postgresql_server.tell(_name(folder), "UPDATE fact SET course = course WHERE id = %s", UNIT)
        return add_entries(connection, *rest)

    monkeypatch.setattr(writer, "add_entries", meanwhile)
    with open_ledger(folder, write=True) as ledger:
        (saved,) = ledger.append([of_the_unit()])
        assert met == ["40001"]
        assert [one.id for one in ledger.events(UNIT)].count(saved.id) == 1
    assert verify(folder).fine


@pytest.fixture
def other_laptop(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The bundle of another laptop of the centre that went on by itself, with one more event about the unit."""
    backup(folder, tmp_path / "b.tar")
    with monkeypatch.context() as there:
        there.setenv("LOOPLEDGER_STATE", str(tmp_path / "elsewhere"))
        restore(tmp_path / "b.tar", tmp_path / "second")
        with open_ledger(tmp_path / "second", write=True) as ledger:
            ledger.append([of_the_unit(), a_unit("Unit 9")])
            hand_over(ledger, tmp_path / "second.zip")
    return tmp_path / "second.zip"


def _merged(ledger: Ledger, bundle: Path) -> int:
    with open_bundle(bundle, centre=ledger.centre_id) as opened:
        accept = {device for part in _parts(opened) for device in part.devices} - {ledger._opened.stamp.device}
    return merge(ledger, LEAD, [bundle], accept=sorted(accept)).added


def _parts(opened: Bundle) -> tuple[merging.Part, ...]:
    return merging.parts_of(opened.events())


def test_a_merge_that_the_server_takes_back_from_a_deadlock_is_done_again(
    folder: Path, other_laptop: Path, postgresql_server: PostgresqlServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    met = codes_met(monkeypatch)
    with open_ledger(folder, write=True) as ledger, in_the_way(postgresql_server, folder) as ask:
        hand = threading.Thread(target=ask)
        hand.start()
        assert _merged(ledger, other_laptop) == 3
        hand.join()
        assert set(met) == {"40P01"}
        assert len(list(ledger.events(UNIT))) == 2
    assert verify(folder).fine


def test_nothing_is_merged_into_a_server_that_came_back_without_the_end(folder: Path, other_laptop: Path) -> None:
    with open_ledger(folder, write=True) as ledger:
        ledger.append([a_unit()])
        lose_tail(folder, 1)
        with pytest.raises(DamageError, match=r"^NOT saved: 1 event that had been saved is missing"):
            _merged(ledger, other_laptop)
        assert len(ledger.heads()) == 1


@contextmanager
def cut_after_commit(
    ledger: Ledger, server: PostgresqlServer, then: Callable[[], object] = lambda: None
) -> Iterator[None]:
    """The server has it, and nobody is told: the line breaks where the answer would come. `then` is done after it."""
    times = [True]

    def cut(connection: sa.Connection) -> None:
        if times:
            times.clear()
            driver: Any = connection.connection.dbapi_connection
            driver.commit()
            server.tell("postgres", "SELECT pg_terminate_backend(%s)", driver.info.backend_pid)
            then()
            connection.exec_driver_sql("SELECT 1")

    assert ledger._writer
    sa.event.listen(ledger._writer.engine, "commit", cut)
    try:
        yield
    finally:
        sa.event.remove(ledger._writer.engine, "commit", cut)


def test_a_line_that_breaks_after_the_commit_is_looked_after_and_the_save_told_as_saved(
    folder: Path, postgresql_server: PostgresqlServer
) -> None:
    """Whoever was told NOT saved would do it again, with a new id: it would be there twice."""
    with open_ledger(folder, write=True) as ledger:
        with cut_after_commit(ledger, postgresql_server):
            (saved,) = ledger.append([a_unit("Unit 5")])
        assert [one.id for one in ledger.events()].count(saved.id) == 1
    assert verify(folder).fine


def test_where_no_answer_comes_to_the_commit_it_is_told_that_it_may_be_there_and_done_again_is_stored_once(
    folder: Path, postgresql_server: PostgresqlServer
) -> None:
    unit = a_unit("Unit 5")
    with open_ledger(folder, write=True) as ledger:
        with (
            cut_after_commit(ledger, postgresql_server, lambda: postgresql_server.stop("immediate")),
            pytest.raises(
                StorageError, match=r"^NOT saved: .* may be there all the same\. .* look whether it is there"
            ),
        ):
            ledger.append([unit])
        postgresql_server.start()
        (saved,) = ledger.append([unit])
        assert [one.id for one in ledger.events()].count(saved.id) == 1
    assert verify(folder).fine


def test_an_act_whose_commit_is_not_answered_is_told_that_it_may_be_there(
    folder: Path, other_laptop: Path, postgresql_server: PostgresqlServer
) -> None:
    with open_ledger(folder, write=True) as ledger:
        with (
            cut_after_commit(ledger, postgresql_server),
            pytest.raises(StorageError, match=r"^NOT saved: .* may be there all the same"),
        ):
            _merged(ledger, other_laptop)
        assert len(list(ledger.events(UNIT))) == 2
    assert verify(folder).fine


def test_what_another_program_holds_is_waited_for_within_limits_and_then_goes_through_by_itself(
    folder: Path, postgresql_server: PostgresqlServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else tablet after tablet would come to wait, until nobody is left to answer those who only read."""
    monkeypatch.setattr(postgresql, "_HELD_WAIT", "200ms")
    with open_ledger(folder, write=True) as ledger:
        with psycopg.connect(postgresql_server.conninfo(_name(folder))) as other:
            other.execute("SELECT * FROM head FOR UPDATE")
            with pytest.raises(StorageError, match=r"^NOT saved: another program holds what this needs"):
                ledger.append([a_unit()])
        ledger.append([a_unit()])
    assert verify(folder).fine


def test_a_ledger_goes_to_a_server_and_back_with_the_same_hashes(tmp_path: Path, database: str) -> None:
    """Every event with all its fields, in the order of its chain; each life adds its own beginning."""
    with new_centre(tmp_path / "file") as ledger:
        ledger.append([a_unit(), drafted(UnitAdded(unit=UNIT, label="Ünit 陳", unit_type="type-a"))])
        wanted = list(ledger.chain_events())
    backup(tmp_path / "file", tmp_path / "1.tar")
    restore(tmp_path / "1.tar", tmp_path / "server", database=database)
    with open_ledger(tmp_path / "server") as there:
        assert list(there.chain_events()) == wanted
    backup(tmp_path / "server", tmp_path / "2.tar")
    restore(tmp_path / "2.tar", tmp_path / "again")
    with open_ledger(tmp_path / "again") as back:
        assert list(back.chain_events()) == wanted


def test_ctrl_c_in_the_middle_of_an_answer_is_no_fault_of_the_program(folder: Path) -> None:
    """Left there, the driver complains on top of it when the connection is put away."""

    def pressed() -> None:
        try:
            raise KeyboardInterrupt
        finally:
            told = psycopg.ProgrammingError("can't change 'autocommit' now: connection in transaction status ACTIVE")
            raise sa.exc.ProgrammingError("", {}, told)

    with open_ledger(folder, write=True) as ledger:
        with pytest.raises(KeyboardInterrupt), ledger._reading():
            pressed()
        with pytest.raises(StorageError, match=r"^NOT saved: it was broken off \(Ctrl-C\)\. Look whether it is there"):
            ledger.alone(lambda *_: pressed())
        ledger.append([a_unit()])
    assert verify(folder).fine
