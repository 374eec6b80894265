"""One saves for all: whoever saves waits in a line, and all that wait are saved by one commit (see `waiting`).

A save is acknowledged after the commit and after the witness line is on the disk, never before.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from itertools import islice
from typing import Any, NamedTuple, TypeVar, cast

import sqlalchemy as sa
from sqlalchemy.engine import Engine
from sqlalchemy.exc import DBAPIError

from course.errors import DamageError, StorageError
from course.record.chain import Event
from course.storage.after_saving import note_save
from course.storage.appending import Added, Head, Stamp, add_entries, read_head
from course.storage.database import SQLITE
from course.storage.entries import Entry
from course.storage.faults import not_saved
from course.storage.patience import MERGING_S, patient
from course.storage.postgresql import collided, unreachable
from course.storage.ready import apart
from course.storage.waiting import Act, Job, WaitingLine
from course.storage.witness import Seen, Witness, loss

_T = TypeVar("_T")
_OF_THE_DATABASE = (DBAPIError, SQLITE.Error)
"""Through SQLAlchemy, or from the driver itself."""
_PAUSES_S = (0.05, 0.2, 0.8)
"""Before each further try, in seconds: whoever stood in the way and was waiting goes first, or both meet again."""


class UnansweredError(StorageError):
    """The commit was sent, and the line broke before its answer came: nobody here knows whether it is there."""

    def __init__(self) -> None:
        super().__init__(
            "NOT saved: the database server went away before it said whether it keeps this, so it may be there all the "
            "same. See that the server runs, look whether it is there, and only then do it again. What was saved "
            "before is kept."
        )


class _OneIsWrongError(Exception):
    """Of lists that were added as one; nothing of them is kept."""


class _Made(NamedTuple):
    """A list that waits, with its entries."""

    job: Job
    entries: Sequence[Entry]


_Add = Callable[[sa.Connection, Sequence[_Made]], Sequence[Added | Exception]]


class Writer:
    """What writes one ledger. Safe to share between threads: one at a time writes."""

    def __init__(self, engine: Engine, stamp: Stamp, witness: Witness) -> None:
        self.engine = engine
        self._stamp = stamp
        self._witness = witness
        self._line = WaitingLine(self._serve)
        self._acknowledged: Seen | None = None
        self.clock_went_back = timedelta(0)

    def save(self, make: Callable[[], Sequence[Entry]]) -> list[Event]:
        """Wait until the entries are saved, all of them or none, and return their events.

        Args:
            make: makes the entries; called once, maybe by another thread that saves them along with its own.

        Raises:
            StorageError: NOT saved.
            RefusedError: they cannot be saved as they are.
        """
        job = Job(make)
        self._line.go_through(job)
        events = job.done.result()
        note_save()
        return events

    def do(self, act: Callable[[sa.Connection], _T]) -> _T:
        """Have something done in one transaction of its own, while whoever saves waits; return what it returns.

        Raises:
            StorageError: NOT saved; the transaction was taken back.
            CourseError: what the act raised; the transaction was taken back.
        """
        job = Act(act)
        self._line.go_through(job)
        return cast(_T, job.done.result())

    def close(self) -> None:
        """Save what waits; nothing is saved any more afterwards."""
        self._line.close()

    def _serve(self, work: Sequence[Job] | Act) -> None:
        """Do it and tell everybody what came of it, also where Ctrl-C broke it off."""
        try:
            if isinstance(work, Act):
                self._do_alone(work)
            else:
                self._save_together(work)
        except BaseException as error:
            for one in [work] if isinstance(work, Act) else work:
                if not one.done.told:
                    one.done.set_exception(not_saved(error))

    def _do_alone(self, job: Act) -> None:
        job.done.set_result(_in_the_end(lambda: self._act(job)))

    def _act(self, job: Act) -> Any:
        with patient(MERGING_S), _transaction(self.engine) as connection:
            before = read_head(connection, self._stamp.centre, self._stamp.chain, hold=True)
            self._refuse_lost_tail(before, connection.dialect.name)
            return job.act(connection)

    def _save_together(self, jobs: Sequence[Job]) -> None:
        lists = [made for made in map(_made, jobs) if made is not None]
        came = self._commit_and_know(lists) if lists else []
        self._line.expect_again()
        for made, result in zip(lists, came, strict=True):
            if isinstance(result, Added):
                self.clock_went_back = max(self.clock_went_back, result.clock_back)
                made.job.done.set_result(result.events)
            else:
                made.job.done.set_exception(not_saved(result))

    def _commit_and_know(self, lists: Sequence[_Made]) -> Sequence[Added | Exception]:
        """Commit; where no answer came, the same once more: what is there already adds nothing and is given back."""
        try:
            return _in_the_end(lambda: self._commit(lists))
        except UnansweredError as unknown:
            try:
                return _in_the_end(lambda: self._commit(lists))
            except DamageError:
                raise
            except (DBAPIError, StorageError) as error:
                raise unknown from error

    def _commit(self, lists: Sequence[_Made]) -> Sequence[Added | Exception]:
        """Save all waiting lists as one; where something is wrong, anew list by list, to see with which.

        To be able to take back a part of a transaction SQLite copies each page that it changes; so not at first.
        """
        try:
            return self._commit_by(self._add_as_one, lists)
        except _OneIsWrongError:
            return self._commit_by(self._add_each, lists)

    def _commit_by(self, add: _Add, lists: Sequence[_Made]) -> Sequence[Added | Exception]:
        with _transaction(self.engine) as connection:
            came = add(connection, lists)
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

    def _add_as_one(self, connection: sa.Connection, lists: Sequence[_Made]) -> Sequence[Added | Exception]:
        try:
            added = add_entries(connection, self._stamp, [entry for made in lists for entry in made.entries])
        except _OF_THE_DATABASE:
            raise
        except Exception as error:
            if len(lists) == 1:
                raise
            raise _OneIsWrongError from error
        events = iter(added.events)
        return [replace(added, events=list(islice(events, len(made.entries)))) for made in lists]

    def _add_each(self, connection: sa.Connection, lists: Sequence[_Made]) -> Sequence[Added | Exception]:
        return [self._add_one(connection, made) for made in lists]

    def _add_one(self, connection: sa.Connection, made: _Made) -> Added | Exception:
        """Add one waiting list; what is wrong with it alone must not keep the others from being saved."""
        try:
            with apart(connection):
                return add_entries(connection, self._stamp, made.entries)
        except _OF_THE_DATABASE:
            raise  # the whole transaction is in doubt
        except Exception as error:
            return error


@contextmanager
def _transaction(engine: Engine) -> Iterator[sa.Connection]:
    sent = False
    try:
        with engine.begin() as connection:
            yield connection
            sent = True
    except DBAPIError as error:
        if sent and unreachable(error):
            raise UnansweredError from error
        raise


def _made(job: Job) -> _Made | None:
    """Make a list's entries; where one cannot be stored as it is, tell it, and let the others be saved."""
    try:
        return _Made(job, job.make())
    except Exception as error:
        job.done.set_exception(not_saved(error))
        return None


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
