"""What stands against saving a copied sheet: every fault at once, each a sentence that names its column."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from course.access import Act, Sight, may
from course.answers.course_view import CourseView, view
from course.answers.marking import session_words
from course.answers.slate_copy import CopiedColumn, CopiedSheet, column_of, column_words, seen_between
from course.answers.slate_foreseen import critical_in
from course.answers.slate_sheet import SlateColumn, SlateSheet, slate_sheet
from course.asker import question
from course.errors import NotFoundError, RefusedError
from course.record.facts import Session
from course.standards.rubric import OTHER_ERROR, Skill, Step, decimal_of
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed, skill_as_marked
from course.words import EVALUATORS, Capacity, Closing, Role


@dataclass(frozen=True)
class Copying:
    """A copied sheet beside all that it is copied into."""

    copy: CopiedSheet
    sheet: SlateSheet
    session: Session
    seen: CourseView
    skill: Skill
    """In the form that the paper was printed by."""

    @property
    def same_form(self) -> bool:
        """Whether the rubric in force is the one that the paper was printed by."""
        return self.seen.adopted.hashes.get(self.skill.id) == self.sheet.slate.rubric

    def words(self, column: CopiedColumn) -> str:
        """How a column is named in a sentence."""
        known = column_of(self.sheet, *column.key)
        return column_words(self.sheet, known) if known else f"The column of {self.seen.name(column.student)}"


@question(Sight.SLATE)
def copying(ledger: Ledger, copy: CopiedSheet) -> Copying:
    """Look up what a copied sheet is copied into.

    Raises:
        NotFoundError: this centre gave out no such sheet.
        RefusedError: the sheet is of another session.
    """
    of = next((s for s in all_of(ledger, Session) if any(slate.id == copy.slate for slate in s.slates)), None)
    if of is None:
        raise NotFoundError("No such sheet was given out by this centre. Nothing was saved.")
    if of.id != copy.session:
        code = next(slate.code for slate in of.slates if slate.id == copy.slate)
        raise RefusedError(f"Sheet {code} is of another session: {session_words(of)}. Nothing was saved.")
    sheet = slate_sheet(ledger, of.id, copy.slate)
    return Copying(
        copy=copy,
        sheet=sheet,
        session=needed(ledger, Session, of.id, "session"),
        seen=view(ledger, of.course),
        skill=skill_as_marked(ledger, sheet.slate.skill, sheet.slate.rubric),
    )


@question(Sight.SLATE)
def part_of(seen: CourseView, person: str) -> tuple[Role, Capacity] | None:
    """The role in which somebody holds a sheet on a course, and what the sheet is for; None where they hold none."""
    roles = [member.role for member in seen.course.members if member.person == person]
    role = next((role for role in (*EVALUATORS, *roles) if role in roles), None)
    known = seen.people.get(person)
    if role in (None, Role.STUDENT) or known is None or not may(known.roles, Act.PRACTISE):
        return None
    evaluates = role in EVALUATORS and may(known.roles, Act.EVALUATE)
    return role, Capacity.EVALUATING if evaluates else Capacity.PRACTICE


def faults(into: Copying) -> tuple[str, ...]:
    """Return everything that stands against saving; empty when nothing does."""
    return (*_sheet_faults(into), *(told for column in into.copy.written for told in _column_faults(into, column)))


def session_fault(session: Session) -> str:
    """Why nothing is entered for a session any more; empty where it is."""
    if session.frozen_by:
        return (
            "This session is frozen since something went wrong in it. It goes on from the Today page; "
            "then this sheet can be saved."
        )
    if session.closed_at:
        return (
            f"This session was closed on {session.closed_at.local:%Y-%m-%d at %H:%M}. It can be opened again, with a "
            "reason, on the Today page; then this sheet can be saved."
        )
    return ""


def _sheet_faults(into: Copying) -> Iterator[str]:
    if told := session_fault(into.session):
        yield told
    if part_of(into.seen, into.copy.observer) is None:
        who = into.seen.name(into.copy.observer)
        yield f"{who} does not teach on this course. Choose who wrote this sheet, or enrol them on People first."
    try:
        seen_between(into.session, into.copy.seen)
    except RefusedError as error:
        yield error.sentence.removesuffix(" Nothing was saved.")
    often = Counter(column.key for column in into.copy.written)
    for column in into.copy.written:
        if often.pop(column.key, 1) > 1:
            yield f"{into.words(column)}: stands on this copy twice. Write each column once."


def _column_faults(into: Copying, column: CopiedColumn) -> Iterator[str]:
    name, known = into.words(column), column_of(into.sheet, *column.key)
    if known is None:
        yield f"{name}: this sheet has no such column."
        return
    if column.student not in into.seen.students:
        yield (
            f"{name}: is no {into.seen.profile.for_whom} of this course any more. "
            "Put them back on it on People first, or leave the column empty."
        )
    if column.student == into.copy.observer:
        yield f"{name}: nobody marks their own attempt."
    if len(known.not_here) == len(into.skill.steps) or not into.skill.needs.met_by(_features(into, known)):
        yield f"{name}: {into.skill.title} is not for this student's unit. Correct the unit on People first."
        return
    if column.seen is not None:
        try:
            seen_between(into.session, column.seen)
        except RefusedError as error:
            yield f"{name}: {error.sentence.removesuffix(' Nothing was saved.')}"
    yield from (f"{name}: {told}" for told in _written_faults(into.skill, known, column))
    yield from (f"{name}: {told}" for told in _ending_faults(into, known, column))


def _written_faults(skill: Skill, known: SlateColumn, column: CopiedColumn) -> Iterator[str]:
    numbers = {step.id: number for number, step in enumerate(skill.steps, 1)}
    ordered = [step for pair in column.out_of_order for step in pair]
    for step_id in dict.fromkeys((*(line.step for line in column.marks), *column.values, *ordered)):
        if step_id not in numbers:
            yield f"this sheet has no step {step_id!r}."
        elif step_id in known.not_here:
            yield f"step {numbers[step_id]} is marked, and {known.unit or 'this unit'} has no such step. Clear its box."
    for line in column.marks:
        if line.replaces:
            yield "a copied mark takes the place of none."
        yield from _error_faults(skill, numbers, column, line.step, line.errors)
    for step_id, text in column.values.items():
        yield from _value_faults(skill.step(step_id), numbers.get(step_id, 0), text)
    if any(first == later for first, later in column.out_of_order):
        yield "a step cannot come before itself."
    if len({line.step for line in column.marks}) < len(column.marks):
        yield "a step is marked twice."


def _value_faults(step: Step | None, number: int, text: str) -> Iterator[str]:
    if step is not None and step.limit is None:
        yield f"step {number} has no value to write down. Clear it."
    elif step is not None and not _is_decimal(text):
        yield f"step {number}: {text!r} is no number such as 60 or 0.21."


def _error_faults(
    skill: Skill, numbers: dict[str, int], column: CopiedColumn, step_id: str, errors: tuple[str, ...]
) -> Iterator[str]:
    step = skill.step(step_id)
    for error in errors if step else ():
        if error == OTHER_ERROR and not column.notes.get(step_id):
            yield f"step {numbers[step_id]}: say in a few words what went wrong (error x)."
        elif error != OTHER_ERROR and step is not None and step.error(error) is None:
            yield f"step {numbers[step_id]} has no error {error!r}."


def _ending_faults(into: Copying, known: SlateColumn, column: CopiedColumn) -> Iterator[str]:
    if (column.how == Closing.STOPPED) != (column.stopped_by is not None):
        yield "say who stopped it, the student or the instructor; only a stopped attempt says so."
    if column.how != Closing.VOID:
        return
    if not (column.reason or "").strip():
        yield "a void attempt needs its reason, in a few words."
    seconds = set(into.seen.course.people(*EVALUATORS)) - {into.copy.observer}
    if column.second not in seconds and critical_in(into.skill, _features(into, known), column):
        yield "a critical error is marked: voiding it needs the name of a second instructor."


def _features(into: Copying, known: SlateColumn) -> frozenset[str]:
    unit_type = into.seen.adopted.standards.unit_types.get(known.unit_type or "")
    return unit_type.feature_set if unit_type else frozenset()


def _is_decimal(text: str) -> bool:
    try:
        decimal_of(text)
    except ValueError:
        return False
    return True
