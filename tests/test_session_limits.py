"""Closed and frozen sessions, students who left, steps that a unit lacks, tablets with a wrong clock."""

from __future__ import annotations

from typing import Any

import pytest
from centre_builder import Centre, seen_at, tap
from test_line_mode import begun, item, line_of, pads_of

from course.actions import courses as planning
from course.actions.drafting import draft
from course.actions.pad import take
from course.answers import pad as pads
from course.answers.line import line_pads
from course.moments import new_id
from course.record.events import SessionClosed, SessionFrozen, SessionReopened, SessionResumed
from course.words import SpanRole

DONE = {"marks": [{"step": "co-hold", "mark": "done"}]}
BEFORE, AFTER = "2026-10-22T15:29:59.000Z", "2026-10-22T15:30:01.000Z"
"""Beside 15:30 on the clock of the Azores, which is UTC in October."""


def close(c: Centre, session: str = "pool-22") -> str:
    event = draft(c.lead, SessionClosed(session=c.sessions[session], observed=seen_at(22, 15, 30)))
    c.ledger.append([event])
    return event.id


def freeze(c: Centre) -> str:
    incident = new_id()
    body = SessionFrozen(session=c.sessions["pool-22"], incident=incident, observed=seen_at(22, 15, 30))
    c.ledger.append([draft(c.lead, body)])
    return incident


def told(c: Centre, *items: dict[str, Any]) -> str:
    """The one sentence for all that is not taken."""
    refused = take(c.ledger, items).refused
    assert len(refused) == len(items)
    return refused[0][1]


@pytest.fixture(autouse=True)
def the_azores_are_an_hour_behind_in_october_and_these_times_are_utc() -> None:
    """Summer time ends on 25 Oct 2026 (IANA time zone database): until then local time is UTC+00:00."""
    assert seen_at(22, 15, 30).utc == "2026-10-22T15:30:00.000000Z"


