"""Whether an observer records more errors than others: against published tables and a general reference library."""

from __future__ import annotations

import csv
import json
from math import exp, log
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm
from statsmodels.stats.contingency_tables import StratifiedTable
from statsmodels.stats.meta_analysis import combine_effects

from course.assessment.severity import Seen, Severity, Table, groups, mantel_haenszel, severity, spread

with (Path(__file__).parent / "published" / "statistics.csv").open(encoding="utf-8") as table:
    ROWS = {row["id"]: row for row in csv.DictReader(table)}


def strata(row: str) -> tuple[list[Table], float, float]:
    """What goes in, what must come out, and how near."""
    tables = [tuple(one) for one in json.loads(ROWS[row]["inputs_json"])["strata"]]
    return tables, float(ROWS[row]["expected"]), float(ROWS[row]["tolerance"])


def ratio_of(tables: list[Table]) -> tuple[float, float]:
    found = mantel_haenszel(tables)
    assert found.ratio is not None
    assert found.log_error is not None
    return found.ratio, found.log_error


def test_inside_departments_the_ratio_is_the_published_one() -> None:
    tables, expected, near = strata("U001")
    assert ratio_of(tables)[0] == pytest.approx(expected, abs=near)


@pytest.mark.parametrize(("row", "side"), [("U002", -1), ("U003", 1)])
def test_its_interval_is_the_published_one(row: str, side: int) -> None:
    """The standard error of Robins, Breslow and Greenland, seen through both ends of the interval that R prints."""
    tables, expected, near = strata(row)
    ratio, error = ratio_of(tables)
    assert exp(log(ratio) + side * norm.ppf(0.975) * error) == pytest.approx(expected, abs=near)


def test_without_strata_the_same_data_say_the_opposite() -> None:
    """S074: 1.84 for all together, 0.90 inside departments."""
    tables, expected, near = strata("S074")
    together: Table = tuple(map(sum, zip(*tables, strict=True)))  # type: ignore[assignment]
    assert ratio_of([together])[0] == pytest.approx(expected, abs=near)
    assert ratio_of(tables)[0] < 1 < ratio_of([together])[0]


_COUNT = st.integers(1, 40)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(_COUNT, _COUNT, _COUNT, _COUNT), min_size=1, max_size=8))
def test_ratio_and_error_are_those_of_a_reference_library(tables: list[Table]) -> None:
    """statsmodels, StratifiedTable."""
    reference = StratifiedTable([np.array(one, dtype=float).reshape(2, 2) for one in tables])
    ratio, error = ratio_of(tables)
    assert ratio == pytest.approx(float(reference.oddsratio_pooled), rel=1e-9)
    assert error == pytest.approx(float(reference.logodds_pooled_se), rel=1e-9)


_EFFECTS = st.lists(st.tuples(st.floats(-2, 2), st.floats(0.05, 1.5)), min_size=2, max_size=9)


@settings(deadline=None, max_examples=60)
@given(_EFFECTS)
def test_spread_is_dersimonian_and_lairds(pairs: list[tuple[float, float]]) -> None:
    """statsmodels, combine_effects with method_re="dl"; below 0 it is none."""
    effects, errors = (list(part) for part in zip(*pairs, strict=True))
    reference = combine_effects(np.array(effects), np.array(errors) ** 2, method_re="dl").tau2
    assert spread(effects, errors) == pytest.approx(max(0.0, float(reference)), abs=1e-9)


def marked(observer: str, student: str, errors: str, skill: str = "close") -> list[Seen]:
    """Sheets of one observer on attempts 1, 2, 3 ...: "x" with an error, "." without."""
    return [Seen(observer, student, skill, at, one == "x") for at, one in enumerate(errors, 1)]


def by_name(seen: list[Seen]) -> dict[str, Severity]:
    return {one.observer: one for one in severity(seen)}


def strict_and_mild(students: int, skills: int = 2) -> list[Seen]:
    """Tamsin marks an error in three of four attempts of everybody at everything, Bruno and Ines in one of four."""
    found: list[Seen] = []
    for student in range(students):
        for skill in range(skills):
            for observer, errors in (("tamsin", "xx.x"), ("bruno", "x..."), ("ines", ".x..")):
                found += marked(observer, f"student-{student}", errors, f"skill-{skill}")
    return found


