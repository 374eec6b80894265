"""Oxygen exposure beside the hours: each student's and each instructor's day, against what the requirements hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.csv_text import csv_text
from course.answers.days import day_words
from course.asker import question
from course.hours.oxygen import DayExposure, exposure_days
from course.moments import training_day
from course.physics.gas import SLACK
from course.physics.registry.dose import BARDIN, NOAA, VALID
from course.physics.result import DEFERS, Side, rounded
from course.record.facts import Session
from course.standards.profile import OxygenRule
from course.words import listed, plural

_WHOLE = 100.0
OXYGEN_NOTE = (
    "CNS is the share of the table's limit that was used, of one exposure and of any 24 hours. "
    "The minutes on the loop count at the set points noted: level, and changing evenly where the way from one to the "
    "next was noted with its minutes. What no note covers, minutes on bailout, and a time in the water without in and "
    "out count level at the highest noted; of a time that was longer than its minutes those at the highest PO2 count; "
    "where a set point without a time was changed, note the highest. A PO2 between two lines of "
    "the table is read at the next line up; 24 hours are any 24 hours in UTC that end in the water; 1 ata is "
    "1.01325 bar. What was dived outside of this course is not in it. No dose is safe, "
    "and none says that one more session is."
)


@dataclass(frozen=True)
class ExposureLine:
    """One person's day, rounded up once."""

    person: str
    name: str
    day: str
    minutes: int
    set_points: str
    cns_single: str
    cns_24h: str
    otu_24h: str
    over: tuple[str, ...]
    """What is above the requirements' own limit, in words."""
    past_table: bool
    """Whether it is more than all of the table's limit, single or in 24 hours."""
    reason: str
    outside: tuple[str, ...] = ()
    """Set points noted for when they were not in the water, in words: not counted."""

    @property
    def sentence(self) -> str:
        """The line in words, for the command line."""
        if self.reason:
            return f"{self.name}, {self.day}: {self.minutes} min in the water. {self.reason}"
        told = f"{self.cns_single} of the single limit, {self.cns_24h} of the 24 h limit, {self.otu_24h} in 24 h"
        over = f". Over: {'; '.join(self.over)}" if self.over else ". Past the table's limit" if self.past_table else ""
        return f"{self.name}, {self.day}: {self.minutes} min at {self.set_points}: {told}{over}"


@dataclass(frozen=True)
class OxygenAnswer:
    """The exposure of a course's days."""

    sentence: str
    lines: tuple[ExposureLine, ...]
    unwritten: tuple[str, ...]
    """What is not counted: who was there without a time in the water, and set points noted for outside of those."""
    source: str
    validity: str
    cautions: tuple[str, ...]

    def text(self) -> list[str]:
        """The answer in lines."""
        told = ["", f"Oxygen exposure: {self.sentence}", *(f"  {one.sentence}" for one in self.lines), *self.unwritten]
        ground = (f"source: {self.source}", f"valid: {self.validity}", *self.cautions)
        return [*told, *(f"  {one}" for one in ground)] if self.lines else told

    def csv(self) -> str:
        """The lines as a table to take away."""
        head = (
            "who", "day", "minutes", "set_points", "cns_single", "cns_24h", "otu_24h", "over", "reason", "not_counted",
            "source", "validity",
        )  # fmt: skip
        rows = [
            (
                o.name, o.day, o.minutes, o.set_points, o.cns_single, o.cns_24h, o.otu_24h, "; ".join(o.over), o.reason,
                "; ".join(o.outside), self.source, self.validity,
            )
            for o in self.lines
        ]  # fmt: skip
        return csv_text(head, rows)


@question(Sight.HOURS)
def oxygen(seen: CourseView, as_of: date, people: Sequence[str] | None = None) -> OxygenAnswer:
    """Return the exposure of everybody who was in the water, students first.

    Args:
        seen: the course.
        as_of: training days after this one are left out.
        people: whose; None: everybody's.
    """
    sessions = [one for one in seen.sessions.values() if training_day(one.start) <= as_of]
    everybody = dict.fromkeys([*seen.students, *(member.person for member in seen.course.members)])
    rule = seen.profile.oxygen
    chosen = [person for person in everybody if people is None or person in people]
    lines = tuple(
        exposure_line(seen, day, rule)
        for person in chosen
        for day in exposure_days(sessions, person, rule.assumed_set_point_bar if rule else None)
    )
    unwritten = (*_unwritten(seen, sessions, chosen), *_outside(lines))
    cautions = (OXYGEN_NOTE, *_assumption(rule), DEFERS)
    return OxygenAnswer(_sentence(lines, rule), lines, unwritten, f"{NOAA}; {BARDIN}", VALID, cautions)


