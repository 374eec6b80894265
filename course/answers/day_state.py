"""Whether a session takes entries: open, frozen after something went wrong, or closed; and the sessions of a day."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.asker import question
from course.errors import NotFoundError
from course.moments import training_day
from course.record.day_facts import Incident
from course.record.facts import Session


class SessionState(StrEnum):
    """What can be done in a session now."""

    OPEN = "open"
    FROZEN = "frozen"
    CLOSED = "closed"


@dataclass(frozen=True)
class StateOfSession:
    """The state, and the sentence that says it."""

    state: SessionState
    sentence: str


def session_state(session: Session) -> StateOfSession:
    """Return whether a session takes new attempts.

    A frozen session that was closed later than it was frozen is closed: it did not go on. Frozen wins where it was
    closed before.
    """
    held = open_incidents(session)
    if held:
        since = held[0].observed.local
        return StateOfSession(
            SessionState.FROZEN,
            f"{session.title} is frozen since {since:%H:%M}: no new attempt until the lead or an instructor lets it "
            "go on, or closes it.",
        )
    if session.closed_at is not None:
        at = session.closed_at.local
        return StateOfSession(
            SessionState.CLOSED,
            f"{session.title} was closed on {day_words(at.date())} at {at:%H:%M}. The lead or an instructor can open "
            "it again, with a reason.",
        )
    return StateOfSession(SessionState.OPEN, f"{session.title} is open.")


def open_incidents(session: Session) -> tuple[Incident, ...]:
    """Return incidents after which the session neither went on nor was closed, the earliest first."""
    closed = session.closed_at
    held = [i for i in session.frozen_by if closed is None or closed.moment < i.observed.moment]
    return tuple(sorted(held, key=lambda incident: (incident.observed.utc, incident.id)))


@question(Sight.DAY)
def sessions_on(seen: CourseView, day: date) -> tuple[Session, ...]:
    """Return the sessions of a training day in the order in which they begin."""
    return tuple(s for s in seen.sessions.values() if training_day(s.start) == day)


@question(Sight.DAY)
def training_days(seen: CourseView) -> tuple[date, ...]:
    """Return the days that have a session, the earliest first."""
    return tuple(sorted({training_day(session.start) for session in seen.sessions.values()}))


@question(Sight.DAY)
def named_sessions(seen: CourseView, wanted: str) -> tuple[Session, ...]:
    """Return the session of that title or id, or all of a day like 2026-10-22.

    Raises:
        NotFoundError: none fits, or several titles do (all are named).
    """
    asked = unicodedata.normalize("NFC", wanted).strip().casefold()
    known = tuple(seen.sessions.values())
    days = tuple(s for s in known if training_day(s.start).isoformat() == asked)
    if days:
        return days
    fits = [s for s in known if asked in (s.id, s.title.casefold())]
    fits = fits or [s for s in known if asked and asked in s.title.casefold()]
    if len(fits) == 1:
        return (fits[0],)
    told = ", ".join(f"{s.title} ({training_day(s.start)})" for s in fits or known) or "none yet"
    if fits:
        raise NotFoundError(f"Several sessions fit {wanted[:60]!r}: {told}. Write more of the title, or the day.")
    raise NotFoundError(f"{seen.course.title} has no session or session day {wanted[:60]!r}. There are: {told}.")
