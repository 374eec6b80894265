"""Every rule of the requirements is met, or short by a number, in one place."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_gates import course, person, profile, session

from course.hours.requirements import (
    Count,
    ExamState,
    Hours,
    Requirements,
    SkillHeld,
    counts_of,
    exam_state,
    finish_window,
    hours_of,
)
from course.moments import observed_at
from course.record.day_facts import WaterTime
from course.record.facts import Person, Session, Span
from course.record.paper_facts import ClosedGap, Exam
from course.standards.profile import CountRule, ExamRule, HourRule
from course.words import SpanRole

LAST = date(2026, 10, 25)


def span(day: int, start: int = 9, end: int = 12, role: SpanRole = SpanRole.STUDENT) -> Span:
    """A student's time on a day of October 2026."""
    first, last = (observed_at(datetime(2026, 10, day, hour, tzinfo=UTC), "UTC", "minute") for hour in (start, end))
    return Span(id=f"s{day}{start}", person="amaru", role=role, group=None, start=first, end=last)


def water(loop: int, bailout: int = 0, of: str = "amaru") -> WaterTime:
    """A time in the water."""
    return WaterTime(
        id="w", person=of, unit=None, entered=None, left=None, loop_minutes=loop, bailout_minutes=bailout,
        max_depth_m=None,
    )  # fmt: skip


def counted(of: str, each: int, *sessions: Session, as_of: date = LAST) -> int:
    """How many of something there are by a rule."""
    rules = (CountRule(of=of, at_least=5, each_at_least_minutes=each),)
    (count,) = counts_of(sessions, "amaru", profile(counts=rules), as_of)
    return count.have


def test_a_dive_counts_once_its_minutes_under_water_reach_the_rule() -> None:
    """Seven dives as the demo's Halima made them, and one of a minute too few."""
    dives = tuple(map(water, (38, 41, 39, 37, 40, 42, 37, 36)))
    assert counted("open_water_dives", 37, session("open", "open_water", 24, water=dives)) == 7
    assert counted("open_water_dives", 37, session("open", "open_water", 24, water=(water(30, 7), water(30, 6)))) == 1
    assert counted("open_water_dives", 0, session("pool", "pool", 24, water=dives)) == 0
    assert counted("open_water_dives", 37, session("open", "open_water", 24, water=(water(60, of="zoe"),))) == 0


def test_a_pool_session_counts_by_all_its_times_in_the_water_together() -> None:
    assert counted("pool_sessions", 41, session("p", "pool", 22, water=(water(20), water(21)), spans=(span(22),))) == 1
    assert counted("pool_sessions", 41, session("p", "pool", 22, water=(water(20), water(20)), spans=(span(22),))) == 0
    assert counted("pool_sessions", 0, session("p", "pool", 22, spans=(span(22),))) == 1
    assert counted("pool_sessions", 0, session("p", "pool", 22)) == 0


def test_a_training_day_counts_once_however_many_sessions_it_has() -> None:
    two = session("a", "dry", 21, spans=(span(21),)), session("b", "class", 21, spans=(span(21, 13, 14),))
    assert counted("training_days", 0, *two, session("c", "pool", 22, spans=(span(22),))) == 2
    assert counted("training_days", 240, *two) == 1
    assert counted("training_days", 241, *two) == 0
    overlapping = session("b", "class", 21, spans=(span(21, 11, 13),))
    assert counted("training_days", 241, two[0], overlapping) == 0


def test_time_in_another_role_and_days_to_come_count_for_nothing() -> None:
    assert counted("training_days", 0, session("a", "dry", 21, spans=(span(21, role=SpanRole.ASSISTING),))) == 0
    later = session("a", "dry", 24, spans=(span(24),))
    assert counted("training_days", 0, later, as_of=date(2026, 10, 23)) == 0


@pytest.mark.parametrize(("minutes", "short"), [(498, 25), (522, 1), (523, 0), (600, 0)])
def test_hours_are_short_by_what_is_missing_and_never_by_less_than_nothing(minutes: int, short: int) -> None:
    """498 of 523 is short by 25."""
    rules = (HourRule(of="in_water_on_loop", at_least_minutes=523),)
    (hours,) = hours_of({"in_water_on_loop": minutes}, profile(hours=rules))
    assert hours.short_by == short
    assert hours.short == f"short by {short} minute{'' if short == 1 else 's'} in water on the loop"


@given(st.lists(st.integers(0, 120), max_size=12), st.integers(0, 120))
def test_one_more_dive_never_makes_the_count_smaller(minutes: list[int], more: int) -> None:
    def have(dives: list[int]) -> int:
        return counted("open_water_dives", 37, session("o", "open_water", 24, water=tuple(map(water, dives))))

    assert have([*minutes, more]) - have(minutes) == (more >= 37)


