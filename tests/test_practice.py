"""What to practise: weak skills and steps of a student, what to repeat and where, and where a class is weak."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from centre_builder import CRITICAL_ERROR, LAST_DAY, POOL_SKILL, Centre, critical_mark

from course.answers.class_practice import ClassSkill, class_practice
from course.answers.course_view import CourseView
from course.answers.practice import StudentPractice, WeakSkillLine, student_practice
from course.record.events import MarkGiven
from course.words import Closing, Mark

LONG_AFTER = date(2027, 12, 1)


def practice(centre: Centre, student: str = "", as_of: date = LAST_DAY) -> StudentPractice:
    return student_practice(centre.view(), student or centre.amaru, as_of)


def weak(centre: Centre, skill: str = POOL_SKILL) -> WeakSkillLine:
    return next(line for line in practice(centre).weak if line.skill == skill)


def of_class(centre: Centre, skill: str = POOL_SKILL) -> ClassSkill:
    return next(line for line in class_practice(centre.view(), LAST_DAY).skills if line.skill == skill)


def left_out(*steps: str) -> list[MarkGiven]:
    """Two minors are one more than the rule allows."""
    return [MarkGiven(step=step, mark=Mark.LEFT_OUT) for step in steps]


def wrong_in(centre: Centre, *attempts: bool, student: str = "", skill: str = POOL_SKILL) -> None:
    """Attempts in the pool, one after the other: True went wrong by a critical error."""
    for at, wrong in enumerate(attempts):
        session = "pool-22" if at < 6 else "pool-23"
        centre.enter(session, *([critical_mark()] if wrong else []), student=student, skill=skill)


# --- bad input: nobody attempted, one attempt, all void ---


def test_nobody_attempted_all_is_not_seen_yet_and_nothing_is_weak(small_centre: Centre) -> None:
    found = practice(small_centre)
    assert found.weak == ()
    required = small_centre.view().profile.required_skills
    assert len(found.not_seen_yet) == len(found.repeat) <= len(required)
    assert {one.why_now for one in found.repeat} == {"not seen yet"}
    everybody = class_practice(small_centre.view(), LAST_DAY)
    assert everybody.skills == ()
    assert everybody.sentence.startswith("Nobody was seen at anything yet")
    assert all(set(line.not_seen_yet) and line.students == 0 for line in everybody.not_seen_yet)


def test_one_attempt_is_too_few_to_say(small_centre: Centre) -> None:
    wrong_in(small_centre, True)
    assert weak(small_centre).words == "1 of 1 went wrong, 1 critical: too few to say"
    assert of_class(small_centre).words == "1 of 1 went wrong, 1 critical (1 student): too few to say"
    assert class_practice(small_centre.view(), LAST_DAY).sentence.startswith("Too few to say")


def test_attempts_that_do_not_count_are_not_in_the_skills_number_and_that_is_said(small_centre: Centre) -> None:
    """A stopped attempt shows its steps; of the skill it says nothing."""
    wrong_in(small_centre, True, False)
    assert weak(small_centre).words.startswith("1 of 2 went wrong")
    small_centre.enter("pool-22", closing=Closing.STOPPED, stopped_by="student")
    (line,) = [one for one in practice(small_centre).weak if one.skill == POOL_SKILL]
    assert line.steps[0].seen == 3
    assert line.words.startswith("1 of the 2 that count went wrong")


def test_all_void_is_not_seen_yet(small_centre: Centre) -> None:
    """Hard case 2: a drill stopped for a real emergency counts neither for nor against."""
    for _ in range(3):
        small_centre.enter(
            "pool-22", *left_out("co-hand"), closing=Closing.VOID, reason="A real emergency on the surface.",
        )  # fmt: skip
    found = practice(small_centre)
    assert found.weak == ()
    assert small_centre.skill().title in found.not_seen_yet
    assert class_practice(small_centre.view(), LAST_DAY).skills == ()


def test_a_stopped_drill_is_neither_weak_nor_seen(small_centre: Centre) -> None:
    """Hard case 1: calling a stop is never an error."""
    small_centre.enter("pool-22", closing=Closing.STOPPED, stopped_by="student")
    assert practice(small_centre).weak == ()
    assert small_centre.skill().title in practice(small_centre).not_seen_yet


def test_contradicting_corrections_count_for_nobody(small_centre: Centre) -> None:
    """Counting 18: a field that two laptops corrected differently; the attempt counts for nobody."""
    small_centre.enter("pool-22")
    seen = small_centre.view()
    contested = tuple(one.model_copy(update={"contested": ("setting",)}) for one in seen.attempts)
    found = student_practice(replace(seen, attempts=contested, _standings={}), small_centre.amaru, LAST_DAY)
    assert found.weak == ()
    assert small_centre.skill().title in found.not_seen_yet


def test_a_practice_sheet_is_not_in_it(small_centre: Centre) -> None:
    """Hard case 33: a candidate scores a student; it cannot count for the student."""
    small_centre.enter("pool-22", critical_mark(), by=small_centre.candidate)
    assert practice(small_centre).weak == ()


# --- weak skills and steps ---


def test_the_step_is_named_with_its_attempts_and_why_it_matters(small_centre: Centre) -> None:
    """Scenario row 5: c c X c c X c c c X c; the mouthpiece came out open in 3 of 11."""
    wrong_in(small_centre, *(mark == "X" for mark in "ccXccXcccXc"))
    line = weak(small_centre)
    assert line.words == "3 of 11 went wrong, 3 critical"
    (step,) = line.steps
    assert step.sentence.endswith("went wrong in 3 of 11, at attempts 3, 6 and 10; 3 critical.")
    skill = small_centre.skill()
    error = skill.step(CRITICAL_ERROR[0]).error(CRITICAL_ERROR[1])  # type: ignore[union-attr]
    assert error is not None
    assert step.why == error.consequence
    assert not line.held


def test_a_step_left_out_says_why_the_step_is_there(small_centre: Centre) -> None:
    for _ in range(3):
        small_centre.enter("pool-22", *left_out("co-hand", "co-hold"))
    step = weak(small_centre).steps[0]
    wanted = small_centre.skill().step("co-hand")
    assert wanted is not None
    assert step.why == wanted.why


def test_what_is_held_by_now_stands_behind_what_is_not(small_centre: Centre) -> None:
    small_centre.enter("dry-21", critical_mark())
    small_centre.enter("dry-21")  # the re-teach
    small_centre.hold()
    for _ in range(3):
        small_centre.enter("dry-21", *left_out("list-out", "no-rush"), skill="asm-bench")
    lines = practice(small_centre).weak
    assert [(line.skill, line.held) for line in lines] == [("asm-bench", False), (POOL_SKILL, True)]


def test_classmates_change_the_order_and_never_the_numbers(small_centre: Centre) -> None:
    """A skill that all find hard makes a poor attempt less of a surprise; what is said stays the student's own."""
    wrong_in(small_centre, False, True, False)
    alone = weak(small_centre)
    wrong_in(small_centre, False, False, False, False, False, student=small_centre.zoe)
    beside = weak(small_centre)
    assert beside.words == alone.words
    assert beside.doubt < alone.doubt