def test_who_records_more_on_the_same_students_and_skills_is_named() -> None:
    found = by_name(strict_and_mild(6))
    assert found["tamsin"].said
    assert (found["tamsin"].strata, found["tamsin"].students) == (12, 6)
    assert found["tamsin"].ratio is not None
    assert found["tamsin"].drawn_ratio is not None
    assert 1 < found["tamsin"].drawn_ratio < found["tamsin"].ratio, "drawn towards none"
    assert found["bruno"].drawn_ratio is not None
    assert found["bruno"].drawn_ratio < 1


@pytest.mark.parametrize(("students", "skills"), [(4, 5), (6, 1)])
def test_fewer_students_than_statistics_need_say_nothing(students: int, skills: int) -> None:
    """Hard case 26: 20 strata of 4 students, and 6 strata of 6 students, are both too few."""
    found = by_name(strict_and_mild(students, skills))["tamsin"]
    assert not found.enough
    assert not found.said


def test_who_sees_first_attempts_is_not_called_severe() -> None:
    """Learners err on their first attempts: mean attempt numbers more than one apart are not compared."""
    seen: list[Seen] = []
    for student in range(6):
        for skill in range(2):
            name, of = f"student-{student}", f"skill-{skill}"
            seen += [Seen("tamsin", name, of, at, error) for at, error in ((1, True), (2, True), (3, False))]
            seen += [Seen("bruno", name, of, at, error) for at, error in ((4, False), (5, True), (6, False))]
    found = by_name(seen)["tamsin"]
    assert found.enough
    assert not found.same_attempts
    assert not found.said


def test_observers_who_share_no_student_are_of_two_groups() -> None:
    seen = marked("tamsin", "amaru", "x.") + marked("bruno", "jonas", "..") + marked("ines", "amaru", "x")
    assert groups(seen) == {"tamsin": 1, "bruno": 2, "ines": 1}
    found = by_name(seen)["bruno"]
    assert (found.strata, found.ratio, found.likely) == (0, None, None)
    assert not found.said


def test_a_chain_of_students_links_observers_who_never_met() -> None:
    seen = marked("tamsin", "amaru", ".") + marked("bruno", "amaru", ".")
    seen += marked("bruno", "jonas", ".") + marked("ines", "jonas", ".")
    assert set(groups(seen).values()) == {1}


@pytest.mark.parametrize(
    "seen", [[], marked("tamsin", "amaru", "x"), marked("tamsin", "a", "xx") + marked("b", "a", "xx")]
)
def test_nobody_one_sheet_or_all_alike_compares_nothing(seen: list[Seen]) -> None:
    assert [(one.strata, one.ratio, one.said) for one in severity(seen)] == [
        (0, None, False) for _ in {one.observer for one in seen}
    ]


def test_an_observer_who_never_differs_has_no_ratio() -> None:
    """All errors on one side: the odds have no end, and no number is made up for it."""
    seen = [one for s in range(6) for k in range(2) for one in marked("tamsin", f"{s}", "xx", f"{k}")]
    seen += [one for s in range(6) for k in range(2) for one in marked("bruno", f"{s}", "..", f"{k}")]
    assert [one.ratio for one in severity(seen)] == [None, None]


_SEEN = st.builds(
    Seen,
    observer=st.sampled_from(["tamsin", "bruno", "ines"]),
    student=st.sampled_from(["amaru", "jonas", "ravi"]),
    skill=st.sampled_from(["close", "bailout"]),
    number=st.integers(1, 6),
    error=st.booleans(),
)


@settings(deadline=None, max_examples=80)
@given(st.lists(_SEEN, max_size=40), st.randoms())
def test_order_of_sheets_never_matters(seen: list[Seen], random: object) -> None:
    """And two observers alone are each other's mirror."""
    shuffled = list(seen)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    before, after = by_name(seen), by_name(shuffled)
    for name, one in before.items():
        assert after[name].ratio == pytest.approx(one.ratio)
        assert after[name].likely == pytest.approx(one.likely)
    pair = [one for one in seen if one.observer != "ines"]
    two = by_name(pair)
    if len(two) == 2 and two["tamsin"].ratio:
        assert two["bruno"].ratio == pytest.approx(1 / two["tamsin"].ratio)
