"""The line in which whoever saves waits: whoever stands first serves it, for all that stand there."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress

import pytest

from course.errors import ConflictError, StorageError
from course.storage import waiting
from course.storage.waiting import Act, Job, Outcome, WaitingLine

Work = Sequence[Job] | Act


class Counter:
    """Serves a line: keeps what it was given, tells each how many were served with it, and can be held up."""

    def __init__(self) -> None:
        self.given: list[Work] = []
        self.go_on = threading.Event()
        self.go_on.set()
        self.line = WaitingLine(self.serve)

    def serve(self, work: Work) -> None:
        self.given.append(work)
        assert self.go_on.wait(30)
        jobs: Sequence[Job | Act] = [work] if isinstance(work, Act) else work
        self.line.expect_again()
        for job in jobs:
            job.done.set_result([])

    def goes_through(self, one: Job | Act) -> threading.Thread:
        """Begin to go through the line, and return once one stands in it."""
        stood = len(self.given) + len(self.line._line)
        hand = threading.Thread(target=self._goes, args=(one,), daemon=True)
        hand.start()
        until(lambda: len(self.given) + len(self.line._line) > stood)
        return hand

    def _goes(self, one: Job | Act) -> None:
        with suppress(KeyboardInterrupt):
            self.line.go_through(one)


def until(holds: Callable[[], bool]) -> None:
    end = time.monotonic() + 30
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.001)


def a_job() -> Job:
    return Job(list)


@pytest.fixture
def held() -> tuple[Counter, Job, threading.Thread]:
    """A line whose first is being served and held up, so that whoever comes now waits."""
    counter, first = Counter(), a_job()
    counter.go_on.clear()
    return counter, first, counter.goes_through(first)


def test_whoever_comes_to_an_empty_line_is_served_in_the_own_thread() -> None:
    thread: list[int] = []

    def serve(work: Work) -> None:
        thread.append(threading.get_ident())
        assert not isinstance(work, Act)
        work[0].done.set_result([])

    WaitingLine(serve).go_through(a_job())
    assert thread == [threading.get_ident()]


def test_all_who_came_meanwhile_share_what_comes_next_and_an_act_is_alone_in_its_turn(
    held: tuple[Counter, Job, threading.Thread],
) -> None:
    counter, first, hand = held
    act = Act(lambda _: None)
    before, after = [a_job(), a_job()], a_job()
    hands = [hand, *(counter.goes_through(one) for one in (*before, act, after))]
    counter.go_on.set()
    for one in hands:
        one.join(30)
    assert counter.given == [[first], before, act, [after]]


def test_a_closed_line_serves_who_stands_in_it_and_takes_nobody(held: tuple[Counter, Job, threading.Thread]) -> None:
    counter, first, hand = held
    waits = a_job()
    hands = [hand, counter.goes_through(waits)]
    closing = threading.Thread(target=counter.line.close, daemon=True)
    closing.start()
    until(lambda: counter.line._closed)
    with pytest.raises(StorageError, match="NOT saved: the ledger is closed"):
        counter.line.go_through(a_job())
    assert closing.is_alive()
    counter.go_on.set()
    for one in (*hands, closing):
        one.join(30)
    assert counter.given == [[first], [waits]]
    assert not closing.is_alive()


def test_whoever_was_served_is_waited_for_beside_those_who_came_meanwhile(
    held: tuple[Counter, Job, threading.Thread], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else two halves would take turns for ever, and a commit would be shared by half."""
    monkeypatch.setattr(waiting, "_MOMENT_S", 30)
    counter, _, hand = held
    meanwhile = [a_job(), a_job()]
    hands = [hand, *(counter.goes_through(one) for one in meanwhile)]
    counter.go_on.set()
    hand.join(30)
    again = a_job()
    counter.line.go_through(again)
    for one in hands:
        one.join(30)
    assert counter.given[1] == [*meanwhile, again]


def test_who_does_not_come_again_is_not_waited_for_longer_than_a_moment(
    held: tuple[Counter, Job, threading.Thread],
) -> None:
    counter, _, hand = held
    waits = a_job()
    other = counter.goes_through(waits)
    counter.go_on.set()
    hand.join(30)
    other.join(30)
    assert counter.given[1] == [waits]


def test_no_more_than_two_hundred_share_a_commit(held: tuple[Counter, Job, threading.Thread]) -> None:
    counter, _, hand = held
    hands = [hand, *(counter.goes_through(a_job()) for _ in range(250))]
    counter.go_on.set()
    for one in hands:
        one.join(30)
    assert [len(work) for work in counter.given if not isinstance(work, Act)] == [1, 200, 50]


def test_whoever_is_interrupted_while_waiting_holds_nobody_up(
    held: tuple[Counter, Job, threading.Thread], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As by Ctrl-C: the list is not saved, and those behind are served."""
    counter, first, hand = held
    gone, behind = a_job(), a_job()
    monkeypatch.setattr(gone.done, "wait", _interrupted)
    with pytest.raises(KeyboardInterrupt):
        counter.line.go_through(gone)
    other = counter.goes_through(behind)
    counter.go_on.set()
    for one in (hand, other):
        one.join(30)
    assert counter.given == [[first], [behind]]


def test_whoever_is_interrupted_on_being_called_to_serve_passes_it_on() -> None:
    counter, gone = Counter(), a_job()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(gone.done, "wait", _interrupted)
        with pytest.raises(KeyboardInterrupt):
            counter.line.go_through(gone)
    after = a_job()
    counter.line.go_through(after)
    assert counter.given == [[after]]


def test_whoever_serves_and_is_interrupted_leaves_nobody_asleep(held: tuple[Counter, Job, threading.Thread]) -> None:
    """Those who were taken along are told; whoever comes then is served."""
    counter, first, hand = held
    serves, beside, after = a_job(), a_job(), a_job()
    counter.line._serve = _interrupted_by
    hands = [hand, counter.goes_through(serves), counter.goes_through(beside)]
    counter.go_on.set()
    for one in hands:
        one.join(30)
    for job in (serves, beside):
        with pytest.raises(StorageError, match="NOT saved: it was broken off"):
            job.done.result()
    counter.line._serve = counter.serve
    counter.line.go_through(after)
    assert counter.given == [[first], [after]]


def _interrupted_by(_: Work) -> None:
    raise KeyboardInterrupt


def _interrupted() -> None:
    raise KeyboardInterrupt


def test_what_came_of_it_is_given_or_raised_to_whoever_waits() -> None:
    came: Outcome[int] = Outcome()
    threading.Thread(target=came.set_result, args=(7,)).start()
    came.wait()
    assert came.told
    assert came.result() == 7
    came = Outcome()
    came.set_exception(ConflictError("The id is known."))
    with pytest.raises(ConflictError, match="The id is known"):
        came.result()
