"""What of signing was taken back: it stays to be read, with who did so, when, by what they confirmed it, and why."""

from __future__ import annotations

from course.answers.confirmed import confirmed_words
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.moments import read_stored, zone_named
from course.record.chain import Event
from course.record.events import Withdrawn, WithdrawnConfirmed
from course.record.statements import live_statements
from course.storage.ledger import Ledger


def taken_back(ledger: Ledger, seen: CourseView, subject: str) -> dict[str, str]:
    """Return, by event about a thing that no longer holds, who took it back: words that follow what it was."""
    return {
        one.body.withdraws: _words(ledger, seen, one.event, one.body)
        for one in live_statements(ledger.events(subject))
        if isinstance(one.body, Withdrawn) and not one.withdrawn
    }


def withdrawal_confirmed(body: Withdrawn) -> str:
    """Say by what a withdrawal was confirmed; nothing of the first version, whose events do not say it."""
    return confirmed_words(body.confirmed_with) if isinstance(body, WithdrawnConfirmed) else ""


def _words(ledger: Ledger, seen: CourseView, event: Event, body: Withdrawn) -> str:
    day = day_words(read_stored(event.recorded_at).astimezone(zone_named(seen.course.zone)).date())
    why = str(ledger.private_of(event).get("why") or "the reason is erased").rstrip(".")
    return f"taken back by {seen.name(event.actor)} on {day}{withdrawal_confirmed(body)}: {why}."
