"""Open an attempt, mark it, close it; amend what was marked. Several observers may hold a sheet each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from course.access import Act, may
from course.actions.drafting import allow, body, draft, told
from course.errors import NotFoundError, RefusedError
from course.moments import Observed, new_id
from course.record.events import (
    AttemptClosed,
    AttemptOpened,
    AttemptsJoined,
    Draft,
    ElsewhereAnswered,
    JointLineAgreed,
    MarkGiven,
    MarksGiven,
    OrderAnswered,
    SheetStarted,
    ValueMeasured,
    WholeAttemptClean,
)
from course.record.facts import Attempt, Course, Session
from course.standards.rubric import OTHER_ERROR, Skill
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, all_of, needed, skill_as_marked
from course.words import EVALUATORS, SETTING_WORDS, Capacity, Closing, Mark, Role, SheetSource, listed


@dataclass(frozen=True)
class Opened:
    """An attempt that was opened, and its first sheet."""

    attempt: str
    sheet: str


@dataclass(frozen=True)
class Value:
    """A measured value as written down."""

    step: str
    value: str


@dataclass(frozen=True)
class SheetContent:
    """What one observer wrote of one whole attempt."""

    marks: tuple[MarkGiven, ...] = ()
    values: tuple[Value, ...] = ()
    whole_clean: bool = False
    out_of_order: tuple[tuple[str, str], ...] = ()
    """Pairs (done first, should have come first) that the observer says were seen so."""
    notes: dict[str, str] = field(default_factory=dict)


def open_attempt(
    ledger: Ledger,
    observer: str,
    *,
    course: str,
    session: str,
    student: str,
    skill: str,
    observed: Observed,
) -> Opened:
    """Open an attempt on the pad, with the observer's sheet.

    Raises:
        RefusedError: the student, setting or unit does not fit the skill (told which); nothing was changed.
    """
    opened, drafts = _opening(
        ledger, observer, course=course, session=session, student=student, skill=skill, observed=observed
    )
    ledger.append(drafts)
    return opened


def enter_attempt(
    ledger: Ledger,
    observer: str,
    *,
    course: str,
    session: str,
    student: str,
    skill: str,
    observed: Observed,
    sheets: Sequence[tuple[str, SheetContent]],
    closing: Closing = Closing.COMPLETED,
    stopped_by: str | None = None,
    reason: str | None = None,
    source: SheetSource = SheetSource.SLATE,
    elsewhere: str | None = None,
    accepted: bool | None = None,
    number: int | None = None,
) -> str:
    """Enter a whole attempt in one go, as it stands on one or more sheets, and return its id.

    Args:
        sheets: for each observer their content; the first observer also closes the attempt.
        elsewhere: the other centre, for an attempt that was not seen here; `accepted` is the receiving lead's answer.
        number: the attempt's number for student and skill; None: the next one.
    """
    opened, drafts = _opening(
        ledger,
        observer,
        course=course,
        session=session,
        student=student,
        skill=skill,
        observed=observed,
        source=source,
        elsewhere=elsewhere,
        number=number,
    )
    found = adopted(ledger, needed(ledger, Course, course, "course").adoption).skill(skill)
    for place, (by, content) in enumerate(sheets):
        sheet = opened.sheet
        if place:
            sheet = new_id()
            drafts.append(_sheet(ledger, by, course, opened.attempt, sheet, source, observed))
        drafts += _content(found, by, opened.attempt, sheet, content, observed, student)
    drafts.append(
        _closing(observer, opened.attempt, closing, observed, stopped_by=stopped_by, reason=reason, of=student)
    )
    if accepted is not None:
        drafts.append(draft(observer, body(ElsewhereAnswered, attempt=opened.attempt, accepted=accepted)))
    ledger.append(drafts)
    return opened.attempt


def start_sheet(
    ledger: Ledger, observer: str, attempt: str, observed: Observed, source: SheetSource = SheetSource.PAD
) -> str:
    """Start another observer's sheet of an attempt and return its id; an observer has one sheet of an attempt."""
    fact = needed(ledger, Attempt, attempt, "attempt")
    own = next((s.id for s in fact.sheets if s.observer == observer), None)
    if own:
        return own
    sheet = new_id()
    ledger.append([_sheet(ledger, observer, fact.course, attempt, sheet, source, observed)])
    return sheet


