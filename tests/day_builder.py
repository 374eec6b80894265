"""A pool day in the small centre: people in and out, sheets, faults, and short ways to run and end it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from centre_builder import POOL_SKILL, Centre, critical_mark, seen_at, tap

from course.actions import courses, day, incident, slates
from course.actions.attempts import Opened
from course.actions.drafting import body, draft
from course.actions.pad import take
from course.answers.day_end import DayEnd, TabletWaiting, day_end
from course.answers.day_state import StateOfSession, session_state
from course.moments import Observed, new_id
from course.record.events import FaultCleared, FaultSet, SessionFrozen
from course.record.facts import Session
from course.words import SlipKind, SpanRole

POOL_DAY, POOL = date(2026, 10, 22), "pool-22"
FAULT = "pf-din-ring"


@dataclass
class Day:
    """The pool day of the small centre."""

    centre: Centre

    @property
    def id(self) -> str:
        """The session's id."""
        return self.centre.sessions[POOL]

    @property
    def session(self) -> Session:
        """The session as it stands."""
        fact = self.centre.ledger.fact("session", self.id)
        assert isinstance(fact, Session)
        return fact

    @property
    def state(self) -> StateOfSession:
        """Whether it takes entries."""
        return session_state(self.session)

    def at(self, hour: int = 15, minute: int = 0) -> Observed:
        """A minute of the day."""
        return seen_at(22, hour, minute)

    def comes(self, person: str, role: SpanRole = SpanRole.STUDENT, end: Observed | None = None) -> str:
        """Somebody is in from 13:40 on; returns the span's id."""
        came = courses.span(
            self.centre.lead, session=self.id, person=person, role=role, start=self.at(13, 40), end=end
        )  # fmt: skip
        courses.record_times(self.centre.ledger, self.centre.lead, [came])
        return str(getattr(came.body, "span", ""))

    def leaves(self, span: str) -> None:
        """They left at 16:00."""
        courses.end_span(self.centre.ledger, self.centre.lead, self.id, span, self.at(16))

    def roll(self, when: Any, present: list[str], minute: int = 45, **more: Any) -> day.Called:
        """Call the roll at some minute past three, by the assistant."""
        return day.call_roll(
            self.centre.ledger, more.pop("by", self.centre.assistant), self.id, when=when, present=present,
            observed=self.at(15, minute), **more,
        )  # fmt: skip

    def freeze(self, by: str = "", note: str | None = None, minute: int = 6) -> str:
        """Freeze the session at some minute past three."""
        return incident.freeze(self.centre.ledger, by or self.centre.assistant, self.id, self.at(15, minute), note)

    def resume(self, which: str, why: str = "All are well.") -> None:
        """Let it go on at half past three."""
        incident.resume(self.centre.ledger, self.centre.lead, self.id, which, why, self.at(15, 30))

    def mark(self, opened: Opened, *, critical: bool = False) -> None:
        """One tap at 15:04: a step done, or the critical error."""
        line = critical_mark() if critical else None
        marks = [line.model_dump(mode="json") if line else {"step": "co-hand", "mark": "done"}]
        answer = take(
            self.centre.ledger,
            [tap(self.centre, opened, "marks_given/1", {"marks": marks}, tapped_at="2026-10-22T15:04:00.000Z")],
        )
        assert answer.refused == ()

    def sheet(self, tries: int = 1) -> str:
        """Give out a sheet for both students."""
        (slate,) = slates.give_out(
            self.centre.ledger, self.centre.lead, self.id, skills=[POOL_SKILL], tries=tries
        )  # fmt: skip
        return slate

    def plant(self, hour: int = 14) -> str:
        """Plant a fault in unit A-05."""
        slip = new_id()
        content = body(
            FaultSet, slip=slip, course=self.centre.course, session=self.centre.sessions["dry-21"],
            how=SlipKind.PLANTED, fault=FAULT, unit=self.centre.unit_a, observed=self.at(hour),
        )  # fmt: skip
        self.centre.ledger.append([draft(self.centre.lead, content)])
        return slip

    def clear(self, slip: str) -> None:
        """Take it out again."""
        content = body(FaultCleared, slip=slip, observed=self.at(16))
        self.centre.ledger.append([draft(self.centre.lead, content)])

    def end(self, *tablets: TabletWaiting) -> DayEnd:
        """What is open."""
        return day_end(self.centre.ledger, self.centre.view(), POOL_DAY, tablets)

    def close(self, shown: int | None = None, *tablets: TabletWaiting) -> str:
        """Close the day, with as many open things as there are unless told otherwise."""
        open_now = self.end(*tablets).still_open if shown is None else shown
        return day.close_day(
            self.centre.ledger, self.centre.lead, self.centre.course, POOL_DAY, self.at(17), shown_open=open_now,
            tablets=tablets,
        )  # fmt: skip

    def frozen_events(self) -> list[str]:
        """Ids of the freezing events, in order."""
        return [event.id for event in self.centre.ledger.events(self.id) if event.kind == SessionFrozen.kind]
