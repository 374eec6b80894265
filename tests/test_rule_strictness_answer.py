"""How strict a rule is, in words and as a curve, and what stands beside a standing: against published rows."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from centre_builder import Centre, critical_mark
from course_text import NO_FEATURES, TYPE_A, attempts, last_day, mouthpiece, rule, skill, step
from hypothesis import given
from hypothesis import strategies as st

from course.answers.rule_strictness import (
    BESIDE_NOTE,
    MISSED,
    SHARES,
    Beside,
    attempts_to_meet,
    beside,
    chance_words,
    longest_curve,
    rule_strictness,
    strictness_sentence,
    times_words,
    two_rules,
)
from course.answers.skill_detail import skill_detail
from course.assessment.standing import standing
from course.standards.rubric import Rule, Skill

THREE_OVER_TWO_DAYS = Rule(in_a_row=3, distinct_days=2, settings=("dry",), reteach=0, budget=12)

with (Path(__file__).parent / "published" / "statistics.csv").open(encoding="utf-8") as table:
    ROWS = {row["id"]: row for row in csv.DictReader(table)}


def beside_of(text: str, of: Skill) -> Beside:
    """What stands beside the standing that some attempts make."""
    seen = attempts(text, of)
    found = standing(seen, of, TYPE_A, NO_FEATURES, last_day(seen), applies=True)
    return beside(found, of, {one.attempt.id: one.attempt.setting for one in seen})


def test_the_sentence_is_the_one_that_can_be_read_aloud() -> None:
    """82 in 100 for three in a row over two days in twelve attempts at 7 in 10: S061's table, by enumeration."""
    assert strictness_sentence(THREE_OVER_TWO_DAYS) == (
        "A student whose attempts count 7 times in 10 meets this rule within 12 attempts 82 times in 100 "
        "(three attempts a day; exact, no student's data)."
    )


def test_an_observer_who_misses_two_faults_in_ten_makes_it_ninety() -> None:
    """p + (1 - p) m: 7 in 10 becomes 76 in 100."""
    told = strictness_sentence(THREE_OVER_TWO_DAYS, missed=0.2)
    assert "90 times in 100" in told
    assert "the observer missing 2 faults in 10" in told


def test_the_table_has_every_share_and_grows_with_what_is_missed() -> None:
    found = rule_strictness(THREE_OVER_TWO_DAYS)
    assert [row.share for row in found.table] == list(SHARES)
    for row in found.table:
        assert len(row.chances) == len(row.told) == len(MISSED)
        assert list(row.chances) == sorted(row.chances)
    assert [row.told[0] for row in found.table] == [
        "46 times in 100", "65 times in 100", "82 times in 100", "94 times in 100", "99 times in 100",
        "more than 99 times in 100",
    ]  # fmt: skip


def test_the_curve_goes_past_the_budget_and_never_falls() -> None:
    found = rule_strictness(THREE_OVER_TWO_DAYS)
    assert longest_curve(THREE_OVER_TWO_DAYS) > 12
    for share in SHARES:
        chances = [point.chance for point in found.curve if point.share == share]
        assert len(chances) == longest_curve(THREE_OVER_TWO_DAYS)
        assert chances == sorted(chances)
    assert "Within 12 attempts" in found.finding
    assert "46 times in 100" in found.finding


def test_two_rules_are_told_side_by_side_each_within_its_own_budget() -> None:
    found = two_rules(THREE_OVER_TWO_DAYS, THREE_OVER_TWO_DAYS.model_copy(update={"in_a_row": 5}))
    assert "the first rule within 12 attempts 82 times in 100, the second within 12 attempts 50 times in 100" in (
        found.finding
    )
    assert len(found.first) == len(found.second)
    assert all(one.chance >= other.chance for one, other in zip(found.first, found.second, strict=True))


@given(st.floats(0, 1))
def test_a_chance_is_never_rounded_to_never_or_always(chance: float) -> None:
    told = chance_words(chance)
    assert (told == "never") is (chance == 0)
    assert (told == "always") is (chance == 1)
    assert "0 times in 100" not in told.split(" in ")[0] or not told.startswith("0 ")


@pytest.mark.parametrize(
    ("share", "told"),
    [(0.7, "7 times in 10"), (0.5, "5 times in 10"), (0.95, "95 times in 100"), (0.01, "once in 100")],
)
def test_a_share_is_told_in_tenths_where_they_do(share: float, told: str) -> None:
    assert times_words(share) == told


