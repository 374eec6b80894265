"""A course that goes on after the last day it was planned for: what answers are as of, and what is signed."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, critical_mark, seen_at

from course.actions import courses as planning
from course.actions.signing import sign
from course.answers.course_view import CourseView
from course.answers.decisions import HELD, evidence
from course.answers.today import day_choices
from course.errors import RefusedError
from course.words import DecisionKind

LATER = LAST_DAY + timedelta(days=3)


def go_on(c: Centre) -> str:
    """Plan a pool session three days after the course's last day."""
    begins, ends = seen_at(LATER.day, 13, 30), seen_at(LATER.day, 16, 20)
    c.sessions[f"pool-{LATER.day}"] = planning.plan_session(
        c.ledger, c.lead, course=c.course, title="One more pool", setting="pool", start=begins, end=ends
    )
    return f"pool-{LATER.day}"


def on(monkeypatch: pytest.MonkeyPatch, day: date) -> None:
    """Let it be a day, at noon."""
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
    monkeypatch.setattr("course.answers.course_view.now", lambda: noon)


def sign_as_of(c: Centre, day: date, decided: DecisionKind = DecisionKind.AGREED) -> str:
    """Sign what the record said on a day."""
    seen, skill = c.view(), c.skill()
    shown = evidence(seen, skill, seen.standing(c.amaru, skill, day))
    return sign(
        c.ledger, c.lead, course=c.course, student=c.amaru, skill=POOL_SKILL, decided=decided, as_of=day,
        rests_on=shown, reason="Once more.",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("today", "usual"),
    [(-30, -5), (-2, -2), (0, 0), (2, 0), (3, 3), (40, 3)],
    ids=["before it", "while it runs", "its last day", "before the later session", "at it", "after it"],
)
def test_answers_are_as_of_the_last_session_once_the_course_went_on(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch, today: int, usual: int
) -> None:
    go_on(small_centre)
    on(monkeypatch, LAST_DAY + timedelta(days=today))
    seen: CourseView = small_centre.view()
    assert seen.usual_day == LAST_DAY + timedelta(days=usual)
    assert seen.usual_day in day_choices(seen)


def test_a_critical_error_after_the_last_day_is_in_the_standing_that_opens(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    c = small_centre
    c.hold()
    c.enter(go_on(c), critical_mark())
    on(monkeypatch, LATER + timedelta(days=30))
    seen = c.view()
    before, after = (seen.standing(c.amaru, c.skill(), day) for day in (LAST_DAY, seen.usual_day))
    assert before.state in HELD
    assert after.state not in HELD


def test_what_a_later_attempt_took_away_is_not_signed_as_of_an_earlier_day(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    c.enter(go_on(c), critical_mark())
    before = c.count()
    with pytest.raises(
        RefusedError, match=r"tried again on 28 Oct 2026, after 25 Oct 2026, and since then: .+ Nothing was signed\."
    ):
        sign_as_of(c, LAST_DAY)
    assert c.count() == before
    assert sign_as_of(c, LAST_DAY, DecisionKind.STRICTER)


def test_what_a_later_attempt_left_standing_is_signed(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    c.enter(go_on(c))
    assert sign_as_of(c, LAST_DAY)
