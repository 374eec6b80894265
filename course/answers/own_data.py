"""Everything that is kept about one person, for that person: others stand in it by their role alone.

Texts sealed for the person are opened; where a text names somebody else of the centre, the role stands in its place.
Texts of the centre or about others are left out, since they speak of several people: that there is one is told.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import asdict, dataclass
from typing import Any

from course.access import Sight
from course.answers.course_view import CourseView, view
from course.answers.days import day_words
from course.answers.oxygen import oxygen
from course.answers.people import known_people
from course.answers.student_page import student_page
from course.asker import question
from course.errors import RefusedError
from course.moments import day_words as words_of_day
from course.moments import read_stored, training_day
from course.record.account_facts import Account
from course.record.chain import Event
from course.record.facts import Attempt, Course, Decision, Fact, Person, Session
from course.record.paper_facts import Papers
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed
from course.words import OFFICE_WORDS, ROLE_WORDS, Role

NOTE = (
    "Everything that this centre keeps about you. Other people stand in it by their role. Texts that speak of several "
    "people, such as notes of an incident, are left out: ask the centre about them. It is for you alone; keep it safe."
)
_OF_A_STUDENT = ("madeexception", "signoff", "transfer", "arrival")
_LEFT_OUT = "a text that is not about this person alone is left out"


@dataclass(frozen=True)
class OwnData:
    """What is kept about one person."""

    person: dict[str, Any]
    """Name, birth date, contact, note, roles, checks on unit types, accounts."""
    papers: dict[str, list[dict[str, Any]]]
    courses: list[dict[str, Any]]
    sessions: list[dict[str, Any]]
    """Where they were, with their own times and minutes."""
    acts: dict[str, int]
    """What they entered about others, as numbers by kind of event."""
    events: list[dict[str, Any]]
    """The lines of the ledger that name them or are about them, in order."""
    note: str = NOTE

    def plain(self) -> dict[str, Any]:
        """The answer as plain data."""
        return asdict(self)


@question(Sight.OWN_DATA_FILE)
def own_data(ledger: Ledger, person: str) -> OwnData:
    """Return everything that is kept about one person. Reads the whole ledger.

    Raises:
        NotFoundError: there is no such person.
        RefusedError: their data were erased.
    """
    who = needed(ledger, Person, person, "person")
    if who.erased:
        raise RefusedError(
            f"The personal data of this person were erased on {day_words(who.erased.observed.local.date())}: there is "
            "nothing left that could be given to them by name."
        )
    others = _Others(ledger, who)
    views = [
        view(ledger, course.id)
        for course in all_of(ledger, Course)
        if any(member.person == person for member in course.members)
    ]
    events, acts = _lines(ledger, person, others)
    return OwnData(
        person=others.without(_person(ledger, who)),
        papers=others.without(_papers(who)),
        courses=others.without([_course(seen, person) for seen in views]),
        sessions=others.without([line for seen in views for line in _sessions(seen, person)]),
        acts=acts,
        events=events,
    )


class _Others:
    """Everybody else of the centre, to put a role where their id or name stands."""

    def __init__(self, ledger: Ledger, who: Person) -> None:
        people = [one for one in all_of(ledger, Person) if one.id != who.id]
        known = known_people(ledger, [*people, who])
        own = set(known[who.id].name.casefold().split())
        self.roles = {one.id: _role(one.roles) for one in people}
        words: dict[str, str] = {}
        for one in people:
            name = known[one.id].name
            for part in (name, *name.split()):
                if len(part) > 2 and part.casefold() not in own:
                    words.setdefault(part.casefold(), self.roles[one.id])
        self._words = words
        longest_first = sorted(words, key=len, reverse=True)
        self._named = re.compile(rf"(?<!\w)({'|'.join(map(re.escape, longest_first))})(?!\w)", re.IGNORECASE)

    def without(self, plain: Any) -> Any:
        """The same data with a role in the place of each other person's id and name."""
        if isinstance(plain, dict):
            return {key: self.without(value) for key, value in plain.items()}
        if isinstance(plain, list | tuple):
            return [self.without(one) for one in plain]
        if not isinstance(plain, str):
            return plain
        return self.roles.get(plain) or self._unnamed(plain)

    def _unnamed(self, text: str) -> str:
        if not self._words:
            return text
        return self._named.sub(lambda found: self._words[found[0].casefold()], text)