def test_three_of_three_on_one_day_rule_out_little() -> None:
    """.05^(1/3) = .368: Clopper and Pearson 1934, for three of three."""
    told = " ".join(beside_of("c c c", mouthpiece()).sentences)
    assert "first met within 3 attempts on 1 day" in told
    assert "count only 37 times in 100" in told
    assert "n = 3" in told


def test_meeting_a_rule_late_proves_less_than_meeting_it_at_once() -> None:
    early = " ".join(beside_of("c c c", mouthpiece()).sentences)
    late = " ".join(beside_of("c c m c c m c c m c c c", mouthpiece()).sentences)
    assert "n = 12" in late
    assert int(late.split("count only ")[1].split()[0]) < int(early.split("count only ")[1].split()[0])


def test_attempts_that_neither_count_nor_break_are_not_in_the_bound() -> None:
    of = mouthpiece()
    seen = attempts("c s i v c p c c", of)
    found = standing(seen, of, TYPE_A, NO_FEATURES, last_day(seen), applies=True)
    assert [one.attempt for one in attempts_to_meet(found.history)] == ["a1", "a5", "a7"]


def test_a_rule_met_in_two_attempts_is_too_few_for_a_bound() -> None:
    told = beside_of("c c", mouthpiece(in_a_row=2)).sentences
    assert any("within 2 attempts on 1 day: too few to say more" in sentence for sentence in told)


def test_no_bound_is_given_for_what_was_never_met() -> None:
    assert not any("first met" in sentence for sentence in beside_of("c c m c", mouthpiece()).sentences)


def test_no_critical_error_in_ten_leaves_a_quarter_possible() -> None:
    """1 - .05^(1/10) = .259: exact upper bound for none in ten (Clopper and Pearson 1934)."""
    told = " ".join(beside_of(" ".join("c" * 10), mouthpiece()).sentences)
    assert "No critical error in 10 attempts seen whole" in told
    assert "26 times in 100" in told
    assert "none seen is not safe" in told


def test_critical_errors_that_were_seen_are_counted_with_their_n() -> None:
    assert any(
        told.startswith("A critical error in 2 of 5 attempts")
        for told in beside_of("c X c X c", mouthpiece()).sentences
    )


def test_attempts_not_seen_whole_do_not_say_that_nothing_critical_happened() -> None:
    told = " ".join(beside_of("c c i i i i i s s s", mouthpiece()).sentences)
    assert "No critical error in 2 attempts seen whole: too few" in told


def test_where_nothing_critical_can_happen_nothing_is_said_of_it() -> None:
    of = skill([step("one"), step("two"), step("three")], reteach=0)
    assert len(beside_of("c c c", of).sentences) == 2


def test_without_an_attempt_only_the_rule_is_told() -> None:
    of = mouthpiece()
    found = standing([], of, TYPE_A, NO_FEATURES, last_day(attempts("c", of)), applies=True)
    assert beside(found, of, {}).sentences == (strictness_sentence(of.rule),)


def test_all_void_says_nothing_of_the_student() -> None:
    assert beside_of("v v v", mouthpiece()).sentences == (strictness_sentence(mouthpiece().rule),)


def test_evidence_stands_in_the_detail_and_changes_no_standing(small_centre: Centre) -> None:
    small_centre.hold()
    small_centre.enter("open-25", critical_mark())
    seen = small_centre.view()
    detail = skill_detail(small_centre.ledger, seen, small_centre.amaru, "mp-close-out", seen.last_day)
    assert detail.sentence.startswith("Again")
    text = detail.text()
    assert "Beside the standing" in text
    assert BESIDE_NOTE in text
    assert "A critical error in 1 of 6 attempts" in text
    assert "first met within 5 attempts on 5 days" in text


def test_no_word_of_percent_or_of_a_grade(small_centre: Centre) -> None:
    small_centre.hold()
    seen = small_centre.view()
    text = skill_detail(small_centre.ledger, seen, small_centre.amaru, "mp-close-out", seen.last_day).text()
    assert "%" not in text
    assert "percent" not in text


def test_a_rule_with_more_attempts_in_a_row_is_never_milder() -> None:
    for longer in range(2, 6):
        shorter = rule_strictness(rule(in_a_row=longer - 1, budget=12)).table
        for one, other in zip(shorter, rule_strictness(rule(in_a_row=longer, budget=12)).table, strict=True):
            assert one.chances[0] >= other.chances[0]
