"""What is true of exceptions and sign-offs, from their statements."""

from __future__ import annotations

from course.moments import Observed
from course.record.facts import Fact
from course.record.frozen import Frozen
from course.record.signing_events import Confirmed, ExceptionSeconded, SignOffCountersigned, SignOffWithdrawn
from course.record.statements import Statement, Statements


class Word(Frozen):
    """One person's word on something that another person signed; its reason is private, by event."""

    event: str
    by: str
    rests_on: str | None = None
    observed: Observed
    confirmed_with: Confirmed | None = None


class Countersign(Word):
    """Another signature under the same issue; initials are private, by event."""

    role: str


class MadeException(Fact):
    """One requirement that is short and that people let be; it needs two of them."""

    course: str
    student: str
    rule: str
    unit_type: str | None
    sentence: str
    as_of: str
    have: int | None
    required: int | None
    rests_on: str
    events_used: int
    replaces: tuple[str, ...] = ()
    proposed_by: str
    observed: Observed
    confirmed_with: Confirmed | None
    seconds: tuple[Word, ...] = ()
    """Words of others than the proposer, on the very record that it was proposed on; the first in order first."""

    @property
    def skill(self) -> str | None:
        """The skill that it is about, if it is about one."""
        kind, _, name = self.rule.partition(":")
        return name if kind == "skill" else None


class SignOff(Fact):
    """A person's signature under all that a course asks of one student."""

    course: str
    student: str
    issue: int
    replaces: tuple[str, ...] = ()
    profile: str
    revision: str
    as_of: str
    rests_on: str
    rules: int
    exceptions: tuple[str, ...] = ()
    assessors: tuple[str, ...] = ()
    signed_by: str
    observed: Observed
    confirmed_with: Confirmed | None
    taken_back: tuple[Word, ...] = ()
    countersigned: tuple[Countersign, ...] = ()


def build_seconds(founding: Statement, rests_on: str, statements: Statements) -> tuple[Word, ...]:
    """Return who else agreed to an exception: never its proposer, and never on another record."""
    return tuple(
        _word(s, body, rests_on=body.rests_on)
        for s, body in statements.holding(ExceptionSeconded)
        if s.event.actor != founding.event.actor and body.rests_on == rests_on
    )


def build_taken_back(statements: Statements) -> tuple[Word, ...]:
    """Return who took a sign-off back."""
    return tuple(_word(s, body) for s, body in statements.holding(SignOffWithdrawn))


def build_countersigned(founding: Statement, statements: Statements) -> tuple[Countersign, ...]:
    """Return who else signed: a second instructor is never whoever signed off."""
    return tuple(
        Countersign(
            event=s.event.id, by=s.event.actor, observed=body.observed, confirmed_with=body.confirmed_with,
            role=body.role,
        )
        for s, body in statements.holding(SignOffCountersigned)
        if body.role == "student" or s.event.actor != founding.event.actor
    )  # fmt: skip


def _word(statement: Statement, body: ExceptionSeconded | SignOffWithdrawn, rests_on: str | None = None) -> Word:
    return Word(
        event=statement.event.id, by=statement.event.actor, rests_on=rests_on, observed=body.observed,
        confirmed_with=body.confirmed_with,
    )  # fmt: skip