def _role(roles: tuple[Role, ...]) -> str:
    word = ROLE_WORDS[roles[0]] if roles else "office holder"
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def _person(ledger: Ledger, who: Person) -> dict[str, Any]:
    private = ledger.private(who)
    said = {name: private.get(name) for name in ("name", "birth_date", "contact", "note")}
    checks = [check.model_dump() for check in who.check_outs]
    told = {"id": who.id, **said, "roles": [ROLE_WORDS[role] for role in who.roles], "checks_on_units": checks}
    return told | {"accounts": [_account(ledger, one) for one in ledger.facts("account", person=who.id)]}


def _account(ledger: Ledger, account: Fact) -> dict[str, Any]:
    """What an account says of somebody; never what opens it."""
    if not isinstance(account, Account) or not account.open:
        return {"closed": True}
    sign_in = ledger.private(account).get("sign_in")
    offices = [OFFICE_WORDS[office] for office in account.offices]
    return {"closed": False, "sign_in_name": sign_in, "offices": offices, "has_a_pin": account.pin_event is not None}


def _papers(who: Person) -> dict[str, Any]:
    return {name: [paper.model_dump(mode="json") for paper in getattr(who, name)] for name in Papers.model_fields}


def _course(seen: CourseView, person: str) -> dict[str, Any]:
    roles = [ROLE_WORDS[member.role] for member in seen.course.members if member.person == person]
    units = [
        {"unit": seen.units[one.unit].label if one.unit in seen.units else one.unit, "from": one.from_day}
        for one in seen.course.assignments
        if one.person == person
    ]
    course = seen.course
    told: dict[str, Any] = {"title": course.title, "first_day": course.first_day, "last_day": course.last_day}
    if dives := [one.sentence for one in oxygen(seen, seen.last_day, [person]).lines]:
        told["oxygen_exposure"] = dives
    if person not in seen.students:
        return told | {"roles": roles, "units": units}
    own = student_page(seen, person, seen.last_day).plain()
    kept = ("sentence", "held", "missing", "hours", "gaps", "papers", "adjustments", "attempts", "cautions")
    return told | {"roles": roles, "units": units, "record": {name: own[name] for name in kept}}


def _sessions(seen: CourseView, person: str) -> list[dict[str, Any]]:
    lines = []
    for session in seen.sessions.values():
        told = _there(session, person)
        if told:
            day = words_of_day(training_day(session.start))
            lines.append({"session": session.title, "day": day, "course": seen.course.title} | told)
    return lines


def _there(session: Session, person: str) -> dict[str, Any]:
    told = {
        "times": [span.model_dump(mode="json", exclude={"person"}) for span in session.spans if span.person == person],
        "in_the_water": [w.model_dump(mode="json", exclude={"person"}) for w in session.water if w.person == person],
        "groups": [group.name for group in session.groups if person in (*group.staff, *group.students)],
        "incidents": [f"there at {i.observed.utc}" for i in session.incidents if person in i.people],
    }
    return {name: lines for name, lines in told.items() if lines}


def _lines(ledger: Ledger, person: str, others: _Others) -> tuple[list[dict[str, Any]], dict[str, int]]:
    """The lines about somebody, and how many other lines of each kind they entered."""
    own = {person}
    own |= {one.id for one in ledger.facts("attempt", person=person) if isinstance(one, Attempt)}
    own |= {one.id for one in ledger.facts("decision", person=person) if isinstance(one, Decision)}
    own |= {one.id for kind in _OF_A_STUDENT for one in ledger.facts(kind, person=person)}
    own |= {one.id for one in ledger.facts("account", person=person)}
    about: list[Event] = []
    acts: Counter[str] = Counter()
    for event in ledger.events():
        if event.subject in own or person in event.body:
            about.append(event)
        elif event.actor == person:
            acts[event.kind.partition("/")[0].replace("_", " ")] += 1
    about.sort(key=lambda one: one.order)  # the same on every laptop, whatever arrived first
    return [_line(ledger, one, person, others) for one in about], dict(sorted(acts.items()))


def _line(ledger: Ledger, event: Event, person: str, others: _Others) -> dict[str, Any]:
    body = json.loads(event.body)
    sealed = body.pop("sealed", None)
    text: Any = None
    if sealed:
        text = ledger.private_of(event) if sealed["of"] == person else _LEFT_OUT
    by = "this person" if event.actor == person else others.roles.get(event.actor, "this program")
    written = read_stored(event.recorded_at).isoformat(timespec="seconds")
    told = {"id": event.id, "kind": event.kind, "written": written, "by": by, "says": others.without(body)}
    return told | ({"text": others.without(text)} if text else {})
