"""A ledger in PostgreSQL: the server is stopped at once under load, and its line is cut at each statement of a save.

Who was not acknowledged sends the same again, as a tablet does. In the end everything is there once. The line is also
cut around the commit itself: before the server heard of it, and after it had committed but could not say so.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

import psycopg
import sqlalchemy as sa
from ledger_examples import a_unit, an_attempt, new_centre
from postgresql_server import PostgresqlServer

from course.errors import CourseError
from course.record.events import Draft
from course.storage.ledger import Ledger, open_ledger
from course.words import Mark
from faults.tally import Run, Tally, device, ids_in, refuse_findings

_HANDS = 12
_CUT = "SELECT pg_terminate_backend(%s, 5000)"
Cut = Callable[[sa.Connection], None]


def run(wanted: Run) -> Tally:
    """Cut the line at each statement, and stop the server so many times."""
    tally, server, stops = Tally(), PostgresqlServer(), wanted.some(2, 12)
    place = wanted.folder("server")
    try:
        with device(place / "device"):
            new_centre(place / "cut", server.url(server.new_database())).close()
            for _ in range(wanted.some(1, 10)):
                _at_each_statement(place / "cut", server, tally)
                _around_the_commit(place / "cut", server, tally)
            refuse_findings(place / "cut", tally, "line cut")
            new_centre(place / "stopped", server.url(server.new_database())).close()
            _stopped_under_load(place / "stopped", server, stops, wanted, tally)
            refuse_findings(place / "stopped", tally, "server stopped")
    finally:
        server.remove()
    return tally


def _at_each_statement(folder: Path, server: PostgresqlServer, tally: Tally) -> None:
    with open_ledger(folder, write=True) as ledger:
        number, cut = 0, True
        while cut:
            cut = _cut_at(ledger, number, server, tally)
            number += 1
    tally.notes.append(f"a save was cut at each of its {number - 1} statements")


def _cut_at(ledger: Ledger, number: int, server: PostgresqlServer, tally: Tally) -> bool:
    """Cut the line just before one statement of a save; tell whether there is such a statement."""
    left = [number]
    engine = ledger._any_writer().engine

    def before(connection: sa.Connection, _cursor: Any, statement: str, *_: Any) -> None:
        left[0] -= 1
        if left[0] == -1:
            server.tell("postgres", _CUT, _backend(connection))

    sa.event.listen(engine, "before_cursor_execute", before)
    try:
        told, drafts = _tried(ledger)
    finally:
        sa.event.remove(engine, "before_cursor_execute", before)
    if left[0] >= 0:
        return False
    _judge(ledger, told, drafts, tally, f"cut before statement {number + 1}")
    return True


def _around_the_commit(folder: Path, server: PostgresqlServer, tally: Tally) -> None:
    with open_ledger(folder, write=True) as ledger:
        for when in ("before", "after"):
            with _cut_around(ledger, server, when):
                told, drafts = _tried(ledger)
            _judge(ledger, told, drafts, tally, f"cut {when} the commit")


@contextmanager
def _cut_around(ledger: Ledger, server: PostgresqlServer, when: str) -> Iterator[None]:
    dialect = ledger._any_writer().engine.dialect
    real: Callable[[Any], None] = dialect.do_commit

    def commit(line: Any) -> None:
        pid = line.info.backend_pid
        if when == "before":
            server.tell("postgres", _CUT, pid)
        real(line)
        server.tell("postgres", _CUT, pid)
        line.close()
        raise psycopg.OperationalError("the line was cut before the answer came")

    with mock.patch.object(dialect, "do_commit", commit):
        yield


def _backend(connection: sa.Connection) -> int:
    line: Any = connection.connection.dbapi_connection
    return int(line.info.backend_pid)


def _tried(ledger: Ledger) -> tuple[str | None, list[Draft]]:
    drafts = [a_unit("Unit"), *an_attempt(Mark.DONE, Mark.ERROR)]
    try:
        ledger.append(drafts)
    except CourseError as error:
        return error.sentence, drafts
    return None, drafts


def _judge(ledger: Ledger, told: str | None, drafts: list[Draft], tally: Tally, where: str) -> None:
    tally.tried += 1
    if told is None:
        tally.notes.append(f"{where}: went through on a new line")
    elif told.startswith("NOT saved: "):
        tally.named += 1
    else:
        tally.wrong(f"{where}: {told}")
    ledger.append(drafts)
    tally.acknowledged += 1
    tally.refuse_loss((draft.id for draft in drafts), ids_in(ledger.folder), where)


def _stopped_under_load(folder: Path, server: PostgresqlServer, stops: int, wanted: Run, tally: Tally) -> None:
    saved: list[str] = []
    strange: list[str] = []
    refused: list[str] = []
    over = threading.Event()

    def save() -> None:
        while not over.is_set():
            draft = a_unit()
            while not _acknowledged(ledger, draft, refused, strange):
                time.sleep(0.02)
            saved.append(draft.id)

    with open_ledger(folder, write=True) as ledger:
        hands = [threading.Thread(target=save) for _ in range(_HANDS)]
        for hand in hands:
            hand.start()
        for stop in range(stops):
            _until(saved, len(saved) + 60)
            server.stop("immediate")
            server.start()
            tally.tried += 1
            wanted.tell(stop + 1, stops)
        _until(saved, len(saved) + 60)
        over.set()
        for hand in hands:
            hand.join()
    tally.acknowledged += len(saved)
    tally.named += len(refused)
    tally.silent += strange[:1]
    tally.refuse_loss(saved, ids_in(folder), "server stopped")


def _acknowledged(ledger: Ledger, draft: Draft, refused: list[str], strange: list[str]) -> bool:
    try:
        ledger.append([draft])
    except CourseError as error:
        (refused if error.sentence.startswith("NOT saved: ") else strange).append(error.sentence)
        return False
    return True


def _until(saved: list[str], many: int) -> None:
    until = time.monotonic() + 100
    while len(saved) < many:
        if time.monotonic() > until:
            raise RuntimeError("nothing is saved any more")
        time.sleep(0.01)
