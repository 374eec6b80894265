"""The line in which whoever saves waits for the thread that writes."""

from __future__ import annotations

import threading

import pytest

from course.errors import ConflictError, StorageError
from course.storage import waiting
from course.storage.waiting import Act, Job, Outcome, WaitingLine


def put(line: WaitingLine, count: int) -> list[Job]:
    jobs = [Job([]) for _ in range(count)]
    for job in jobs:
        line.put(job)
    return jobs


def test_an_act_is_alone_and_keeps_its_place_between_lists() -> None:
    line, act = WaitingLine(), Act(lambda _: None)
    first = put(line, 2)
    line.put(act)
    last = put(line, 1)
    line.close()
    assert [line.take() for _ in range(4)] == [first, act, last, None]


def test_a_closed_line_serves_who_stands_in_it_and_takes_nobody() -> None:
    line = WaitingLine()
    jobs = put(line, 3)
    line.close()
    with pytest.raises(StorageError, match="NOT saved: the ledger is closed"):
        line.put(Job([]))
    assert line.take() == jobs
    assert line.take() is None


def test_whoever_was_served_is_waited_for_beside_those_who_came_meanwhile(monkeypatch: pytest.MonkeyPatch) -> None:
    """Else two halves would take turns for ever, and a commit would be shared by half."""
    monkeypatch.setattr(waiting, "_MOMENT_S", 60)
    line = WaitingLine()
    put(line, 6)
    line.take()
    meanwhile, again = put(line, 6), [Job([]) for _ in range(6)]
    line.expect_again()
    hands = [threading.Thread(target=line.put, args=(job,)) for job in again]
    for hand in hands:
        hand.start()
    taken = line.take()
    for hand in hands:
        hand.join()
    assert isinstance(taken, list)
    assert taken[:6] == meanwhile
    assert {id(job) for job in taken[6:]} == {id(job) for job in again}


def test_who_does_not_come_again_is_not_waited_for_longer_than_a_moment() -> None:
    line = WaitingLine()
    put(line, 6)
    line.take()
    line.expect_again()
    jobs = put(line, 2)
    assert line.take() == jobs


def test_no_more_than_two_hundred_share_a_commit() -> None:
    line = WaitingLine()
    put(line, 250)
    line.close()
    taken = [line.take(), line.take()]
    assert [len(some) for some in taken if isinstance(some, list)] == [200, 50]


def test_what_came_of_it_is_given_or_raised_to_whoever_waits() -> None:
    came: Outcome[int] = Outcome()
    threading.Thread(target=came.set_result, args=(7,)).start()
    assert came.result() == 7
    came = Outcome()
    came.set_exception(ConflictError("The id is known."))
    with pytest.raises(ConflictError, match="The id is known"):
        came.result()
