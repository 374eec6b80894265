"""How far observers agree, against published tables. Rows: published/statistics.csv, which names each source."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from course.assessment.agreement import agreement, fewer_errors, linear, weighted_kappa

with (Path(__file__).parent / "published" / "statistics.csv").open(encoding="utf-8") as table:
    ROWS = {row["id"]: row for row in csv.DictReader(table)}

# Krippendorff 2011, "Computing Krippendorff's Alpha-Reliability", section C: four observers, twelve units; also the
# raw data that Gwet 2014 works with. From memory; the published results below come out of it.
FOUR_OBSERVERS = (
    (1, 2, 3, 3, 2, 1, 4, 1, 2, None, None, None),
    (1, 2, 3, 3, 2, 2, 4, 1, 2, 5, None, 3),
    (None, 3, 3, 3, 2, 3, 4, 2, 2, 5, 1, None),
    (1, 2, 3, 3, 2, 4, 4, 1, 2, 5, 1, None),
)


def published(row: str) -> tuple[dict[str, Any], float, float]:
    """What goes in, what must come out, and how near."""
    return json.loads(ROWS[row]["inputs_json"]), float(ROWS[row]["expected"]), float(ROWS[row]["tolerance"])


def units_of(table: list[list[int]]) -> list[tuple[int, int]]:
    """Each rating of a square table of two observers."""
    return [(a, b) for a, row in enumerate(table) for b, count in enumerate(row) for _ in range(count)]


@pytest.mark.parametrize("row", ["S004", "S012", "S014", "S016", "S029", "S032"])
def test_kappa_is_the_published_one(row: str) -> None:
    given_, expected, near = published(row)
    assert weighted_kappa(given_.get("table") or given_["p"]) == pytest.approx(expected, abs=near)


@pytest.mark.parametrize("row", ["S006", "S013"])
def test_linear_weighted_kappa_is_the_published_one(row: str) -> None:
    given_, expected, near = published(row)
    assert weighted_kappa(given_["table"], linear(4)) == pytest.approx(expected, abs=near)


def test_kappa_with_weights_of_ones_own_is_cohens_example() -> None:
    given_, expected, near = published("S015")
    assert weighted_kappa(given_["p"], given_["v"]) == pytest.approx(expected, abs=near)


def test_kappa_of_fleiss_cohen_and_everitt() -> None:
    given_, expected, near = published("S017")
    shares = [[float(share) for share in row.split()] for row in given_["p"].split("/")]
    assert weighted_kappa(shares) == pytest.approx(expected, abs=near)


@pytest.mark.parametrize(("row", "ratings"), [("S021", FOUR_OBSERVERS), ("S025", None)])
def test_alpha_is_krippendorffs(row: str, ratings: tuple[tuple[int | None, ...], ...] | None) -> None:
    """A unit that one observer rated alone changes nothing."""
    given_, expected, near = published(row)
    observers = ratings or given_["data"]
    assert agreement(list(zip(*observers, strict=True))).alpha == pytest.approx(expected, abs=near)


def test_ac1_keeps_units_that_one_observer_rated() -> None:
    _, expected, near = published("S027")
    assert agreement(list(zip(*FOUR_OBSERVERS, strict=True))).ac1 == pytest.approx(expected, abs=near)


def test_where_errors_are_rare_the_specific_agreement_says_what_the_others_hide() -> None:
    """94.4 % the same, AC1 0.94, and not one error that both saw."""
    found = agreement(units_of(published("S031")[0]["table"]))
    assert found.same == pytest.approx(published("S031")[1])
    assert found.ac1 == pytest.approx(published("S033")[1], abs=1e-5)
    assert found.specific[1] == published("S034")[1] == 0


def test_observers_who_share_nothing_are_not_compared() -> None:
    found = agreement([("done", None), (None, "error")])
    assert (found.units, found.same, found.ac1, found.alpha) == (0, None, None, None)
    assert fewer_errors([]).p_value is None


def test_one_category_leaves_nothing_to_correct_for() -> None:
    found = agreement([("done", "done")] * 4)
    assert (found.same, found.ac1, found.alpha) == (1.0, None, None)
    with pytest.raises(ValueError, match="one category"):
        weighted_kappa([[5, 0], [0, 0]])


def test_fourteen_against_two_is_no_chance() -> None:
    """Two-sided exact sign test: 2 (C(16,0) + C(16,1) + C(16,2)) / 2^16 = 0.00418."""
    found = fewer_errors([(True, False)] * 14 + [(False, True)] * 2 + [(True, True)] * 17 + [(False, False)] * 90)
    assert (found.only_first, found.only_second, found.both) == (14, 2, 17)
    assert found.p_value == pytest.approx(2 * (1 + 16 + 120) / 2**16)


_RATING = st.sampled_from(["done", "error", "left_out", None])


@given(st.lists(st.lists(_RATING, min_size=3, max_size=3), min_size=1, max_size=12))
def test_agreement_is_that_of_counting_pairs(ratings: list[list[str | None]]) -> None:
    """Specific agreement by looking at every pair of ratings of each unit."""
    found = agreement(ratings)
    pairs = [
        (one, other)
        for row in ratings
        for place, one in enumerate(row)
        for at, other in enumerate(row)
        if place != at and one is not None and other is not None
    ]
    for name in found.categories:
        named = [pair for pair in pairs if pair[0] == name]
        expected = sum(one == other for one, other in named) / len(named) if named else None
        assert found.specific[name] == (pytest.approx(expected) if expected is not None else None)
