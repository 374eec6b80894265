"""Open an attempt, enter it whole as it stands on paper, close it. Several observers may hold a sheet each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from course.access import Act, may
from course.actions.drafting import allow, body, draft, living, told
from course.actions.session_limits import refuse_beginning
from course.actions.sheet_checks import check_mark, check_order, measured
from course.answers.pad_readings import against_of
from course.assessment.attempts import judge_sheet, pending_critical
from course.errors import RefusedError
from course.moments import Observed, new_id, training_day
from course.record.events import (
    AttemptClosed,
    AttemptOpened,
    Draft,
    ElsewhereAnswered,
    MarkGiven,
    MarksGiven,
    OrderAnswered,
    SheetStarted,
    WholeAttemptClean,
)
from course.record.facts import Assignment, Attempt, Course, MarkLine, OrderLine, Session, Sheet, Unit, ValueLine
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, all_of, needed, skill_as_marked
from course.words import EVALUATORS, SETTING_WORDS, Capacity, Closing, Role, SheetSource, listed


@dataclass(frozen=True)
class Opened:
    """An attempt that was opened, and its first sheet."""

    attempt: str
    sheet: str


@dataclass(frozen=True)
class Value:
    """A measured value as written down, in the unit that the rubric asks for."""

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


@dataclass(frozen=True)
class Trial:
    """Where an attempt takes place, after it was checked that it can."""

    course: Course
    session: Session
    student: str
    skill: Skill
    rubric: str
    assigned: Assignment | None
    features: frozenset[str]


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
        NotFoundError: there is no such course, session or skill.
        RefusedError: the observer, student, setting or unit does not fit (told which); nothing was changed.
    """
    trial = trial_of(ledger, course, session, student, skill)
    refuse_beginning(ledger, trial.course, trial.session, student, trial.assigned, observed)
    opened, opening = opening_draft(ledger, observer, trial, observed)
    sheet = sheet_draft(
        ledger, observer, trial.course, student, opened.attempt, opened.sheet, SheetSource.PAD, observed
    )
    ledger.append([opening, sheet])
    return opened


def enter_attempt(  # noqa: PLR0913 - a sheet of paper has as many fields
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
    second: str | None = None,
    source: SheetSource = SheetSource.SLATE,
    elsewhere: str | None = None,
    accepted: bool | None = None,
    number: int | None = None,
) -> str:
    """Enter a whole attempt in one go, as it stands on one or more sheets, and return its id.

    Args:
        ledger: open for writing.
        observer: who opens and closes the attempt; the first sheet is theirs.
        course, session, student, skill, observed: where, whose, at what and when.
        sheets: for each observer their content.
        closing: how it ended.
        stopped_by: "student" or "instructor" for a stopped one.
        reason: needed for a void one.
        second: the second instructor, needed to void over a critical error.
        source: where the marks were first written.
        elsewhere: the other centre, for an attempt that was not seen here.
        accepted: the receiving lead's answer to one from elsewhere; None: not answered yet.
        number: the attempt's number for student and skill; None: the next one.

    Raises:
        NotFoundError: there is no such course, session, skill, step or error.
        RefusedError: something does not fit (told what); nothing was changed.
    """
    _refuse_odd_sheets(observer, [by for by, _ in sheets])
    if accepted is not None:
        allow(ledger, observer, Act.SIGN)
        if elsewhere is None:
            raise RefusedError("Only an attempt from elsewhere is accepted or not. Nothing was changed.")
    trial = trial_of(ledger, course, session, student, skill)
    opened, opening = opening_draft(ledger, observer, trial, observed, elsewhere=elsewhere, number=number)
    drafts = [opening]
    for place, (by, content) in enumerate(sheets):
        sheet = new_id() if place else opened.sheet
        drafts.append(sheet_draft(ledger, by, trial.course, student, opened.attempt, sheet, source, observed))
        drafts += _content(trial.skill, by, opened.attempt, sheet, content, observed, student)
    if closing == Closing.VOID:
        critical = any(_critical_in(content, trial, observed) for _, content in sheets)
        _refuse_void_alone(trial.course, observer, reason, second, critical=critical)
    ending = {"stopped_by": stopped_by, "reason": reason, "second": second}
    drafts.append(_closing(observer, opened.attempt, closing, observed, of=student, **ending))
    if accepted is not None:
        drafts.append(draft(observer, body(ElsewhereAnswered, attempt=opened.attempt, accepted=accepted)))
    ledger.append(drafts)
    return opened.attempt


