"""Oxygen exposure of a course's days, for whoever was in the water: from times in the water and set points.

All of a time is taken at the set point, the ways down and up and minutes on bailout gas too: the careful side, since
nobody wrote down what was breathed then. Times of one session that lie over each other count one after the other, for
the same reason; times of two sessions that do are not counted, and it is said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from course.errors import RefusedError
from course.moments import training_day
from course.physics.constants import ATMOSPHERE_BAR
from course.physics.exposure import DAY, Exposure, Limit, cns_percent, in_order, otu, single_peak
from course.record.facts import Session


@dataclass(frozen=True)
class DayExposure:
    """One person's exposure on one training day. Shares are in percent, exact; `reason` stands where there is none."""

    person: str
    day: date
    minutes: int
    set_points: tuple[str, ...]
    """In bar, as noted or assumed."""
    assumed_minutes: int
    """Minutes for which no set point was noted."""
    cns_single: float | None = None
    cns_24h: float | None = None
    """The most in any 24 hours that end on this day."""
    otu_24h: float | None = None
    reason: str = ""


@dataclass(frozen=True)
class _Stretch:
    day: date
    exposure: Exposure | None
    minutes: int
    set_point: str
    assumed: bool


def exposure_days(sessions: Iterable[Session], person: str, assumed: str | None) -> tuple[DayExposure, ...]:
    """Return somebody's exposure, day by day.

    Args:
        sessions: of the course.
        person: whose.
        assumed: the set point in bar where none was noted; None: such minutes are counted by nothing, and it is said.
    """
    found = [one for session in sessions if not session.withdrawn for one in _stretches(session, person, assumed)]
    counted = [one.exposure for one in found if one.exposure is not None]
    return tuple(_day(person, day, found, counted) for day in sorted({one.day for one in found}))


def set_point_of(session: Session, person: str) -> str | None:
    """Return the set point that was noted, in bar; of two laptops' words the higher one, which is the careful side."""
    own = [one.bar for one in session.set_points if one.person == person]
    shared = [one.bar for one in session.set_points if one.person is None]
    return max(own or shared, key=float, default=None)


def _stretches(session: Session, person: str, assumed: str | None) -> Iterator[_Stretch]:
    noted = set_point_of(session, person)
    bar = noted or assumed
    begins = session.start.moment
    for water in session.water:
        minutes = water.loop_minutes + water.bailout_minutes
        if water.person != person or not minutes:
            continue
        begins = max(begins, water.entered.moment) if water.entered else begins
        exposure = None
        if bar is not None:
            ata = float(bar) / ATMOSPHERE_BAR
            exposure = Exposure(begins, minutes, ata, ata)
        yield _Stretch(training_day(session.start), exposure, minutes, bar or "", noted is None)
        begins += timedelta(minutes=minutes)


def _day(person: str, day: date, found: list[_Stretch], counted: list[Exposure]) -> DayExposure:
    own = [one for one in found if one.day == day]
    told = DayExposure(
        person=person,
        day=day,
        minutes=sum(one.minutes for one in own),
        set_points=tuple(sorted({one.set_point for one in own if one.set_point}, key=float)),
        assumed_minutes=sum(one.minutes for one in own if one.assumed),
    )
    here = [one.exposure for one in own if one.exposure is not None]
    if len(here) < len(own):
        return _without(told, "No set point was noted, and the requirements assume none.")
    try:
        in_order(counted)
    except RefusedError:
        return _without(told, "Two times in the water overlap: mend them first.")
    return DayExposure(
        told.person, told.day, told.minutes, told.set_points, told.assumed_minutes,
        cns_single=single_peak(here),
        cns_24h=_rolling(here, counted, lambda a, b, t: cns_percent(a, b, t, Limit.DAY)),
        otu_24h=_rolling(here, counted, otu),
    )  # fmt: skip


def _without(told: DayExposure, reason: str) -> DayExposure:
    return DayExposure(
        told.person, told.day, told.minutes, told.set_points, told.assumed_minutes, reason=reason
    )  # fmt: skip


def _rolling(here: list[Exposure], counted: list[Exposure], dose: Callable[[float, float, float], float]) -> float:
    """The most in 24 hours that end with one of the day's times: level times add up to the most where one ends."""
    sums = (
        sum(dose(*part) for one in counted if (part := one.part(end - DAY, end))) for end in (one.ends for one in here)
    )
    return max(sums)
