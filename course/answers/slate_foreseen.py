"""What a copied column would become in the ledger, worked out before it is saved and never stored."""

from __future__ import annotations

from course.answers.slate_copy import CopiedColumn, CopiedSheet, seen_between
from course.answers.slate_sheet import SlateColumn, SlateSheet
from course.assessment.attempts import judge_sheet
from course.moments import Observed
from course.record.facts import Attempt, Ending, MarkLine, OrderLine, Session, Sheet, ValueLine
from course.standards.rubric import Skill, Step
from course.words import Capacity, Closing, Role, SheetSource


def foreseen_attempt(
    sheet: SlateSheet,
    session: Session,
    skill: Skill,
    copy: CopiedSheet,
    column: CopiedColumn,
    known: SlateColumn,
    part: tuple[Role, Capacity],
    number: int,
) -> Attempt:
    """Return the attempt as it will be read from the ledger, save for its events.

    Args:
        sheet, session, skill: what it is copied into.
        copy, column: what was copied.
        known: the paper's own column.
        part: the observer's role, and what their sheet is for.
        number: the number that the attempt will have.
    """
    start, end = seen_between(session, column.seen or copy.seen)
    ending = Ending(
        event=column.id, how=column.how, stopped_by=column.stopped_by, second=column.second, closed_by=copy.observer,
        observed=end,
    )  # fmt: skip
    return Attempt(
        id=column.id, events=(f"foreseen {column.id}",), course=sheet.course_id, session=session.id,
        student=column.student, skill=skill.id, rubric=sheet.slate.rubric, unit=None, unit_type=known.unit_type,
        setting=session.setting, number=number, observed=start, ending=ending,
        sheets=(_sheet(skill, copy.observer, column, part, start, sheet.slate.id),),
    )  # fmt: skip


def critical_in(skill: Skill, features: frozenset[str], column: CopiedColumn) -> bool:
    """Whether a column says that something was critical, by whatever of its lines."""
    moment = Observed(utc="2000-01-01T00:00:00.000000Z", zone="UTC", offset="+00:00")
    sheet = _sheet(skill, "", column, (Role.LEAD, Capacity.EVALUATING), moment, "")
    return bool(judge_sheet(sheet, skill, features, how=Closing.COMPLETED).critical_reasons)


def _sheet(
    skill: Skill, observer: str, column: CopiedColumn, part: tuple[Role, Capacity], start: Observed, slate: str
) -> Sheet:
    steps: dict[str, Step] = {step.id: step for step in skill.steps}
    limits = [(step, steps[step].limit, text) for step, text in column.values.items() if step in steps]
    return Sheet(
        id=column.sheet_id, observer=observer, role=part[0], capacity=part[1], source=SheetSource.SLATE, slate=slate,
        slate_try=column.attempt_try, started=start, whole_clean=column.id if column.whole_clean else None,
        marks=tuple(
            MarkLine(event=column.id, utc=start.utc, **line.model_dump(exclude={"replaces"})) for line in column.marks
        ),
        values=tuple(
            ValueLine(event=column.id, step=step, quantity=limit.quantity, unit=limit.unit, value=text)
            for step, limit, text in limits
            if limit is not None
        ),
        orders=tuple(
            OrderLine(event=column.id, first_done=first, should_come_first=second, seen_so=True)
            for first, second in column.out_of_order
            if first in steps and second in steps
        ),
    )  # fmt: skip
