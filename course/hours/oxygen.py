"""Oxygen exposure of a course's days, for whoever was in the water: from times in the water and set points.

Minutes on bailout gas, and all of a time of which it is not known when it was, are taken at the highest set point: the
careful side, since nobody wrote down what was breathed then. Of a time longer than its minutes on loop and bailout the
minutes at the highest PO2 count. Times of one session that lie over each other count one after the other, for the same
reason; times of two sessions that do are not counted, and it is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise

from course.errors import RefusedError
from course.hours.set_points import Held, held_by
from course.moments import training_day
from course.physics.constants import ATMOSPHERE_BAR
from course.physics.exposure import DAY, Exposure, Limit, cns_percent, otu, rolling_most
from course.physics.highest import highest_minutes
from course.record.day_facts import WaterTime
from course.record.facts import Session

_APART = timedelta(seconds=1)
"""Less than this is no overlap but the rounding of a moment."""


@dataclass(frozen=True)
class DayExposure:
    """One person's exposure on one training day. Shares are in percent, exact; `reason` stands where there is none."""

    person: str
    day: date
    minutes: int
    set_points: tuple[str, ...]
    """In bar, as noted or assumed, of what was level."""
    assumed_minutes: int
    """Minutes for which no set point was noted."""
    changes: tuple[str, ...] = ()
    """What was held where it changed, in words."""
    outside: tuple[str, ...] = ()
    """Set points noted for when the person was not in the water, in words; they are not counted."""
    cns_single: float | None = None
    cns_24h: float | None = None
    """The most in any 24 hours that end on this day, in the water."""
    otu_24h: float | None = None
    reason: str = ""


@dataclass(frozen=True)
class _Time:
    """One time in the water: what was breathed in order of time, or why there is no number."""

    day: date
    begins: datetime
    minutes: int
    parts: tuple[Exposure, ...]
    held: Held
    level: str
    """The set point in bar where it was level; empty where it changed, or is not known."""
    assumed: bool
    reason: str = ""


def exposure_days(sessions: Iterable[Session], person: str, assumed: str | None) -> tuple[DayExposure, ...]:
    """Return somebody's exposure, day by day.

    Args:
        sessions: of the course.
        person: whose.
        assumed: the set point in bar where none was noted; None: such minutes are counted by nothing, and it is said.
    """
    found = [one for session in sessions if not session.withdrawn for one in _times(session, person, assumed)]
    counted = [part for one in found for part in one.parts]
    return tuple(_day(person, day, found, counted) for day in sorted({one.day for one in found}))


def _times(session: Session, person: str, assumed: str | None) -> Iterator[_Time]:
    held = held_by(session, person)
    bar = held.highest if held.is_known else assumed
    mine = [one for one in session.water if one.person == person and one.loop_minutes + one.bailout_minutes]
    free = session.start.moment
    for water in sorted(mine, key=lambda one: one.entered.moment if one.entered else session.end.moment):
        minutes = water.loop_minutes + water.bailout_minutes
        begins = max(free, water.entered.moment) if water.entered else free
        told = _Time(training_day(session.start), begins, minutes, (), held, bar or "", assumed=not held.is_known)
        free = begins + timedelta(minutes=minutes)
        if bar is None:
            yield replace(told, reason="No set point was noted, and the requirements assume none.")
            continue
        try:
            changing = _changing(water, held, begins)
            parts = changing or (_level(begins, minutes, float(bar)),)
        except RefusedError as error:
            yield replace(told, reason=error.sentence)
            continue
        free = parts[-1].ends
        yield replace(told, parts=parts, level="" if changing else bar)


def _level(begins: datetime, minutes: float, bar: float) -> Exposure:
    return Exposure(begins, minutes, bar / ATMOSPHERE_BAR, bar / ATMOSPHERE_BAR)


def _changing(water: WaterTime, held: Held, begins: datetime) -> tuple[Exposure, ...]:
    """What was breathed where set points have times; nothing where they have none, or it is not known when it was."""
    minutes = water.loop_minutes + water.bailout_minutes
    if not held.turns or water.entered is None or water.left is None:
        return ()
    entered, left = water.entered.moment, water.left.moment
    if timedelta(minutes=minutes) > left - entered:
        return ()
    later = begins - entered
    lines = [
        Exposure(
            one.begins + later, (one.ends - one.begins) / timedelta(minutes=1),
            one.bar_from / ATMOSPHERE_BAR, one.bar_to / ATMOSPHERE_BAR,
        )
        for one in held.stretches(entered, left)
    ]  # fmt: skip
    most = max(po2 for one in lines for po2 in (one.po2_from, one.po2_to))
    loop, rest = highest_minutes(lines, water.loop_minutes)
    bailout, _ = highest_minutes(rest, water.bailout_minutes)
    parts = (*loop, *(replace(one, po2_from=most, po2_to=most) for one in bailout))
    return tuple(sorted(parts, key=lambda one: one.begins))


def _day(person: str, day: date, found: Sequence[_Time], counted: Sequence[Exposure]) -> DayExposure:
    own = [one for one in found if one.day == day]
    told = DayExposure(
        person=person,
        day=day,
        minutes=sum(one.minutes for one in own),
        set_points=tuple(sorted({one.level for one in own if one.level}, key=float)),
        assumed_minutes=sum(one.minutes for one in own if one.assumed),
        changes=tuple(dict.fromkeys(one.held.words for one in own if not one.level and one.parts)),
        outside=tuple(dict.fromkeys(turn.words for one in own for turn in one.held.outside)),
    )
    if reasons := [one.reason for one in own if one.reason]:
        return replace(told, reason=reasons[0])
    if any(_reaches(one, own) for one in found if one.reason):
        return replace(
            told, reason="A time in the water in the 24 hours before has no number, so that their sum has none."
        )
    if _overlap(counted):
        return replace(told, reason="Two times in the water overlap: mend them first.")
    here = [part for one in own for part in one.parts]
    return replace(
        told,
        cns_single=sum(_share(one.po2_from, one.po2_to, one.minutes, Limit.SINGLE) for one in here),
        cns_24h=rolling_most(counted, lambda a, b, t: _share(a, b, t, Limit.DAY), here),
        otu_24h=rolling_most(counted, otu, here),
    )


def _reaches(one: _Time, own: Sequence[_Time]) -> bool:
    """Whether a time is within the 24 hours that end in one of a day's own."""
    ends = one.begins + timedelta(minutes=one.minutes)
    return any(
        one.begins < later.begins + timedelta(minutes=later.minutes) and ends > later.begins - DAY for later in own
    )


_share = lru_cache(maxsize=4096)(cns_percent)


def _overlap(counted: Sequence[Exposure]) -> bool:
    in_order = sorted(counted, key=lambda one: one.begins)
    return any(following.begins < one.ends - _APART for one, following in pairwise(in_order))
