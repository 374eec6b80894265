"""What came into a record after it was signed. The signature stays as it was; whoever leads is told what is new."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.record.chain import Event
from course.record.events import AttemptOpened
from course.record.facts import Attempt, Decision
from course.record.statements import live_statements
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.words import OUTCOME_WORDS

_Place = tuple[int, str, int, str]


def found_after_signing(
    ledger: Ledger, seen: CourseView, decision: Decision, skill: Skill, as_of: date
) -> tuple[str, ...]:
    """Return what was entered, amended or taken away since a decision, attempt by attempt, in the order that counts.

    "attempt 6 of 25 Oct 2026, critical, was entered"
    """
    signed = next(iter(ledger.events(decision.id))).order
    day = max(as_of, date.fromisoformat(decision.as_of))
    standing = seen.standing(decision.student, skill, day)
    by_id = {one.attempt.id: one for one in seen.seen(decision.student, skill)}
    told = []
    for step in standing.history:
        one = by_id[step.attempt]
        events = _events(ledger, one.attempt)
        later = [read.event for read in one.against if _order_of(ledger, read.event) > signed]
        if events[-1].order <= signed and later and any(reason.what == "reading" for reason in step.judgement.reasons):
            outcome = OUTCOME_WORDS[step.outcome]
            told.append(f"{_words(seen, one.attempt)}, {outcome}, is overruled by a later reading of its unit")
        if events[-1].order > signed:
            outside = step.judgement.outside
            outcome = outside.value if outside else OUTCOME_WORDS[step.outcome]
            what = "entered" if events[0].order > signed else "amended"
            told.append(f"{_words(seen, one.attempt)}, {outcome}, was {what}")
    here = {step.attempt for step in standing.history} | set(standing.open_attempts)
    return (*told, *_gone(ledger, seen, decision, here, signed))


def _gone(ledger: Ledger, seen: CourseView, decision: Decision, here: set[str], signed: _Place) -> list[str]:
    """Attempts that were this student's when it was signed, and are withdrawn or another's now."""
    told = []
    for attempt in ledger.facts("attempt", course=seen.course.id, skill=decision.skill):
        joined = any(attempt.id in other.joined for other in seen.attempts)
        if not isinstance(attempt, Attempt) or attempt.id in here or joined:
            continue
        events = _events(ledger, attempt)
        before = [event for event in events if event.order < signed]
        if len(before) < len(events) and decision.student in _holders(before):
            told.append(f"{_words(seen, attempt)} was taken away")
    return told


def _holders(events: Sequence[Event]) -> tuple[str, ...]:
    """Whose an attempt was once these events were there; nobody's once it was withdrawn."""
    for statement in live_statements(events):
        if isinstance(statement.body, AttemptOpened) and not statement.withdrawn:
            return statement.claims.get("student", (statement.body.student,))
    return ()


def _events(ledger: Ledger, attempt: Attempt) -> list[Event]:
    found = [event for subject in (attempt.id, *attempt.joined) for event in ledger.events(subject)]
    return sorted(found, key=lambda event: event.order)


def _order_of(ledger: Ledger, event: str) -> _Place:
    found = ledger.event(event)
    return found.order if found else (0, "", 0, "")


def _words(seen: CourseView, attempt: Attempt) -> str:
    return f"attempt {attempt.number} of {day_words(seen.as_seen(attempt).day)}"
