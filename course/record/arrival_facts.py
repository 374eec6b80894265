"""What is true of a student's consent to be given on, and of what arrived from another centre."""

from __future__ import annotations

from course.moments import Observed
from course.record.arrival_events import ArrivedAmount, ArrivedSkill, ElsewhereAccepted
from course.record.facts import Fact
from course.record.frozen import Frozen
from course.record.statements import Statement, Statements


class Transfer(Fact):
    """A student's consent; to whom is private."""

    course: str
    student: str
    day: str
    replaces: tuple[str, ...] = ()
    noted_by: str


class Accepted(Frozen):
    """One thing that a lead accepted; the reason is private, by event."""

    event: str
    item: str
    amount: int | None
    by: str
    observed: Observed
    confirmed_with: str | None = None


class Arrival(Fact):
    """What another centre's file says of a student, and what of it is accepted here."""

    course: str
    student: str
    file: str
    from_centre: str
    from_course: str
    from_student: str
    as_of: str
    signature: str
    key: str
    skills: tuple[ArrivedSkill, ...] = ()
    amounts: tuple[ArrivedAmount, ...] = ()
    observed: Observed
    noted_by: str
    accepted: tuple[Accepted, ...] = ()

    @property
    def origin(self) -> tuple[str, str, str]:
        """Whose record on which course it is: two files of one origin tell of the same minutes."""
        return (self.from_centre, self.from_course, self.from_student)

    def amount_of(self, item: str) -> int | None:
        """Return how much the file says there is; None where it says nothing of it."""
        return next((one.amount for one in self.amounts if one.item == item), None)

    def skill(self, skill: str) -> ArrivedSkill | None:
        """Return what the file says of a skill."""
        return next((one for one in self.skills if one.skill == skill), None)


def accepted_of(statement: Statement, body: ElsewhereAccepted) -> Accepted:
    """Return what one event accepts."""
    return Accepted(
        event=statement.event.id, item=body.item, amount=body.amount, by=statement.event.actor, observed=body.observed,
        confirmed_with=body.confirmed_with,
    )  # fmt: skip


def build_accepted(statements: Statements) -> tuple[Accepted, ...]:
    """Return what is accepted of an arrival. Of two words on one thing, from two laptops, the smaller holds.

    Taking one back gives nothing its place again that it took the place of.
    """
    held = statements.holding(ElsewhereAccepted)
    replaced = {old for s in statements if isinstance(s.body, ElsewhereAccepted) for old in s.body.replaces}
    live: dict[str, Accepted] = {}
    for s, body in held:
        if s.event.id in replaced:
            continue
        one = accepted_of(s, body)
        before = live.get(body.item)
        if before is None or (one.amount or 0) < (before.amount or 0):
            live[body.item] = one
    return tuple(live[item] for item in sorted(live))
