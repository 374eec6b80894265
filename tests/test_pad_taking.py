"""Taps as a pad sends them: saved once, refused with a sentence, kept when they come late."""

from __future__ import annotations

from typing import Any

import pytest
from centre_builder import Centre, tap

from course.actions import amending
from course.actions import attempts as trying
from course.actions.attempts import Opened
from course.actions.pad import take
from course.errors import DamageError, StorageError
from course.moments import new_id
from course.storage.ledger import Ledger
from course.words import Mark

DONE = {"marks": [{"step": "co-hand", "mark": "done"}]}
CRITICAL = {"marks": [{"step": "co-out", "mark": "error", "errors": ["co-open-out"]}]}
COMPLETED = {"how": "completed"}
FIRST = {"marks": [{"step": "co-hold", "mark": "done"}]}


def saved(centre: Centre, *items: dict[str, Any]) -> None:
    """All of it is saved."""
    answer = take(centre.ledger, items)
    assert answer.refused == ()
    assert answer.saved == tuple(item["id"] for item in items)


def refusal(centre: Centre, item: dict[str, Any]) -> str:
    """The sentence for a tap that is not taken, after which nothing is changed."""
    before = centre.count()
    answer = take(centre.ledger, [item])
    assert answer.saved == ()
    assert centre.count() == before
    ((name, sentence),) = answer.refused
    assert name == item["id"]
    return sentence


def marks(centre: Centre, opened: Opened, sheet: str = "") -> dict[str, Mark]:
    """Step to mark, as live on a sheet."""
    found = next(s for s in centre.attempt(opened.attempt).sheets if s.id == (sheet or opened.sheet))
    return {line.step: line.mark for line in found.marks}


def test_every_kind_of_tap_is_saved(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open("dry-21", skill="chk-negative")
    step = next(step for step in c.skill("chk-negative").steps if step.limit)
    assert step.limit is not None
    first, second = (s.id for s in c.skill("chk-negative").steps[:2])
    mark = tap(c, opened, "marks_given/1", {"marks": [{"step": first, "mark": "done"}]})
    value = {"step": step.id, "quantity": step.limit.quantity, "unit": step.limit.unit, "value": "41"}
    saved(
        c,
        mark,
        tap(c, opened, "whole_attempt_clean/1"),
        tap(c, opened, "value_measured/1", value),
        tap(c, opened, "order_answered/1", {"first_done": second, "should_come_first": first, "seen_so": True}),
        tap(c, opened, "withdrawn/1", {"withdraws": mark["id"]}),
        tap(c, opened, "attempt_closed/1", {"how": "stopped", "stopped_by": "student"}),
    )
    attempt = c.attempt(opened.attempt)
    (sheet,) = attempt.sheets
    assert (sheet.marks, sheet.whole_clean is not None, sheet.values[0].value) == ((), True, "41")
    assert (sheet.orders[0].seen_so, attempt.ending is not None) == (True, True)


def test_the_same_taps_again_add_nothing(small_centre: Centre) -> None:
    """The answer was lost on the way; also the closing is sent again, and marks after it."""
    c = small_centre
    opened = c.open()
    items = [tap(c, opened, "marks_given/1", DONE), tap(c, opened, "attempt_closed/1", COMPLETED)]
    saved(c, *items)
    before = c.count()
    saved(c, *items)
    assert c.count() == before


def test_the_same_id_with_other_content_is_refused(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    item = tap(c, opened, "marks_given/1", DONE)
    saved(c, item)
    assert "is in the ledger already with other content" in refusal(c, item | {"body": CRITICAL})


def test_a_refused_tap_does_not_hold_back_those_after_it(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    bad, good = tap(c, opened, "marks_given/1", {"marks": []}), tap(c, opened, "marks_given/1", DONE)
    answer = take(c.ledger, [bad, good])
    assert answer.saved == (good["id"],)
    assert answer.refused == ((bad["id"], "marks: is empty. Nothing was changed."),)


@pytest.mark.parametrize(
    ("kind", "body", "told"),
    [
        ("marks_given/1", {"marks": [{"step": "co-gone", "mark": "done"}]}, "It was NOT saved; reload the page."),
        (
            "marks_given/1",
            {"marks": [{"step": "co-out", "mark": "error", "errors": ["x"]}]},
            "Say in a few words what went wrong in: Only then take it out of the mouth. The mark was NOT saved.",
        ),
        (
            "marks_given/1",
            {"marks": [{"step": "co-out", "mark": "error", "errors": ["x"]}], "notes": {"co-out": "  "}},
            "“What went wrong” is empty.",
        ),
        ("marks_given/1", {"marks": [{"step": "co-out", "mark": "error"}]}, "an error mark names its errors"),
        ("value_measured/1", {"step": "co-out", "value": "4"}, "asks for no value in step 'co-out'"),
        (
            "order_answered/1",
            {"first_done": "co-gone", "should_come_first": "co-hand", "seen_so": True},
            "has no step 'co-gone'",
        ),
        (
            "order_answered/1",
            {"first_done": "co-hand", "should_come_first": "co-hand", "seen_so": True},
            "A step cannot come before itself. The answer was NOT saved.",
        ),
        ("attempt_closed/1", {"how": "abandoned"}, "An attempt ends completed, stopped or void. It was NOT saved."),
        ("attempt_closed/1", {"how": "stopped"}, "a stopped attempt says who stopped it"),
        ("attempt_closed/1", {"how": "void"}, "A reason is needed, in a few words."),
        ("withdrawn/1", {}, "What this would take back is not on this sheet. Nothing was changed."),
        ("whole_attempt_clean/1", {"colour": "red"}, "colour: is not known here."),
        ("marks_given/1", DONE | {"sealed": {"of": new_id(), "data": ""}}, "is not sealed yet"),
    ],
)
def test_a_tap_that_does_not_fit_is_refused_with_its_sentence(
    small_centre: Centre, kind: str, body: dict[str, Any], told: str
) -> None:
    assert told in refusal(small_centre, tap(small_centre, small_centre.open(), kind, body))


def test_an_error_x_is_saved_with_its_text_sealed(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    body = {"marks": [{"step": "co-out", "mark": "error", "errors": ["x"]}], "notes": {"co-out": "it slipped"}}
    item = tap(c, opened, "marks_given/1", body)
    saved(c, item)
    stored = c.ledger.event(item["id"])
    assert stored is not None
    assert "slipped" not in stored.body
    assert c.ledger.private(c.attempt(opened.attempt))["by_event"][item["id"]] == {"notes": {"co-out": "it slipped"}}


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"attempt": new_id()}, "There is no such attempt in this centre."),
        ({"sheet": new_id()}, "This attempt has no such sheet. The tap was NOT saved; reload the page."),
        ({"student": new_id()}, "This tap was made for another student than the attempt belongs to."),
        ({"kind": "person_added/1"}, "This tap cannot be read: kind: is none of"),
        ({"tapped_at": "yesterday"}, "This tap cannot be read: tapped_at:"),
        ({"colour": 1}, "This tap cannot be read: colour: is not known here."),
        ({"tapped_at": "9999-12-31T23:59:59Z", "clock_offset_ms": 10**9}, "clock is too far off to be believed."),
        ({"tapped_at": "0001-01-01T00:00:00Z", "clock_offset_ms": -(10**9)}, "clock is too far off to be believed."),
    ],
)
def test_a_tap_for_something_else_is_refused(small_centre: Centre, change: dict[str, Any], told: str) -> None:
    item = tap(small_centre, small_centre.open(), "marks_given/1", DONE) | change
    assert told in refusal(small_centre, item)


