"""What to repeat first: the order of weak skills and the steps that go wrong."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from course_text import attempts, mouthpiece
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.stats import beta, betabinom

from course.assessment.attempts import judge
from course.assessment.weak_skills import (
    ClassPrior,
    Tally,
    class_prior,
    not_seen_yet,
    rank,
    share_below,
    tally,
    weak_steps,
)

with (Path(__file__).parent / "published" / "statistics.csv").open(encoding="utf-8") as table:
    ROWS = {row["id"]: row for row in csv.DictReader(table)}


def tallied(counted: int, of: int, student: str = "amaru", skill: str = "close") -> Tally:
    """So many attempts that counted."""
    return Tally(student, skill, counted, of)


def test_the_class_says_what_the_likelihood_says() -> None:
    """S069: the beta-binomial maximum by another optimiser of a reference library."""
    row = ROWS["S069"]
    given_ = json.loads(row["inputs_json"])
    class_ = [tallied(x, n, str(place)) for place, (x, n) in enumerate(zip(given_["x"], given_["n"], strict=True))]
    assert class_prior(class_).share == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_a_share_is_drawn_towards_the_class_and_doubt_is_its_distributions() -> None:
    """S068 (2 and 2 before, 3 of 3 seen) and S070 (Beta(5, 2) below 0.8)."""
    prior = ClassPrior(0.5, 4.0, 3)
    assert (prior.alpha + 3) / (4 + 3) == pytest.approx(float(ROWS["S068"]["expected"]))
    assert share_below(np.array(5.0), np.array(2.0), 0.8) == pytest.approx(float(ROWS["S070"]["expected"]), abs=1e-12)


def test_few_students_weigh_like_four_attempts_and_nobody_like_two() -> None:
    assert class_prior([tallied(2, 3), tallied(1, 4, "nkechi")]).weight == pytest.approx(4)
    assert class_prior([tallied(0, 0)]) == ClassPrior(0.5, 2.0, 0)


def test_critical_skills_stand_first_and_what_nobody_saw_is_another_list() -> None:
    some = [
        tallied(0, 5, skill="plain"),
        tallied(4, 5, skill="close"),
        tallied(1, 5, skill="bailout"),
        tallied(0, 0, skill="rescue"),
    ]
    ranked = rank(some, frozenset({"close", "bailout"}))
    assert [one.skill for one in ranked] == ["bailout", "close", "plain"]
    assert not_seen_yet(some) == {"amaru": ("rescue",)}


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=1, max_size=12))
def test_a_shrunk_share_lies_between_the_raw_one_and_the_class(pairs: list[tuple[int, int]]) -> None:
    some = [tallied(min(x, n), n, str(place)) for place, (x, n) in enumerate(pairs)]
    prior = class_prior(some)
    for one in rank(some, frozenset()):
        low, high = sorted((one.counted / one.attempts, prior.share))
        assert low - 1e-9 <= one.shrunk <= high + 1e-9
        assert 0 <= one.doubt <= 1


def test_a_tally_takes_what_counts_or_breaks_and_nothing_else() -> None:
    skill = mouthpiece()
    judged = [judge(one, skill, frozenset()) for one in attempts("c m X s i v c", skill)]
    assert tally("amaru", skill.id, judged) == Tally("amaru", skill.id, 2, 4, 1)


def test_the_step_that_went_wrong_is_named_with_the_attempts_in_which_it_did() -> None:
    """The demo's Amaru: the mouthpiece came out open in 3 of 11, at the third, sixth and tenth."""
    skill = mouthpiece()
    seen = attempts("c c X c c X c c c X c", skill)
    steps = weak_steps(
        [(one.attempt.number, judge(one, skill, frozenset())) for one in seen], [step.id for step in skill.steps]
    )
    assert [(one.step, one.wrong, one.seen, one.critical, one.at_attempts) for one in steps] == [
        ("co-out", 3, 11, 3, (3, 6, 10))
    ]


def test_a_step_that_was_not_seen_is_neither_right_nor_wrong() -> None:
    skill = mouthpiece()
    seen = attempts("c i c", skill)
    steps = weak_steps(
        [(one.attempt.number, judge(one, skill, frozenset())) for one in seen], [step.id for step in skill.steps]
    )
    assert steps == ()


TALLIES = st.lists(
    st.builds(
        lambda who, skill, counts, other: Tally(f"student-{who}", skill, counts, counts + other, critical=other // 2),
        st.integers(0, 30),
        st.sampled_from(["close", "bailout", "plain", "rescue"]),
        st.integers(0, 6),
        st.integers(0, 6),
    ),
    max_size=60,
    unique_by=lambda one: (one.student, one.skill),
)


@settings(max_examples=150, deadline=None)
@given(TALLIES)
def test_ranked_by_columns_as_one_by_one(some: list[Tally]) -> None:
    """Each tally weighed by itself with scipy's own beta distribution, and sorted by the rule of `rank` in words."""
    weighed = []
    for one in some:
        prior = class_prior([other for other in some if other.skill == one.skill])
        if one.attempts:
            a, b = prior.alpha + one.counted, prior.beta + one.attempts - one.counted
            weighed.append(
                (one.skill == "plain", -float(beta.cdf(0.8, a, b)), one.skill, one.student, a / (a + b), one)
            )
    ranked = rank(some, frozenset({"close", "bailout", "rescue"}))
    assert len(ranked) == len(weighed)
    for found, (_, doubt, skill, student, shrunk, one) in zip(
        ranked, sorted(weighed, key=lambda w: w[:4]), strict=True
    ):
        assert (found.student, found.skill, found.counted, found.attempts) == (
            student,
            skill,
            one.counted,
            one.attempts,
        )
        assert (found.doubt, found.shrunk) == (pytest.approx(-doubt), pytest.approx(shrunk))


def test_a_count_that_many_students_have_weighs_as_often() -> None:
    """Against scipy's own beta-binomial, every student a term of its own, by an optimiser without gradients."""
    class_ = [tallied(x, n) for x, n in [(1, 4)] * 9 + [(3, 4)] * 14 + [(2, 5)] * 3 + [(6, 6), (0, 3)]]

    def unlikely(at: np.ndarray) -> float:
        share, weight = 1 / (1 + np.exp(-at[0])), np.exp(at[1])
        return -sum(betabinom.logpmf(c.counted, c.attempts, share * weight, (1 - share) * weight) for c in class_)

    best = minimize(unlikely, x0=[0.0, 1.0], method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10})
    found = class_prior(class_)
    assert found.students == 28
    assert found.weight == pytest.approx(np.exp(best.x[1]), rel=1e-3)
    assert found.share == pytest.approx(1 / (1 + np.exp(-best.x[0])), rel=1e-3)
