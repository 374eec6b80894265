"""Who waits to be saved, in the order of coming, and what came of it for each.

Whoever comes to an empty line serves it: one who saves alone waits for no other thread. Who comes meanwhile sleeps, and
the first of them serves next, for all that stand there. Those who were served a moment ago get a moment to come again:
to save for twelve costs less than to be woken for each of them.
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
_MOMENT_S = 0.0005


class Outcome(Generic[_T]):
    """What came of it, for the one thread that waits for it; made and told in a tenth of the time of a `Future`."""

    def __init__(self) -> None:
        self._asleep = threading.Lock()
        self._asleep.acquire()
        self._result: _T | None = None
        self._error: BaseException | None = None
        self.told = False

    def set_result(self, result: _T) -> None:
        """Tell what came."""
        self._result, self.told = result, True
        self.wake()

    def set_exception(self, error: BaseException) -> None:
        """Tell why nothing came."""
        self._error, self.told = error, True
        self.wake()

    def wake(self) -> None:
        """Wake whoever waits: it was told, or it is their turn to serve the line."""
        self._asleep.release()

    def wait(self) -> None:
        """Sleep until woken."""
        self._asleep.acquire()

    def result(self) -> _T:
        """Return what was told; raise it, where that was an error."""
        if self._error:
            raise self._error
        return cast(_T, self._result)


@dataclass(frozen=True, eq=False)
class Job:
    """A list of entries to save, all of them or none."""

    make: Callable[[], Sequence[Entry]]
    """Makes the entries, for whoever serves: one list after another is made sooner than each in a thread of its own."""
    done: Outcome[list[Event]] = field(default_factory=Outcome)


@dataclass(frozen=True, eq=False)
class Act:
    """Something else to do in one transaction of its own, in turn."""

    act: Callable[[sa.Connection], Any]
    done: Outcome[Any] = field(default_factory=Outcome)


Work = Job | Act


class WaitingLine:
    """The line in which whoever saves waits until it is served, or serves it.

    Args:
        serve: does what it is given, lists together or one act, and tells each of them what came of it.
    """

    def __init__(self, serve: Callable[[Sequence[Job] | Act], None]) -> None:
        self._serve = serve
        self._come = threading.Condition(threading.Lock())
        self._line: deque[Work] = deque()
        self._server: Work | None = None
        self._taken: list[Work] = []
        self._wanted = 0
        self._expected = 0
        self._closed = False

    def go_through(self, one: Work) -> None:
        """Stand at the end until it was told what came of it; serve the line if it is one's turn.

        Raises:
            StorageError: the line is closed.
        """
        try:
            self._stand(one)
            one.done.wait()
            if not one.done.told:
                self._serve(self._take())
        finally:  # also when somebody presses Ctrl-C meanwhile: nobody may wait for a thread that is gone
            if one is self._server or not one.done.told:
                self._leave(one)

    def expect_again(self) -> None:
        """Those who were taken last are about to be told, and may come again: next time they are waited for.

        So are those who came meanwhile: else two halves would take turns for ever, each commit shared by half.
        """
        with self._come:
            self._expected = len(self._taken) + len(self._line)

    def close(self) -> None:
        """Let nobody come any more, and wait until all who stand in the line were served."""
        with self._come:
            self._closed = True
            self._come.notify_all()
            self._come.wait_for(lambda: self._server is None)

    def _stand(self, one: Work) -> None:
        with self._come:
            if self._closed:
                raise StorageError("NOT saved: the ledger is closed. Open it again, then do it again.")
            self._line.append(one)
            if self._server is None:
                self._call_first()
            elif self._wanted and len(self._line) >= self._wanted:
                self._come.notify_all()

    def _leave(self, one: Work) -> None:
        with self._come:
            if one in self._line:
                self._line.remove(one)
            if one is self._server:
                self._tell_those_left()
                self._call_first()

    def _tell_those_left(self) -> None:
        """Where whoever served was broken off before all were told, the others must not sleep for ever."""
        for left in (one for one in self._taken if not one.done.told):
            left.done.set_exception(
                StorageError("NOT saved: it was broken off (Ctrl-C). Look whether it is there, then do it again.")
            )
        self._taken = []

    def _call_first(self) -> None:
        """Whoever stands first serves from now on."""
        self._server = self._line[0] if self._line else None
        if self._server:
            self._server.done.wake()
        else:
            self._come.notify_all()

    def _take(self) -> Sequence[Job] | Act:
        """Take what is first: lists to save together, or an act."""
        with self._come:
            self._let_come_again()
            first = self._line[0]
            if isinstance(first, Act):
                self._taken = [self._line.popleft()]
                return first
            jobs = self._jobs_in_front()
            self._taken = [*jobs]
            return jobs

    def _let_come_again(self) -> None:
        """Wait until all who are expected are there, or nobody more comes for a moment."""
        self._wanted, before = self._expected, -1
        while before < len(self._line) < self._wanted and not self._closed:
            before = len(self._line)
            self._come.wait(_MOMENT_S)
        self._wanted = self._expected = 0

    def _jobs_in_front(self) -> list[Job]:
        jobs: list[Job] = []
        while self._line and len(jobs) < _MOST_AT_ONCE and isinstance(first := self._line[0], Job):
            jobs.append(first)
            self._line.popleft()
        return jobs