def test_a_value_in_another_unit_is_not_taken_for_one_in_the_rubric_s(small_centre: Centre) -> None:
    c = small_centre
    step = next(step for step in c.skill("chk-negative").steps if step.limit)
    opened = c.open("dry-21", skill="chk-negative")
    told = refusal(c, tap(c, opened, "value_measured/1", {"step": step.id, "unit": "min", "value": "1"}))
    assert told == "This step is measured in s, not in min. The value was NOT saved."


def test_the_moment_of_a_tap_is_put_right_by_how_far_the_tablet_s_clock_was_off(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    saved(c, tap(c, opened, "marks_given/1", DONE, clock_offset_ms=-90_000))
    (mark,) = c.attempt(opened.attempt).sheets[0].marks
    assert mark.utc == "2026-10-22T15:08:30.000000Z"


def test_a_tap_made_before_the_end_is_kept_when_it_comes_late_and_one_made_after_it_is_not(
    small_centre: Centre,
) -> None:
    c = small_centre
    opened = c.open()
    saved(c, tap(c, opened, "marks_given/1", FIRST))
    saved(c, tap(c, opened, "attempt_closed/1", COMPLETED))
    saved(c, tap(c, opened, "marks_given/1", DONE, tapped_at="2026-10-22T15:09:59.000Z"))
    assert marks(c, opened) == {"co-hand": Mark.DONE, "co-hold": Mark.DONE}
    late = tap(c, opened, "marks_given/1", CRITICAL, tapped_at="2026-10-22T15:10:01.000Z")
    assert refusal(c, late) == (
        "This attempt is closed. The tap was NOT saved; amend the attempt on the Course page, with a reason."
    )
    again = tap(c, opened, "attempt_closed/1", COMPLETED)
    assert refusal(c, again) == "This attempt was closed already. Nothing was changed."


def test_the_other_observer_finishes_a_sheet_though_the_first_has_closed(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    other = trying.start_sheet(c.ledger, c.second, opened.attempt, c.attempt(opened.attempt).observed)
    saved(c, tap(c, opened, "marks_given/1", FIRST))
    saved(c, tap(c, opened, "attempt_closed/1", COMPLETED))
    saved(c, tap(c, opened, "marks_given/1", CRITICAL, sheet=other, tapped_at="2026-10-22T15:10:30.000Z"))
    assert marks(c, opened, other) == {"co-out": Mark.ERROR}


def test_undo_reaches_only_one_s_own_sheet(small_centre: Centre) -> None:
    c = small_centre
    opened, elsewhere = c.open(), c.open(student=c.zoe)
    own, foreign = tap(c, opened, "marks_given/1", DONE), tap(c, elsewhere, "marks_given/1", DONE)
    saved(c, own, foreign)
    other = trying.start_sheet(c.ledger, c.second, opened.attempt, c.attempt(opened.attempt).observed)
    for item in (
        tap(c, opened, "withdrawn/1", {"withdraws": foreign["id"]}),
        tap(c, opened, "withdrawn/1", {"withdraws": own["id"]}, sheet=other),
        tap(c, opened, "withdrawn/1", {"withdraws": next(c.ledger.events(opened.attempt)).id}),
    ):
        assert refusal(c, item) == "What this would take back is not on this sheet. Nothing was changed."
    undo = tap(c, opened, "withdrawn/1", {"withdraws": own["id"]})
    saved(c, undo)
    assert marks(c, opened) == {}
    saved(c, undo)


def test_a_void_over_a_critical_error_asks_for_a_second_instructor(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    saved(c, tap(c, opened, "marks_given/1", CRITICAL))
    void = {"how": "void", "reason": "a swimmer came between"}
    for second in ({}, {"second": c.lead}, {"second": c.assistant}):
        told = refusal(c, tap(c, opened, "attempt_closed/1", void | second))
        assert told.startswith("A critical error was marked in this attempt: voiding it needs the name of a second")
    saved(c, tap(c, opened, "attempt_closed/1", void | {"second": c.second}))
    ending = c.attempt(opened.attempt).ending
    assert ending is not None
    assert (ending.closed_by, ending.second) == (c.lead, c.second)


def test_a_value_outside_a_critical_limit_is_a_critical_error_for_a_void_too(small_centre: Centre) -> None:
    """41 of 60 seconds, where the rubric's limit names a critical error, whatever was ticked."""
    c = small_centre
    found = next(
        (skill, step)
        for skill in c.view().skills()
        for step in skill.steps
        if "dry" in skill.setting and skill.needs.met_by(frozenset()) and step.limit and step.limit.at_least
        and (error := step.error(step.limit.error or "")) and error.critical
    )  # fmt: skip
    skill, step = found
    opened = c.open("dry-21", skill=skill.id)
    saved(c, tap(c, opened, "value_measured/1", {"step": step.id, "value": "0"}))
    told = refusal(c, tap(c, opened, "attempt_closed/1", {"how": "void", "reason": "a swimmer"}))
    assert told.startswith("A critical error was marked in this attempt")


def test_a_practice_sheet_does_not_end_what_an_instructor_marks(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    practice = trying.start_sheet(c.ledger, c.candidate, opened.attempt, c.attempt(opened.attempt).observed)
    told = refusal(c, tap(c, opened, "attempt_closed/1", COMPLETED, sheet=practice))
    assert told == "An instructor marks this attempt too, and ends it. Nothing was changed."
    alone = c.open(by=c.candidate)
    saved(c, tap(c, alone, "marks_given/1", FIRST))
    saved(c, tap(c, alone, "attempt_closed/1", COMPLETED))


def test_taps_after_the_attempt_moved_to_another_student_are_refused(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    item = tap(c, opened, "marks_given/1", DONE)
    (event, *_) = c.ledger.events(opened.attempt)
    amending.correct(c.ledger, c.lead, event.id, "initials alike", change={"student": c.zoe})
    assert refusal(c, item).startswith("This tap was made for another student than the attempt belongs to.")


@pytest.mark.parametrize("error", [StorageError("NOT saved: the disk is full."), DamageError("NOT saved: damaged.")])
def test_a_storage_error_passes_through_so_that_the_pad_keeps_its_taps(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch, error: StorageError
) -> None:
    c = small_centre
    item = tap(c, c.open(), "marks_given/1", DONE)

    def full(*_: object) -> None:
        raise error

    monkeypatch.setattr(Ledger, "append", full)
    with pytest.raises(StorageError, match="NOT saved"):
        take(c.ledger, [item])


def test_an_attempt_with_nothing_marked_is_not_completed(small_centre: Centre) -> None:
    """A sheet without a single stroke would else read as clean where nothing critical can happen."""
    c = small_centre
    opened = c.open()
    told = refusal(c, tap(c, opened, "attempt_closed/1", COMPLETED))
    assert told.startswith("Nothing is marked in this attempt.")
    saved(c, tap(c, opened, "attempt_closed/1", {"how": "stopped", "stopped_by": "student"}))
