"""What each student still needs: skills, and minutes by kind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any, TypeVar

from course.access import Sight
from course.answers.course_view import CourseView, standing_word
from course.answers.days import as_of_words
from course.answers.decisions import HELD, is_held_back, is_signed
from course.answers.elsewhere import accepted_amount
from course.answers.exceptions import is_count_excused, is_excused, rule_of
from course.asker import question
from course.assessment.sentences import missing_line
from course.hours.gates import GateState, gates_ahead, stage_days
from course.hours.minutes import learner_minutes
from course.hours.requirements import (
    Count,
    ExamState,
    Hours,
    Requirements,
    SkillHeld,
    counts_of,
    exam_state,
    hours_of,
)
from course.moments import now
from course.standards.rubric import Skill
from course.standards.units import applies
from course.words import SpanRole, StandingState, plural

_C = TypeVar("_C", Hours, Count)


@dataclass(frozen=True)
class MissingSkill:
    """A required skill that is not held."""

    skill: str
    title: str
    state: StandingState
    word: str
    line: str


@dataclass(frozen=True)
class StudentMissing:
    """What one student still needs."""

    student: str
    name: str
    required: int
    held: int
    signed: int
    held_back: int
    skills: tuple[MissingSkill, ...]
    requirements: Requirements
    excused: int = 0
    """Skills that are not held and that two instructors let be."""
    back: tuple[tuple[str, str], ...] = ()
    """Id and title of each skill that an instructor holds back: the rule may be met, and it is not to be signed off."""

    @property
    def hours(self) -> tuple[Hours, ...]:
        """Minutes by kind."""
        return self.requirements.hours

    @property
    def short(self) -> tuple[Hours | Count, ...]:
        """Hours and counts that are short."""
        return self.requirements.counted_short

    @property
    def papers(self) -> tuple[str, ...]:
        """What the exam and the papers are short of."""
        return self.requirements.papers_short

    @property
    def anything(self) -> bool:
        """Whether something is missing."""
        return not self.requirements.met

    @property
    def sentence(self) -> str:
        """One line: the count, then what is missing."""
        return f"{self.name}: {'; '.join([self.counts, *(one.short for one in self.short), *self.papers])}."

    @property
    def counts(self) -> str:
        """How many skills are held, signed, let be and held back."""
        told = f"{self.held} of {plural(self.required, 'required skill')} held, {self.signed} signed"
        told += f", {self.excused} by exception" if self.excused else ""
        return told + (f", {self.held_back} held back by an instructor" if self.held_back else "")


@dataclass(frozen=True)
class MissingAnswer:
    """What some students of a course still need, as of one day."""

    course: str
    as_of: str
    students: tuple[StudentMissing, ...]
    notice: str

    @property
    def anything(self) -> bool:
        """Whether something is missing for anybody."""
        return any(s.anything for s in self.students)

    def text(self) -> str:
        """The answer in lines."""
        lines = [f"{self.course}, as of {self.as_of}"]
        if not self.students:
            lines.append("Nobody is enrolled yet. Add students on the People page.")
        for student in self.students:
            lines += ["", student.sentence]
            lines += [_line(s) for s in student.skills]
        return "\n".join([*lines, "", self.notice])

    def plain(self) -> dict[str, Any]:
        """The answer as plain data."""
        return asdict(replace(self, students=())) | {"students": [_plain(student) for student in self.students]}


def _line(skill: MissingSkill) -> str:
    told = f"{skill.word}: {skill.line}" if skill.line else skill.word
    return f"  {skill.title} ({skill.skill}) · {told}"


def _plain(student: StudentMissing) -> dict[str, Any]:
    named = {name: getattr(student, name) for name in ("student", "name", "required", "held", "signed", "held_back")}
    return named | {
        "skills": [asdict(skill) for skill in student.skills],
        "hours": [asdict(hours) for hours in student.hours],
        "counts": [asdict(count) for count in student.requirements.counts],
        "papers": list(student.papers),
    }


@question(Sight.READY)
def missing(seen: CourseView, students: Sequence[str], as_of: date) -> MissingAnswer:
    """Return what the students still need for the course's requirements."""
    return MissingAnswer(
        course=seen.course.title,
        as_of=as_of_words(as_of, seen.last_day, seen.today()),
        students=tuple(student_missing(seen, student, as_of) for student in students),
        notice=seen.profile.notice,
    )