def agree_joint_line(
    ledger: Ledger, actor: str, attempt: str, line: MarkGiven, observers: Sequence[str], why: str, observed: Observed
) -> None:
    """Put down what two observers of one attempt agree was seen of one step; a reason belongs to it."""
    allow(ledger, actor, Act.EVALUATE)
    fact = needed(ledger, Attempt, attempt, "attempt")
    if not set(observers) <= {s.observer for s in fact.sheets} or len(set(observers)) < 2:
        raise RefusedError("A joint line is agreed by two observers who both hold a sheet of this attempt.")
    check_mark(skill_as_marked(ledger, fact.skill, fact.rubric), line, {})
    content = body(
        JointLineAgreed, attempt=attempt, line=line, observers=tuple(observers), why=told(why), observed=observed
    )
    ledger.append([draft(actor, content, private_of=fact.student)])


def join_attempts(ledger: Ledger, actor: str, attempts: Sequence[str], why: str) -> None:
    """Say that attempts in the ledger were one try; the first one named keeps all sheets."""
    allow(ledger, actor, Act.AMEND)
    found = [needed(ledger, Attempt, attempt, "attempt") for attempt in attempts]
    if len({(a.student, a.skill, a.course) for a in found}) != 1:
        raise RefusedError("Only attempts of one student at one skill on one course can have been one try.")
    content = body(AttemptsJoined, join=new_id(), course=found[0].course, attempts=tuple(attempts), why=told(why))
    ledger.append([draft(actor, content)])


def answer_elsewhere(ledger: Ledger, actor: str, attempt: str, why: str, *, accepted: bool) -> None:
    """Accept an attempt that was seen at another centre, or not, with a reason."""
    allow(ledger, actor, Act.SIGN)
    fact = needed(ledger, Attempt, attempt, "attempt")
    if fact.elsewhere is None:
        raise RefusedError("This attempt was seen here; there is nothing to accept.")
    content = body(ElsewhereAnswered, attempt=attempt, accepted=accepted, why=told(why))
    ledger.append([draft(actor, content, private_of=fact.student)])


def check_mark(skill: Skill, line: MarkGiven, notes: dict[str, str]) -> None:
    """Refuse a mark that the rubric does not know.

    Raises:
        NotFoundError: the skill has no such step, or the step no such error.
        RefusedError: an error that is not listed came without a word about it.
    """
    step = skill.step(line.step)
    if step is None:
        raise NotFoundError(
            f"{skill.title} has no step {line.step!r} in the rubric that this attempt is marked by. "
            "The mark was not saved; reload the page."
        )
    for error in line.errors:
        if error == OTHER_ERROR:
            if not notes.get(line.step):
                raise RefusedError(f"Say in a few words what went wrong in: {step.do} The mark was not saved.")
        elif step.error(error) is None:
            raise NotFoundError(
                f"The step {line.step!r} has no error {error!r}. The mark was not saved; reload the page."
            )


def close_draft(
    ledger: Ledger,
    actor: str,
    attempt: Attempt,
    how: Closing,
    observed: Observed,
    *,
    stopped_by: str | None = None,
    reason: str | None = None,
    second: str | None = None,
    event_id: str | None = None,
) -> Draft:
    """Return the event that closes an open attempt.

    Raises:
        RefusedError: it is closed already; it is void without a reason; a critical error was marked and no other
            instructor stands beside the void.
    """
    if attempt.ending is not None:
        raise RefusedError("This attempt was closed already. Nothing was changed.")
    if how == Closing.VOID:
        told(reason)
        if _critical_marked(ledger, attempt) and not _is_second(ledger, attempt, actor, second):
            raise RefusedError(
                "A critical error was marked in this attempt: voiding it needs the name of a second instructor. "
                "Nothing was changed."
            )
    return _closing(
        actor, attempt.id, how, observed,
        stopped_by=stopped_by, reason=reason, second=second, of=attempt.student, event_id=event_id,
    )  # fmt: skip


def _opening(
    ledger: Ledger,
    observer: str,
    *,
    course: str,
    session: str,
    student: str,
    skill: str,
    observed: Observed,
    source: SheetSource = SheetSource.PAD,
    elsewhere: str | None = None,
    number: int | None = None,
) -> tuple[Opened, list[Draft]]:
    of_course = needed(ledger, Course, course, "course")
    of_session = needed(ledger, Session, session, "session")
    standards = adopted(ledger, of_course.adoption)
    found = standards.skill(skill)
    if of_session.course != course:
        raise RefusedError("This session belongs to another course. Nothing was changed.")
    if student not in of_course.people(Role.STUDENT, Role.CANDIDATE):
        raise RefusedError("This person is no student of the course. Enrol them on People first. Nothing was changed.")
    if of_session.setting not in found.setting:
        fits = listed([SETTING_WORDS[s] for s in found.setting], "or")
        raise RefusedError(
            f"{found.title} is for {fits}, and {of_session.title} is {SETTING_WORDS[of_session.setting]}. "
            "Nothing was changed."
        )
    assigned = of_course.assignment(student, of_session.start.local.date().isoformat())
    _refuse_other_unit(
        found, standards.standards.unit_types[assigned.unit_type].feature_set if assigned else frozenset()
    )
    opened = Opened(new_id(), new_id())
    content = body(
        AttemptOpened,
        attempt=opened.attempt,
        course=course,
        session=session,
        student=student,
        skill=skill,
        rubric=standards.hashes[skill],
        unit=assigned.unit if assigned else None,
        unit_type=assigned.unit_type if assigned else None,
        setting=of_session.setting,
        number=number or 1 + len(all_of(ledger, Attempt, course=course, person=student, skill=skill)),
        elsewhere=elsewhere,
        observed=observed,
    )
    sheet = _sheet(ledger, observer, course, opened.attempt, opened.sheet, source, observed)
    return opened, [draft(observer, content, private_of=student), sheet]