# --- what to repeat, and where ---


def repeat_of(centre: Centre, as_of: date = LAST_DAY) -> dict[str, tuple[str, str, str]]:
    return {one.skill: (one.place, one.line, one.why_now) for one in practice(centre, as_of=as_of).repeat}


def test_after_a_critical_error_the_re_teach_comes_first_and_in_the_calmest_place(small_centre: Centre) -> None:
    wrong_in(small_centre, False, True)
    first = practice(small_centre).repeat[0]
    assert first.skill == POOL_SKILL
    assert first.place == "on the bench, re-teach first"
    assert "re-teach first" in first.line
    assert first.why_now == "a critical error is not cleared"


def test_a_setting_that_the_rule_misses_is_where_to_go(small_centre: Centre) -> None:
    """Hard case 24: clean dry and in the pool, none in open water."""
    for session in ("dry-21", "pool-22", "pool-22", "pool-23"):
        small_centre.enter(session)
    assert repeat_of(small_centre)[POOL_SKILL][0] == "in open water"


def test_what_is_met_is_not_repeated_until_it_runs_out(small_centre: Centre) -> None:
    small_centre.hold()
    assert POOL_SKILL not in repeat_of(small_centre)
    assert repeat_of(small_centre, LONG_AFTER)[POOL_SKILL][2] == "out of date"


def test_what_another_skill_builds_on_comes_before_it(small_centre: Centre) -> None:
    names = [one.skill for one in practice(small_centre).repeat]
    assert any(set(small_centre.skill(name).before) & set(names) for name in names)
    for place, name in enumerate(names):
        builds_on = [earlier for earlier in small_centre.skill(name).before if earlier in names]
        assert all(names.index(earlier) < place for earlier in builds_on)


def test_an_optional_skill_is_not_asked_for(small_centre: Centre) -> None:
    required = set(small_centre.view().profile.required_skills)
    assert {one.skill for one in practice(small_centre).repeat} <= required


# --- the class ---


def test_a_class_is_told_skill_by_skill_with_where_and_how_many(small_centre: Centre) -> None:
    wrong_in(small_centre, True, False, True)
    wrong_in(small_centre, True, False, False, student=small_centre.zoe)
    small_centre.enter("dry-21", student=small_centre.zoe)
    line = of_class(small_centre)
    assert line.words == "3 of 7 went wrong, 3 critical (2 students)"
    assert [(one.where, one.wrong, one.attempts, one.critical) for one in line.places] == [
        ("dry", 0, 1, 0),
        ("pool", 3, 6, 3),
    ]
    assert line.steps[0].sentence.endswith("went wrong in 3 of 7, at attempts 1 (2 times) and 3; 3 critical.")
    assert class_practice(small_centre.view(), LAST_DAY).sentence.startswith(
        "The class is weakest at “Close before it leaves the mouth”: 3 of 7 went wrong"
    )


def test_a_class_says_for_how_many_students_a_skill_is_open(small_centre: Centre) -> None:
    """Their own attempts, drawn towards the class, leave it likelier than not that too few of them count."""
    wrong_in(small_centre, True, True, True)
    wrong_in(small_centre, *[False] * 12, student=small_centre.zoe)
    assert of_class(small_centre).doubt_words.startswith("Open for 1 of 2 students, going by their own attempts")


def test_fewer_attempts_than_enough_never_head_the_list(small_centre: Centre) -> None:
    """Hard case 26: too few for a word stand behind what can be told."""
    small_centre.enter("dry-21", *left_out("list-out", "no-rush"), skill="asm-bench")
    wrong_in(small_centre, False, True, False)
    assert [line.skill for line in class_practice(small_centre.view(), LAST_DAY).skills] == [POOL_SKILL, "asm-bench"]


@pytest.mark.parametrize("as_of", [date(2026, 10, 20), LAST_DAY])
def test_answers_are_as_of_a_day(small_centre: Centre, as_of: date) -> None:
    wrong_in(small_centre, True, True, True)
    seen: CourseView = small_centre.view()
    assert bool(class_practice(seen, as_of).skills) is (as_of == LAST_DAY)
    assert bool(student_practice(seen, small_centre.amaru, as_of).weak) is (as_of == LAST_DAY)
