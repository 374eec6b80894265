"""Who waits to be saved, in the order of coming, and what came of it for each.

The thread that writes is woken once for all who save at once: those who did so a moment ago get a moment to come again,
and it sleeps until all are there. To be woken for each of twelve costs more than to save for twelve.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar, cast

import sqlalchemy as sa

from course.errors import StorageError
from course.record.chain import Event
from course.storage.entries import Entry

_T = TypeVar("_T")
_MOST_AT_ONCE = 200
_MOMENT_S = 0.001


class Outcome(Generic[_T]):
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
class Job:
    """A list of entries to save, all of them or none."""

    entries: Sequence[Entry]
    done: Outcome[list[Event]] = field(default_factory=Outcome)


@dataclass(frozen=True)
class Act:
    """Something else to do in one transaction of its own, in turn."""

    act: Callable[[sa.Connection], Any]
    done: Outcome[Any] = field(default_factory=Outcome)


class WaitingLine:
    """The line in which whoever saves waits for the one thread that writes."""

    def __init__(self) -> None:
        self._come = threading.Condition(threading.Lock())
        self._line: deque[Job | Act] = deque()
        self._wanted = 1
        self._served = 0
        self._expected = 0
        self._closed = False

    def put(self, one: Job | Act) -> None:
        """Stand at the end.

        Raises:
            StorageError: the line is closed.
        """
        with self._come:
            if self._closed:
                raise StorageError("NOT saved: the ledger is closed. Open it again, then do it again.")
            self._line.append(one)
            if len(self._line) >= self._wanted:
                self._come.notify()

    def close(self) -> None:
        """Let nobody come any more; whoever stands in the line is still served."""
        with self._come:
            self._closed = True
            self._come.notify()

    def expect_again(self) -> None:
        """Those who were taken last are about to be told, and may come again: next time they are waited for.

        So are those who came meanwhile: else two halves would take turns for ever, each commit shared by half.
        """
        with self._come:
            self._expected = self._served + len(self._line)

    def take(self) -> Sequence[Job] | Act | None:
        """Wait for work: lists to save together, or an act; None once the line is closed and empty."""
        with self._come:
            self._let_come_again()
            while not (self._line or self._closed):
                self._wanted = 1
                self._come.wait()
                self._let_come_again()
            self._expected = 0
            if not self._line:
                return None
            first = self._line[0]
            if isinstance(first, Act):
                self._line.popleft()
                return first
            jobs = self._jobs_in_front()
            self._served = len(jobs)
            return jobs

    def _let_come_again(self) -> None:
        """Wait until all who are expected are there, or nobody more comes for a moment."""
        self._wanted, before = self._expected, -1
        if self._wanted < 2:
            return
        while before < len(self._line) < self._wanted and not self._closed:
            before = len(self._line)
            self._come.wait(_MOMENT_S)

    def _jobs_in_front(self) -> list[Job]:
        jobs: list[Job] = []
        while self._line and len(jobs) < _MOST_AT_ONCE and isinstance(first := self._line[0], Job):
            jobs.append(first)
            self._line.popleft()
        return jobs
