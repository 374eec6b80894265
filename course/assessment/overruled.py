"""Readings of a unit that speak against a tick: which they are, and from when to when they do.

A step whose rubric names a kind of reading is not done by a tick where the unit itself said otherwise. Of each cell the
last reading holds that anybody can judge, from two hours before the attempt began to its end; a later one that is
inside its bounds takes an earlier one back, and makes no step done. Who decides may set a reading aside, with a reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta

from course.assessment.unit_readings import Judged
from course.moments import Observed
from course.record.facts import Attempt
from course.standards.rubric import Skill
from course.words import ReadingKind

JUST_BEFORE = timedelta(hours=2)
"""How long before an attempt a reading may have been taken: as long as cells count as read together (our choice)."""
JUST_BEFORE_WORDS = "from two hours before the attempt to its end"


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


def against(attempt: Attempt, readings: Iterable[Judged]) -> tuple[Against, ...]:
    """Return what the unit of an attempt said against a tick, whatever the step.

    Args:
        attempt: the attempt; one from elsewhere was on a unit that nobody here read.
        readings: everything that was read of its unit, the earliest first.
    """
    if attempt.from_elsewhere:
        return ()
    begins = attempt.observed.moment - JUST_BEFORE
    ends = attempt.ending.observed.moment if attempt.ending else None
    last: dict[tuple[ReadingKind, int | None], Judged] = {}
    for one in readings:
        at = one.reading.observed.moment
        if one.outside is not None and begins <= at and (ends is None or at <= ends):
            last[one.reading.what, one.reading.cell] = one
    return tuple(
        Against(read.id, read.event, read.hash, read.what, read.observed, one.told)
        for one in last.values()
        if one.outside
        for read in (one.reading,)
    )


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
