"""Today: the sessions of a day, what stands open, what each student still needs, and what matters most now."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from course.access import Act, Sight, may
from course.answers.course_view import CourseView
from course.answers.days import day_words, weekday_words
from course.answers.days_left import DaysLeft
from course.answers.marking import session_words
from course.answers.missing import student_missing
from course.answers.needs_today import StudentToday, student_today
from course.answers.roll_call import missing_now, spans_at
from course.answers.still_open import WATER, StillOpen, still_open, unit_notes
from course.answers.who_is_in import SessionNow, day_breaks, session_now
from course.asker import question
from course.moments import from_wall_clock, training_day, zone_named
from course.record.facts import Session
from course.storage.ledger import Ledger
from course.words import SpanRole, listed, plural


@dataclass(frozen=True)
class TodayAnswer:
    """One day of a course at one moment."""

    sentence: str
    """What matters most now."""
    day: date
    live: bool
    """It is today: people come and go now. Else the day is a record, and times are entered afterwards."""
    over: bool
    sessions: dict[str, str]
    session: str | None
    students: tuple[StudentToday, ...]
    open: StillOpen
    next_session: str
    """For a day without a session: the next one that is planned, if there is one."""
    at_its_end: bool = False
    """Somebody is missing, or a time stands open in a session that is over: Day's end is where that is settled."""

    @property
    def lost(self) -> tuple[str, ...]:
        """Skills that cannot be rescued as things are planned, as sentences with the students' names."""
        return self._day_words(lambda one: one.lost)

    @property
    def tight(self) -> tuple[str, ...]:
        """Skills that need several more days, and exactly as many are left."""
        return self._day_words(lambda one: not one.lost and one.needed > 1)

    @property
    def last_chance(self) -> tuple[str, ...]:
        """Skills for which the one day that is left must do."""
        return self._day_words(lambda one: not one.lost and one.needed == 1)

    def _day_words(self, wanted: Callable[[DaysLeft], bool]) -> tuple[str, ...]:
        names: dict[tuple[str, str], list[str]] = {}
        for student in self.students:
            for one in filter(wanted, student.days):
                names.setdefault((one.title, one.sentence), []).append(student.name)
        return tuple(f"{title}: {sentence} ({listed(who)})." for (title, sentence), who in names.items())


@question(Sight.TODAY)
def day_choices(seen: CourseView) -> dict[date, str]:
    """Return the days that can be looked at: those with a session and today, each in words."""
    days = {training_day(session.start) for session in seen.sessions.values()} | {seen.usual_day}
    today = seen.today()
    return {day: f"{day_label(day)}{', today' if day == today else ''}" for day in sorted(days)}


def day_label(day: date) -> str:
    """A day in few words: "Thu 22 Oct"."""
    return f"{weekday_words(day)} {day_words(day).rsplit(' ', 1)[0]}"


@question(Sight.TODAY)
def runners(seen: CourseView) -> dict[str, str]:
    """Return who signs people in and out on this course: id to name."""
    members = dict.fromkeys(member.person for member in seen.course.members)
    able = [p for p in members if p in seen.people and may(seen.people[p].roles, Act.RUN_DAY)]
    return {person: seen.name(person) for person in able}


@question(Sight.TODAY)
def today(ledger: Ledger, seen: CourseView, day: date, now: datetime, session: str | None = None) -> TodayAnswer:
    """Return a day of a course as it is at this moment, or, for another day than today, as it was at its end.

    Args:
        ledger: where sheets, fault slips and the session's people are read from.
        seen: the course.
        day: which training day; one that was yesterday is live while the session asked for goes on past midnight.
        now: this moment.
        session: the one that is looked at; None or one of another day: the one that is on now, else a telling one.
    """
    live = _is_live(seen, day, now, session)
    sessions = sessions_of(seen, day, now if live else None)
    moment = now if live else _moment(seen, day, sessions, now)
    over = bool(sessions) and all(one.end.moment <= moment for one in sessions)
    breaks = day_breaks(ledger, seen, sessions, now if live else None)
    chosen = _chosen(sessions, session, now if live else None, breaks)
    opened = still_open(ledger, seen, sessions, moment, now)
    students = tuple(
        student_today(seen, student, chosen, day, moment, over=over and not live)
        for student in seen.students
        if chosen is not None
    )
    held = [session_now(ledger, seen, one.id, now, live=live) for one in sessions] if live else []
    return TodayAnswer(
        sentence=_sentence(seen, day, moment, sessions, held, breaks, opened, students),
        day=day,
        live=live,
        over=over,
        sessions={one.id: session_words(one) for one in sessions},
        session=chosen.id if chosen else None,
        students=students,
        open=opened,
        next_session=_next_words(seen, moment),
        at_its_end=bool(opened.times) or any(missing_now(one) for one in sessions),
    )


def _is_live(seen: CourseView, day: date, now: datetime, session: str | None) -> bool:
    """Whether it is that day by the calendar, or the session asked for began on it and goes on past midnight."""
    asked = seen.sessions.get(session or "")
    goes_on = asked is not None and training_day(asked.start) == day and asked.start.moment <= now < asked.end.moment
    return goes_on or day == now.astimezone(zone_named(seen.course.zone)).date()


def sessions_of(seen: CourseView, day: date, now: datetime | None) -> tuple[Session, ...]:
    """Return the sessions of a training day; of today also one that began yesterday and is still on."""
    return tuple(
        session
        for session in seen.sessions.values()
        if training_day(session.start) == day
        or (now is not None and session.start.moment <= now < session.end.moment)
    )  # fmt: skip


