"""A database server that hangs: it refuses nothing, keeps every line open and never answers (its processes stopped).

Here nobody waits for its answer longer than a second, where people wait for twenty.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextvars import ContextVar
from pathlib import Path
from typing import Any
from unittest import mock

import pytest
import sqlalchemy as sa
from ledger_examples import a_unit, new_centre
from postgresql_server import PostgresqlServer

from course.errors import CourseError, DamageError, StorageError
from course.storage import patience, postgresql
from course.storage.backup import backup
from course.storage.inspection import verify
from course.storage.ledger import Ledger, open_ledger
from course.storage.mending import rebuild
from course.storage.writer import UnansweredError

_NO_ANSWER = "the database server does not answer"


@pytest.fixture(autouse=True)
def _within_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patience, "_WITHIN_S", ContextVar("within_s", default=1.0))
    monkeypatch.setitem(postgresql._PATIENCE, "connect_timeout", 2)


@pytest.fixture
def folder(tmp_path: Path, database: str) -> Path:
    """A centre with three events on a server; closed."""
    with new_centre(tmp_path / "centre", database) as ledger:
        ledger.append([a_unit("Unit 4")])
    return tmp_path / "centre"


def _units(ledger: Ledger) -> list[str]:
    return sorted(event.id for event in ledger.events() if event.kind == a_unit().body.kind)


def test_whoever_asks_or_saves_is_told_and_once_it_goes_on_everything_does(
    folder: Path, postgresql_server: PostgresqlServer
) -> None:
    """On lines that are in use, and on new ones; what was refused is not there, and is saved once when done again."""
    with open_ledger(folder, write=True) as ledger:
        before, unit = _units(ledger), a_unit()
        with postgresql_server.hanging():
            for _ in range(2):
                with pytest.raises(StorageError, match=f"^NOT saved: {_NO_ANSWER}"):
                    ledger.append([unit])
                with pytest.raises(StorageError, match=f"^The ledger cannot be read: {_NO_ANSWER}"):
                    ledger.facts("unit")
        assert _units(ledger) == before
        for _ in range(2):
            ledger.append([unit])
        assert _units(ledger) == sorted([*before, unit.id])
    assert verify(folder).fine


def test_a_ledger_on_it_is_not_opened_and_that_is_no_damage(folder: Path, postgresql_server: PostgresqlServer) -> None:
    """It takes new lines, since the system does that for it, and then says nothing."""
    with postgresql_server.hanging():
        for write in (True, False):
            with pytest.raises(StorageError, match=_NO_ANSWER) as told:
                open_ledger(folder, write=write)
            assert not isinstance(told.value, DamageError)
    assert verify(folder).fine


def _commit_into_silence(server: PostgresqlServer, then: Callable[[], None]) -> Callable[[Any], None]:
    """The first commit is sent to a server that just stopped; `then` is done once nobody waits for it any more."""
    stopped = list[bool]()

    def commit(line: Any) -> None:
        if stopped:
            line.commit()
            return
        stopped.append(True)
        server.stand_still()
        try:
            line.commit()
        finally:
            then()

    return commit


@pytest.mark.parametrize("goes_on_at_once", [True, False])
def test_a_commit_without_an_answer_is_looked_after_or_told_as_unknown(
    folder: Path, postgresql_server: PostgresqlServer, *, goes_on_at_once: bool
) -> None:
    """The server had it in its hands: it keeps it once it goes on. Done again, it is there once."""
    unit, then = a_unit(), postgresql_server.go_on if goes_on_at_once else lambda: None
    with open_ledger(folder, write=True) as ledger:
        commit = _commit_into_silence(postgresql_server, then)
        try:
            with mock.patch.object(ledger._any_writer().engine.dialect, "do_commit", commit):
                if goes_on_at_once:
                    assert [event.id for event in ledger.append([unit])] == [unit.id]
                else:
                    with pytest.raises(UnansweredError, match=r"^NOT saved: .*it may be there all the same"):
                        ledger.append([unit])
        finally:
            postgresql_server.go_on()
        ledger.append([unit])
        assert _units(ledger).count(unit.id) == 1
    assert verify(folder).fine


def test_under_load_nothing_that_was_acknowledged_is_lost_and_nothing_is_doubled(
    folder: Path, postgresql_server: PostgresqlServer
) -> None:
    """Each hand sends the same again until it is told that it is there, as a tablet does."""
    told, saved, over, many = list[str](), list[str](), threading.Event(), threading.Semaphore(0)

    def save() -> None:
        while not over.is_set():
            unit = a_unit()
            while not _acknowledged(unit):
                pass
            saved.append(unit.id)
            many.release()

    def _acknowledged(unit: Any) -> bool:
        try:
            ledger.append([unit])
        except CourseError as error:
            told.append(error.sentence)
            return False
        return True

    with open_ledger(folder, write=True) as ledger:
        before = _units(ledger)
        hands = [threading.Thread(target=save) for _ in range(6)]
        for hand in hands:
            hand.start()
        for _ in range(2):
            assert all(many.acquire(timeout=60) for _ in range(30))
            heard = len(told)
            with postgresql_server.hanging():
                while len(told) < heard + 6:
                    over.wait(0.1)
        assert all(many.acquire(timeout=60) for _ in range(30))
        over.set()
        for hand in hands:
            hand.join()
        assert _units(ledger) == sorted([*before, *saved])
    assert all(sentence.startswith("NOT saved: ") for sentence in told)
    assert verify(folder).fine


_SLOWLY = sa.text("SELECT pg_sleep(2)")


def test_what_may_take_long_is_not_cut(folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A merge, a rebuild and the check of a back-up meet a statement that takes longer than a page would wait."""
    real = sa.Connection.execute

    def slow(self: sa.Connection, statement: Any, *args: Any, **named: Any) -> Any:
        if self.dialect.name == "postgresql":
            monkeypatch.setattr(sa.Connection, "execute", real)  # once each
            real(self, _SLOWLY)
        return real(self, statement, *args, **named)

    def begin_slowly() -> None:
        monkeypatch.setattr(sa.Connection, "execute", slow)

    with open_ledger(folder, write=True) as ledger:
        begin_slowly()
        with pytest.raises(StorageError, match=_NO_ANSWER):
            ledger.count_events()
        begin_slowly()
        assert ledger.alone(lambda connection, _: connection.execute(sa.text("SELECT 7")).scalar()) == 7
        with ledger.changing() as connection:
            begin_slowly()
            assert connection.execute(sa.text("SELECT 8")).scalar() == 8
    begin_slowly()
    assert verify(folder).fine
    begin_slowly()
    assert backup(folder, tmp_path / "copy.tar")
    assert rebuild(folder)


def test_an_answer_that_goes_on_coming_is_read_to_its_end(folder: Path) -> None:
    """Silence counts, not length: a slow line with much on it is no hanging server."""
    much = sa.text("SELECT repeat('x', 20000), pg_sleep(0.4) FROM generate_series(1, 5)")
    with open_ledger(folder) as ledger, ledger._reading() as connection:
        assert len(connection.execute(much).all()) == 5
