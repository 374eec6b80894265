"""Settle what does not agree: joint lines, attempts that were one try or seen elsewhere, readings against a tick."""

from __future__ import annotations

from collections.abc import Sequence

from course.access import Act
from course.actions.drafting import allow, body, draft, told
from course.actions.sheet_checks import check_mark, measured
from course.assessment.attempts import evaluating_sheets
from course.errors import NotFoundError, RefusedError
from course.moments import Observed, new_id
from course.record import projection
from course.record.events import AttemptsJoined, ElsewhereAnswered, JointLineAgreed, MarkGiven, ReadingSetAside
from course.record.facts import Attempt, Join, Unit
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed, skill_as_marked


def agree_joint_line(
    ledger: Ledger,
    actor: str,
    attempt: str,
    line: MarkGiven,
    observers: Sequence[str],
    why: str,
    observed: Observed,
    value: str | None = None,
) -> None:
    """Put down what two observers of one attempt agree was seen of one step; a reason belongs to it.

    It takes the place of both sheets' lines of that step, mark and value, and of an earlier joint line.

    Args:
        ledger: open for writing.
        actor: who enters it.
        attempt: the attempt, or one of those that were joined to one try.
        line: the step's mark; the reason also stands for what an error `x` was.
        observers: those who agree; each holds an evaluating sheet.
        why: the reason.
        observed: when they agreed.
        value: the measured value agreed on, for a step that has a limit.

    Raises:
        NotFoundError: no such attempt, step or error.
        RefusedError: it is not agreed by two observers with evaluating sheets, or no reason is given.
    """
    allow(ledger, actor, Act.EVALUATE)
    fact = _whole_try(ledger, attempt)
    if not set(observers) <= {s.observer for s in evaluating_sheets(fact)} or len(set(observers)) < 2:
        raise RefusedError(
            "A joint line is agreed by two observers who each hold an evaluating sheet of this attempt. "
            "Nothing was changed."
        )
    skill, why = skill_as_marked(ledger, fact.skill, fact.rubric), told(why)
    check_mark(skill, line, {line.step: why})
    if value is not None:
        measured(skill, line.step, value, attempt=fact.id, sheet=fact.sheets[0].id, observed=observed)
    earlier = tuple(one.event for one in fact.joint if one.step == line.step)
    content = body(
        JointLineAgreed,
        attempt=fact.id,
        line=line.model_copy(update={"replaces": earlier}),
        value=value,
        observers=tuple(dict.fromkeys(observers)),
        why=why,
        observed=observed,
    )
    ledger.append([draft(actor, content, private_of=fact.student)])


def join_attempts(ledger: Ledger, actor: str, attempts: Sequence[str], why: str) -> None:
    """Say that attempts in the ledger were one try; the first one named keeps all sheets.

    Raises:
        RefusedError: they are not of one student, skill and course, or are fewer than two.
    """
    allow(ledger, actor, Act.AMEND)
    found = [needed(ledger, Attempt, attempt, "attempt") for attempt in dict.fromkeys(attempts)]
    if len(found) < 2:
        raise RefusedError("Name two attempts or more that were one try. Nothing was changed.")
    if len({(a.student, a.skill, a.rubric, a.course) for a in found}) != 1:
        raise RefusedError(
            "Only attempts of one student at one skill on one course can have been one try. Nothing was changed."
        )
    content = body(
        AttemptsJoined, join=new_id(), course=found[0].course, attempts=tuple(a.id for a in found), why=told(why)
    )
    ledger.append([draft(actor, content, private_of=found[0].student)])


def answer_elsewhere(ledger: Ledger, actor: str, attempt: str, why: str, *, accepted: bool) -> None:
    """Accept an attempt that was seen at another centre, or not, with a reason.

    Raises:
        RefusedError: it was seen here, or no reason is given.
    """
    allow(ledger, actor, Act.SIGN)
    fact = needed(ledger, Attempt, attempt, "attempt")
    if not fact.from_elsewhere:
        raise RefusedError("This attempt was seen here; there is nothing to accept. Nothing was changed.")
    earlier = tuple(e.id for e in ledger.events(attempt) if e.kind == ElsewhereAnswered.kind)
    content = body(ElsewhereAnswered, attempt=attempt, accepted=accepted, replaces=earlier, why=told(why))
    ledger.append([draft(actor, content, private_of=fact.student)])


def set_reading_aside(
    ledger: Ledger, actor: str, attempt: str, step: str, readings: Sequence[str], why: str, observed: Observed
) -> None:
    """Say with a reason that readings of an attempt's unit say nothing against a step's tick; they stay to be read.

    Args:
        ledger: open for writing.
        actor: who decides it.
        attempt: the attempt.
        step: the step whose tick holds again.
        readings: which readings; another one that comes later overrules the tick again.
        why: the reason.
        observed: when it was decided.

    Raises:
        NotFoundError: there is no such attempt, step or reading of its unit.
        RefusedError: the step reads nothing of that kind, or no reason is given.
    """
    allow(ledger, actor, Act.AMEND)
    fact = needed(ledger, Attempt, attempt, "attempt")
    known = skill_as_marked(ledger, fact.skill, fact.rubric).step(step)
    unit = needed(ledger, Unit, fact.unit or "", "unit")
    kinds = {one.id: one.what for one in unit.readings}
    if known is None or not readings or not set(readings) <= kinds.keys():
        raise NotFoundError("There is no such step, or no such reading of this attempt's unit. Nothing was changed.")
    if any(kinds[one] != known.reading for one in readings):
        raise RefusedError("This step does not read that of the unit. Nothing was changed.")
    content = body(
        ReadingSetAside, attempt=fact.id, step=step, readings=tuple(dict.fromkeys(readings)), observed=observed,
        why=told(why),
    )  # fmt: skip
    ledger.append([draft(actor, content, private_of=fact.student)])


def _whole_try(ledger: Ledger, attempt: str) -> Attempt:
    """The attempt with the sheets of all that were joined to it."""
    fact = needed(ledger, Attempt, attempt, "attempt")
    others = all_of(ledger, Attempt, course=fact.course, person=fact.student, skill=fact.skill)
    tries = projection.join_attempts(others, all_of(ledger, Join, course=fact.course))
    return next(one for one in tries if attempt in (one.id, *one.joined))