@question(Sight.READY)
def student_missing(seen: CourseView, student: str, as_of: date) -> StudentMissing:
    """Return what one student still needs; every page, paper and command that tells it asks here."""
    unit_type = seen.unit_type_of(student, as_of)
    required = [s for s in seen.skills() if seen.is_required(s) and applies(s, unit_type)]
    open_skills, excused = [], []
    for skill in required:
        standing = seen.standing(student, skill, as_of)
        if standing.state not in HELD and is_excused(seen, student, skill, as_of):
            excused.append(skill.id)
        elif standing.state not in HELD:
            line = missing_line(standing, skill, seen.names)
            open_skills.append(MissingSkill(skill.id, skill.title, standing.state, standing_word(standing.state), line))
    back = tuple((skill.id, skill.title) for skill in required if is_held_back(seen, student, skill, as_of))
    return StudentMissing(
        student=student,
        name=seen.name(student),
        required=len(required),
        held=len(required) - len(open_skills) - len(excused),
        signed=sum(is_signed(seen, student, skill, as_of) for skill in required),
        held_back=len(back),
        skills=tuple(open_skills),
        requirements=_requirements(seen, student, as_of, required, open_skills, excused),
        excused=len(excused),
        back=back,
    )


def _requirements(
    seen: CourseView, student: str, as_of: date, required: Sequence[Skill], open_skills: Sequence[MissingSkill],
    excused: Sequence[str],
) -> Requirements:  # fmt: skip
    lines = {one.skill: f"{one.word}: {one.line}" if one.line else one.word for one in open_skills}
    lines |= dict.fromkeys(excused, "by exception")
    gone = [name for name in seen.profile.required_skills if name not in seen.adopted.standards.skills]
    return Requirements(
        hours=student_hours(seen, student, as_of),
        counts=student_counts(seen, student, as_of),
        skills=(
            *(SkillHeld(s.id, s.title, s.id not in lines, lines.get(s.id, "met"), s.id in excused) for s in required),
            *(SkillHeld(name, name, held=False, line="required, and no adopted rubric has it") for name in gone),
        ),
        exam=student_exam(seen, student, as_of),
        shut=tuple(state.shut for state in student_gates(seen, student, as_of) if state.shut),
    )


@question(Sight.READY)
def student_hours(seen: CourseView, student: str, as_of: date) -> tuple[Hours, ...]:
    """Return a student's minutes by kind, each against what the requirements ask."""
    role = SpanRole(seen.profile.for_whom)
    found = hours_of(learner_minutes(list(seen.sessions.values()), student, as_of, role, now()), seen.profile)
    return tuple(_with_words(seen, student, one) for one in found)


def _with_words(seen: CourseView, student: str, one: _C) -> _C:
    """With what a lead accepted from elsewhere, and what two instructors let be."""
    whole = replace(one, elsewhere=accepted_amount(seen, student, rule_of(one)))
    return replace(whole, excused=True) if is_count_excused(seen, student, whole) else whole


@question(Sight.READY)
def student_counts(seen: CourseView, student: str, as_of: date) -> tuple[Count, ...]:
    """Return a student's pool sessions, dives and training days, each against what the requirements ask."""
    found = counts_of(seen.sessions.values(), student, seen.profile, as_of, now())
    return tuple(_with_words(seen, student, one) for one in found)


@question(Sight.READY)
def student_exam(seen: CourseView, student: str, as_of: date) -> ExamState:
    """Return a student's exam on a day, with the gaps that nobody has talked through."""
    return exam_state(seen.person(student), seen.course.id, seen.profile, as_of)


def student_gates(seen: CourseView, student: str, as_of: date) -> tuple[GateState, ...]:
    """Return a student's gates over the days of each stage that are still to come; see `gates_ahead`."""
    days = stage_days(seen.course, seen.sessions.values(), student)
    return gates_ahead(seen.person(student), seen.course.id, seen.profile, days, as_of)
