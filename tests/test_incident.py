"""When it goes wrong: what one act freezes, what becomes of attempts under way, and who may let it go on."""

from __future__ import annotations

import json

import pytest
from centre_builder import CRITICAL_ERROR, POOL_SKILL, Centre
from day_builder import POOL_DAY, Day

from course.access import Act, may
from course.actions import incident
from course.actions.day import close_session, reopen_session
from course.actions.pad import take
from course.answers.day_state import SessionState
from course.answers.missing import missing
from course.assessment.attempts import judge
from course.errors import NotFoundError, RefusedError
from course.words import Closing, Outcome, Role, SpanRole, StandingState


@pytest.fixture
def pool(small_centre: Centre) -> Day:
    """The pool day; nothing has happened yet."""
    return Day(small_centre)


def test_one_append_holds_who_was_in_their_units_and_the_attempts_under_way(pool: Day) -> None:
    centre = pool.centre
    pool.comes(centre.amaru)
    pool.comes(centre.lead, SpanRole.TEACHING)
    left = pool.comes(centre.zoe)
    pool.leaves(left)
    opened = centre.open()
    before = centre.count()
    pool.freeze(minute=59)
    (held,) = pool.session.frozen_by
    assert held.people == (centre.amaru, centre.lead, centre.zoe)  # Zoë left at 16:00, after the freezing
    assert held.units == (centre.unit_a,)
    assert held.attempts == (opened.attempt,)
    assert [event.kind for event in list(centre.ledger.events())[before:]] == ["session_frozen/1", "attempt_closed/1"]
    assert pool.state.state is SessionState.FROZEN
    assert "frozen since 15:59" in pool.state.sentence


def test_somebody_who_had_left_was_not_in(pool: Day) -> None:
    pool.comes(pool.centre.zoe, end=pool.at(15, 6))
    pool.freeze(minute=6)
    assert pool.session.frozen_by[0].people == ()


def test_an_attempt_under_way_becomes_void_and_counts_neither_for_nor_against(pool: Day) -> None:
    """Case 2 of the job: an instructor stops a drill for a real emergency."""
    opened = pool.centre.open()
    pool.mark(opened)
    pool.freeze()
    attempt = pool.centre.attempt(opened.attempt)
    assert attempt.ending is not None
    assert (attempt.ending.how, attempt.ending.closed_by) == (Closing.VOID, pool.centre.assistant)
    assert len(attempt.sheets[0].marks) == 1  # kept, not counted
    seen = pool.centre.view()
    standing = seen.standing(pool.centre.amaru, pool.centre.skill(), seen.last_day)
    assert (standing.state, standing.budget_used) == (StandingState.NOT_STARTED, 0)
    reason = pool.centre.ledger.private(attempt)["by_event"][attempt.ending.event]["reason"]
    assert reason == incident.FROZEN_REASON


def test_freezing_does_not_wipe_out_a_critical_error(pool: Day) -> None:
    """counting.md, 12: a void over a critical error needs a second instructor; nobody is asked for one now."""
    opened = pool.centre.open()
    pool.mark(opened, critical=True)
    pool.freeze()
    attempt = pool.centre.attempt(opened.attempt)
    assert attempt.ending is not None
    assert (attempt.ending.how, attempt.ending.stopped_by) == (Closing.STOPPED, "instructor")
    seen = pool.centre.view()
    (tried,) = seen.by_student_and_skill[pool.centre.amaru, POOL_SKILL]
    judged = judge(tried, pool.centre.skill(), seen.unit_type_of(pool.centre.amaru, POOL_DAY).feature_set)
    assert judged.outcome is Outcome.CRITICAL
    assert judged.breaks


def test_a_critical_error_on_a_practice_sheet_alone_leaves_the_attempt_void(pool: Day) -> None:
    opened = pool.centre.open(by=pool.centre.candidate)
    pool.mark(opened, critical=True)
    pool.freeze()
    ending = pool.centre.attempt(opened.attempt).ending
    assert ending is not None
    assert ending.how is Closing.VOID


