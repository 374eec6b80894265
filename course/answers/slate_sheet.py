"""What stands on a paper sheet for the water: the same rows and columns that the Slate page copies in."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass, replace

from course.access import Sight
from course.answers.course_view import CourseView, view
from course.answers.days import day_words, weekday_words
from course.answers.gate_view import adjusted
from course.answers.pad import LETTERS
from course.asker import question
from course.errors import NotFoundError, RefusedError
from course.moments import training_day
from course.record.day_facts import Slate
from course.record.facts import Attempt, Course, Session
from course.record.slate_code import read_code
from course.standards.rubric import Limit, Skill, Step
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed, skill_as_marked
from course.words import SETTING_WORDS

QR = "course-slate/1"
"""How the square code of a sheet begins; then the centre's id, the sheet's code and its hash of the skill.
Where a sheet takes several pages, "2/3" for the second of three comes last."""
_FORM_DIGITS = 12  # of that hash


@dataclass(frozen=True)
class SlateColumn:
    """One try of one student: a column. `step` ids in `not_here` are printed grey: the unit lacks them."""

    student: str
    attempt_try: int
    first_name: str
    initials: str
    tag: str
    """Birth year where two students of the sheet could be confused, else empty."""
    name: str
    unit: str
    unit_type: str | None
    next_number: int
    """The number that this try will have among the student's attempts at the skill, as known now."""
    not_here: frozenset[str]
    """Steps that the student's unit lacks: all of them where the whole skill is not for it."""


@dataclass(frozen=True)
class SlateError:
    """An error that can be marked by its letter."""

    letter: str
    id: str
    label: str
    critical: bool


@dataclass(frozen=True)
class SlateRow:
    """One step: a row. `own_box`: something critical can happen, so "whole attempt clean" does not fill it."""

    step: str
    number: int
    do: str
    own_box: bool
    left_out_critical: bool
    not_before: tuple[int, ...]
    """Numbers of the steps that must come first: this one before them is critical."""
    errors: tuple[SlateError, ...]
    limit: Limit | None
    clock_from: int | None
    """Number of the step at which the clock of a time limit starts; None for the observer's own sign."""


@dataclass(frozen=True)
class SlateSheet:
    """One sheet: one skill of one session, students as columns, steps as rows in screen order."""

    slate: Slate
    centre_id: str
    centre: str
    course_id: str
    course: str
    session_id: str
    session: str
    day: str
    where: str
    group: str
    staff: tuple[str, ...]
    skill: str
    title: str
    caution: str
    columns: tuple[SlateColumn, ...]
    rows: tuple[SlateRow, ...]
    adjustments: tuple[tuple[str, str], ...] = ()
    """Students who do the skill another way: first name, and how."""

    @property
    def square_code(self) -> str:
        """What the sheet's square code says; no name is in it."""
        return f"{QR}|{self.centre_id}|{self.slate.code}|{self.slate.rubric[:_FORM_DIGITS]}"


@question(Sight.SLATE)
def slate_sheet(ledger: Ledger, session_id: str, slate_id: str) -> SlateSheet:
    """Return a sheet that was given out, by its id.

    Raises:
        NotFoundError: there is no such session or sheet.
    """
    session = needed(ledger, Session, session_id, "session")
    slate = next((slate for slate in session.slates if slate.id == slate_id), None)
    if slate is None:
        raise NotFoundError("This session gave out no such sheet.")
    return sheet_of(view(ledger, session.course), session, skill_as_marked(ledger, slate.skill, slate.rubric), slate)


@question(Sight.SLATE)
def sheet_of(seen: CourseView, session: Session, skill: Skill, slate: Slate) -> SlateSheet:
    """Return what stands on a sheet, whether it was given out yet or not."""
    day = training_day(session.start)
    numbers = {step.id: number for number, step in enumerate(skill.steps, 1)}
    group = next((group for group in session.groups if group.id == slate.group), None)
    columns = _columns(seen, session, skill, slate)
    return SlateSheet(
        slate=slate,
        centre_id=seen.centre.id,
        centre=seen.centre.name,
        course_id=seen.course.id,
        course=seen.course.title,
        session_id=session.id,
        session=session.title,
        day=f"{weekday_words(day)} {day_words(day)}",
        where=" · ".join(part for part in (SETTING_WORDS[session.setting], session.place or "") if part),
        group=group.name if group else "",
        staff=tuple(seen.name(person) for person in group.staff) if group else (),
        skill=skill.id,
        title=skill.title,
        caution=skill.caution,
        columns=columns,
        rows=tuple(_row(step, numbers) for step in skill.steps),
        adjustments=tuple(
            (short_name(column), line)
            for column in columns
            if column.attempt_try == 1
            for line in adjusted(seen, column.student, skill.id)
        ),
    )


def group_words(name: str) -> str:
    """A group as read by people: "group P", also where its name begins with that word."""
    return name if not name or name.casefold().startswith("group") else f"group {name}"