def _moment(seen: CourseView, day: date, sessions: Sequence[Session], now: datetime) -> datetime:
    """A day that is past, or that has anything entered, is read at its end; one that is to come at its beginning."""
    if not sessions:
        return from_wall_clock(datetime.combine(day, time(12)), seen.course.zone)
    ids = {session.id for session in sessions}
    entered = any(s.spans for s in sessions) or any(attempt.session in ids for attempt in seen.attempts)
    if entered or max(session.end.moment for session in sessions) <= now:
        return max(session.end.moment for session in sessions)
    return min(session.start.moment for session in sessions)


def _chosen(
    sessions: Sequence[Session], wanted: str | None, now: datetime | None, breaks: Sequence[tuple[str, str]]
) -> Session | None:
    by_id = {session.id: session for session in sessions}
    if wanted in by_id:
        return by_id[wanted]
    if now is not None:
        open_ones = [session for session in sessions if session.end.moment > now]
        return next(iter(open_ones or sessions[-1:]), None)
    broken = [by_id[session] for session, _ in breaks]
    return next(iter(broken or sessions[:1]), None)


def _next_words(seen: CourseView, moment: datetime) -> str:
    coming = [session for session in seen.sessions.values() if session.start.moment > moment]
    return session_words(coming[0]) if coming else ""


def _sentence(
    seen: CourseView,
    day: date,
    moment: datetime,
    sessions: Sequence[Session],
    held: Sequence[SessionNow],
    breaks: Sequence[tuple[str, str]],
    opened: StillOpen,
    students: Sequence[StudentToday],
) -> str:
    """The first that fits, the most dangerous first."""
    titles = {session.id: session.title for session in sessions}
    coming = any(session.end.moment > moment for session in seen.sessions.values())
    ready = _ready_words(seen, day)
    groups = [(one, group) for one in held for group in one.groups]
    candidates = [
        *_missing_words(seen, sessions),
        *(one.held for one in held if one.held and not one.closed),
        *_loud_units(seen, sessions, moment),
        *(f"{one.title}, {group.name}: {group.ratio} {group.room}" for one, group in groups if group.broken),
        *(f"{titles[session]}, {told}" for session, told in breaks if not held),
        *_slip_words(opened),
        *([] if coming else [ready]),
        *_lost_words(students),
        *_time_words(opened),
        *(leaving.sentence for _, group in groups for leaving in group.if_leaves if leaving.too_many),
        ready,
    ]
    return next(candidate for candidate in candidates if candidate)


def _missing_words(seen: CourseView, sessions: Sequence[Session]) -> list[str]:
    """Who was missing at a roll and answered none since."""
    return [
        f"MISSING in {session.title}: {listed([seen.name(person) for person in missing])}. Go to Day's end."
        for session in sessions
        if (missing := missing_now(session))
    ]


def _slip_words(opened: StillOpen) -> list[str]:
    count = plural(len(opened.slips), "planted fault")
    return [f"{count} still out: {opened.slips[0]}"] if opened.slips else []


def _time_words(opened: StillOpen) -> list[str]:
    count = len(opened.times)
    more = f" {plural(count - 1, 'more time')} like it below." if count > 1 else ""
    return [f"{opened.times[0].sentence}{more}"] if count else []


def _loud_units(seen: CourseView, sessions: Sequence[Session], moment: datetime) -> list[str]:
    """Units on hold that somebody dives in a session in the water, as it begins."""
    found = []
    for session in (one for one in sessions if one.setting in WATER):
        coming = moment < session.end.moment
        at = max(session.start.moment, moment) if coming else session.start.moment
        for person in _divers(seen, session, at) if coming else _dived(seen, session):
            notes = unit_notes(seen, person, session, at)
            found += [note.sentence for note in notes if note.loud]
    return found


def _divers(seen: CourseView, session: Session, moment: datetime) -> dict[str, None]:
    """Who is in the water's session at a moment or is still to come: not who has left, nor who stays at the surface."""
    planned = [*seen.students, *(person for group in session.groups for person in group.staff)]
    here = [span.person for span in spans_at(session, moment) if span.role != SpanRole.SURFACE]
    been = {span.person for span in session.spans}
    return dict.fromkeys([*(person for person in planned if person not in been), *here])


def _dived(seen: CourseView, session: Session) -> dict[str, None]:
    there = [span.person for span in session.spans if span.role != SpanRole.SURFACE]
    return dict.fromkeys([*seen.students, *there])


def _lost_words(students: Sequence[StudentToday]) -> list[str]:
    lost = [(student.name, one) for student in students for one in student.lost]
    if not lost:
        return []
    name, first = lost[0]
    more = f" {plural(len(lost) - 1, 'more skill')} like it below." if len(lost) > 1 else ""
    return [f"{name} · {first.title}: {first.sentence}.{more}"]


def _ready_words(seen: CourseView, day: date) -> str:
    if not seen.students:
        return "No students yet. Add them on People."
    states = [student_missing(seen, student, day) for student in seen.students]
    ready = [state.name for state in states if not state.anything]
    count = plural(len(states), "student")
    if not ready:
        return f"{count}; nobody has all that is asked yet."
    rest = len(states) - len(ready)
    tail = f", {rest} still {'misses' if rest == 1 else 'miss'} something" if rest else ""
    return f"{count}: {listed(ready)} {'has' if len(ready) == 1 else 'have'} all that is asked{tail}."
