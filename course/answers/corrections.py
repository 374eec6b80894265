"""Every correction of one course: who changed what, from what to what, when and why; what was said first still stands.

Attempts tell their own (see `amendments`); here are also sessions, times, units and the course itself.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from course.access import Sight
from course.answers.amendments import course_amendments
from course.answers.confirmed import confirmed_words
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.asker import question
from course.moments import read_stored, zone_named
from course.record import events as kinds
from course.record.chain import Event
from course.record.statements import live_statements
from course.storage.ledger import Ledger
from course.words import KIND_OF_EVENT_WORDS, SETTING_WORDS, SPAN_ROLE_WORDS, SpanRole

ERASED = "the reason is erased"


@dataclass(frozen=True)
class Correction:
    """One correction, or one thing that was taken back."""

    recorded: str
    about: str
    words: str
    """From what to what, by whom and why, as one sentence."""


@question(Sight.PAPERS)
def course_corrections(ledger: Ledger, seen: CourseView) -> tuple[Correction, ...]:
    """Return every correction of a course, the oldest first."""
    found = [
        (event, Correction(_at(event, seen.course.zone), about, words))
        for event, about, words in course_amendments(ledger, seen)
    ]
    subjects = {seen.course.id: seen.course.title} | {s.id: s.title for s in _sessions(ledger, seen)}
    for subject, title in subjects.items():
        events = list(ledger.events(subject))
        for place, event in enumerate(events):
            if words := correction_words(ledger, seen, event, events[:place]):
                found.append((event, Correction(_at(event, seen.course.zone), title, words)))
    return tuple(correction for _, correction in sorted(found, key=lambda pair: pair[0].order))


def _sessions(ledger: Ledger, seen: CourseView) -> list[Any]:
    """Withdrawn ones too."""
    return ledger.facts("session", course=seen.course.id)


def correction_words(ledger: Ledger, seen: CourseView, event: Event, earlier: Sequence[Event]) -> str:
    """Return what an event corrects or takes back, from what to what; empty for one that does neither.

    Args:
        ledger: the ledger.
        seen: the course, for names.
        event: the event.
        earlier: those about the same thing that came before it.
    """
    if event.kind not in (kinds.Corrected.kind, *kinds.WITHDRAWALS):
        return ""
    body = json.loads(event.body)
    of = body.get("corrects", body.get("withdraws"))
    before = next((one for one in earlier if one.id == of), None)
    what = KIND_OF_EVENT_WORDS.get(before.kind if before else "", "an earlier entry")
    who = _whose(seen, before)
    why = ledger.private_of(event).get("why") or (ERASED if "sealed" in body else "no reason was given")
    by = f"by {seen.name(event.actor)}"
    if event.kind in kinds.WITHDRAWALS:
        how = confirmed_words(body["confirmed_with"]) if "confirmed_with" in body else ""
        return f"Taken back: {what}{who}, {by}{how}: {why}"
    told = "; ".join(_changes(seen, body["change"], of, earlier)) or "private text"
    return f"Corrected: {what}{who}: {told}, {by}: {why}"


def _whose(seen: CourseView, event: Event | None) -> str:
    person = json.loads(event.body).get("person") if event else None
    return f" of {seen.name(person)}" if isinstance(person, str) else ""


def _changes(seen: CourseView, change: dict[str, Any], of: str, earlier: Sequence[Event]) -> Iterator[str]:
    statement = next((s for s in live_statements(earlier) if s.event.id == of), None)
    before = statement.body.model_dump(mode="json", by_alias=True) if statement and statement.body else {}
    for name, value in sorted(change.items()):
        if value != before.get(name):
            was, now = _value(seen, before.get(name)), _value(seen, value)
            yield f"{name.replace('_', ' ')} from {was} to {now}"


def _value(seen: CourseView, value: Any) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict) and "utc" in value:
        local = read_stored(value["utc"]).astimezone(zone_named(seen.course.zone))
        return f"{day_words(local.date())} at {local:%H:%M}"
    if isinstance(value, list):
        return ", ".join(_value(seen, one) for one in value) or "none"
    text = str(value)
    known: dict[str, str] = {u.id: u.label for u in seen.units.values()} | SETTING_WORDS
    if text in set(SpanRole):
        return SPAN_ROLE_WORDS[SpanRole(text)]
    return known.get(text) or (seen.name(text) if text in seen.people else text)


def _at(event: Event, zone: str) -> str:
    local = read_stored(event.recorded_at).astimezone(zone_named(zone))
    return f"{day_words(local.date())} {local:%H:%M}"