def start_sheet(
    ledger: Ledger, observer: str, attempt: str, observed: Observed, source: SheetSource = SheetSource.PAD
) -> str:
    """Start another observer's sheet of an attempt and return its id; an observer has one sheet of an attempt.

    Raises:
        NotFoundError: there is no such attempt.
        RefusedError: the observer does not teach on this course, or is the student.
    """
    fact = needed(ledger, Attempt, attempt, "attempt")
    own = next((s.id for s in fact.sheets if s.observer == observer), None)
    if own:
        return own
    sheet, of_course = new_id(), needed(ledger, Course, fact.course, "course")
    ledger.append([sheet_draft(ledger, observer, of_course, fact.student, attempt, sheet, source, observed)])
    return sheet


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
        RefusedError: it is closed already; it would be completed with nothing marked; a practice sheet would end what
            an instructor marks; it is void without a reason; a critical error was marked and no other instructor
            stands beside the void.
    """
    if attempt.ending is not None:
        raise RefusedError("This attempt was closed already. Nothing was changed.")
    evaluating = {s.observer for s in attempt.sheets if s.capacity == Capacity.EVALUATING}
    if evaluating and actor not in evaluating:
        raise RefusedError("An instructor marks this attempt too, and ends it. Nothing was changed.")
    if how == Closing.COMPLETED and not any(s.marks or s.values or s.whole_clean for s in attempt.sheets):
        raise RefusedError(
            "Nothing is marked in this attempt. Mark what you saw, or close it as stopped or void. Nothing was changed."
        )
    if how == Closing.VOID:
        of_course = needed(ledger, Course, attempt.course, "course")
        skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
        unit_type = adopted(ledger, of_course.adoption).standards.unit_types.get(attempt.unit_type or "")
        features = unit_type.feature_set if unit_type else frozenset()
        unit = needed(ledger, Unit, attempt.unit, "unit") if attempt.unit else None
        critical = bool(pending_critical(attempt, skill, features, against_of(unit, attempt)))
        _refuse_void_alone(of_course, actor, reason, second, critical=critical)
    return _closing(
        actor, attempt.id, how, observed,
        stopped_by=stopped_by, reason=reason, second=second, of=attempt.student, event_id=event_id,
    )  # fmt: skip


def _refuse_odd_sheets(observer: str, observers: list[str]) -> None:
    if observers[:1] != [observer] or len(set(observers)) != len(observers):
        raise RefusedError("Each observer has one sheet, and the first is that of whoever enters. Nothing was changed.")


def trial_of(ledger: Ledger, course: str, session: str, student: str, skill: str) -> Trial:
    """Return where an attempt takes place, or refuse one that cannot: told which of course, setting or unit."""
    of_course = needed(ledger, Course, course, "course")
    of_session = needed(ledger, Session, session, "session")
    standards = adopted(ledger, of_course.adoption)
    found = standards.skill(skill)
    if of_session.course != course:
        raise RefusedError("This session belongs to another course. Nothing was changed.")
    profile = standards.standards.profile(of_course.profile, of_course.revision)
    if student not in of_course.people(Role(profile.for_whom)):
        raise RefusedError(
            f"This person is no {profile.for_whom} of the course. Put them on it on People first. Nothing was changed."
        )
    living(ledger, student)
    if of_session.setting not in found.setting:
        fits = listed([SETTING_WORDS[s] for s in found.setting], "or")
        raise RefusedError(
            f"{found.title} is for {fits}, and {of_session.title} is {SETTING_WORDS[of_session.setting]}. "
            "Nothing was changed."
        )
    assigned = of_course.assignment(student, training_day(of_session.start).isoformat())
    features = standards.standards.unit_type(assigned.unit_type).feature_set if assigned else frozenset()
    if not found.needs.met_by(features):
        unit = "this student's unit" if assigned else "a student without a unit"
        raise RefusedError(
            f"{found.title} is not for {unit}. Assign the unit on People first, or choose another skill. "
            "Nothing was changed."
        )
    return Trial(of_course, of_session, student, found, standards.hashes[skill], assigned, features)


def opening_draft(
    ledger: Ledger,
    observer: str,
    trial: Trial,
    observed: Observed,
    *,
    elsewhere: str | None = None,
    number: int | None = None,
    opened: Opened | None = None,
    within: str | None = None,
    event_id: str | None = None,
) -> tuple[Opened, Draft]:
    """The event that opens an attempt, with the ids made here unless they were made where the person acts."""
    opened = opened or Opened(new_id(), new_id())
    others = all_of(ledger, Attempt, course=trial.course.id, person=trial.student, skill=trial.skill.id)
    numbers = {other.number for other in others}
    if number in numbers:
        raise RefusedError(
            f"Attempt {number} of this student at {trial.skill.title} is in the ledger already. Nothing was changed."
        )
    content = body(
        AttemptOpened,
        attempt=opened.attempt,
        course=trial.course.id,
        session=trial.session.id,
        student=trial.student,
        skill=trial.skill.id,
        rubric=trial.rubric,
        unit=trial.assigned.unit if trial.assigned else None,
        unit_type=trial.assigned.unit_type if trial.assigned else None,
        setting=trial.session.setting,
        number=number or 1 + max(numbers, default=0),
        within=within,
        from_elsewhere=elsewhere is not None,
        elsewhere=elsewhere,
        observed=observed,
    )
    return opened, draft(observer, content, private_of=trial.student, event_id=event_id)


def sheet_draft(
    ledger: Ledger,
    observer: str,
    of_course: Course,
    student: str,
    attempt: str,
    sheet: str,
    source: SheetSource,
    observed: Observed,
    event_id: str | None = None,
) -> Draft:
    """The event that starts a sheet; only a lead's or an instructor's sheet of this course evaluates."""
    person = allow(ledger, observer, Act.PRACTISE)
    if observer == student:
        raise RefusedError("Nobody marks their own attempt. Nothing was changed.")
    roles = [m.role for m in of_course.members if m.person == observer]
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
    return draft(observer, content, event_id=event_id)


def _content(
    skill: Skill, observer: str, attempt: str, sheet: str, content: SheetContent, observed: Observed, student: str
) -> Iterable[Draft]:
    common: dict[str, Any] = {"attempt": attempt, "sheet": sheet, "observed": observed}
    for line in content.marks:
        check_mark(skill, line, content.notes)
    if content.whole_clean:
        yield draft(observer, body(WholeAttemptClean, **common))
    if content.marks:
        marks = body(MarksGiven, marks=content.marks, notes=content.notes or None, **common)
        yield draft(observer, marks, private_of=student)
    for value in content.values:
        yield draft(observer, measured(skill, value.step, value.value, **common))
    for first_done, should_come_first in content.out_of_order:
        check_order(skill, first_done, should_come_first)
        answer = body(OrderAnswered, first_done=first_done, should_come_first=should_come_first, seen_so=True, **common)
        yield draft(observer, answer)


def _critical_in(content: SheetContent, trial: Trial, observed: Observed) -> bool:
    """Whether a sheet as written says that something was critical, by whatever of its lines."""
    steps = {step.id: step for step in trial.skill.steps}
    limits = [(value, limit) for value in content.values if (limit := steps[value.step].limit)]
    sheet = Sheet(
        id="", observer="", role=Role.LEAD, capacity=Capacity.EVALUATING, source=SheetSource.SLATE, started=observed,
        marks=tuple(
            MarkLine(event="", utc=observed.utc, **m.model_dump(exclude={"replaces"})) for m in content.marks
        ),
        values=tuple(
            ValueLine(event="", step=value.step, quantity=limit.quantity, unit=limit.unit, value=value.value)
            for value, limit in limits
        ),
        orders=tuple(
            OrderLine(event="", first_done=first, should_come_first=second, seen_so=True)
            for first, second in content.out_of_order
        ),
    )  # fmt: skip
    return bool(judge_sheet(sheet, trial.skill, trial.features).critical_reasons)


def _refuse_void_alone(
    of_course: Course, actor: str, reason: str | None, second: str | None, *, critical: bool
) -> None:
    told(reason)
    if critical and (second == actor or second not in of_course.people(*EVALUATORS)):
        raise RefusedError(
            "A critical error was marked in this attempt: voiding it needs the name of a second instructor. "
            "Nothing was changed."
        )


def _closing(
    actor: str,
    attempt: str,
    how: Closing,
    observed: Observed,
    *,
    of: str,
    event_id: str | None = None,
    **particulars: str | None,
) -> Draft:
    given = {name: text or None for name, text in particulars.items()}
    content = body(AttemptClosed, attempt=attempt, how=how, observed=observed, **given)
    return draft(actor, content, private_of=of, event_id=event_id)