def _refuse_other_unit(skill: Skill, features: frozenset[str]) -> None:
    if not skill.needs.met_by(features):
        raise RefusedError(
            f"{skill.title} is not for this student's unit. Assign the unit on People first, or choose another skill. "
            "Nothing was changed."
        )


def _sheet(
    ledger: Ledger, observer: str, course: str, attempt: str, sheet: str, source: SheetSource, observed: Observed
) -> Draft:
    """The event that starts a sheet; only a lead's or an instructor's sheet of this course evaluates."""
    person = allow(ledger, observer, Act.PRACTISE)
    roles = [m.role for m in needed(ledger, Course, course, "course").members if m.person == observer]
    role = next((r for r in (*EVALUATORS, *roles) if r in roles), None)
    if role is None or role == Role.STUDENT:
        raise RefusedError(
            "The observer does not teach on this course. Enrol them on People first. Nothing was changed."
        )
    evaluates = role in EVALUATORS and may(person.roles, Act.EVALUATE)
    content = body(
        SheetStarted,
        attempt=attempt,
        sheet=sheet,
        observer=observer,
        role=role,
        capacity=Capacity.EVALUATING if evaluates else Capacity.PRACTICE,
        source=source,
        observed=observed,
    )
    return draft(observer, content)


def _content(
    skill: Skill, observer: str, attempt: str, sheet: str, content: SheetContent, observed: Observed, student: str
) -> list[Draft]:
    for line in content.marks:
        check_mark(skill, line, content.notes)
    drafts: list[Draft] = []
    common: dict[str, Any] = {"attempt": attempt, "sheet": sheet, "observed": observed}
    if content.whole_clean:
        drafts.append(draft(observer, body(WholeAttemptClean, **common)))
    if content.marks:
        marks = body(MarksGiven, marks=content.marks, notes=content.notes or None, **common)
        drafts.append(draft(observer, marks, private_of=student))
    drafts += [draft(observer, measured(skill, v.step, v.value, **common)) for v in content.values]
    for first_done, should_come_first in content.out_of_order:
        answer = body(OrderAnswered, first_done=first_done, should_come_first=should_come_first, seen_so=True, **common)
        drafts.append(draft(observer, answer))
    return drafts


def measured(skill: Skill, step_id: str, value: str, **common: Any) -> ValueMeasured:
    """Return the body of a value for a step, in the quantity and unit that the rubric asks for.

    Raises:
        NotFoundError: the step has no value to measure.
    """
    step = skill.step(step_id)
    if step is None or step.limit is None:
        raise NotFoundError(f"{skill.title} asks for no value in step {step_id!r}. The value was not saved.")
    return body(ValueMeasured, step=step_id, quantity=step.limit.quantity, unit=step.limit.unit, value=value, **common)


def _closing(
    actor: str,
    attempt: str,
    how: Closing,
    observed: Observed,
    *,
    of: str,
    stopped_by: str | None = None,
    reason: str | None = None,
    second: str | None = None,
    event_id: str | None = None,
) -> Draft:
    content = body(
        AttemptClosed,
        attempt=attempt,
        how=how,
        stopped_by=stopped_by,
        reason=reason or None,
        second=second or None,
        observed=observed,
    )
    return draft(actor, content, private_of=of, event_id=event_id)


def _critical_marked(ledger: Ledger, attempt: Attempt) -> bool:
    skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    for line in (line for sheet in attempt.sheets for line in sheet.marks):
        step = skill.step(line.step)
        if step and (
            (line.mark == Mark.LEFT_OUT and step.if_left_out)
            or any(error.critical for error in step.errors if error.id in line.errors)
        ):
            return True
    return False


def _is_second(ledger: Ledger, attempt: Attempt, actor: str, second: str | None) -> bool:
    evaluators = needed(ledger, Course, attempt.course, "course").people(*EVALUATORS)
    return second in evaluators and second != actor
