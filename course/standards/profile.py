"""What a course requires: hours, counts, ratios, proofs, skills. All shipped numbers are made-up examples."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from course.standards.plain import At, Flaw, ids_twice, named_twice
from course.standards.rubric import Label, Setting, Slug, Text, is_decimal
from course.standards.strict import Strict

ADULT_YEARS = 18
"""Whoever is younger on a training day is a minor, as in article 1 of the UN's Convention on the Rights of the Child
(from memory); where the law sets another age, a rule of this file says nothing of it."""
Day = Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]

LEAST_SET_POINT, MOST_SET_POINT = 0.16, 1.6
"""In bar: below is hypoxia, above there is no limit to count by."""


class HourRule(Strict):
    """At least so many minutes of one kind."""

    of: Literal["theory", "dry", "pool", "open_water", "in_water_on_loop"]
    at_least_minutes: Annotated[int, Field(ge=1, le=100_000)]


class CountRule(Strict):
    """At least so many of something, each of at least so many minutes."""

    of: Literal["pool_sessions", "open_water_dives", "training_days"]
    at_least: Annotated[int, Field(ge=1, le=500)]
    each_at_least_minutes: Annotated[int, Field(ge=0, le=600)]


class RatioRule(Strict):
    """How many students one group may have in a setting."""

    setting: Setting
    students_per_instructor: Annotated[int, Field(ge=1, le=30)]
    extra_with_assistant: Annotated[int, Field(ge=0, le=10)]
    most_students: Annotated[int, Field(ge=1, le=30)]
    """However many instructors there are."""
    low_visibility_students_per_instructor: Annotated[int, Field(ge=1, le=30)] | None = None
    low_visibility_below_m: Annotated[int, Field(ge=1, le=100)] | None = None
    """A visibility that was written down and is less than this is low; without it only a person calls it low."""
    students_per_instructor_with_minor: Annotated[int, Field(ge=1, le=30)] | None = None
    """While somebody under 18 is among the students."""
    deeper_than_m: Annotated[int, Field(ge=1, le=100)] | None = None
    students_per_instructor_deeper: Annotated[int, Field(ge=1, le=30)] | None = None
    """While somebody of the group is on a dive that goes deeper than `deeper_than_m`."""

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """No circumstance ever allows more students, and a limit by number needs its number."""
        normal = at["students_per_instructor"].number
        for name, words in _STRICTER.items():
            stricter = at[name]
            if stricter.number is not None and normal is not None and stricter.number > normal:
                yield stricter.flaw(
                    f"More students {words} ({stricter.number}) than else ({normal}).", f"Write {normal} or fewer."
                )
        yield from _needs(at, "deeper_than_m", "students_per_instructor_deeper")
        yield from _needs(at, "students_per_instructor_deeper", "deeper_than_m")
        yield from _needs(at, "low_visibility_below_m", "low_visibility_students_per_instructor")


_STRICTER = {
    "low_visibility_students_per_instructor": "in low visibility",
    "students_per_instructor_with_minor": "with a minor among them",
    "students_per_instructor_deeper": "on a deeper dive",
}


def _needs(at: At, name: str, other: str) -> Iterator[Flaw]:
    if at[name].number is not None and at[other].value is None:
        yield at[name].flaw(f'"{name}" says nothing without "{other}".', f"Write {other} as well, or take this out.")


class Prerequisite(Strict):
    """A proof that has to be seen before a stage."""

    id: Slug
    label: Label
    proof: Literal["certificate", "logbook", "signed_form", "date_of_birth", "medical_form", "instructor_check"]
    valid_days: Annotated[int, Field(ge=1, le=3660)] | None = None
    blocks: Literal["enrolment", "dry", "pool", "open_water", "signoff"]
    """The stage that is held shut while the proof is missing."""


class ExamRule(Strict):
    """How much of the theory exam has to be right."""

    at_least: Annotated[int, Field(ge=1, le=1000)]
    of: Annotated[int, Field(ge=1, le=1000)]

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """Nobody gets more right than there is."""
        asked, of = at["at_least"], at["of"]
        if asked.number is not None and of.number is not None and asked.number > of.number:
            yield asked.flaw(f"{asked.number} right are asked of {of.number}.", f"Write {of.number} or fewer.")


class OxygenRule(Strict):
    """How oxygen exposure of a day is reckoned and up to where it may go; the numbers are the agency's or examples."""

    assumed_set_point_bar: str | None = None
    """Decimal number in quotes: what is taken where no set point was noted. None: nothing is counted then."""
    cns_percent_24h: Annotated[int, Field(ge=1, le=100)] | None = None
    """Most of the 24 hour limit in any 24 hours."""
    otu_24h: Annotated[int, Field(ge=1, le=2000)] | None = None
    """Most units of lung exposure in any 24 hours."""

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """A set point is a number that a loop can hold."""
        place = at["assumed_set_point_bar"]
        if place.text and not (is_decimal(place.text) and LEAST_SET_POINT <= float(place.text) <= MOST_SET_POINT):
            yield place.flaw(
                f'"{place.text}" is no set point in bar.', f"Write {LEAST_SET_POINT} to {MOST_SET_POINT}, in quotes."
            )


