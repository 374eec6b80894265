"""What is known of each unit: its holds and what would lift them, its dates against the course's days in the water."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from course.access import Act, Sight, may
from course.answers.course_view import CourseView, view
from course.answers.days import at_words, day_words
from course.answers.filling_times import water_times
from course.answers.shared_units import shared_units
from course.answers.unit_until import slips_until
from course.asker import question
from course.assessment.cell_votes import votes
from course.assessment.unit_readings import last_outside, title
from course.hours.unit_time import (
    WATER,
    Booking,
    bookings,
    filling_minutes,
    held_times,
    in_force,
    is_held,
    lapsed_days,
    last_filling,
)
from course.moments import Observed, now, observed_at, training_day
from course.record.facts import Session, Slip, Unit
from course.record.unit_facts import Hold
from course.storage.ledger import Ledger
from course.storage.lookup import all_of
from course.words import CARE_WORDS, Care, Role, SlipKind, listed, plural

CAUTION = (
    "The maker's manual, a licensed service and whoever dives the unit decide whether it is fit. The dates here are "
    "entered by people; this page compares them with the days of the course and judges no unit."
)


class UnitState(StrEnum):
    """What a unit is marked with; none of them says that it is fit."""

    HELD = "on hold"
    LAPSED = "run out"
    NO_HOLD = "no hold"


@dataclass(frozen=True)
class CareLine:
    """One kind of care of a unit as a sentence."""

    what: Care
    sentence: str
    lapsed: bool


@dataclass(frozen=True)
class OpenHold:
    """A hold that nobody lifted, and what is missing to lift it."""

    hold: str
    sentence: str
    missing: str
    slip: str | None
    cleared: bool


@dataclass(frozen=True)
class UnitCard:
    """All that is known of one unit."""

    unit: str
    label: str
    unit_type: str
    features: tuple[str, ...]
    serial: str
    holders: tuple[str, ...]
    state: UnitState
    line: str
    care: tuple[CareLine, ...]
    holds: tuple[OpenHold, ...]
    past_holds: tuple[str, ...]
    findings: tuple[str, ...]
    """Times in the water for which it was booked while on hold, and what its last readings show."""

    @property
    def planted_cleared(self) -> bool:
        """Whether planted faults hold it and every one is cleared: its list can be passed again."""
        slips = [hold.cleared for hold in self.holds if hold.slip]
        return bool(slips) and all(slips)


@dataclass(frozen=True)
class UnitsAnswer:
    """Every unit of the centre, the one sentence that matters now, and units that several students share."""

    sentence: str
    units: tuple[UnitCard, ...]
    findings: tuple[str, ...] = ()
    shared: tuple[str, ...] = ()
    caution: str = CAUTION


@dataclass(frozen=True)
class HeldInWater:
    """Somebody booked in the water on a unit while it was on hold. The facts stand; it is a finding."""

    person: str
    name: str
    unit: str
    label: str
    session: str
    title: str
    start: Observed
    end: Observed
    attempts: tuple[str, ...]
    since: Observed | None = None
    """Since when it is on hold, where it still is and the booking is not over; `end` is then only what is planned."""

    @property
    def sentence(self) -> str:
        """Which unit, when, who: "A-05 was on hold Thu 22 Oct 13:30-16:20, ..."."""
        first, last = self.start.local, self.end.local
        until = f"{last:%H:%M}" if first.date() == last.date() else at_words(last)
        held, booked_on = f"was on hold {at_words(first)}-{until}", f"was booked on it ({self.title})"
        if self.since is not None:
            held = f"is on hold since {at_words(self.since.local)}"
            booked_on = f"is booked on it ({self.title}, {at_words(first)})"
        told = f"{self.label} {held}, and {self.name} {booked_on}."
        if self.attempts:
            told += (
                f" {plural(len(self.attempts), 'attempt was', 'attempts were')} marked on it; what was seen is kept."
            )
        return told


@question(Sight.MARK)
def not_into_water(seen: CourseView, session: Session, student: str, moment: datetime) -> str | None:
    """Return why this student's unit may not be taken into this session now; None when nothing speaks against it."""
    unit = seen.unit_of(student, training_day(session.start)) if session.setting in WATER else None
    return water_block(unit, moment) if unit else None


