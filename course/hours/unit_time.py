"""Where units were in time: booked for the water, on hold, in date, and how long their scrubber filling was in use.

All times are half open and in UTC. A person is booked on the unit that they dive that day, or on the one that is
written beside their time in the water.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from course.hours.minutes import counted_water
from course.moments import training_day
from course.record.day_facts import WaterTime
from course.record.facts import Course, Session, Span, Unit
from course.record.unit_facts import CareDone
from course.words import Care, SpanRole

WATER = ("pool", "open_water")
"""Settings in which a unit is in the water."""
_NOT_DIVING = (SpanRole.SURFACE, SpanRole.TECHNICIAN)


@dataclass(frozen=True)
class Booking:
    """One unit with one person in one water session."""

    person: str
    unit: str
    session: str
    start: datetime
    end: datetime


@dataclass(frozen=True)
class UnitMinutes:
    """Minutes on the loop of one unit and on bailout beside it, in so many times in the water; None: no unit named."""

    unit: str | None
    loop: int
    bailout: int
    times: int


@dataclass(frozen=True)
class HeldTime:
    """A stretch of a booking in which the unit was on hold."""

    booking: Booking
    start: datetime
    end: datetime


def bookings(
    course: Course, sessions: Iterable[Session], learners: Sequence[str], now: datetime | None = None
) -> tuple[Booking, ...]:
    """Return who was booked on which unit in the water, in the order of the sessions.

    Args:
        course: tells which unit a person dives on a day.
        sessions: of that course; only those in the water are looked at.
        learners: whom a session without groups and times is for.
        now: whoever is in and has no end yet was there up to this moment, at most to the session's planned end.
    """
    found: list[Booking] = []
    for session in sessions:
        if session.setting in WATER and not session.withdrawn:
            for person in water_people(session, learners):
                found += _bookings_of(course, session, person, now)
    return tuple(found)


def water_people(session: Session, learners: Sequence[str]) -> list[str]:
    """Return everybody who may be in the water in a session; whoever only stayed at the surface is not."""
    named = [p for group in session.groups for p in (*group.students, *group.staff)]
    named += [span.person for span in session.spans] + [water.person for water in session.water]
    roles: dict[str, set[SpanRole]] = {}
    for span in session.spans:
        roles.setdefault(span.person, set()).add(span.role)
    dry = {person for person, had in roles.items() if had <= set(_NOT_DIVING)}
    dry -= {water.person for water in session.water}
    return [person for person in dict.fromkeys(named or learners) if person not in dry]


def _bookings_of(course: Course, session: Session, person: str, now: datetime | None) -> list[Booking]:
    assigned = course.assignment(person, training_day(session.start).isoformat())
    own = [water for water in session.water if water.person == person]
    other = [water for water in own if water.unit and (assigned is None or water.unit != assigned.unit)]
    found = [
        Booking(person, water.unit or "", session.id, entered_at(water, session), _left_at(water, session))
        for water in other
    ]
    if assigned is not None and (not own or len(other) < len(own)):
        start, end = _there([span for span in session.spans if span.person == person], session, now)
        found.insert(0, Booking(person, assigned.unit, session.id, start, end))
    return found


def _there(spans: list[Span], session: Session, now: datetime | None) -> tuple[datetime, datetime]:
    """From when to when somebody was there; the whole session where no time of theirs is written."""
    if not spans:
        return session.start.moment, session.end.moment
    planned = session.end.moment if now is None else min(session.end.moment, now)
    first = min(span.start.moment for span in spans)
    return first, max(first, *(span.end.moment if span.end else planned for span in spans))


def entered_at(water: WaterTime, session: Session) -> datetime:
    """When a time in the water began; the session's start where it is not written."""
    return (water.entered or session.start).moment


def _left_at(water: WaterTime, session: Session) -> datetime:
    return (water.left or session.end).moment


def is_held(unit: Unit, moment: datetime) -> bool:
    """Whether a unit was on hold at a moment."""
    return any(start <= moment and (end is None or moment < end) for start, end in holds_joined(unit))