class Profile(Strict):
    """One revision of what one kind of course requires."""

    id: Slug
    title: Label
    example_only: Literal[True]
    notice: Text
    revision: Annotated[str, Field(min_length=1, max_length=24)]
    in_force_from: Day
    """The first day, in quotes: "2026-01-31"."""
    supersedes: str | None = None
    """The revision before this one."""
    for_whom: Literal["student", "candidate"]
    unit_bound: bool
    minimum_age_years: Annotated[int, Field(ge=10, le=30)]
    hours: tuple[HourRule, ...]
    counts: tuple[CountRule, ...]
    ratios: Annotated[tuple[RatioRule, ...], Field(min_length=1)]
    max_depth_m: Annotated[int, Field(ge=1, le=100)]
    max_depth_m_minor: Annotated[int, Field(ge=1, le=100)] | None = None
    """For somebody who is under 18 on the day of the dive."""
    prerequisites: tuple[Prerequisite, ...]
    required_skills: Annotated[tuple[Slug, ...], Field(min_length=1)]
    optional_skills: tuple[Slug, ...] = ()
    sign_by: Annotated[
        tuple[Literal["lead_instructor", "second_instructor", "student", "training_manager"], ...], Field(min_length=1)
    ]
    finish_within_days: Annotated[int, Field(ge=1, le=730)]
    instructor_currency_days: Annotated[int, Field(ge=30, le=730)]
    consent_under_years: Annotated[int, Field(ge=10, le=30)] = 18
    """Below this age a guardian's consent is needed for each stage in the water; local law may ask another age."""
    exam: ExamRule | None = None
    """None: an exam is noted where there is one, and none is asked for."""
    oxygen: OxygenRule | None = None
    """None: exposure is told by the set points that were noted, and no limit is held against it."""
    counts_after_window: bool = False
    """Whether attempts count that were made after the days to finish in."""

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """Each thing is required once, from a day that exists."""
        for name in ("required_skills", "optional_skills", "sign_by"):
            yield from named_twice(at[name])
        yield from ids_twice(at["prerequisites"], "prerequisites of this profile")
        yield from _stated_twice(at["hours"], "of")
        yield from _stated_twice(at["ratios"], "setting")
        required = set(at["required_skills"].texts)
        for place in at["optional_skills"].each():
            if place.text in required:
                yield place.flaw(
                    f'"{place.text}" is required and optional at once.', "Take it out of one of the two lists."
                )
        minor, most = at["max_depth_m_minor"], at["max_depth_m"].number
        if minor.number is not None and most is not None and minor.number > most:
            yield minor.flaw(f"Deeper for a minor ({minor.number}) than else ({most}).", f"Write {most} or less.")
        day = at["in_force_from"]
        if day.text and not _is_day(day.text):
            yield day.flaw(f'"{day.text}" is no day of the calendar.', 'Write year, month and day: "2026-01-31".')

    @property
    def first_day(self) -> datetime.date:
        """The first day on which this revision is in force."""
        return datetime.date.fromisoformat(self.in_force_from)


def _stated_twice(rules: At, name: str) -> Iterator[Flaw]:
    seen: set[str] = set()
    for place in (rule[name] for rule in rules.each()):
        if place.text and place.text in seen:
            yield place.flaw(f'"{place.text}" has two rules here.', "Keep one of them.")
        seen.add(place.text)


def _is_day(text: str) -> bool:
    try:
        return datetime.date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