def water_block(unit: Unit, moment: datetime) -> str | None:
    """Return why a unit may not be taken into the water at a moment, with the way out; None when nothing holds it."""
    if not is_held(unit, moment):
        return None
    holds = _live_holds(unit, moment)
    ways = []
    if any(one.slip for one in holds):
        ways.append("clear the planted fault and pass the whole list again")
    if any(not one.slip for one in holds):
        ways.append("lift the hold with a reason")
    since = min(one.since.local for one in holds)
    return (
        f"{unit.label} is on hold since {at_words(since)} and does not go in the water. On Units, "
        f"{listed(ways)}; or take another unit."
    )


def _live_holds(unit: Unit, moment: datetime) -> list[Hold]:
    return [one for one in unit.holds if one.since.moment <= moment and (not one.until or moment < one.until.moment)]


@question(Sight.UNITS)
def carers(seen: CourseView) -> dict[str, str]:
    """Who looks after units and sets faults: id to name, technicians first, those of this course before others."""
    on_course = {member.person for member in seen.course.members}
    fit = [p for p in seen.people.everybody().values() if may(p.roles, Act.CARE)]
    fit.sort(key=lambda p: (p.id not in on_course, Role.TECHNICIAN not in p.roles, p.name))
    return {person.id: person.shown for person in fit}


@question(Sight.UNITS)
def held_in_water(ledger: Ledger, course: str) -> tuple[HeldInWater, ...]:
    """Return who was booked in the water on a unit that was on hold, in the order of the sessions.

    Raises:
        NotFoundError: there is no such course.
    """
    return _held(view(ledger, course))


def _held(seen: CourseView, until: datetime | None = None) -> tuple[HeldInWater, ...]:
    zone, moment = seen.course.zone, until or now()
    return tuple(
        HeldInWater(
            person=held.booking.person,
            name=seen.name(held.booking.person),
            unit=held.booking.unit,
            label=seen.units[held.booking.unit].label,
            session=held.booking.session,
            title=seen.sessions[held.booking.session].title,
            start=observed_at(held.start, zone, "minute"),
            end=observed_at(held.end, zone, "minute"),
            attempts=_attempts_on(seen, held.booking),
            since=_still_since(seen.units[held.booking.unit], held.end, moment),
        )
        for held in held_times(booked(seen, until), seen.units)
    )


def _still_since(unit: Unit, end: datetime, moment: datetime) -> Observed | None:
    """Since when a unit is on hold that still is, where a booking that ends then is not over; a minute is no end."""
    over = not is_held(unit, moment) or moment - end >= timedelta(minutes=1)
    return None if over else min((one.since for one in _live_holds(unit, moment)), key=lambda since: since.utc)


def booked(seen: CourseView, until: datetime | None = None) -> tuple[Booking, ...]:
    """Who is booked in the water on which unit in this course; who has no end yet was there until then, or now."""
    return bookings(seen.course, seen.sessions.values(), seen.students, until or now())


def _attempts_on(seen: CourseView, booking: Booking) -> tuple[str, ...]:
    return tuple(
        attempt.id
        for attempt in seen.attempts
        if (attempt.session, attempt.student, attempt.unit) == (booking.session, booking.person, booking.unit)
        and not attempt.from_elsewhere
    )


@question(Sight.UNITS)
def units_answer(ledger: Ledger, seen: CourseView, until: datetime | None = None) -> UnitsAnswer:
    """Return every unit of the centre as this course sees it, those on hold first; until then, where a view ends."""
    reader = _Reader(ledger, seen, until)
    cards = [reader.card(unit) for unit in seen.units.values()]
    order = list(UnitState)
    cards.sort(key=lambda card: (order.index(card.state), card.label))
    found = (*(held.sentence for held in reader.held), *(one for unit in seen.units.values() for one in _read(unit)))
    return UnitsAnswer(_sentence(cards), tuple(cards), found, shared_units(seen))


