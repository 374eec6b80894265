"""How strict a rule is: against the real state machine by trying every history, and against published numbers."""

from __future__ import annotations

import csv
import json
import math
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from course_text import attempts, last_day, mouthpiece
from hypothesis import given, settings
from hypothesis import strategies as st

from course.assessment.attempts import judge
from course.assessment.streak import Turn, walk
from course.assessment.strictness import (
    DayPlan,
    Reliability,
    critical_share_up_to,
    even_days,
    expected_attempts,
    met_by,
    ruled_out_below,
    within,
)
from course.standards.rubric import Rule, Skill

with (Path(__file__).parent / "published" / "statistics.csv").open(encoding="utf-8") as table:
    ROWS = {row["id"]: row for row in csv.DictReader(table)}


def rule(
    in_a_row: int, days: int = 1, reteach: int = 0, budget: int = 12, settings: tuple[str, ...] = ("dry",)
) -> Rule:
    """A rule of the kind that rubrics have."""
    return Rule(in_a_row=in_a_row, distinct_days=days, settings=settings, reteach=reteach, budget=budget)  # type: ignore[arg-type]


def days_of(*sizes: int) -> list[DayPlan]:
    """Days with so many attempts each, all dry."""
    return [DayPlan(("dry",) * size) for size in sizes]


def published(row: str) -> tuple[dict[str, float], float, float]:
    """What goes in, what must come out, and how near."""
    return json.loads(ROWS[row]["inputs_json"]), float(ROWS[row]["expected"]), float(ROWS[row]["tolerance"])


@pytest.mark.parametrize("row", ["S049", "S050", "S051", "S062"])
def test_average_attempts_to_some_in_a_row_are_fellers(row: str) -> None:
    """(1-p^k)/((1-p)p^k): Feller, An Introduction to Probability Theory, vol. 1, ch. XIII."""
    given_, expected, near = published(row)
    asked = rule(int(given_["k"]), budget=60)
    assert expected_attempts(asked, Reliability(given_["p"])) == pytest.approx(expected, abs=max(near, 1e-6))


def test_a_run_of_three_within_ten_fair_tosses() -> None:
    """S053: 1 - 504/1024, by the tribonacci count."""
    given_, expected, near = published("S053")
    assert within(rule(3), Reliability(given_["p"]), int(given_["n"])) == pytest.approx(expected, abs=near)


@pytest.mark.parametrize("row", ["S055", "S056", "S059"])
def test_the_chance_to_meet_a_rule_is_that_of_trying_every_string(row: str) -> None:
    """S055 to S059: enumeration of all 3^n outcome strings."""
    given_, expected, near = published(row)
    asked = rule(given_["k"], given_["d"], given_["hold"])  # type: ignore[arg-type]
    curve = met_by(asked, days_of(*given_["day_sizes"]), Reliability(given_["p"], given_["p_crit"]))  # type: ignore[misc]
    assert curve[-1] == pytest.approx(expected, abs=near)


def test_an_observer_who_misses_faults_makes_a_rule_milder() -> None:
    """S061: p + (1-p)m."""
    given_, expected, near = published("S061")
    missed = met_by(rule(3, 2), days_of(2, 2, 2, 2), Reliability(given_["p"], missed=given_["miss"]))
    assert missed[-1] == pytest.approx(expected, abs=max(near, 1e-9))


def test_three_of_three_rules_out_little_and_proving_nine_in_ten_takes_29() -> None:
    """S045 and S048: 0.05^(1/3), and the smallest n with 0.9^n at most 0.05: n without one leave less than 1 in 10."""
    assert ruled_out_below(rule(3, 2), days_of(2, 1)) == pytest.approx(published("S045")[1], abs=1e-9)
    needed = next(n for n in range(1, 99) if critical_share_up_to(n) <= 0.1)
    assert needed == published("S048")[1] == math.ceil(math.log(0.05) / math.log(0.9))


def test_meeting_a_rule_late_rules_out_less() -> None:
    sooner, later, latest = (ruled_out_below(rule(3, 2), even_days(rule(3, 2), n)) for n in (4, 10, 15))
    assert sooner > later > latest > 0


def test_on_days_on_which_a_rule_cannot_be_met_nothing_is_said() -> None:
    assert math.isnan(ruled_out_below(rule(3, 2), days_of(5)))


def test_no_critical_error_in_ten_leaves_one_in_four_possible() -> None:
    """1 - 0.05^(1/10) = 0.2589 (Clopper and Pearson 1934, no event in n; from memory)."""
    assert critical_share_up_to(10) == pytest.approx(0.2589, abs=5e-5)
    with pytest.raises(ValueError, match="without an attempt"):
        critical_share_up_to(0)


def _ever_met(text: str, skill: Skill) -> list[bool]:
    """After each attempt of a history: whether the real machine has met the rule by then."""
    seen = attempts(text, skill)
    turns = [Turn(one, judge(one, skill, frozenset())) for one in seen]
    states = walk(turns, skill, last_day(seen)).states
    return [any(state.met_on for state in states[: place + 1]) for place in range(len(states))]


@pytest.mark.parametrize(
    ("asked", "sizes"),
    [(rule(2, 1, 1), (5,)), (rule(3, 2, 1), (2, 2, 2)), (rule(2, 2, 2), (1, 2, 2)), (rule(3, 3, 1), (2, 1, 2, 1))],
)
def test_the_chain_does_what_the_state_machine_does(asked: Rule, sizes: tuple[int, ...]) -> None:
    """Every history of that length, each with its chance, through the machine that decides standings."""
    shares = {"c": 0.6, "m": 0.3, "X": 0.1}
    skill, total = mouthpiece(**asked.model_dump()), np.zeros(sum(sizes))
    for letters in product(shares, repeat=sum(sizes)):
        rest, text = list(letters), []
        for size in sizes:
            text += [*rest[:size], "|"]
            rest = rest[size:]
        chance = math.prod(shares[letter] for letter in letters)
        total += chance * np.array(_ever_met(" ".join(text), skill))
    curve = met_by(asked, days_of(*sizes), Reliability(0.6, 0.1))
    assert curve == pytest.approx(total, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 4), st.integers(1, 3), st.floats(0, 1), st.floats(0, 1), st.integers(0, 2))
def test_a_curve_only_rises_and_with_reliability_too(k: int, d: int, p: float, q: float, reteach: int) -> None:
    asked = rule(max(k, d), d, reteach)
    low, high = sorted((p, q))
    worse, better = (met_by(asked, even_days(asked, 12), Reliability(share)) for share in (low, high))
    assert np.all(np.diff(worse) >= -1e-12)
    assert np.all(better >= worse - 1e-9)


def test_a_setting_that_is_never_visited_is_never_met() -> None:
    asked = rule(2, 1, settings=("dry", "pool"))
    assert met_by(asked, days_of(6), Reliability(1.0))[-1] == 0
    assert met_by(asked, [DayPlan(("dry", "pool"))], Reliability(1.0))[-1] == 1


def test_shares_that_are_none_are_refused() -> None:
    for wrong in ((1.2, 0, 0), (0.7, 0.4, 0), (0.5, -0.1, 0)):
        with pytest.raises(ValueError, match="between 0 and 1"):
            Reliability(*wrong)
