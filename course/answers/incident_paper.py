"""Who saw what: everything that the ledger holds about one incident, as facts, for the paper that is kept of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import day_words, weekday_words
from course.answers.event_lines import EventLine, event_lines, observed_words, recorded_words
from course.answers.record_answer import LedgerHead
from course.answers.roll_call import WHEN_WORDS, rolls_in_order, spans_at, unit_in_use
from course.asker import question
from course.errors import NotFoundError
from course.moments import training_day
from course.record.chain import Event
from course.record.day_facts import Incident
from course.record.facts import Attempt, Session, Span
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.storage.lookup import needed, skill_as_marked
from course.words import SETTING_WORDS, SPAN_ROLE_WORDS, plural

CONFIDENTIAL = (
    "Confidential. The lead decides who may see it. Facts as they were entered, with both times; it judges nobody."
)


@dataclass(frozen=True)
class PersonIn:
    """Somebody who was in when the session was frozen."""

    name: str
    role: str
    since: str
    unit: str


@dataclass(frozen=True)
class RollLine:
    """A roll call, with everybody's name."""

    head: str
    present: tuple[str, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True)
class UnderWay:
    """An attempt that was under way, with every event about it."""

    head: str
    lines: tuple[EventLine, ...]


@dataclass(frozen=True)
class NoteLine:
    """What somebody wrote, with both times."""

    observed: str
    recorded: str
    who: str
    text: str


@dataclass(frozen=True)
class IncidentPaper:
    """One incident, ready to be printed."""

    centre: str
    course: str
    session: str
    planned: str
    frozen: str
    frozen_by: str
    people: tuple[PersonIn, ...]
    units: tuple[str, ...]
    tablets: str
    rolls: tuple[RollLine, ...]
    attempts: tuple[UnderWay, ...]
    notes: tuple[NoteLine, ...]
    outcome: str
    zone: str
    incident: str
    event: LedgerHead
    """Where the freezing stands in the ledger."""
    head: LedgerHead
    caution: str = CONFIDENTIAL
    course_id: str = ""
    session_id: str = ""


@question(Sight.INCIDENT_FILE)
def incident_paper(ledger: Ledger, seen: CourseView, session_id: str, incident_id: str) -> IncidentPaper:
    """Return everything about an incident.

    Raises:
        NotFoundError: there is no such session or incident.
    """
    session = needed(ledger, Session, session_id, "session")
    incident = next((one for one in session.incidents if one.id == incident_id), None)
    event = ledger.event(incident.event) if incident else None
    if incident is None or event is None:
        raise NotFoundError("This session has no such incident.")
    by_event = ledger.private(session).get("by_event", {})
    start, end = session.start.local, session.end.local
    where = [SETTING_WORDS[session.setting], session.place or ""]
    day = training_day(session.start)
    return IncidentPaper(
        centre=seen.centre.name,
        course=seen.course.title,
        session=session.title,
        planned=f"{weekday_words(day)} {day_words(day)}, {start:%H:%M} to {end:%H:%M}, "
        + ", ".join(part for part in where if part),
        frozen=_moment(incident, event, session),
        frozen_by=seen.name(incident.frozen_by),
        people=_people(seen, session, incident),
        units=tuple(seen.units[unit].label if unit in seen.units else unit for unit in incident.units),
        tablets=f"{plural(incident.tablets_waiting, 'tablet')} with marks that had not arrived"
        if incident.tablets_waiting
        else "none was known to hold marks that had not arrived",
        rolls=tuple(_roll(seen, session, roll.id) for roll in rolls_in_order(session)),
        attempts=tuple(_attempt(ledger, seen, session, attempt, event) for attempt in incident.attempts),
        notes=_notes(ledger, seen, session, incident, by_event),
        outcome=_outcome(seen, session, incident),
        zone=session.start.zone,
        incident=incident.id,
        event=LedgerHead(ledger.centre_id, event.chain, event.seq, event.hash),
        head=seen.head,
        course_id=seen.course.id,
        session_id=session.id,
    )


