"""For how long the data of people are kept, and whose are due for erasing. Nothing is erased by itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from course.access import Sight
from course.answers.days import day_words
from course.answers.people import known_people
from course.asker import question
from course.moments import now, read_stored, zone_named
from course.record.facts import Centre, Course, Person, Session
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed
from course.words import STAFF, Role, plural

ADVICE = (
    "How long training records have to be kept, and from when they must be erased, is for your agency, your insurer "
    "and local law; ask somebody who is licensed to say. Nothing is erased by itself."
)
_LABELS = {
    "student_days": "students and candidates",
    "staff_days": "those who teach, assist or look after units",
    "incident_days": "whoever was there when something went wrong, where that is longer",
}


@dataclass(frozen=True)
class Due:
    """Somebody whose time is over."""

    person: str
    name: str
    last_day: str
    due_since: date
    days: int

    @property
    def sentence(self) -> str:
        """Since when, and why."""
        kept = plural(self.days, "day")
        return f"{self.name}: last there on {self.last_day}, kept for {kept}, due since {day_words(self.due_since)}."


@dataclass(frozen=True)
class KeepingAnswer:
    """What the centre has set, and whose time is over."""

    rules: tuple[str, ...]
    days: Mapping[str, int | None]
    due: tuple[Due, ...]
    advice: str = ADVICE

    @property
    def sentence(self) -> str:
        """The one that leads."""
        if not self.rules:
            return "No time is set for keeping people's data."
        if not self.due:
            return "Nobody's data are due for erasing."
        return f"The data of {plural(len(self.due), 'person', 'people')} are due for erasing."


@question(Sight.PRIVACY)
def keeping(ledger: Ledger) -> KeepingAnswer:
    """Return how long data are kept and whose time is over today."""
    days = days_kept(ledger)
    told = ((plural(n, "day"), _LABELS[name]) for name, n in days.items() if n is not None)
    return KeepingAnswer(
        rules=tuple(f"{how_long} after their last course: {whose}." for how_long, whose in told),
        days=days,
        due=_due(ledger) if any(n is not None for n in days.values()) else (),
    )  # fmt: skip


def days_kept(ledger: Ledger) -> dict[str, int | None]:
    """Return for how many days data are kept, by whose; None where no time is set."""
    said = needed(ledger, Centre, ledger.centre_id, "centre").retention
    return {name: getattr(said, name) if said else None for name in _LABELS}


def today_in(ledger: Ledger) -> date:
    """Return the day that it is now where the centre is."""
    zone = needed(ledger, Centre, ledger.centre_id, "centre").zone
    return now().astimezone(zone_named(zone)).date()


def kept_until(ledger: Ledger, person: Person) -> tuple[date, date, int] | None:
    """Return somebody's last day, the last day on which their data are kept, and for how long; None: no time is set."""
    own = [course for course in all_of(ledger, Course) if any(m.person == person.id for m in course.members)]
    incident = _was_there(person.id, (s for course in own for s in all_of(ledger, Session, course=course.id)))
    return _until(ledger, person, own, days_kept(ledger), incident=incident)


def _due(ledger: Ledger) -> tuple[Due, ...]:
    people = [one for one in all_of(ledger, Person) if one.erased is None]
    courses, sessions, days = all_of(ledger, Course), all_of(ledger, Session), days_kept(ledger)
    with_incident = [session for session in sessions if session.incidents]
    names, today = known_people(ledger, people), today_in(ledger)
    centre_lead = needed(ledger, Centre, ledger.centre_id, "centre").lead
    due = []
    for one in people:
        own = [course for course in courses if any(member.person == one.id for member in course.members)]
        found = _until(ledger, one, own, days, incident=_was_there(one.id, with_incident))
        if found and found[1] < today and one.id != centre_lead:
            last, until, kept = found
            due.append(Due(one.id, names[one.id].shown, day_words(last), until + timedelta(days=1), kept))
    return tuple(sorted(due, key=lambda one: (one.due_since, one.person)))


def _until(
    ledger: Ledger, person: Person, courses: Iterable[Course], days: Mapping[str, int | None], *, incident: bool
) -> tuple[date, date, int] | None:
    courses = list(courses)
    roles = {member.role for course in courses for member in course.members if member.person == person.id}
    asked = [days[name] for name in _kinds(roles or set(person.roles), incident=incident)]
    kept = max((one for one in asked if one is not None), default=None)
    if kept is None:
        return None
    last = max((date.fromisoformat(course.last_day) for course in courses), default=None)
    if last is None:  # on no course: from the day on which they were entered
        last = read_stored(next(ledger.events(person.id)).recorded_at).date()
    return last, last + timedelta(days=kept), kept


def _kinds(roles: set[Role], *, incident: bool) -> tuple[str, ...]:
    learning = {Role.STUDENT, Role.CANDIDATE}
    asked = {
        "student_days": bool(roles & learning),
        "staff_days": not roles or bool(roles & (set(STAFF) - learning)),
        "incident_days": incident,
    }
    return tuple(name for name, wanted in asked.items() if wanted)


def _was_there(person: str, sessions: Iterable[Session]) -> bool:
    return any(person in incident.people for session in sessions for incident in session.incidents)
