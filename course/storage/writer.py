"""One thread writes. Whoever saves waits in a line, and all that wait are saved by one commit.

A save is acknowledged after the commit and after the witness line is on the disk, never before.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import islice
from typing import Any, TypeVar, cast

import sqlalchemy as sa
from sqlalchemy.engine import Engine
from sqlalchemy.exc import DBAPIError

from course.errors import DamageError
from course.record.chain import Event
from course.storage.appending import Added, Head, Stamp, add_entries, read_head
from course.storage.database import SQLITE
from course.storage.entries import Entry
from course.storage.faults import not_saved
from course.storage.postgresql import collided
from course.storage.ready import apart
from course.storage.waiting import Act, Job, WaitingLine
from course.storage.witness import Seen, Witness, loss

_T = TypeVar("_T")
_OF_THE_DATABASE = (DBAPIError, SQLITE.Error)
"""Through SQLAlchemy, or from the driver itself."""
_PAUSES_S = (0.05, 0.2, 0.8)
"""Before each further try, in seconds: whoever stood in the way and was waiting goes first, or both meet again."""


_Add = Callable[[sa.Connection, Sequence[Job]], Sequence[Added | Exception]]


class _OneIsWrongError(Exception):
    """Of lists that were added as one; nothing of them is kept."""


class Writer:
    """The writing thread of one ledger."""

    def __init__(self, engine: Engine, stamp: Stamp, witness: Witness) -> None:
        self.engine = engine
        self._stamp = stamp
        self._witness = witness
        self._line = WaitingLine()
        self._acknowledged: Seen | None = None
        self.clock_went_back = timedelta(0)
        self._thread = threading.Thread(target=self._run, name="ledger-writer", daemon=True)
        self._thread.start()

    def save(self, entries: Sequence[Entry]) -> list[Event]:
        """Wait until the entries are saved, all of them or none, and return their events.

        Raises:
            StorageError: NOT saved.
            RefusedError: they cannot be saved as they are.
        """
        job = Job(entries)
        self._line.put(job)
        return job.done.result()

    def do(self, act: Callable[[sa.Connection], _T]) -> _T:
        """Have something done in one transaction of its own, while whoever saves waits; return what it returns.

        Raises:
            StorageError: NOT saved; the transaction was taken back.
            CourseError: what the act raised; the transaction was taken back.
        """
        job = Act(act)
        self._line.put(job)
        return cast(_T, job.done.result())

    def close(self) -> None:
        """Save what waits, then end."""
        self._line.close()
        self._thread.join()

    def _run(self) -> None:
        while work := self._line.take():
            if isinstance(work, Act):
                self._do_alone(work)
            else:
                self._save_together(work)

    def _do_alone(self, job: Act) -> None:
        try:
            came = _in_the_end(lambda: self._act(job))
        except BaseException as error:
            job.done.set_exception(not_saved(error))
        else:
            job.done.set_result(came)

    def _act(self, job: Act) -> Any:
        with self.engine.begin() as connection:
            before = read_head(connection, self._stamp.centre, self._stamp.chain, hold=True)
            self._refuse_lost_tail(before, connection.dialect.name)
            return job.act(connection)

    def _save_together(self, jobs: Sequence[Job]) -> None:
        came: Sequence[Added | BaseException]
        try:
            came = _in_the_end(lambda: self._commit(jobs))
        except BaseException as error:
            came = [error] * len(jobs)
        self._line.expect_again()
        for job, result in zip(jobs, came, strict=True):
            if isinstance(result, Added):
                self.clock_went_back = max(self.clock_went_back, result.clock_back)
                job.done.set_result(result.events)
            else:
                job.done.set_exception(not_saved(result))

    def _commit(self, jobs: Sequence[Job]) -> Sequence[Added | Exception]:
        """Save all waiting lists as one; where something is wrong, anew list by list, to see with which.

        To be able to take back a part of a transaction SQLite copies each page that it changes; so not at first.
        """
        try:
            return self._commit_by(self._add_as_one, jobs)
        except _OneIsWrongError:
            return self._commit_by(self._add_each, jobs)

    def _commit_by(self, add: _Add, jobs: Sequence[Job]) -> Sequence[Added | Exception]:
        with self.engine.begin() as connection:
            came = add(connection, jobs)
            added = [one for one in came if isinstance(one, Added)]
            if added:
                self._refuse_lost_tail(added[0].before, connection.dialect.name)
        if added:
            latest = Seen(*added[-1].head[:3])
            self._witness.write(latest)
            self._acknowledged = latest
        return came

    def _refuse_lost_tail(self, before: Head, kind: str) -> None:
        """A server that comes back from an older copy must not be written to as if nothing were missing."""
        if not self._acknowledged:
            return
        seen = self._acknowledged
        at_end = {before.seq: before.hash}
        if told := loss(seen, before.seq, lambda seq: at_end.get(seq, seen.hash), kind):
            raise DamageError(f"NOT saved: {told}")

    def _add_as_one(self, connection: sa.Connection, jobs: Sequence[Job]) -> Sequence[Added | Exception]:
        try:
            added = add_entries(connection, self._stamp, [entry for job in jobs for entry in job.entries])
        except _OF_THE_DATABASE:
            raise
        except Exception as error:
            if len(jobs) == 1:
                raise
            raise _OneIsWrongError from error
        events = iter(added.events)
        return [replace(added, events=list(islice(events, len(job.entries)))) for job in jobs]

    def _add_each(self, connection: sa.Connection, jobs: Sequence[Job]) -> Sequence[Added | Exception]:
        return [self._add_one(connection, job) for job in jobs]

    def _add_one(self, connection: sa.Connection, job: Job) -> Added | Exception:
        """Add one waiting list; what is wrong with it alone must not keep the others from being saved."""
        try:
            with apart(connection):
                return add_entries(connection, self._stamp, job.entries)
        except _OF_THE_DATABASE:
            raise  # the whole transaction is in doubt
        except Exception as error:
            return error


def _in_the_end(act: Callable[[], _T]) -> _T:
    """Do it; again when the database took it back only because another transaction stood in the way."""
    for pause in _PAUSES_S:
        try:
            return act()
        except DBAPIError as error:
            if not collided(error):
                raise
            time.sleep(pause)
    return act()