def test_what_was_tapped_before_a_session_was_closed_is_kept_and_later_taps_are_refused(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    close(c)
    assert take(c.ledger, [tap(c, opened, "marks_given/1", DONE, tapped_at=BEFORE)]).refused == ()
    late = tap(c, opened, "marks_given/1", DONE, tapped_at=AFTER)
    assert told(c, late) == (
        "Pool Of The 22 was closed at 15:30, and this was tapped at 15:30. It was NOT saved. Open the session again, "
        "with a reason, and send it again; or amend the attempt on the Course page."
    )
    c.ledger.append(
        [draft(c.lead, SessionReopened(session=c.sessions["pool-22"], observed=seen_at(22, 16), why="late"))]
    )
    assert take(c.ledger, [late]).refused == ()


def test_an_attempt_is_not_begun_in_a_closed_session_unless_it_was_before_the_closing(small_centre: Centre) -> None:
    c = small_centre
    pad = pads_of(c, line_of(c), c.amaru)[0]
    close(c)
    late = [one | {"tapped_at": AFTER, "id": new_id()} for one in begun(pad, item(pad, "marks_given/1", DONE))]
    assert "was closed at 15:30" in told(c, *late)
    assert (
        take(c.ledger, [one | {"tapped_at": BEFORE} for one in begun(pad, item(pad, "marks_given/1", DONE))]).refused
        == ()
    )


def test_a_frozen_session_takes_no_marks_but_lets_an_attempt_be_stopped_or_void(small_centre: Centre) -> None:
    c = small_centre
    opened, other, third = c.open(), c.open(student=c.zoe), c.open()
    incident = freeze(c)
    late = tap(c, opened, "marks_given/1", DONE, tapped_at=AFTER)
    assert "was frozen at 15:30" in told(c, late)
    assert "frozen" in told(c, tap(c, third, "attempt_closed/1", {"how": "completed"}, tapped_at=AFTER))
    stop = {"how": "stopped", "stopped_by": "instructor"}
    void = {"how": "void", "reason": "a real emergency"}
    ends = [
        tap(c, opened, "attempt_closed/1", stop, tapped_at=AFTER),
        tap(c, other, "attempt_closed/1", void, tapped_at=AFTER),
    ]
    assert take(c.ledger, ends).refused == ()
    body = SessionResumed(session=c.sessions["pool-22"], incident=incident, observed=seen_at(22, 16), why="all well")
    c.ledger.append([draft(c.lead, body)])
    assert take(c.ledger, [tap(c, third, "marks_given/1", DONE, tapped_at=AFTER)]).refused == ()


def test_the_pad_says_that_a_session_takes_no_more(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    before = pads.state_now(c.ledger, opened.attempt, opened.sheet, c.lead)
    close(c)
    after = pads.state_now(c.ledger, opened.attempt, opened.sheet, c.lead)
    assert before is not None
    assert after is not None
    assert (before["shut"], after["frozen"]) == ("", False)
    assert after["shut"].startswith("Pool Of The 22 was closed at 15:30. What was tapped before then is kept;")
    assert after["version"] != before["version"]


def test_a_student_who_left_is_told_and_not_refused(small_centre: Centre) -> None:
    c = small_centre
    session = c.sessions["pool-22"]
    times = {"start": seen_at(22, 13, 30), "end": seen_at(22, 15, 20)}
    c.ledger.append([planning.span(c.lead, session=session, person=c.amaru, role=SpanRole.STUDENT, **times)])
    found = {pad["turn"]: pad["left"] for pad in line_pads(c.ledger, line_of(c))["pads"]}
    assert found == {
        c.amaru: "signed out at 15:20; marks are kept all the same",
        c.zoe: "not signed in to this session; marks are kept all the same",
    }
    pad = pads_of(c, line_of(c), c.amaru)[0]
    late = [one | {"tapped_at": AFTER} for one in begun(pad, item(pad, "marks_given/1", DONE))]
    assert take(c.ledger, late).refused == ()


def test_a_mark_for_a_step_that_the_unit_lacks_is_refused_by_its_number(small_centre: Centre) -> None:
    c = small_centre
    unit = c.view().adopted.standards.unit_types["type-a"]
    skill, step = next(
        (skill, step)
        for skill in c.view().skills()
        for step in skill.steps
        if "dry" in skill.setting and skill.needs.met_by(unit.feature_set)
        and step.only_if and not step.only_if.met_by(unit.feature_set)
    )  # fmt: skip
    opened = c.open("dry-21", skill=skill.id)
    number = [s.id for s in skill.steps].index(step.id) + 1
    body = {"marks": [{"step": step.id, "mark": "done"}]}
    assert told(c, tap(c, opened, "marks_given/1", body)).startswith(
        f"Step {number} of {skill.title} is not for this student's unit. It was NOT saved;"
    )


@pytest.mark.parametrize("minutes", [-30, 30, 0])
def test_a_tablet_half_an_hour_off_has_its_times_put_right_and_the_offset_kept_beside(
    small_centre: Centre, minutes: int
) -> None:
    """The moment is the server's; by how much the tablet was off stands in the event."""
    c = small_centre
    opened = c.open()
    wrong = f"2026-10-22T{15 + (10 - minutes) // 60:02}:{(10 - minutes) % 60:02}:00.000Z"
    one = tap(c, opened, "marks_given/1", DONE, tapped_at=wrong, clock_offset_ms=minutes * 60_000)
    assert take(c.ledger, [one]).refused == ()
    assert c.attempt(opened.attempt).sheets[0].marks[0].utc == "2026-10-22T15:10:00.000000Z"
    stored = c.ledger.event(one["id"])
    assert stored is not None
    assert f'"clock_offset_ms":{minutes * 60_000}' in stored.body.replace(" ", "")


def test_a_wrong_clock_does_not_carry_a_tap_over_the_closing(small_centre: Centre) -> None:
    """Tapped at 15:31 by a tablet that shows 15:01: after the closing, whatever the tablet shows."""
    c = small_centre
    opened = c.open()
    close(c)
    late = tap(c, opened, "marks_given/1", DONE, tapped_at="2026-10-22T15:01:00.000Z", clock_offset_ms=30 * 60_000)
    assert "this was tapped at 15:31" in told(c, late)