def _moment(incident: Incident, event: Event, session: Session) -> str:
    local = incident.observed.local
    return (
        f"{weekday_words(local.date())} {day_words(local.date())} at {local:%H:%M:%S} "
        f"({incident.observed.utc[:19]}Z), recorded {recorded_words(event, session.start.zone)}"
    )


def _people(seen: CourseView, session: Session, incident: Incident) -> tuple[PersonIn, ...]:
    """Those named by the freezing, with role and time from the spans as they stand now."""
    spans: dict[str, Span] = {}
    for span in spans_at(session, incident.observed.moment):
        spans.setdefault(span.person, span)
    made = []
    for person in incident.people:
        own = spans.get(person)
        unit = unit_in_use(seen, session, person)
        shown = seen.units[unit].label if unit in incident.units and unit in seen.units else ""
        since = f"{own.start.local:%H:%M}" if own else "not in the list of times any more"
        made.append(PersonIn(seen.name(person), SPAN_ROLE_WORDS[own.role] if own else "", since, shown))
    return tuple(made)


def _roll(seen: CourseView, session: Session, roll_id: str) -> RollLine:
    roll = next(roll for roll in session.rolls if roll.id == roll_id)
    called = observed_words(roll.observed, training_day(session.start))
    return RollLine(
        head=f"{called}, {WHEN_WORDS[roll.when]}, called by {seen.name(roll.called_by)}",
        present=tuple(seen.name(person) for person in roll.present),
        missing=tuple(seen.name(person) for person in roll.missing),
    )


def _attempt(ledger: Ledger, seen: CourseView, session: Session, attempt_id: str, after: Event) -> UnderWay:
    attempt = ledger.fact("attempt", attempt_id)
    if not isinstance(attempt, Attempt):
        return UnderWay(f"An attempt that this ledger does not hold ({attempt_id})", ())
    skill = _skill(ledger, attempt)
    unit = seen.units.get(attempt.unit or "")
    head = [
        seen.name(attempt.student),
        skill.title if skill else attempt.skill,
        f"attempt {attempt.number}",
        unit.label if unit else "",
        "withdrawn since" if attempt.withdrawn else "",
    ]
    day = training_day(session.start)
    lines = event_lines(ledger, seen, attempt.id, skill, session.start.zone, day, after)
    return UnderWay(" · ".join(part for part in head if part), lines)


def _skill(ledger: Ledger, attempt: Attempt) -> Skill | None:
    try:
        return skill_as_marked(ledger, attempt.skill, attempt.rubric)
    except NotFoundError:
        return None


def _notes(
    ledger: Ledger, seen: CourseView, session: Session, incident: Incident, by_event: Mapping[str, Mapping[str, Any]]
) -> tuple[NoteLine, ...]:
    told = (
        [(incident.event, incident.frozen_by, incident.observed)] if "note" in by_event.get(incident.event, {}) else []
    )
    told = [*told, *((line.event, line.written_by, line.observed) for line in incident.lines)]
    made = []
    for event_id, who, observed in told:
        event = ledger.event(event_id)
        recorded = recorded_words(event, session.start.zone) if event else ""
        text = str(by_event.get(event_id, {}).get("note") or "the text was erased")
        made.append(NoteLine(observed_words(observed, training_day(session.start)), recorded, seen.name(who), text))
    return tuple(made)


def _outcome(seen: CourseView, session: Session, incident: Incident) -> str:
    """What became of the session: facts as they stand now."""
    if incident.resumed is not None and incident.resumed_by is not None:
        at = incident.resumed.local
        return f"{seen.name(incident.resumed_by)} let it go on, {day_words(at.date())} at {at:%H:%M}."
    closed = session.closed_at
    if closed is not None and closed.moment >= incident.observed.moment:
        return f"The session did not go on; it was closed on {day_words(closed.local.date())}, {closed.local:%H:%M}."
    return "The session is still frozen."