def exposure_line(seen: CourseView, one: DayExposure, rule: OxygenRule | None) -> ExposureLine:
    """Return a day in words, each number rounded up."""
    assumed = f" ({one.assumed_minutes} min assumed)" if one.assumed_minutes and not one.reason else ""
    return ExposureLine(
        person=one.person,
        name=seen.name(one.person),
        day=day_words(one.day),
        minutes=one.minutes,
        set_points=f"{held_words(one)}{assumed}",
        cns_single=_told(one.cns_single, "%"),
        cns_24h=_told(one.cns_24h, "%"),
        otu_24h=_told(one.otu_24h, "OTU"),
        over=over(one, rule),
        past_table=any(share is not None and share > _WHOLE + SLACK for share in (one.cns_single, one.cns_24h)),
        reason=one.reason,
        outside=one.outside,
    )


def held_words(one: DayExposure) -> str:
    """What was held on a day: levels first, then what changed."""
    levels = [f"{listed(list(one.set_points))} bar"] if one.set_points else []
    return "; ".join([*levels, *one.changes]) or "none noted"


def over(one: DayExposure, rule: OxygenRule | None) -> tuple[str, ...]:
    """Return what is above the requirements' own limit, in words."""
    if rule is None:
        return ()
    held = ((one.cns_24h, rule.cns_percent_24h, "%"), (one.otu_24h, rule.otu_24h, "OTU"))
    return tuple(
        f"{_told(value, unit)}, {most} {unit} asked at most in 24 h"
        for value, most, unit in held
        if value is not None and most is not None and value > most + SLACK
    )


def _told(value: float | None, unit: str) -> str:
    return "no number" if value is None else f"{rounded(value, Side.UP, 1):.1f} {unit}"


def _assumption(rule: OxygenRule | None) -> tuple[str, ...]:
    if rule is None or rule.assumed_set_point_bar is None:
        return ()
    return (f"Where no set point was noted the requirements assume {rule.assumed_set_point_bar} bar.",)


def _unwritten(seen: CourseView, sessions: Sequence[Session], people: Sequence[str]) -> tuple[str, ...]:
    wet = [one for one in sessions if one.setting in {"pool", "open_water"} and not one.withdrawn]
    lacking = {
        person: sum(
            any(span.person == person for span in one.spans) and all(water.person != person for water in one.water)
            for one in wet
        )
        for person in people
    }
    told = [f"{seen.name(person)} ({plural(count, 'session')})" for person, count in lacking.items() if count]
    return (f"There without a time in the water, and so not counted: {listed(told)}.",) if told else ()


def _outside(lines: Sequence[ExposureLine]) -> tuple[str, ...]:
    """Each set point that lies outside, with everybody for whom it does."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in lines:
        for words in one.outside:
            found.setdefault((one.day, words), []).append(one.name)
    return tuple(
        f"Not counted, {day}: {words}: {listed(names)} {'was' if len(names) == 1 else 'were'} not in the water then."
        for (day, words), names in found.items()
    )


def _sentence(lines: Sequence[ExposureLine], rule: OxygenRule | None) -> str:
    passed = [one for one in lines if one.over]
    if not lines:
        return "Nobody's time in the water is written down yet."
    if passed:
        return f"Over the requirements' limit: {listed([f'{one.name} on {one.day}' for one in passed])}."
    if all(one.reason for one in lines):
        return lines[0].reason
    past = [f"{one.name} on {one.day}" for one in lines if one.past_table]
    if past:
        return f"More than all of the table's limit: {listed(past)}."
    none = "none over the requirements' limit"
    if rule is None or (rule.cns_percent_24h is None and rule.otu_24h is None):
        none = "the requirements hold no limit of their own against them"
    people = len({one.person for one in lines})
    days = plural(len(lines), "day") + (f" of {people} people" if people > 1 else "")
    return f"{days} in the water, all within the table's limit; {none}."
