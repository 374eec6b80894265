"""What stands open on a day: attempts, sheets given out, units on hold, faults still out, times without an end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.slate_sheet import columns_out, entered_from
from course.asker import question
from course.moments import Observed, observed_at, training_day
from course.record.facts import Session, Slip, Unit
from course.record.unit_facts import CareDone, Hold
from course.storage.ledger import Ledger
from course.storage.lookup import all_of
from course.words import CARE_WORDS, Care, SlipKind, listed, plural

WATER = ("pool", "open_water")


@dataclass(frozen=True)
class OpenAttemptLine:
    """An attempt that nobody closed. `sheet` is the one to go on with."""

    attempt: str
    sheet: str
    sentence: str


@dataclass(frozen=True)
class OpenTime:
    """A time that nobody ended, in a session that is over; `planned_end` is what it counts to."""

    session: str
    person: str
    sentence: str
    planned_end: Observed
    closed: bool


@dataclass(frozen=True)
class UnitNote:
    """What is wrong with a unit. `loud`: it is on hold and booked for the water."""

    unit: str
    sentence: str
    loud: bool


@dataclass(frozen=True)
class StillOpen:
    """All that stands open."""

    attempts: tuple[OpenAttemptLine, ...]
    sheets: tuple[str, ...]
    holds: tuple[str, ...]
    slips: tuple[str, ...]
    times: tuple[OpenTime, ...]

    @property
    def count(self) -> int:
        """How many things."""
        return len(self.attempts) + len(self.sheets) + len(self.holds) + len(self.slips) + len(self.times)


@question(Sight.TODAY)
def still_open(
    ledger: Ledger, seen: CourseView, sessions: Sequence[Session], moment: datetime, now: datetime
) -> StillOpen:
    """Return what stands open at a moment.

    Args:
        ledger: where sheets and fault slips are read from.
        seen: the course.
        sessions: those of the day, for sheets that were given out.
        moment: the moment that the day is read at.
        now: this moment, for how long an attempt has been open.
    """
    units = sorted(seen.units.values(), key=lambda unit: unit.label)
    return StillOpen(
        attempts=_attempts(seen, moment, now),
        sheets=tuple(line for session in sessions for line in _sheets(ledger, seen, session)),
        holds=tuple(f"{_hold_words(seen, unit, moment)}." for unit in units if _holds_at(unit, moment)),
        slips=_slips(ledger, seen, moment),
        times=_times(seen, moment),
    )


def unit_notes(seen: CourseView, person: str, session: Session, moment: datetime) -> tuple[UnitNote, ...]:
    """Return what is wrong with somebody's unit for a session: on hold, or a service that has run out."""
    day = training_day(session.start)
    unit = seen.unit_of(person, day)
    if unit is None:
        return ()
    notes = []
    if _holds_at(unit, moment):
        water = session.setting in WATER
        tail = f": not for {session.title}" if water else ""
        notes.append(UnitNote(unit.id, f"{_hold_words(seen, unit, moment)}{tail}.", loud=water))
    for care in lapsed_care(unit, day):
        until = day_words(date.fromisoformat(care.good_until or ""))
        what = CARE_WORDS[care.what]
        notes.append(UnitNote(unit.id, f"{unit.label}: {what} was good until {until}.", loud=False))
    return tuple(notes)


def hold_word(seen: CourseView, person: str, session: Session, moment: datetime) -> str:
    """Return, in two or three words, that somebody's unit is on hold for a session in the water; else nothing."""
    return "unit on hold" if any(note.loud for note in unit_notes(seen, person, session, moment)) else ""


def lapsed_care(unit: Unit, day: date) -> tuple[CareDone, ...]:
    """Return the care of a unit that has run out on a day, of each kind the last that was done by then."""
    last: dict[Care, CareDone] = {}
    for care in sorted(unit.care, key=lambda c: (c.observed.utc, c.id)):
        if care.observed.local.date() <= day:
            last[care.what] = care
    return tuple(care for care in last.values() if care.good_until and care.good_until < day.isoformat())


