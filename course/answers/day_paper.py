"""The day sheet: one page a session, to be carried and written on: emergency first, then who is with whom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import day_words, weekday_words
from course.answers.record_answer import LedgerHead
from course.answers.roll_call import unit_in_use
from course.asker import question
from course.moments import training_day
from course.record.facts import Session
from course.storage.ledger import Ledger
from course.words import ROLE_WORDS, SETTING_WORDS, STAFF, Role, listed

CAUTIONS = (
    "The local emergency plan comes first; this sheet does not replace it.",
    "The certifying agency's standards, the maker's manual of each unit, local law and licensed medical practice rule.",
    "Anybody may stop a dive or a drill at any time; calling a stop is never an error.",
)


@dataclass(frozen=True)
class SheetPerson:
    """One line of the sheet."""

    name: str
    role: str
    unit: str
    held: bool
    """Their unit is on hold: not for water."""


@dataclass(frozen=True)
class SheetGroup:
    """Who is with whom."""

    title: str
    people: tuple[SheetPerson, ...]


@dataclass(frozen=True)
class SessionSheet:
    """One session. Of two site plans from two laptops both are printed."""

    title: str
    when: str
    where: str
    emergency: tuple[str, ...]
    plans: tuple[str, ...]
    groups: tuple[SheetGroup, ...]
    holds: tuple[str, ...]
    code: str


@dataclass(frozen=True)
class DayPaper:
    """The day sheet of some sessions."""

    centre: str
    course: str
    about: str
    sessions: tuple[SessionSheet, ...]
    cautions: tuple[str, ...]
    head: LedgerHead
    course_id: str = ""
    session_ids: tuple[str, ...] = ()

    @property
    def asked(self) -> dict[str, str]:
        """What it answers, so that the same can be asked again."""
        return {"course": self.course_id, "sessions": " ".join(self.session_ids)}


@question(Sight.DAY_FILE)
def day_paper(ledger: Ledger, seen: CourseView, sessions: Sequence[Session]) -> DayPaper:
    """Return the day sheet of sessions, in their order."""
    days = list(dict.fromkeys(training_day(session.start) for session in sessions))
    return DayPaper(
        centre=seen.centre.name,
        course=seen.course.title,
        about=f"{seen.course.title}, {listed([f'{weekday_words(day)} {day_words(day)}' for day in days])}",
        sessions=tuple(_session(ledger, seen, session) for session in sessions),
        cautions=CAUTIONS,
        head=seen.head,
        course_id=seen.course.id,
        session_ids=tuple(session.id for session in sessions),
    )


@question(Sight.DAY)
def site_texts(ledger: Ledger, session: Session) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what stands on a session's day sheet: emergency contacts, and plans of the site."""
    by_event = ledger.private(session).get("by_event", {})
    told = [by_event.get(event, {}) for event in session.site_plans]
    emergency = dict.fromkeys(str(one["emergency"]) for one in told if one.get("emergency"))
    plans = dict.fromkeys(str(one["plan"]) for one in told if one.get("plan"))
    return tuple(emergency), tuple(plans)


def _session(ledger: Ledger, seen: CourseView, session: Session) -> SessionSheet:
    day = training_day(session.start)
    emergency, plans = site_texts(ledger, session)
    groups = _groups(seen, session)
    return SessionSheet(
        title=session.title,
        when=f"{weekday_words(day)} {day_words(day)}, {session.start.local:%H:%M} to {session.end.local:%H:%M}",
        where=", ".join(part for part in (SETTING_WORDS[session.setting], session.place or "") if part),
        emergency=emergency,
        plans=plans,
        groups=groups,
        holds=_holds(seen),
        code=f"session {session.id[-12:]}",
    )


def _groups(seen: CourseView, session: Session) -> tuple[SheetGroup, ...]:
    """The session's groups, then the course's people who are in none of them."""
    roles = {member.person: member.role for member in reversed(seen.course.members)}
    made = []
    placed: set[str] = set()
    for group in session.groups:
        people = tuple(dict.fromkeys([*group.staff, *group.students]))
        placed |= set(people)
        made.append(SheetGroup(group.name, tuple(_person(seen, session, person, roles) for person in people)))
    first = {role: place for place, role in enumerate(Role) if role in STAFF}
    others = [m.person for m in sorted(seen.course.members, key=lambda m: first.get(m.role, len(first)))]
    rest = tuple(person for person in dict.fromkeys(others) if person not in placed)
    if rest:
        title = "In no group" if made else "Everybody on the course; no groups are made yet"
        made.append(SheetGroup(title, tuple(_person(seen, session, person, roles) for person in rest)))
    return tuple(made)


def _person(seen: CourseView, session: Session, person: str, roles: dict[str, Role]) -> SheetPerson:
    unit = seen.units.get(unit_in_use(seen, session, person) or "")
    role = ROLE_WORDS[roles[person]] if person in roles else ""
    return SheetPerson(seen.name(person), role, unit.label if unit else "", bool(unit and unit.held))


def _holds(seen: CourseView) -> tuple[str, ...]:
    """Units of this course that are on hold, whoever they are assigned to."""
    assigned = {a.unit for a in seen.course.assignments}
    told = []
    for unit in sorted(seen.units.values(), key=lambda unit: unit.label):
        if unit.id in assigned and unit.held and not unit.withdrawn:
            since = min(hold.since.local for hold in unit.held)
            told.append(f"{unit.label}: on hold since {day_words(since.date())}, {since:%H:%M}. Not for water.")
    return tuple(told)
