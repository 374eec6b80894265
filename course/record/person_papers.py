"""From the statements about a person to their papers; a part that another takes the place of is left out."""

from __future__ import annotations

from typing import Any, TypeVar

from course.record import paper_events as kinds
from course.record.paper_facts import Adjustment, ClosedGap, Consent, Exam, Interest, Paper, Proof, Turn
from course.record.statements import Statement, Statements

_P = TypeVar("_P", bound=Paper)


def build_papers(statements: Statements) -> dict[str, Any]:
    """Return the papers of a person."""
    return {
        "proofs": _live(statements, kinds.ProofSeen, Proof),
        "consents": _live(statements, kinds.ConsentGiven, Consent),
        "exams": _exams(statements),
        "adjustments": _live(statements, kinds.AdjustmentApproved, Adjustment, id="adjustment"),
        "turns": _turns(statements),
        "interests": _live(statements, kinds.InterestNoted, Interest),
    }


def _live(statements: Statements, kind: type[Any], part: type[_P], **renamed: str) -> tuple[_P, ...]:
    """The statements of a kind that hold and that no other takes the place of, as parts of a person."""
    held = statements.holding(kind)
    replaced = {earlier for _, body in held for earlier in getattr(body, "replaces", ())}
    return tuple(_part(s, body, part, **renamed) for s, body in held if s.event.id not in replaced)


def _part(statement: Statement, body: Any, part: type[_P], **renamed: str) -> _P:
    private = set(part.private)
    names = {name: renamed.get(name, name) for name in part.model_fields if name not in private}
    fields = {name: getattr(body, source) for name, source in names.items() if hasattr(body, source)}
    return part(event=statement.event.id, by=statement.event.actor, **fields)


def _exams(statements: Statements) -> tuple[Exam, ...]:
    """Of one gap that was closed twice the earlier day is kept."""
    closed: dict[str, dict[int, ClosedGap]] = {}
    for s, body in statements.holding(kinds.GapClosed):
        gap = ClosedGap(event=s.event.id, gap=body.gap, day=body.day, by=s.event.actor, session=body.session)
        of = closed.setdefault(body.exam, {})
        of[body.gap] = min(of.get(body.gap, gap), gap, key=lambda one: one.day)
    exams = _live(statements, kinds.ExamTaken, Exam, id="exam")
    return tuple(
        exam.model_copy(update={"closed": tuple(gap for _, gap in sorted(closed.get(exam.id, {}).items()))})
        for exam in exams
    )


def _turns(statements: Statements) -> tuple[Turn, ...]:
    """In the order that settles statements: the last one holds."""
    return tuple(
        Turn(event=s.event.id, by=s.event.actor, course=s.body.course, day=s.body.day, left=left)
        for s in statements
        if not s.withdrawn and isinstance(s.body, kinds.LeftCourse | kinds.Returned)
        for left in (isinstance(s.body, kinds.LeftCourse),)
    )
