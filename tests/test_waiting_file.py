"""A file of marks that waited on a tablet: what is in it, taking it in, and files that are none."""

from __future__ import annotations

import json
from typing import Any

import pytest
from centre_builder import Centre, tap
from hypothesis import given
from hypothesis import strategies as st
from test_line_mode import attempts, begun, item, line_of, pads_of

from course.actions.pad import take
from course.actions.waiting_file import read_waiting_file, take_waiting_file
from course.errors import RefusedError
from course.moments import new_id
from course.words import Mark

DONE = {"marks": [{"step": "co-hold", "mark": "done"}]}
HAND = {"marks": [{"step": "co-hand", "mark": "done"}]}


def file_of(c: Centre, *items: dict[str, Any], **more: Any) -> bytes:
    """A file as the pad saves it."""
    plain = {
        "form": "course waiting taps/1", "centre": c.ledger.centre_id, "tablet": "3F7AQ0ZK",
        "saved_at": "2026-10-22T16:00:00.000Z", "count": len(items), "items": list(items),
    }  # fmt: skip
    return json.dumps(plain | more).encode()


def test_the_account_says_whose_how_many_and_what_is_there(small_centre: Centre) -> None:
    c = small_centre
    pad = pads_of(c, line_of(c), c.amaru)[0]
    new = begun(pad, item(pad, "marks_given/1", DONE))
    opened = c.open(student=c.zoe)
    there, waits = tap(c, opened, "marks_given/1", DONE), tap(c, opened, "marks_given/1", HAND)
    take(c.ledger, [there])
    before = c.count()
    file = read_waiting_file(c.ledger, file_of(c, *new, there, waits))
    assert c.count() == before
    assert file.sentence == "3 taps of 2 attempts from tablet 3F7A: 2 not in the ledger yet."
    title = c.skill().title
    assert sorted(attempt.line for attempt in file.attempts) == sorted([
        f"Amaru Tendelle · {title}, a new attempt · 22 Oct 2026 15:10 · 1 tap: 1 new",
        f"{c.view().name(c.zoe)} · {title}, attempt 1 · 22 Oct 2026 15:10 · 2 taps: 1 new, 1 there",
    ])  # fmt: skip


def test_taking_it_in_saves_what_is_new_and_a_second_time_adds_nothing(small_centre: Centre) -> None:
    c = small_centre
    pad = pads_of(c, line_of(c), c.amaru)[0]
    content = file_of(
        c, *begun(pad, item(pad, "marks_given/1", DONE), item(pad, "attempt_closed/1", {"how": "completed"}))
    )
    answer = take_waiting_file(c.ledger, read_waiting_file(c.ledger, content))
    assert (answer.refused, len(answer.saved)) == ((), 4)
    (attempt,) = attempts(c)
    assert [(mark.step, mark.mark) for mark in attempt.sheets[0].marks] == [("co-hold", Mark.DONE)]
    before = c.count()
    again = read_waiting_file(c.ledger, content)
    assert again.sentence.endswith(": all of them are in the ledger already.")
    assert take_waiting_file(c.ledger, again).refused == ()
    assert c.count() == before


def test_the_tablet_that_comes_back_later_adds_nothing(small_centre: Centre) -> None:
    c = small_centre
    pad = pads_of(c, line_of(c), c.amaru)[0]
    items = begun(pad, item(pad, "marks_given/1", DONE))
    take_waiting_file(c.ledger, read_waiting_file(c.ledger, file_of(c, *reversed(items))))
    before = c.count()
    assert take(c.ledger, items).saved == tuple(one["id"] for one in items)
    assert c.count() == before


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "This is no file of waiting marks."),
        (b"\x89PNG\r\n\x1a\n", "This is no file of waiting marks."),
        (b"{}", "This is no file of waiting marks."),
        (b"[]", "This is no file of waiting marks."),
        (b'{"form": "something else/1", "items": []}', "This is no file of waiting marks."),
        (b'{"form": 1, "items": []}', "This is no file of waiting marks."),
        (b'{"form": "course waiting taps/1", "items": [{"id', "This file is damaged: it begins as a file"),
        (b'{"form": "course waiting taps/1", "items": 4}', "This file is damaged: its list of marks is not whole."),
        (b'{"form": "course waiting taps/1", "count": 2, "items": [{}]}', "its list of marks is not whole."),
        (b'{"form": "course waiting taps/1"}', "This file is damaged: its list of marks is not whole."),
        (b'{"form": "course waiting taps/2", "items": []}', "saved by a newer version of the program (form 2;"),
        (b"x" * (4 * 1024 * 1024 + 1), "larger than any that a tablet saves"),
    ],
)
def test_a_wrong_damaged_or_newer_file_gets_its_sentence(small_centre: Centre, content: bytes, told: str) -> None:
    c = small_centre
    before = c.count()
    with pytest.raises(RefusedError) as refused:
        read_waiting_file(c.ledger, content)
    assert told in refused.value.sentence
    assert "Nothing was taken in; the file and the tablet keep what they have." in refused.value.sentence
    assert c.count() == before


def test_a_file_of_another_centre_is_refused(small_centre: Centre) -> None:
    c = small_centre
    with pytest.raises(RefusedError, match="made at another centre"):
        read_waiting_file(c.ledger, file_of(c, centre=new_id()))


def test_what_cannot_be_read_in_it_is_counted_and_holds_up_no_other(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    good = tap(c, opened, "marks_given/1", DONE)
    file = read_waiting_file(c.ledger, file_of(c, good, good | {"kind": "person_added/1"}, {}, 7))  # type: ignore[arg-type]
    assert file.sentence.endswith("1 not in the ledger yet; 3 cannot be read and will be left.")
    assert take_waiting_file(c.ledger, file).saved == (good["id"],)


def test_marks_of_an_attempt_that_is_nowhere_are_told_and_refused(small_centre: Centre) -> None:
    c = small_centre
    stray = tap(c, c.open(), "marks_given/1", DONE) | {"attempt": new_id(), "student": new_id()}
    file = read_waiting_file(c.ledger, file_of(c, stray))
    assert file.attempts[0].line.startswith(
        "somebody this ledger does not know · an attempt that this ledger does not know"
    )
    ((_, told),) = take_waiting_file(c.ledger, file).refused
    assert told.startswith("There is no such attempt in this centre.")


@given(st.binary(max_size=200) | st.text().map(lambda text: ("course waiting taps/1" + text).encode()))
def test_any_bytes_get_a_sentence(content: bytes) -> None:
    """Whatever is handed over: a refusal in words, before the ledger is asked anything."""
    with pytest.raises(RefusedError):
        read_waiting_file(None, content)  # type: ignore[arg-type]