@question(Sight.SLATE)
def find_slate(ledger: Ledger, typed: str) -> tuple[str, str]:
    """Return (session id, slate id) of the sheet whose number, or whole square code, was typed or read.

    Raises:
        NotFoundError: this centre gave out no such sheet, or it is another centre's.
        RefusedError: it is no sheet's number.
    """
    text, form = typed.strip(), ""
    if text.startswith("course-slate/"):
        parts = text.split("|")
        if len(parts) not in (4, 5) or parts[0] != QR:
            raise NotFoundError("This square code is not of a sheet that this version can read. Type its number.")
        if parts[1] != ledger.centre_id:
            raise NotFoundError("This sheet belongs to another centre. Copy it in there. Nothing was changed.")
        text, form = parts[2], parts[3]
    code = read_code(text)
    for of_course in all_of(ledger, Course):
        for session in all_of(ledger, Session, course=of_course.id):
            for slate in session.slates:
                if slate.code == code:
                    if form and form != slate.rubric[:_FORM_DIGITS]:
                        raise RefusedError(
                            f"This square code is not as it was printed on sheet {code}. Type the number from the "
                            "sheet. Nothing was changed."
                        )
                    return session.id, slate.id
    raise NotFoundError(
        f"No sheet {code} was given out by this centre. Read the number once more; a sheet of another laptop is known "
        "here after its ledger was merged."
    )


@question(Sight.SLATE)
def slates_of(ledger: Ledger, session_id: str) -> tuple[SlateSheet, ...]:
    """Return every sheet that a session gave out and nobody set aside, in the order in which they were given out.

    Raises:
        NotFoundError: there is no such session.
    """
    session = needed(ledger, Session, session_id, "session")
    return tuple(slate_sheet(ledger, session_id, slate.id) for slate in session.slates if slate.set_aside is None)


@question(Sight.SLATE)
def entered_from(ledger: Ledger, session_id: str, slate_id: str) -> dict[tuple[str, int], Attempt]:
    """Return what was copied in from a sheet already: (student, try) to the attempt."""
    found: dict[tuple[str, int], Attempt] = {}
    for attempt in all_of(ledger, Attempt, session=session_id):
        for sheet in attempt.sheets:
            if sheet.slate == slate_id:
                found[attempt.first_student or attempt.student, sheet.slate_try or 1] = attempt
    return found


def columns_out(slate: Slate, entered: Container[tuple[str, int]]) -> tuple[tuple[str, int], ...]:
    """Return the columns of a sheet, (student, try), that are not copied in yet; none once the sheet is set aside.

    Whatever says that a sheet is out asks here: a sheet is out as long as one of its columns is.
    """
    if slate.set_aside is not None:
        return ()
    columns = ((student, turn) for student in slate.students for turn in range(1, slate.tries + 1))
    return tuple(column for column in columns if column not in entered)


def short_name(column: SlateColumn) -> str:
    """The first name, with its tag where another of the course could be taken for it."""
    return f"{column.first_name} ({column.tag})" if column.tag else column.first_name


def _columns(seen: CourseView, session: Session, skill: Skill, slate: Slate) -> tuple[SlateColumn, ...]:
    day = training_day(session.start)
    everybody = dict.fromkeys((*slate.students, *seen.students))  # a namesake may swim in the group beside this one
    firsts = {student: _first_name(seen, student) for student in everybody}
    initials = {student: _initials(seen, student) for student in everybody}
    made: list[SlateColumn] = []
    for student in slate.students:
        unit, unit_type = seen.unit_of(student, day), seen.unit_type_of(student, day)
        steps = skill.steps_for(unit_type.feature_set if unit_type else frozenset())
        here = {step.id for step in steps} if applies(skill, unit_type) else set()
        known = seen.people.get(student)
        alike = sum(1 for s in everybody if firsts[s] == firsts[student] or initials[s] == initials[student]) > 1
        numbers = [one.attempt.number for one in seen.by_student_and_skill.get((student, skill.id), ())]
        first = SlateColumn(
            student=student,
            attempt_try=1,
            first_name=firsts[student],
            initials=initials[student],
            tag=(known.birth_year or f"no. {student[-4:]}") if alike and known else "",
            name=seen.name(student),
            unit=unit.label if unit else "",
            unit_type=unit_type.id if unit_type else None,
            next_number=max(numbers, default=0) + 1,
            not_here=frozenset(step.id for step in skill.steps if step.id not in here),
        )
        made += [
            replace(first, attempt_try=turn, next_number=first.next_number + turn - 1)
            for turn in range(1, slate.tries + 1)
        ]
    return tuple(made)


def _first_name(seen: CourseView, student: str) -> str:
    known = seen.people.get(student)
    return known.name.split()[0] if known and known.name.split() else "?"


def _initials(seen: CourseView, student: str) -> str:
    known = seen.people.get(student)
    parts = known.name.replace("-", " ").split() if known else []
    return "".join(part[0] for part in parts)[:4].upper()


def _row(step: Step, numbers: dict[str, int]) -> SlateRow:
    errors = tuple(
        SlateError(letter, error.id, error.label, error.critical)
        for letter, error in zip(LETTERS, step.errors, strict=False)
    )
    return SlateRow(
        step=step.id,
        number=numbers[step.id],
        do=step.do,
        own_box=step.can_be_critical,
        left_out_critical=step.if_left_out == "critical",
        not_before=tuple(numbers[earlier] for earlier in step.after_critical),
        errors=errors,
        limit=step.limit,
        clock_from=numbers.get(step.limit.from_) if step.limit else None,
    )