def holds_joined(unit: Unit) -> tuple[tuple[datetime, datetime | None], ...]:
    """Return the times on hold, those that touch joined into one; an open one ends with None."""
    joined: list[tuple[datetime, datetime | None]] = []
    for hold in sorted(unit.holds, key=lambda one: one.since.moment):
        start, end = hold.since.moment, hold.until.moment if hold.until else None
        before = joined[-1] if joined else None
        if before is None or (before[1] is not None and start > before[1]):
            joined.append((start, end))
        elif before[1] is not None:
            joined[-1] = (before[0], end if end is None else max(before[1], end))
    return tuple(joined)


def held_times(booked: Iterable[Booking], units: Mapping[str, Unit]) -> tuple[HeldTime, ...]:
    """Return every stretch of a booking in which its unit was on hold."""
    found = []
    for booking in booked:
        unit = units.get(booking.unit)
        for start, end in holds_joined(unit) if unit else ():
            first, last = max(start, booking.start), min(end or booking.end, booking.end)
            if first < last:
                found.append(HeldTime(booking, first, last))
    return tuple(found)


def in_force(unit: Unit, what: Care, day: date) -> CareDone | None:
    """Return the care of a kind that was in force on a day: the last one up to it."""
    done = [care for care in unit.care if care.what == what and care.observed.local.date() <= day]
    return max(done, key=lambda care: care.observed.utc, default=None)


def lapsed_days(unit: Unit, what: Care, days: Iterable[date]) -> tuple[date, ...]:
    """Return those of some days on which the care in force was good no longer; the day named in it is still good."""
    return tuple(
        day
        for day in days
        if (care := in_force(unit, what, day)) and care.good_until and day > date.fromisoformat(care.good_until)
    )


def last_filling(unit: Unit) -> CareDone | None:
    """Return the last filling of a unit's scrubber."""
    fillings = (care for care in unit.care if care.what == Care.SCRUBBER)
    return max(fillings, key=lambda care: care.observed.utc, default=None)


def filling_minutes(unit: Unit, times: Iterable[tuple[WaterTime, Session, str | None]]) -> int | None:
    """Return the minutes on the loop since the last scrubber filling, whoever dived; None without a filling.

    Minutes on bailout gas are not breathed through the scrubber and are not added. Time at the surface and the
    pre-breathe are not in the ledger, so the true time in use is longer.

    Args:
        unit: with its fillings.
        times: times in the water, each with its session and the unit that its diver was assigned that day.
    """
    filling = last_filling(unit)
    if filling is None:
        return None
    since = filling.observed.moment
    return sum(
        water.loop_minutes
        for water, session, assigned in times
        if (water.unit or assigned) == unit.id and entered_at(water, session) >= since
    )


def unit_minutes(course: Course, sessions: Iterable[Session], as_of: date | None = None) -> tuple[UnitMinutes, ...]:
    """Return the minutes in water of each unit on a course, whoever dived it, in the order of their first dive.

    The same times count as for people, so that the two totals agree.

    Args:
        course: tells which unit a person dives on a day, for times beside which none is written.
        sessions: of that course.
        as_of: leave out training days after this one.
    """
    told = [s for s in sessions if not s.withdrawn and (as_of is None or training_day(s.start) <= as_of)]
    found: dict[str | None, UnitMinutes] = {}
    people = dict.fromkeys(water.person for session in told for water in session.water)
    for water, session in (one for person in people for one in counted_water(told, person)):
        assigned = course.assignment(water.person, training_day(session.start).isoformat())
        unit = water.unit or (assigned.unit if assigned else None)
        old = found.get(unit, UnitMinutes(unit, 0, 0, 0))
        loop, bailout = old.loop + water.loop_minutes, old.bailout + water.bailout_minutes
        found[unit] = UnitMinutes(unit, loop, bailout, old.times + 1)
    return tuple(found.values())
