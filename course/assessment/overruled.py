"""Readings of a unit that speak against a tick: which they are, and from when to when they do.

A step whose rubric names a kind of reading is not done by a tick where the unit itself said otherwise. Of each cell the
last reading holds that anybody can judge, from two hours before the attempt began to its end; a later one that is
inside its bounds takes an earlier one back, and makes no step done. Who decides may set a reading aside, with a reason.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache

from course.assessment.unit_readings import Judged, judged
from course.moments import Observed
from course.record.facts import Attempt
from course.record.unit_facts import Reading
from course.standards.rubric import Skill
from course.words import ReadingKind

JUST_BEFORE = timedelta(hours=2)
"""How long before an attempt a reading may have been taken: as long as cells count as read together (our choice)."""
_KEPT = 4096


@dataclass(frozen=True)
class Against:
    """A reading that was outside its bounds around the time of an attempt on its unit."""

    reading: str
    event: str
    hash: str
    what: ReadingKind
    at: Observed
    told: str
    """What was read and what that is worth."""

    @property
    def words(self) -> str:
        """When it was read, and what it says."""
        return f"read at {self.at.local:%H:%M}: {self.told}"


def against(attempt: Attempt, readings: Sequence[Reading]) -> tuple[Against, ...]:
    """Return what the unit of an attempt said against a tick, whatever the step.

    Args:
        attempt: the attempt; one from elsewhere was on a unit that nobody here read.
        readings: everything that was read of its unit, the earliest first.
    """
    if attempt.from_elsewhere:
        return ()
    ends = attempt.ending.observed.moment if attempt.ending else None
    first = bisect_left(readings, attempt.observed.moment - JUST_BEFORE, key=_moment)
    after = len(readings) if ends is None else bisect_right(readings, ends, key=_moment)
    last: dict[tuple[ReadingKind, int | None], Judged] = {}
    for one in map(_judged, readings[first:after]):
        if one.outside is not None:
            last[one.reading.what, one.reading.cell] = one
    return tuple(
        Against(read.id, read.event, read.hash, read.what, read.observed, one.told)
        for one in last.values()
        if one.outside
        for read in (one.reading,)
    )


def _moment(reading: Reading) -> datetime:
    return reading.observed.moment


@lru_cache(maxsize=_KEPT)
def _judged(reading: Reading) -> Judged:
    """A reading never changes, and a course is read anew after each tap."""
    return judged(reading)


def by_step(skill: Skill, attempt: Attempt, found: Iterable[Against]) -> Mapping[str, tuple[Against, ...]]:
    """Return step by step what speaks against its tick, without what was set aside for it."""
    found = tuple(found)
    aside = {(one.step, reading) for one in attempt.set_aside for reading in one.readings}
    told = {
        step.id: tuple(one for one in found if one.what == step.reading and (step.id, one.reading) not in aside)
        for step in (skill.steps if found else ())
        if step.reading
    }
    return {step: readings for step, readings in told.items() if readings}