# --- the exam -------------------------------------------------------------------------------------------------------


def exam(day: str = "2026-10-21", **more: Any) -> Exam:
    """44 of 50 right, two items missed."""
    plain: dict[str, Any] = {
        "event": f"e-{day}", "course": "c", "by": "bruno", "day": day, "id": f"exam-{day}", "session": None,
        "mark": "44", "of": "50", "gaps": 2, "items": ("Oxygen", "Scrubber"),
    }  # fmt: skip
    return Exam(**(plain | more))


def state(*exams: Exam, as_of: date = LAST, rule: ExamRule | None = None) -> ExamState:
    return exam_state(person(exams=exams), "c", profile(exam=rule), as_of)


@pytest.mark.parametrize(
    ("mark", "of", "short"),
    [
        ("40", "50", ""),
        ("39", "50", "exam 39 of 50, 40 of 50 asked"),
        ("80", "100", ""),
        ("79.5", "100", "exam 79.5 of 100, 40 of 50 asked"),
    ],
)
def test_the_mark_is_held_against_what_is_asked_whatever_it_is_out_of(mark: str, of: str, short: str) -> None:
    assert state(exam(mark=mark, of=of), rule=ExamRule(at_least=40, of=50)).short == short


def test_an_exam_that_is_asked_for_and_not_noted_is_short_and_one_that_is_not_asked_for_is_not() -> None:
    assert state(rule=ExamRule(at_least=40, of=50)).short == "no exam noted, 40 of 50 asked"
    assert state().short == ""
    assert state(exam(mark="1")).short == ""


def test_items_missed_are_gaps_until_the_day_on_which_they_were_talked_through() -> None:
    closed = exam(closed=(ClosedGap(event="g", gap=1, day="2026-10-22", by="tamsin", session=None),))
    assert [gap.item for gap in state(closed, as_of=date(2026, 10, 21)).gaps] == ["Oxygen", "Scrubber"]
    assert [gap.item for gap in state(closed, as_of=date(2026, 10, 22)).gaps] == ["Scrubber"]
    assert state(closed, as_of=date(2026, 10, 20)).exam is None


def test_the_exam_taken_last_counts_with_its_own_gaps() -> None:
    again = exam("2026-10-24", mark="50", gaps=0, items=())
    assert state(exam(), again).gaps == ()
    assert state(exam(), again, as_of=date(2026, 10, 23)).exam == exam()


def test_a_gap_whose_name_was_erased_is_still_a_gap() -> None:
    assert [gap.item for gap in state(exam(items=())).gaps] == [
        "item 1 (its name is erased)",
        "item 2 (its name is erased)",
    ]


# --- one line a student ---------------------------------------------------------------------------------------------


def test_everything_that_is_short_is_named_and_nothing_else() -> None:
    of = Requirements(
        hours=(Hours("pool", "pool", 300, 354), Hours("dry", "dry", 400, 366)),
        counts=(Count("open_water_dives", 6, 7, 37),),
        skills=(SkillHeld("a", "Mask", held=True, line="met"), SkillHeld("b", "Bailout", held=False, line="not yet")),
        exam=state(exam()),
        shut=(),
    )
    assert of.short == (
        "Bailout: not yet",
        "short by 54 minutes pool",
        "short by 1 open-water dive of at least 37 minutes",
        "2 gaps of the exam not talked through",
    )
    assert not of.met


def test_nothing_short_is_met() -> None:
    assert Requirements((), (), (), ExamState(None, "", ()), ()).met


@pytest.mark.parametrize(
    ("as_of", "left", "near", "over"),
    [
        (date(2026, 12, 4), 15, False, False),
        (date(2026, 12, 5), 14, True, False),
        (date(2026, 12, 19), 0, True, False),
        (date(2026, 12, 20), -1, False, True),
    ],
)
def test_the_days_to_finish_in_are_told_14_days_ahead_and_the_last_is_within(
    as_of: date, left: int, *, near: bool, over: bool
) -> None:
    """60 days from 20 October 2026 are 19 December 2026, counted on a calendar."""
    window = finish_window(course(), profile(), as_of)
    assert (window.last, window.days_left, window.is_near, window.is_over) == (date(2026, 12, 19), left, near, over)


@given(st.integers(1, 730), st.integers(-100, 900))
def test_the_window_ends_as_many_days_after_the_first_day_as_the_profile_says(days: int, later: int) -> None:
    first = date(2026, 10, 20)
    window = finish_window(course(), profile(finish_within_days=days), first + timedelta(later))
    assert window.is_over == (later > days)
    assert window.is_near == (0 <= days - later <= 14)


def test_a_person_without_papers_is_one_nonetheless() -> None:
    assert exam_state(Person(id="x", roles=()), "c", profile(), LAST) == ExamState(None, "", ())
