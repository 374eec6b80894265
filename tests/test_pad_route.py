"""The route that takes taps: what it refuses unread, what it hands on, and what it answers for each id."""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any

import pytest
from asgi_call import Reply, call
from hypothesis import given
from hypothesis import strategies as st
from pad_browser import ATTEMPT, OBSERVER, OTHER_STUDENT, SHEET, STUDENT, Answer, Store, take
from starlette.applications import Starlette

from course.errors import BusyError, RefusedError, StorageError
from course.moments import new_id
from course.screens import serve, theme

APP = Starlette(routes=list(serve.routes()))
PAD = {"content-type": "application/json", "x-course": "pad", "origin": "http://localhost:8571"}


def item(**changes: Any) -> dict[str, Any]:
    line = {"step": "say", "mark": "done", "errors": [], "prompted": False, "fixed_self": False, "replaces": []}
    plain = {
        "id": new_id(), "attempt": ATTEMPT, "student": STUDENT, "sheet": SHEET, "kind": "marks_given/1",
        "body": {"marks": [line]},
        "tapped_at": "2026-05-04T10:00:00.123Z", "clock_offset_ms": -40,
    }  # fmt: skip
    return {**plain, **changes}


def post(items: Any, **headers: str) -> Reply:
    return call(APP, "POST", "/course/marks", headers={**PAD, **headers}, body=json.dumps({"items": items}).encode())


@pytest.fixture
def store(tmp_path: Path) -> Store:
    made = Store(tmp_path)
    serve.start(made, take)
    return made


def test_taps_are_stored_in_order_and_named_saved(store):
    items = [item() for _ in range(5)]
    reply = post(items)
    assert reply.content["saved"] == [one["id"] for one in items]
    assert reply.content["refused"] == []
    assert [one["id"] for one in store.items()] == [one["id"] for one in items]


def test_the_same_tap_sent_three_times_is_stored_once(store):
    one = item()
    answers = [post([one]).content["saved"] for _ in range(3)]
    assert answers == [[one["id"]]] * 3
    assert len(store.items()) == 1


def test_a_tap_never_lands_on_another_student(store):
    """The item says who was on the screen; the attempt belongs to somebody else: refused with its sentence."""
    good, wrong = item(), item(student=OTHER_STUDENT)
    reply = post([good, wrong]).content
    assert reply["saved"] == [good["id"]]
    assert reply["refused"] == [{"id": wrong["id"], "sentence": reply["refused"][0]["sentence"]}]
    assert "another student" in reply["refused"][0]["sentence"]
    assert [one["student"] for one in store.items()] == [STUDENT]


@pytest.mark.parametrize(
    "body",
    [
        ("whole_attempt_clean/1", {}),
        ("value_measured/1", {"step": "hold", "quantity": "time", "unit": "s", "value": "41.2", "replaces": []}),
        ("order_answered/1", {"first_done": "read", "should_come_first": "hold", "seen_so": True, "replaces": []}),
        ("withdrawn/1", {"withdraws": STUDENT}),
        ("attempt_closed/1", {"how": "stopped", "stopped_by": "student"}),
        ("attempt_closed/1", {"how": "void", "reason": "Session called off for lightning.", "second": OBSERVER}),
    ],
)
def test_every_kind_of_tap_is_taken(store, body):
    kind, content = body
    one = item(kind=kind, body=content)
    assert post([one]).content["saved"] == [one["id"]]
    assert store.items() == [one]


@pytest.mark.parametrize(
    "changes",
    [
        {"kind": "person_erased/1"}, {"kind": "marks_given/2"}, {"attempt": "a"}, {"student": None}, {"sheet": 7},
        {"extra": 1}, {"tapped_at": "yesterday"}, {"tapped_at": "2026-05-04T10:00:00Z"}, {"clock_offset_ms": "1"},
        {"clock_offset_ms": 1.5},
        {"body": {}}, {"body": {"marks": []}}, {"body": {"marks": [{"step": "say", "mark": "good"}]}},
        {"body": {"marks": [{"step": "say", "mark": "error", "errors": []}]}},
        {"body": {"marks": [{"step": "say", "mark": "done", "prompted": True}]}},
        {"body": {"marks": [{"step": "Say!", "mark": "done"}]}},
        {"body": {"marks": [{"step": "say", "mark": "done"}], "attempt": ATTEMPT}},
        {"kind": "value_measured/1", "body": {"step": "hold", "quantity": "time", "unit": "s", "value": "4e1"}},
        {"kind": "value_measured/1", "body": {"step": "hold", "quantity": "time", "unit": "s", "value": 41}},
        {"kind": "attempt_closed/1", "body": {"how": "passed"}},
        {"kind": "whole_attempt_clean/1", "body": {"yes": True}},
        {"body": {"marks": [{"step": "say", "mark": "error", "errors": ["x"]}], "notes": {"say": "turned\u202eround"}}},
    ],
)  # fmt: skip
def test_a_tap_that_cannot_be_read_is_refused_by_id_and_holds_up_no_other(store, changes):
    bad, good = item(**changes), item()
    reply = post([bad, good]).content
    assert reply["saved"] == [good["id"]]
    assert [one["id"] for one in reply["refused"]] == [bad["id"]]
    assert reply["refused"][0]["sentence"].endswith("It was not saved.")
    assert store.items() == [good]