def _read(unit: Unit) -> Iterator[str]:
    for one in last_outside(unit.readings):
        name, at = title(one.reading), at_words(one.reading.observed.local)
        yield f"{unit.label}: {name} was outside its bounds at the last reading, {at}. Think of a hold."
    yield from (f"{unit.label}: {vote.told}" for vote in votes(unit.readings) if vote.outvoted)


def _sentence(cards: list[UnitCard]) -> str:
    held = [card.label for card in cards if card.state == UnitState.HELD]
    lapsed = [card.label for card in cards if any(line.lapsed for line in card.care)]
    if not cards:
        return "No unit is entered yet."
    told = (
        f"{listed(held)} {'is' if len(held) == 1 else 'are'} on hold and {'does' if len(held) == 1 else 'do'} not go "
        "in the water."
        if held
        else f"None of {plural(len(cards), 'unit')} is on hold."
    )
    if lapsed:
        told += f" {listed(lapsed)}: a date or the minutes of a filling have run out."
    return told


class _Reader:
    """Reads the units of a centre for one course; bookings, times and slips are looked up once."""

    def __init__(self, ledger: Ledger, seen: CourseView, until: datetime | None) -> None:
        self.ledger, self.seen = ledger, seen
        self.water_days: dict[str, set[date]] = {}
        for booking in booked(seen, until):
            day = training_day(seen.sessions[booking.session].start)
            self.water_days.setdefault(booking.unit, set()).add(day)
        self.slips = {slip.id: slip for slip in slips_until(all_of(ledger, Slip), until)}
        self.titles = planted_titles(ledger, seen, self.slips.values())
        self.held = _held(seen, until)
        self.times = [one for one in water_times(ledger, seen) if until is None or one[1].start.moment < until]

    def card(self, unit: Unit) -> UnitCard:
        seen, standards = self.seen, self.seen.adopted.standards
        unit_type = standards.unit_types.get(unit.unit_type)
        private = self.ledger.private(unit)
        why = {event: fields.get("why") for event, fields in private.get("by_event", {}).items()}
        care = (*(self._dated(unit, what) for what in (Care.SERVICE, Care.CELLS)), self._scrubber(unit))
        holds = tuple(self._open(hold, why.get(hold.event)) for hold in unit.held)
        past = [hold for hold in unit.holds if hold.until is not None]
        state = UnitState.HELD if holds else UnitState.NO_HOLD
        if not holds and any(line.lapsed for line in care):
            state = UnitState.LAPSED
        return UnitCard(
            unit=unit.id,
            label=unit.label,
            unit_type=unit_type.title if unit_type else unit.unit_type,
            features=tuple(standards.features[f].title for f in unit_type.features) if unit_type else (),
            serial=str(private.get("serial") or ""),
            holders=_holders(seen, unit.id),
            state=state,
            line=_line(holds, care),
            care=care,
            holds=holds,
            past_holds=tuple(self._past(hold, why) for hold in reversed(past)),
            findings=(*(held.sentence for held in self.held if held.unit == unit.id), *_read(unit)),
        )

    def _dated(self, unit: Unit, what: Care) -> CareLine:
        word = CARE_WORDS[what].capitalize()
        days = sorted(self.water_days.get(unit.id, ()))
        last = days[-1] if days else self.seen.last_day
        care = in_force(unit, what, last)
        if care is None:
            return CareLine(what, f"{word}: no date entered up to {day_words(last)}.", lapsed=False)
        told = f"{word}: {day_words(care.observed.local.date())}"
        if care.good_until is None:
            return CareLine(what, f"{told}, without an end.", lapsed=False)
        until = date.fromisoformat(care.good_until)
        told += f", good until {day_words(until)}"
        lapsed = lapsed_days(unit, what, days or [last])
        if lapsed:
            where = "on a day in the water" if days else "on the course's last day"
            when = listed([day_words(day) for day in lapsed])
            return CareLine(what, f"{told}. Run out {where}: {when}. Think of a hold.", lapsed=True)
        of = "the last day in the water" if days else "the course's last day"
        return CareLine(what, f"{told}, {plural((until - last).days, 'day')} after {of}.", lapsed=False)

    def _scrubber(self, unit: Unit) -> CareLine:
        word = CARE_WORDS[Care.SCRUBBER].capitalize()
        used = filling_minutes(unit, self.times)
        care = last_filling(unit)
        if used is None or care is None:
            return CareLine(Care.SCRUBBER, f"{word}: none entered.", lapsed=False)
        asked = care.good_minutes or 0
        minutes = f"{used} min on the loop, {used - asked} more than its {asked}" if used > asked else ""
        minutes = minutes or f"{used} of its {asked} min on the loop"
        told = f"{word} of {self._at(care.observed.local)}: {minutes}. Pre-breathe and surface time are not in it."
        return CareLine(Care.SCRUBBER, told, lapsed=used > asked)

    def _open(self, hold: Hold, why: str | None) -> OpenHold:
        slip = self.slips.get(hold.slip or "")
        told = f"On hold since {self._at(hold.since.local)}, by {self.seen.name(hold.held_by)}: {self._why(hold, why)}"
        if hold.slip is None:
            missing = "To lift it: a reason, and who lifts it."
        elif slip and slip.cleared is None:
            missing = "To lift it: clear the fault, then pass the unit's whole list again."
        else:
            missing = "The fault is cleared. To lift it: the unit's whole list passed again, and who saw it."
        return OpenHold(hold.id, told, missing, hold.slip, cleared=bool(slip is None or slip.cleared))

    def _past(self, hold: Hold, why: dict[str, str | None]) -> str:
        seen, until = self.seen, hold.until
        told = f"{self._at(hold.since.local)} to {self._at(until.local) if until else ''}"
        told += f": {self._why(hold, why.get(hold.event))} Held by {seen.name(hold.held_by)}"
        told += f", lifted by {seen.name(hold.released_by)}" if hold.released_by else ""
        told += f"; whole list passed, seen by {seen.name(hold.list_passed_by)}" if hold.list_passed_by else ""
        lifted = why.get(hold.release_event or "")
        return f"{told}. {lifted}" if lifted else f"{told}."

    def _at(self, local: datetime) -> str:
        return at_words(local, self.seen.last_day)

    def _why(self, hold: Hold, why: str | None) -> str:
        if hold.slip:
            return f"planted fault, {self.titles.get(hold.slip, 'of a slip that is not here')}."
        text = (why or "no reason readable").strip()
        return text if text.endswith((".", "!", "?")) else f"{text}."


