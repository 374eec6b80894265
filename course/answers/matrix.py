"""Every student's standing with every skill of a course, and the one sentence that matters about it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView, standing_word
from course.answers.days import as_of_words
from course.answers.decisions import HELD, signed_word
from course.answers.exceptions import is_excused
from course.answers.missing import StudentMissing, student_missing
from course.asker import question
from course.assessment.sentences import missing_line
from course.assessment.standing import Standing
from course.standards.rubric import Skill
from course.words import StandingState, listed, plural


@dataclass(frozen=True)
class Cell:
    """One student's standing with one skill."""

    student: str
    state: StandingState
    word: str
    line: str
    streak: int
    in_a_row: int
    signed: str
    """ "", "signed", "held back" or "signed on an older record" """
    open_attempts: int


@dataclass(frozen=True)
class Row:
    """One skill over all students."""

    skill: str
    title: str
    required: bool
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class PhaseRows:
    """The skills of one phase."""

    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Column:
    """One student."""

    student: str
    name: str
    unit: str
    held: int
    required: int
    signed: int


@dataclass(frozen=True)
class Matrix:
    """The course at a glance."""

    sentence: str
    as_of: str
    columns: tuple[Column, ...]
    phases: tuple[PhaseRows, ...]


@question(Sight.COURSE)
def matrix(seen: CourseView, as_of: date) -> Matrix:
    """Return every standing of a course as of one day."""
    states = [student_missing(seen, student, as_of) for student in seen.students]
    phases = []
    for phase in seen.adopted.standards.phases:
        rows = [_row(seen, s, as_of) for s in seen.skills() if seen.adopted.standards.phase_of[s.id] == phase.id]
        if rows:
            phases.append(PhaseRows(phase.title, tuple(rows)))
    return Matrix(
        sentence=_sentence(states),
        as_of=as_of_words(as_of, seen.last_day, seen.today()),
        columns=tuple(_column(seen, state, as_of) for state in states),
        phases=tuple(phases),
    )


def _column(seen: CourseView, state: StudentMissing, as_of: date) -> Column:
    words = seen.unit_words(state.student, as_of) or "no unit yet"
    return Column(state.student, state.name, words, state.held, state.required, state.signed)


def _row(seen: CourseView, skill: Skill, as_of: date) -> Row:
    cells = tuple(_cell(seen, student, skill, as_of) for student in seen.students)
    return Row(skill.id, skill.title, seen.is_required(skill), cells)


def _cell(seen: CourseView, student: str, skill: Skill, as_of: date) -> Cell:
    standing = seen.standing(student, skill, as_of)
    return Cell(
        student=student,
        state=standing.state,
        word=standing_word(standing.state),
        line=missing_line(standing, skill, seen.names),
        streak=standing.streak,
        in_a_row=skill.rule.in_a_row,
        signed=_word(seen, student, skill, as_of, standing),
        open_attempts=len(standing.open_attempts),
    )


def _word(seen: CourseView, student: str, skill: Skill, as_of: date, standing: Standing) -> str:
    """What people did about it: signed or held back; let be by two of them where it is not held."""
    if standing.state not in HELD and is_excused(seen, student, skill, as_of):
        return "by exception"
    return signed_word(seen, student, skill, as_of)


def _sentence(states: list[StudentMissing]) -> str:
    if not states:
        return "No students yet. Add them on People, then mark their first attempts."
    ready = [s.name for s in states if not s.anything]
    first = f"{listed(ready)} {'have' if len(ready) > 1 else 'has'} all that is asked." if ready else ""
    wanting = []
    for state in (s for s in states if s.anything):
        parts = [plural(len(state.skills), "skill")] if state.skills else []
        parts += [one.lacking for one in state.short]
        parts += [plural(len(state.papers), "paper")] if state.papers else []
        wanting.append(f"{state.name}: {listed(parts)}")
    rest = f"Still missing. {'; '.join(wanting)}." if wanting else ""
    return " ".join(part for part in (first, rest) if part)
