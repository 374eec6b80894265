"""Assessment statistics against published numbers, and against a general reference library on random tables.

Reference rows: published/statistics.csv, each with its source, how it is known, and how near a result must come.

| Area | Rows | Where |
|---|---|---|
| agreement | S004, S006, S012-S017, S021, S025, S027, S029, S031-S034 | test_agreement.py |
| agreement | S001-S003, S018, S020, S028; kappa of random tables (statsmodels) | here |
| proportion | S045, S048 | test_strictness.py, test_rule_strictness_answer.py |
| proportion | S047: the prior of one half that weighs two is Beta(1, 1) | here |
| runs, mastery OC, prediction | S049-S051, S053, S055, S056, S059, S061, S062 | test_strictness.py |
| weak skills | S068-S070 | test_weak_skills.py; S068 through the whole ranking here |
| leniency | S074, U001-U003 | test_severity.py |
| order | S083-S086 | test_step_order.py |

Fleiss' kappa has no function of its own, since nobody asks for it: alpha and AC1 hold its shares, so that its published
values are reached from either by arithmetic, and neither could be wrong without the other noticing.

Known and left out: standard errors of kappa (a range is drawn from the attempts instead), alpha for measured values
(marks are names), ranges of Wilson, Clopper and Pearson for both sides and Jeffreys' quantile (what stands beside a
standing is the share that meeting the rule rules out, S045).
"""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from statsmodels.stats.inter_rater import aggregate_raters, cohens_kappa, fleiss_kappa

from course.assessment.agreement import Agreement, agreement, linear, weighted_kappa
from course.assessment.weak_skills import Tally, class_prior, rank

HERE = Path(__file__).parent
with (HERE / "published" / "statistics.csv").open(encoding="utf-8") as table:
    ROWS = {row["id"]: row for row in csv.DictReader(table)}


def published(row: str) -> tuple[dict[str, Any], float, float]:
    """What goes in, what must come out, and how near."""
    return json.loads(ROWS[row]["inputs_json"]), float(ROWS[row]["expected"]), float(ROWS[row]["tolerance"])


def ratings_of(given_: dict[str, Any]) -> list[list[Any]]:
    """Units with their ratings, from ratings, from counts by category, or from the observers' columns."""
    if "counts" in given_:
        return [[c for c, count in enumerate(row) for _ in range(count)] for row in given_["counts"]]
    if "observers" in given_:
        return [list(unit) for unit in zip(*given_["observers"], strict=True)]
    return [list(row) for row in given_["ratings"]]


def fleiss_by_ac1(found: Agreement) -> float:
    """Fleiss' kappa from what AC1 holds: its chance is the sum of share x (1 - share) by one less than categories."""
    assert found.same is not None
    assert found.ac1 is not None
    chance = (found.same - found.ac1) / (1 - found.ac1)
    alike = 1 - chance * (len(found.categories) - 1)
    return (found.same - alike) / (1 - alike)


def fleiss_by_alpha(found: Agreement, ratings: int) -> float:
    """Fleiss' kappa from alpha, which draws its chance pairs without putting the first rating back."""
    assert found.alpha is not None
    return 1 - (1 - found.alpha) * ratings / (ratings - 1)


@pytest.mark.parametrize("row", ["S001", "S002", "S003"])
def test_alpha_and_ac1_hold_the_published_kappa_of_fleiss(row: str) -> None:
    given_, expected, near = published(row)
    ratings = ratings_of(given_)
    found = agreement(ratings)
    assert fleiss_by_alpha(found, sum(map(len, ratings))) == pytest.approx(expected, abs=near)
    assert fleiss_by_ac1(found) == pytest.approx(expected, abs=near)


def test_with_ratings_missing_ac1_still_holds_the_kappa_of_the_reference_library() -> None:
    """S028: units that one observer rated say how common a category is, and nothing about agreement."""
    given_, expected, near = published("S028")
    assert fleiss_by_ac1(agreement(ratings_of(given_))) == pytest.approx(expected, abs=near)


def square_table(pairs: list[list[int]]) -> list[list[float]]:
    """Counts of two observers over the categories that either used, in order."""
    used = sorted({one for pair in pairs for one in pair})
    return [[float(sum(pair == [one, other] for pair in pairs)) for other in used] for one in used]