def _line(holds: tuple[OpenHold, ...], care: Iterable[CareLine]) -> str:
    """What stands beside a unit in the list."""
    if not holds:
        return listed([CARE_WORDS[line.what] for line in care if line.lapsed])
    planted = [hold for hold in holds if hold.slip]
    parts = []
    if left := sum(1 for hold in planted if not hold.cleared):
        parts.append(f"{plural(left, 'planted fault')} not cleared")
    elif planted:
        parts.append("faults cleared, list not passed")
    if other := len(holds) - len(planted):
        parts.append(plural(other, "other hold") if planted else plural(other, "hold"))
    return "; ".join(parts)


def _holders(seen: CourseView, unit: str) -> tuple[str, ...]:
    """Who dives a unit on this course, from which day to which."""
    found = []
    for person in dict.fromkeys(a.person for a in seen.course.assignments):
        own = sorted((a for a in seen.course.assignments if a.person == person), key=lambda a: a.from_day)
        for number, one in enumerate(own):
            if one.unit == unit:
                after = own[number + 1].from_day if number + 1 < len(own) else None
                until = f" up to the change on {day_words(date.fromisoformat(after))}" if after else ""
                found.append(f"{seen.name(person)} from {day_words(date.fromisoformat(one.from_day))}{until}")
    return tuple(found)


def planted_titles(ledger: Ledger, seen: CourseView, slips: Iterable[Slip]) -> dict[str, str]:
    """Titles of planted faults by slip; one of another course is read by that course's rubrics."""
    titles = {}
    for slip in slips:
        if slip.how == SlipKind.PLANTED:
            of = seen if slip.course == seen.course.id else view(ledger, slip.course)
            fault = of.adopted.standards.planted_faults.get(slip.fault)
            titles[slip.id] = fault.title if fault else slip.fault
    return titles
