"""A rule tried on a centre's own attempts and on the days of its courses."""

from __future__ import annotations

from centre_builder import Centre, critical_mark

from course.answers.rule_trial import rule_trial
from course.standards.rubric import Rule
from course.words import Closing, StandingState

SKILL = "mp-close-out"


def changed(centre: Centre, **numbers: object) -> Rule:
    return centre.skill().rule.model_copy(update=numbers)


def test_the_rule_in_force_changes_no_standing(small_centre: Centre) -> None:
    small_centre.hold()
    small_centre.enter("pool-22", student=small_centre.zoe)
    found = rule_trial(small_centre.ledger, SKILL, small_centre.skill().rule)
    assert found.sentence == "Under this rule 0 of 2 standings would differ."
    assert found.differing == found.other_days == ()


def test_a_milder_rule_names_each_standing_with_from_and_to(small_centre: Centre) -> None:
    small_centre.enter("dry-21")
    small_centre.enter("pool-22")
    small_centre.enter("pool-22", critical_mark(), student=small_centre.zoe)
    milder = changed(small_centre, in_a_row=2, distinct_days=2, settings=("dry", "pool"))
    found = rule_trial(small_centre.ledger, SKILL, milder)
    assert found.sentence == "Under this rule 1 of 2 standings would differ."
    (one,) = found.differing
    assert (one.student, one.before.split(":")[0], one.after) == (small_centre.amaru, "not yet", "met: 22 Oct 2026")


def test_a_stricter_rule_takes_met_back_in_the_trial_only(small_centre: Centre) -> None:
    small_centre.hold()
    count = small_centre.count()
    found = rule_trial(small_centre.ledger, SKILL, changed(small_centre, in_a_row=6))
    assert [(one.before.split(":")[0], one.after.split(":")[0]) for one in found.differing] == [("met", "not yet")]
    assert small_centre.count() == count
    seen = small_centre.view()
    assert seen.standing(small_centre.amaru, small_centre.skill(), seen.last_day).state == StandingState.MET


def test_met_on_another_day_is_told_apart_from_another_standing(small_centre: Centre) -> None:
    small_centre.hold()
    found = rule_trial(small_centre.ledger, SKILL, changed(small_centre, in_a_row=4))
    assert found.sentence == ("Under this rule 0 of 1 standing would differ. 1 more would be met on another day.")
    assert [one.after for one in found.other_days] == ["met: 24 Oct 2026"]


def test_nobody_attempted_says_so(small_centre: Centre) -> None:
    found = rule_trial(small_centre.ledger, SKILL, changed(small_centre, in_a_row=2))
    assert found.standings == 0
    assert "Nobody has attempted this skill here yet" in found.sentence


def test_all_void_says_that_there_is_nothing_to_compare(small_centre: Centre) -> None:
    for session in ("dry-21", "pool-22"):
        small_centre.enter(session, closing=Closing.VOID, reason="The pool was cleared.")
    found = rule_trial(small_centre.ledger, SKILL, changed(small_centre, in_a_row=2))
    assert found.sentence.startswith("2 attempts here, and none is in a standing")


def test_a_rule_that_the_days_of_the_course_cannot_meet_is_told(small_centre: Centre) -> None:
    """Sessions of the small centre lie on five days."""
    found = rule_trial(small_centre.ledger, SKILL, changed(small_centre, in_a_row=6, distinct_days=6))
    (short,) = found.days_short
    assert "it asks for 6 days, and there are only 5 with a session in a setting of this skill" in short.sentence


def test_a_setting_without_a_session_is_told(small_centre: Centre) -> None:
    found = rule_trial(small_centre.ledger, SKILL, changed(small_centre, settings=("dry", "class")))
    assert "no session is class" in found.days_short[0].sentence


def test_more_observers_than_the_course_has_is_told(small_centre: Centre) -> None:
    found = rule_trial(small_centre.ledger, SKILL, changed(small_centre, assessors=3))
    assert "it asks for 3 observers, and there are only 2 on the course" in found.days_short[0].sentence


def test_a_rule_that_fits_the_course_says_so(small_centre: Centre) -> None:
    found = rule_trial(small_centre.ledger, SKILL, small_centre.skill().rule)
    assert found.days_short == ()
    assert "its sessions have the days and settings (5 days" in found.days[0].sentence


def test_a_skill_that_no_course_has_is_no_fault(small_centre: Centre) -> None:
    assert rule_trial(small_centre.ledger, "no-such-skill", small_centre.skill().rule).days == ()
