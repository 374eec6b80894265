"""Ratio rules for minors, low visibility and depth: what may stand together, and that files without them stay as is."""

from __future__ import annotations

from typing import Any

import pytest
from centre_builder import shipped_standards

from course.standards.plain import At
from course.standards.profile import Profile, RatioRule

PLAIN = {"setting": "open_water", "students_per_instructor": 2, "extra_with_assistant": 1, "most_students": 4}


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({}, []),
        ({"students_per_instructor_with_minor": 2, "deeper_than_m": 18, "students_per_instructor_deeper": 1}, []),
        ({"students_per_instructor_with_minor": 3}, ["More students with a minor among them (3) than else (2)."]),
        (
            {"deeper_than_m": 18, "students_per_instructor_deeper": 3},
            ["More students on a deeper dive (3) than else (2)."],
        ),
        ({"deeper_than_m": 18}, ['"deeper_than_m" says nothing without "students_per_instructor_deeper".']),
        (
            {"students_per_instructor_deeper": 1},
            ['"students_per_instructor_deeper" says nothing without "deeper_than_m".'],
        ),
        (
            {"low_visibility_below_m": 3},
            ['"low_visibility_below_m" says nothing without "low_visibility_students_per_instructor".'],
        ),
    ],
)  # fmt: skip
def test_a_stricter_number_is_no_looser_and_stands_with_its_own_limit(more: dict[str, Any], told: list[str]) -> None:
    assert [flaw.wrong for flaw in RatioRule.flaws(At(PLAIN | more))] == told


def test_a_minors_greatest_depth_is_no_deeper() -> None:
    told = [flaw.wrong for flaw in Profile.flaws(At({"max_depth_m": 18, "max_depth_m_minor": 20}))]
    assert told == ["Deeper for a minor (20) than else (18)."]


def test_profiles_written_before_these_rules_read_as_they_did() -> None:
    """What is hashed is what was written, without defaults: none of the new fields comes into it."""
    written = shipped_standards().written["99_profiles.yaml"]["profiles"]
    assert {key for profile in written for rule in profile["ratios"] for key in rule} == {
        *PLAIN, "low_visibility_students_per_instructor",
    }  # fmt: skip
    assert not any("max_depth_m_minor" in profile for profile in written)
    assert all(profile.max_depth_m_minor is None for profile in shipped_standards().profiles)