def test_two_hundred_taps_are_taken_and_one_more_is_not(store):
    assert len(post([item() for _ in range(200)]).content["saved"]) == 200
    reply = post([item() for _ in range(201)])
    assert (reply.status, len(store.items())) == (400, 200)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b'{"items": 1}',
        b'{"items": [1]}',
        b'{"items": [{}]}',
        b'{"items": [], "x": 1}',
        b"[" * 100_000,
    ],
)
def test_what_is_no_list_of_taps_is_refused_whole(store, body):
    reply = call(APP, "POST", "/course/marks", headers=PAD, body=body)
    assert (reply.status, store.items()) == (400, [])
    assert "Nothing of it was saved" in reply.content["sentence"]


@given(st.binary(max_size=300))
def test_any_bytes_get_a_sentence_and_never_a_crash(body):
    serve.start(None, lambda *_: Answer((), ()))
    assert call(APP, "POST", "/course/marks", headers=PAD, body=body).status in (200, 400)


def test_a_list_too_large_is_refused_before_it_is_read(store):
    """By its stated length, and where none is stated as soon as the limit is passed: not every part is asked for."""
    reply = call(APP, "POST", "/course/marks", headers=PAD, body=b"x" * (256 * 1024 + 1))
    assert reply.status == 413
    left = [b"x" * 65536] * 1000
    reply = call(APP, "POST", "/course/marks", headers=PAD, body=left)
    assert reply.status == 413
    assert store.items() == []


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"x-course": ""}, 403), ({"x-course": "other"}, 403), ({"origin": "http://evil.example"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": "http://localhost:9999"}, 403), ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"content-type": "text/plain"}, 415), ({"content-type": "application/x-www-form-urlencoded"}, 415),
    ],
)  # fmt: skip
def test_a_tap_from_another_page_is_refused(store, headers, status):
    assert post([item()], **headers).status == status
    assert store.items() == []


def test_a_get_reads_nothing_and_writes_nothing(store):
    assert call(APP, "GET", "/course/marks", headers=PAD).status == 405


@pytest.mark.parametrize(
    ("error", "status", "start"),
    [
        (StorageError("The disk is full."), 503, "NOT saved: The disk is full."),
        (BusyError("Another program holds the folder."), 503, "NOT saved: "),
        (RefusedError("This attempt is closed."), 409, "This attempt is closed."),
        (RuntimeError("secret detail"), 500, "NOT saved: "),
    ],
)
def test_an_error_while_taking_says_in_words_that_nothing_is_saved(error, status, start):
    def failing(*_: Any) -> Answer:
        raise error

    serve.start(None, failing)
    reply = post([item()])
    assert reply.status == status
    assert reply.content["sentence"].startswith(start)
    assert "secret" not in reply.text


def test_taps_are_taken_off_the_event_loop():
    seen: list[Any] = []

    def watching(ledger: Any, items: list[dict[str, Any]]) -> Answer:
        seen.append((ledger, threading.current_thread() is threading.main_thread()))
        return Answer(tuple(one["id"] for one in items), ())

    serve.start("the ledger", watching)
    post([item()])
    assert seen == [("the ledger", False)]
    assert serve.current_ledger() == "the ledger"


def test_the_pulse_says_time_boot_and_whether_it_can_save():
    serve.start(None, take, writable=lambda: False)
    said = call(APP, "GET", "/course/pulse").content
    assert said["writable"] is False
    assert said["boot"] == call(APP, "GET", "/course/pulse").content["boot"]
    assert said["server_utc"].endswith("Z")


@pytest.mark.parametrize("name", theme.FONT_FILES.values())
def test_our_fonts_come_from_this_machine(name):
    """The first four bytes of a TrueType font are 00 01 00 00 (OpenType specification, table directory)."""
    reply = call(APP, "GET", f"/course/fonts/{name}")
    assert (reply.status, reply.body[:4]) == (200, b"\x00\x01\x00\x00")


@pytest.mark.parametrize("name", ["LICENSE", "..%2f..%2fetc%2fpasswd", "FiraSans-Thin.ttf", "x"])
def test_no_other_file_is_served_as_a_font(name):
    assert call(APP, "GET", f"/course/fonts/{name}").status == 404


def test_a_busy_port_is_an_error_for_people():
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(BusyError, match="cannot be used"):
            serve.refuse_busy_port("127.0.0.1", taken.getsockname()[1])


def test_nothing_is_sent_anywhere_and_sessions_outlast_a_sleeping_tablet():
    config = serve.streamlit_config("127.0.0.1", 8571)
    assert config["browser.gatherUsageStats"] is False
    assert config["server.disconnectedSessionTTL"] >= 3600
    assert config["server.fileWatcherType"] == "none"
    assert not [value for value in config.values() if isinstance(value, str) and "//" in value]


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, definition of contrast ratio)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_of_black_on_white_is_21():
    """WCAG 2.2: contrast ratios range from 1 to 21."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("ground", [theme.PAPER, theme.SHADE])
@pytest.mark.parametrize("text", [theme.INK, theme.GREY, theme.ACCENT, theme.CRITICAL])
def test_text_keeps_seven_to_one_in_glare(text, ground):
    """WCAG 2.2, success criterion 1.4.6 (enhanced): 7:1."""
    assert contrast(text, ground) >= 7


def test_borders_can_be_told_from_paper():
    """WCAG 2.2, success criterion 1.4.11: 3:1 for what makes a control known."""
    assert contrast(theme.RULE, theme.PAPER) >= 3


def test_no_text_is_smaller_than_fourteen_and_targets_are_48():
    assert min(theme.SMALL, theme.BODY, theme.LEAD, theme.TITLE) == 14
    assert (theme.TOUCH, theme.GAP) == (48, 8)