def how_long(time: timedelta) -> str:
    """Elapsed time in words: "25 min", "3 h 10 min", "4 days"."""
    minutes = max(0, int(time.total_seconds())) // 60
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 24 * 60:
        return f"{minutes // 60} h {minutes % 60} min"
    return plural(minutes // (24 * 60), "day")


def when_words(at: Observed) -> str:
    """A moment in words: "22 Oct 08:34"."""
    return f"{day_words(at.local.date()).rsplit(' ', 1)[0]} {at.local:%H:%M}"


def _holds_at(unit: Unit, moment: datetime) -> list[Hold]:
    return [h for h in unit.holds if h.since.moment <= moment and (h.until is None or h.until.moment > moment)]


def _hold_words(seen: CourseView, unit: Unit, moment: datetime) -> str:
    holds = _holds_at(unit, moment)
    first = min(holds, key=lambda h: h.since.utc)
    why = " for a planted fault" if any(h.slip for h in holds) else ""
    day = observed_at(moment, seen.course.zone).local.date()
    whose = [seen.name(s) for s in seen.students if (own := seen.unit_of(s, day)) is not None and own.id == unit.id]
    label = f"{unit.label} ({listed(whose)})" if whose else unit.label
    return f"{label} is on hold since {when_words(first.since)}{why}"


def _attempts(seen: CourseView, moment: datetime, now: datetime) -> tuple[OpenAttemptLine, ...]:
    found = []
    for attempt in sorted(seen.attempts, key=lambda a: a.observed.utc, reverse=True):
        if attempt.ending is not None or not attempt.sheets or attempt.observed.moment > moment:
            continue
        sheet = attempt.sheets[0]
        skill = seen.adopted.standards.skills.get(attempt.skill)
        title = skill.title if skill else attempt.skill
        since = f"{when_words(attempt.observed)}, {how_long(now - attempt.observed.moment)}"
        who = f"{seen.name(attempt.student)} · {title}"
        sentence = f"{who}: open since {since}; {seen.name(sheet.observer)} marks."
        found.append(OpenAttemptLine(attempt.id, sheet.id, sentence))
    return tuple(found)


def _sheets(ledger: Ledger, seen: CourseView, session: Session) -> Iterable[str]:
    for slate in session.slates:
        out = columns_out(slate, entered_from(ledger, session.id, slate.id))
        if waiting := list(dict.fromkeys(seen.name(student) for student, _ in out)):
            skill = seen.adopted.standards.skills.get(slate.skill)
            title = skill.title if skill else slate.skill
            yield f"Sheet {slate.code} · {title}: {listed(waiting)} not entered yet."


def _slips(ledger: Ledger, seen: CourseView, moment: datetime) -> tuple[str, ...]:
    """Planted faults that are still out; one that is shown in the water is only held up, and nothing stays behind."""
    found = []
    for slip in sorted(all_of(ledger, Slip, course=seen.course.id), key=lambda s: s.observed.utc):
        cleared = slip.cleared is not None and slip.cleared.moment <= moment
        if slip.how != SlipKind.PLANTED or cleared or slip.observed.moment > moment:
            continue
        fault = seen.adopted.standards.planted_faults.get(slip.fault)
        unit = seen.units.get(slip.unit or "")
        where = f" in {unit.label}" if unit else ""
        bag = f"; the part is in {slip.bag}" if slip.bag else ""
        title = fault.title if fault else slip.fault
        found.append(
            f"{title}{where}: planted {when_words(slip.observed)} by {seen.name(slip.set_by)}, not cleared{bag}."
        )
    return tuple(found)


def _times(seen: CourseView, moment: datetime) -> tuple[OpenTime, ...]:
    found = []
    for session in seen.sessions.values():
        if session.end.moment >= moment:
            continue
        for person in dict.fromkeys(span.person for span in session.spans if span.end is None):
            day = day_words(training_day(session.start)).rsplit(" ", 1)[0]
            sentence = (
                f"{seen.name(person)} is still signed in at {session.title} of {day}: "
                f"counts to its planned end, {session.end.local:%H:%M}."
            )
            found.append(OpenTime(session.id, person, sentence, session.end, session.closed_at is not None))
    return tuple(found)