@pytest.mark.parametrize(("row", "power"), [("S018", 0), ("S020", 2)])
def test_kappa_of_two_of_three_raters_is_the_printed_one(row: str, power: int) -> None:
    """Plain, and with squared steps between the categories that were used."""
    given_, expected, near = published(row)
    counts = square_table(given_["ratings"])
    steps = [[float(abs(a - b) ** power) if a != b else 0.0 for b in range(len(counts))] for a in range(len(counts))]
    assert weighted_kappa(counts, steps) == pytest.approx(expected, abs=near)


_COUNTS = st.integers(2, 4).flatmap(
    lambda size: st.lists(st.lists(st.integers(0, 15), min_size=size, max_size=size), min_size=size, max_size=size)
)


@settings(deadline=None, max_examples=80)
@given(_COUNTS)
def test_kappa_of_any_table_is_that_of_a_reference_library(counts: list[list[int]]) -> None:
    """statsmodels, cohens_kappa: plain and linear-weighted."""
    table = np.array(counts, dtype=float)
    shares = table.sum(axis=0), table.sum(axis=1)
    assume(table.sum() > 0)
    assume(1 - float(shares[0] @ shares[1]) / table.sum() ** 2 > 1e-9)
    plain, weighted = (cohens_kappa(table, wt=wt, return_results=False) for wt in (None, "linear"))
    assert weighted_kappa(counts) == pytest.approx(float(plain), abs=1e-9)
    assert weighted_kappa(counts, linear(len(counts))) == pytest.approx(float(weighted), abs=1e-9)


@settings(deadline=None, max_examples=80)
@given(st.integers(2, 4).flatmap(lambda n: st.lists(st.lists(st.integers(0, 3), min_size=n, max_size=n), min_size=2)))
def test_alpha_and_ac1_of_any_whole_ratings_hold_the_kappa_of_a_reference_library(ratings: list[list[int]]) -> None:
    """statsmodels, fleiss_kappa."""
    found = agreement(ratings)
    assume(found.alpha is not None)
    expected = float(fleiss_kappa(aggregate_raters(np.array(ratings))[0]))
    assert fleiss_by_alpha(found, sum(map(len, ratings))) == pytest.approx(expected, abs=1e-9)
    assume(found.ac1 != 1)  # observers who always agree leave nothing to take the shares from
    assert fleiss_by_ac1(found) == pytest.approx(expected, abs=1e-9)


def class_of(*pairs: tuple[int, int]) -> list[Tally]:
    """One student for each pair of attempts that counted and attempts."""
    return [Tally(f"student-{place}", "close", counted, of) for place, (counted, of) in enumerate(pairs)]


@pytest.mark.parametrize(
    ("row", "students", "share", "weight"),
    [
        ("S068", class_of((3, 3), (0, 3)), 0.5, 4),
        ("S047", class_of((7, 10), (3, 10), *[(10, 10), (0, 10)] * 4), 0.5, 2),
    ],
)
def test_a_ranked_share_is_the_mean_that_the_prior_and_the_attempts_give(
    row: str, students: list[Tally], share: float, weight: float
) -> None:
    """Students mirrored in pairs make a class of one half; few weigh four, and those far apart weigh two."""
    given_, expected, _ = published(row)
    prior = class_prior(students)
    assert (prior.share, prior.weight) == (pytest.approx(share, abs=1e-6), pytest.approx(weight))
    first = next(one for one in rank(students, frozenset()) if one.student == "student-0")
    assert (first.counted, first.attempts) == (given_["x"], given_["n"])
    assert first.shrunk == pytest.approx(expected, abs=1e-6)


def test_every_row_is_read_by_a_test_and_listed_with_its_source() -> None:
    """A reference row that nobody reads would only look like a check."""
    texts = "".join(path.read_text(encoding="utf-8") for path in sorted(HERE.glob("test_*.py")))
    code = texts.replace(__doc__ or "", "")
    assert [row for row in ROWS if f'"{row}"' not in code] == []
    assert [row for row, told in ROWS.items() if not (told["source"] and told["source_kind"])] == []
