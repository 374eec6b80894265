"""One thread writes. Whoever saves waits in a queue, and all that wait are saved by one commit.

A save is acknowledged after the commit and after the witness line is on the disk, never before.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from itertools import islice
from typing import Any, Generic, TypeVar, cast

import sqlalchemy as sa
from sqlalchemy.engine import Engine
from sqlalchemy.exc import DBAPIError

from course.errors import DamageError, StorageError
from course.record.chain import Event
from course.storage.appending import Added, Head, Stamp, add_entries, read_head
from course.storage.database import SQLITE
from course.storage.entries import Entry
from course.storage.faults import not_saved
from course.storage.postgresql import collided
from course.storage.ready import apart
from course.storage.witness import Seen, Witness, loss

_T = TypeVar("_T")
_OF_THE_DATABASE = (DBAPIError, SQLITE.Error)
"""Through SQLAlchemy, or from the driver itself."""
_MOST_AT_ONCE = 200
_MOMENT_S = 0.001
_PAUSES_S = (0.05, 0.2, 0.8)
"""Before each further try, in seconds: whoever stood in the way and was waiting goes first, or both meet again."""


class _Outcome(Generic[_T]):
    """What came of it, for the one thread that waits for it; made and told in a tenth of the time of a `Future`."""

    def __init__(self) -> None:
        self._told = threading.Lock()
        self._told.acquire()
        self._result: _T | None = None
        self._error: BaseException | None = None

    def set_result(self, result: _T) -> None:
        """Tell what came."""
        self._result = result
        self._told.release()

    def set_exception(self, error: BaseException) -> None:
        """Tell why nothing came."""
        self._error = error
        self._told.release()

    def result(self) -> _T:
        """Wait for it, once; raise what it was told to raise."""
        self._told.acquire()
        if self._error:
            raise self._error
        return cast(_T, self._result)


@dataclass(frozen=True)
class _Job:
    entries: Sequence[Entry]
    done: _Outcome[list[Event]] = field(default_factory=_Outcome)


@dataclass(frozen=True)
class _Act:
    """Something else to do in one transaction of its own, in turn."""

    act: Callable[[sa.Connection], Any]
    done: _Outcome[Any] = field(default_factory=_Outcome)


class Writer:
    """The writing thread of one ledger."""

    def __init__(self, engine: Engine, stamp: Stamp, witness: Witness) -> None:
        self.engine = engine
        self._stamp = stamp
        self._witness = witness
        self._queue: queue.SimpleQueue[_Job | _Act | None] = queue.SimpleQueue()
        self._next: _Act | None = None
        self._closing = threading.Lock()
        self._closed = False
        self._together = 1
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
        job = _Job(entries)
        self._put(job)
        return job.done.result()

    def do(self, act: Callable[[sa.Connection], _T]) -> _T:
        """Have something done in one transaction of its own, while whoever saves waits; return what it returns.

        Raises:
            StorageError: NOT saved; the transaction was taken back.
            CourseError: what the act raised; the transaction was taken back.
        """
        job = _Act(act)
        self._put(job)
        return cast(_T, job.done.result())

    def _put(self, job: _Job | _Act) -> None:
        with self._closing:
            if self._closed:
                raise StorageError("NOT saved: the ledger is closed. Open it again, then do it again.")
            self._queue.put(job)

    def close(self) -> None:
        """Save what waits, then end."""
        with self._closing:
            self._closed = True
            self._queue.put(None)
        self._thread.join()

    def _run(self) -> None:
        open_ = True
        while open_:
            jobs, open_ = self._waiting()
            if jobs:
                self._save_together(jobs)
            if self._next:
                self._do_alone(self._next)
                self._next = None

    def _waiting(self) -> tuple[list[_Job], bool]:
        first = self._queue.get()
        jobs: list[_Job] = []
        while first is not None:
            if isinstance(first, _Act):
                self._next = first
                return jobs, True
            jobs.append(first)
            if len(jobs) == _MOST_AT_ONCE:
                break
            try:
                first = self._further(len(jobs))
            except queue.Empty:
                break
        self._together = len(jobs)
        return jobs, first is not None

    def _further(self, have: int) -> _Job | _Act | None:
        """What waits next; where more saved at once a moment ago, they get a moment to come again and share a commit.

        Raises:
            queue.Empty: nobody waits.
        """
        if have < self._together:
            return self._queue.get(timeout=_MOMENT_S)
        return self._queue.get_nowait()

    def _do_alone(self, job: _Act) -> None:
        try:
            came = _in_the_end(lambda: self._act(job))
        except BaseException as error:
            job.done.set_exception(not_saved(error))
        else:
            job.done.set_result(came)

    def _act(self, job: _Act) -> Any:
        with self.engine.begin() as connection:
            before = read_head(connection, self._stamp.centre, self._stamp.chain, hold=True)
            self._refuse_lost_tail(before, connection.dialect.name)
            return job.act(connection)

    def _save_together(self, jobs: Sequence[_Job]) -> None:
        try:
            came = _in_the_end(lambda: self._commit(jobs))
        except BaseException as error:
            for job in jobs:
                job.done.set_exception(not_saved(error))
            return
        for job, result in zip(jobs, came, strict=True):
            if isinstance(result, Added):
                self.clock_went_back = max(self.clock_went_back, result.clock_back)
                job.done.set_result(result.events)
            else:
                job.done.set_exception(not_saved(result))

    def _commit(self, jobs: Sequence[_Job]) -> Sequence[Added | Exception]:
        with self.engine.begin() as connection:
            came = self._add_all(connection, jobs)
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

    def _add_all(self, connection: sa.Connection, jobs: Sequence[_Job]) -> Sequence[Added | Exception]:
        """Add all waiting lists as one; where something is wrong, list by list, to see with which."""
        if len(jobs) == 1:
            return [add_entries(connection, self._stamp, jobs[0].entries)]
        try:
            with apart(connection):
                added = add_entries(connection, self._stamp, [entry for job in jobs for entry in job.entries])
        except _OF_THE_DATABASE:
            raise
        except Exception:
            return [self._add_one(connection, job) for job in jobs]
        events = iter(added.events)
        return [replace(added, events=list(islice(events, len(job.entries)))) for job in jobs]

    def _add_one(self, connection: sa.Connection, job: _Job) -> Added | Exception:
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