def test_an_attempt_marked_by_a_rubric_that_is_not_here_is_stopped_not_void(
    pool: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody can then know whether something critical was marked."""

    def not_here(*_: object) -> None:
        raise NotFoundError("not here")

    opened = pool.centre.open()
    monkeypatch.setattr(incident, "skill_as_marked", not_here)
    pool.freeze()
    ending = pool.centre.attempt(opened.attempt).ending
    assert ending is not None
    assert ending.how is Closing.STOPPED


def test_attempts_of_other_sessions_and_closed_ones_are_left_alone(pool: Day) -> None:
    closed = pool.centre.enter()
    other = pool.centre.open("pool-23", student=pool.centre.zoe)
    ending = pool.centre.attempt(closed).ending
    pool.freeze()
    assert pool.centre.attempt(closed).ending == ending
    assert pool.centre.attempt(other.attempt).ending is None
    assert pool.session.frozen_by[0].attempts == ()


@pytest.mark.parametrize("who", ["lead", "second", "assistant", "candidate"])
def test_anybody_on_the_staff_may_freeze_without_a_word(pool: Day, who: str) -> None:
    pool.freeze(by=getattr(pool.centre, who))
    assert pool.state.state is SessionState.FROZEN


def test_technicians_may_freeze_and_students_may_not(pool: Day) -> None:
    assert may([Role.TECHNICIAN], Act.FREEZE)
    with pytest.raises(RefusedError, match="may freeze a session"):
        pool.freeze(by=pool.centre.amaru)
    assert pool.session.incidents == ()


def test_a_second_freezing_changes_nothing_and_its_note_is_kept(pool: Day) -> None:
    first = pool.freeze()
    assert pool.freeze(by=pool.centre.lead, note="I was at the other end.", minute=7) == first
    assert len(pool.frozen_events()) == 1
    (held,) = pool.session.frozen_by
    assert [line.written_by for line in held.lines] == [pool.centre.lead]


def test_notes_are_sealed_and_found_with_their_event(pool: Day) -> None:
    which = pool.freeze(note="Water in the loop at the ladder.")
    incident.add_note(pool.centre.ledger, pool.centre.second, pool.id, which, "I saw bubbles.", pool.at(15, 9))
    (held,) = pool.session.frozen_by
    by_event = pool.centre.ledger.private(pool.session)["by_event"]
    assert by_event[held.event]["note"] == "Water in the loop at the ladder."
    assert by_event[held.lines[0].event]["note"] == "I saw bubbles."
    plain = [event.body for event in pool.centre.ledger.events(pool.id)]
    assert not any("bubbles" in body or "ladder" in body for body in plain)


def test_an_empty_note_and_one_to_no_incident_are_refused(pool: Day) -> None:
    which = pool.freeze()
    with pytest.raises(RefusedError, match="Write what you saw"):
        incident.add_note(pool.centre.ledger, pool.centre.lead, pool.id, which, " ", pool.at())
    with pytest.raises(NotFoundError, match="no such incident"):
        incident.add_note(pool.centre.ledger, pool.centre.lead, pool.id, pool.id, "Seen.", pool.at())


def test_only_a_lead_or_an_instructor_lets_it_go_on_and_says_why(pool: Day) -> None:
    which = pool.freeze()
    with pytest.raises(RefusedError, match="lead instructor or instructor"):
        incident.resume(pool.centre.ledger, pool.centre.assistant, pool.id, which, "Fine.", pool.at())
    with pytest.raises(RefusedError, match="A reason is needed"):
        pool.resume(which, " ")
    pool.resume(which)
    assert pool.state.state is SessionState.OPEN
    with pytest.raises(RefusedError, match="goes on already"):
        pool.resume(which)


def test_attempts_stay_ended_when_the_session_goes_on(pool: Day) -> None:
    opened = pool.centre.open()
    pool.resume(pool.freeze())
    ending = pool.centre.attempt(opened.attempt).ending
    assert ending is not None
    assert ending.how is Closing.VOID


def test_a_frozen_session_is_closed_for_good_once_something_is_written_of_it(pool: Day) -> None:
    which = pool.freeze()
    with pytest.raises(RefusedError, match="Write what happened"):
        close_session(pool.centre.ledger, pool.centre.lead, pool.id, pool.at(15, 40))
    incident.add_note(pool.centre.ledger, pool.centre.lead, pool.id, which, "Ended for the day.", pool.at(15, 35))
    close_session(pool.centre.ledger, pool.centre.lead, pool.id, pool.at(15, 40))
    assert pool.state.state is SessionState.CLOSED
    reopen_session(pool.centre.ledger, pool.centre.lead, pool.id, "A sheet turned up.", pool.at(16))
    assert pool.state.state is SessionState.FROZEN  # opening it again is not letting it go on


def test_a_session_frozen_after_it_was_closed_is_frozen(pool: Day) -> None:
    close_session(pool.centre.ledger, pool.centre.lead, pool.id, pool.at(15))
    pool.freeze()
    assert pool.state.state is SessionState.FROZEN


def test_a_tap_made_before_the_freezing_that_arrives_after_it_is_kept(pool: Day) -> None:
    """The tablet was out of reach; its marks belong to the record, also of an attempt that became void."""
    opened = pool.centre.open()
    pool.freeze()
    pool.mark(opened, critical=True)
    attempt = pool.centre.attempt(opened.attempt)
    assert [mark.errors for mark in attempt.sheets[0].marks] == [(CRITICAL_ERROR[1],)]
    seen = pool.centre.view()
    (tried,) = seen.by_student_and_skill[pool.centre.amaru, POOL_SKILL]
    judged = judge(tried, pool.centre.skill(), seen.unit_type_of(pool.centre.amaru, POOL_DAY).feature_set)
    assert judged.void_lacks_second  # so it shows as void over a critical error, not as nothing


def test_ending_an_attempt_on_the_pad_after_the_freezing_is_told(pool: Day) -> None:
    from centre_builder import tap

    opened = pool.centre.open()
    pool.freeze()
    late = tap(pool.centre, opened, "attempt_closed/1", {"how": "completed"}, tapped_at="2026-10-22T15:07:00.000Z")
    (refused,) = take(pool.centre.ledger, [late]).refused
    assert "was frozen at 15:06, and this was tapped at 15:07" in refused[1]


def test_tablets_with_waiting_marks_are_counted(pool: Day) -> None:
    incident.freeze(pool.centre.ledger, pool.centre.lead, pool.id, pool.at(), tablets_waiting=2)
    assert pool.session.frozen_by[0].tablets_waiting == 2


def test_what_is_missing_does_not_change_by_a_freezing(pool: Day) -> None:
    seen = pool.centre.view()
    before = missing(seen, [pool.centre.amaru], seen.last_day).text()
    pool.mark(pool.centre.open())
    pool.freeze()
    seen = pool.centre.view()
    assert missing(seen, [pool.centre.amaru], seen.last_day).text() == before


def test_no_name_stands_plain_in_the_freezing(pool: Day) -> None:
    pool.comes(pool.centre.amaru)
    pool.freeze(note="Amaru Tendelle came up alone.")
    body = json.loads(next(e.body for e in pool.centre.ledger.events(pool.id) if e.kind == "session_frozen/1"))
    assert "Amaru" not in json.dumps(body)
