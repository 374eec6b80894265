"""Which tablets were heard of; and what the pulse answers to a pad."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from asgi_call import call
from starlette.applications import Starlette

from course.moments import new_id, now
from course.screens import serve, tablets

APP = Starlette(routes=list(serve.routes()))
PAD = {"x-course": "pad"}


@pytest.fixture(autouse=True)
def _nobody_heard_of() -> None:
    tablets.forget_all()
    serve.start(None, lambda *_: None)  # type: ignore[arg-type, return-value]


def pulse(query: str = "", **headers: str) -> dict[str, Any]:
    reply = call(APP, "GET", f"/course/pulse?{query}", headers=PAD | headers)
    assert reply.status == 200
    content = reply.content
    assert isinstance(content, dict)
    return content


def test_a_tablet_tells_what_waits_and_the_newest_stands_first() -> None:
    pulse("tablet=3F7AQ0ZK&waiting=4&refused=1&by=p1&offset=1800000")
    pulse("tablet=88C1AAAA&waiting=0&refused=0&by=&offset=")
    newest, before = tablets.seen()
    assert (newest.label, newest.waiting, newest.clock_offset_ms) == ("tablet 88C1", 0, None)
    assert (before.label, before.waiting, before.refused, before.observer) == ("tablet 3F7A", 4, 1, "p1")
    assert (before.clock_is_far_off, newest.clock_is_far_off) == (True, False)


def test_the_line_says_who_when_and_what_waits() -> None:
    pulse("tablet=3F7AQ0ZK&waiting=4&refused=1&by=p1&offset=1800000")
    pulse("tablet=88C1AAAA&waiting=0")
    line = tablets.tablets_line({"p1": "Bruno"}, now() + timedelta(minutes=12))
    assert line == (
        "tablet 88C1 12 min ago, all saved · "
        "tablet 3F7A (Bruno) 12 min ago, 4 marks waiting, 1 not taken, its clock is off"
    )


def test_a_tablet_is_one_however_often_it_tells() -> None:
    for waiting in range(5):
        pulse(f"tablet=3F7AQ0ZK&waiting={waiting}&by={'p1' if waiting == 1 else ''}")
    (one,) = tablets.seen()
    assert (one.waiting, one.observer) == (4, "p1")


@pytest.mark.parametrize(
    "query",
    [
        "", "tablet=3F7A&waiting=1", "tablet=3F7AQ0ZK&waiting=-1", "tablet=3F7AQ0ZK&waiting=many",
        "tablet=<b>3F7AQ&waiting=1", "tablet=3F7AQ0ZK&waiting=1000000", "tablet=3F7AQ0ZK&waiting=²",
    ],
)  # fmt: skip
def test_what_makes_no_sense_is_not_noted_and_the_pulse_answers_all_the_same(query: str) -> None:
    assert "server_utc" in pulse(query)
    assert tablets.seen() == []


def test_another_page_makes_no_tablet_and_reads_no_marks() -> None:
    asked: list[str] = []
    serve.start(None, lambda *_: None, state=lambda *of: asked.append(of[1]) or {"version": "1"})  # type: ignore[arg-type, return-value, func-returns-value]
    said = pulse(f"tablet=3F7AQ0ZK&waiting=1&of={new_id()}.s.o.v", **{"x-course": ""})
    assert (said["states"], asked, tablets.seen()) == ([], [], [])


def test_the_registry_stays_small() -> None:
    for number in range(tablets.MOST_TABLETS + 20):
        tablets.heard(f"{number:08}", "0")
    assert len(tablets.seen()) == tablets.MOST_TABLETS
    assert tablets.seen()[0].id == f"{tablets.MOST_TABLETS + 19:08}"


def test_a_pad_is_told_of_what_stands_otherwise_and_of_nothing_else() -> None:
    states = {"a1": {"version": "new", "marks": [1]}, "a2": {"version": "same"}, "a3": None}
    serve.start(None, lambda *_: None, state=lambda _ledger, attempt, _sheet, _by: states[attempt])  # type: ignore[arg-type, return-value]
    said = pulse("of=a1.s1.o.old&of=a2.s2.o.same&of=a3.s3.o.&of=broken")
    assert said["states"] == [{"attempt": "a1", "sheet": "s1", "version": "new", "marks": [1], "order": None}]
