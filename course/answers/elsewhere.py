"""What a lead accepted from another centre: counted beside what was done here, and always told apart from it.

A skill that was seen elsewhere is told and never counts as held here: another centre's rubric, unit and eyes are behind
it. It has to be shown again.
"""

from __future__ import annotations

from datetime import date

from course.access import Act
from course.answers.confirmed import confirmed_words
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.taken_back import taken_back
from course.asker import question
from course.hours.requirements import COUNT_WORDS, KIND_WORDS
from course.record.arrival_events import ArrivedFromElsewhere, ElsewhereAccepted
from course.record.arrival_facts import Accepted, Arrival, accepted_of
from course.record.statements import live_statements
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.words import STANDING_WORDS, Role, plural

SHOWN_AGAIN = "It does not count here: it has to be shown again."
_STANDINGS: dict[str, str] = {state.value: word for state, word in STANDING_WORDS.items()}


def arrivals_of(seen: CourseView, student: str) -> tuple[Arrival, ...]:
    """Return what arrived of a student, the first first."""
    return tuple(one for one in seen.arrivals if one.student == student)


def accepted_amount(seen: CourseView, student: str, item: str) -> int:
    """Return how many minutes, or how many of something, count here from elsewhere.

    Of two files of one record at the other centre the larger amount holds: they tell of the same minutes.
    """
    by_origin: dict[tuple[str, str, str], int] = {}
    leads = seen.course.people(Role.LEAD)
    for arrival in arrivals_of(seen, student):
        for one in arrival.accepted:
            if one.item == item and one.by in leads:
                amount = min(one.amount or 0, arrival.amount_of(item) or 0)
                by_origin[arrival.origin] = max(by_origin.get(arrival.origin, 0), amount)
    return sum(by_origin.values())


def elsewhere_lines(ledger: Ledger, seen: CourseView, student: str) -> tuple[str, ...]:
    """Return everything that was accepted of a student as sentences, and after it what was taken back."""
    accepted = (
        accepted_words(ledger, seen, arrival, one) for arrival in arrivals_of(seen, student) for one in arrival.accepted
    )
    return (*accepted, *elsewhere_taken_back(ledger, seen, student))


@question(Act.SIGN)
def elsewhere_taken_back(ledger: Ledger, seen: CourseView, student: str) -> tuple[str, ...]:
    """Return what had been accepted of a student, and whole files, that were taken back, as sentences."""
    facts = (one for one in ledger.facts("arrival", course=seen.course.id) if isinstance(one, Arrival))
    return tuple(
        told
        for arrival in sorted(facts, key=lambda one: (one.observed.utc, one.id))
        if arrival.student == student
        for event, words in taken_back(ledger, seen, arrival.id).items()
        if (told := _back_words(ledger, seen, arrival, event, words))
    )


def _back_words(ledger: Ledger, seen: CourseView, arrival: Arrival, event: str, words: str) -> str:
    statement = next(one for one in live_statements(ledger.events(arrival.id)) if one.event.id == event)
    if isinstance(statement.body, ElsewhereAccepted):
        return f"{accepted_words(ledger, seen, arrival, accepted_of(statement, statement.body))} It was {words}"
    if isinstance(statement.body, ArrivedFromElsewhere):
        private = ledger.private(arrival)
        return f"From elsewhere, {centre_words(private)}, as of {_day(arrival.as_of)}: the whole file was {words}"
    return ""  # a withdrawal that was taken back itself: what it spoke of holds again, and says so


def skill_elsewhere(ledger: Ledger, seen: CourseView, student: str, skill: Skill) -> tuple[str, ...]:
    """Return what was accepted as seen elsewhere of one skill, as sentences."""
    return tuple(
        accepted_words(ledger, seen, arrival, one)
        for arrival in arrivals_of(seen, student)
        for one in arrival.accepted
        if one.item == f"skill:{skill.id}"
    )


def accepted_words(ledger: Ledger, seen: CourseView, arrival: Arrival, one: Accepted) -> str:
    """Say what was accepted, of which centre, by whom, when and why."""
    private = ledger.private(arrival)
    reason = private.get("by_event", {}).get(one.event, {}).get("reason")
    who = f"{seen.name(one.by)} on {day_words(one.observed.local.date())}{confirmed_words(one.confirmed_with)}"
    why = f": {str(reason).rstrip('.')}" if reason else ""
    told = item_words(seen, arrival, one.item, one.amount, private.get("titles"))
    told += f" {SHOWN_AGAIN}" if one.item.startswith("skill:") else ""
    return f"From elsewhere, {centre_words(private)}, as of {_day(arrival.as_of)}: {told} Accepted by {who}{why}."


def item_words(
    seen: CourseView, arrival: Arrival, item: str, amount: int | None, titles: dict[str, str] | None = None
) -> str:
    """Say what one thing of a file is: minutes or times with how many of them count, or a skill as it was seen."""
    kind, _, name = item.partition(":")
    if kind == "skill":
        skill = arrival.skill(name)
        title = seen.title_of(name) if name in seen.adopted.standards.skills else (titles or {}).get(name, name)
        if skill is None:
            return f"{title}."
        last = f", last on {_day(skill.last_day)}" if skill.last_day else ""
        tried = f"{plural(skill.attempts, 'attempt')}, {skill.counted} of them counted{last}"
        return f"{title}, {_STANDINGS.get(skill.standing, skill.standing)} there, {tried}."
    what = amount_words(item, arrival.amount_of(item) or 0)
    return f"{what}." if amount is None else f"{amount} of {what}."


def amount_words(item: str, amount: int) -> str:
    """Say how many minutes, or how many of something: "420 minutes theory"."""
    kind, _, name = item.partition(":")
    plain = name.replace("_", " ")
    if kind == "hours":
        return f"{plural(amount, 'minute')} {KIND_WORDS.get(name, plain)}"
    return plural(amount, *COUNT_WORDS.get(name, (plain, plain)))


def centre_words(private: dict[str, object]) -> str:
    """The other centre's name; that it is another one, once its name is erased."""
    return str(private.get("centre_name") or "another centre")


def _day(text: str) -> str:
    return day_words(date.fromisoformat(text))
