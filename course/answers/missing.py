"""What each student still needs: skills, and minutes by kind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from course.answers.course_view import CourseView, standing_word
from course.answers.days import as_of_words
from course.answers.decisions import HELD, is_held_back, is_signed
from course.assessment.sentences import missing_line
from course.hours.minutes import ON_LOOP, learner_minutes
from course.moments import now
from course.standards.units import applies
from course.words import SpanRole, StandingState, plural

KIND_WORDS = {
    "theory": "theory",
    "dry": "dry",
    "pool": "pool",
    "open_water": "open water",
    ON_LOOP: "in water on the loop",
}


@dataclass(frozen=True)
class MissingSkill:
    """A required skill that is not held."""

    skill: str
    title: str
    state: StandingState
    word: str
    line: str


@dataclass(frozen=True)
class Hours:
    """Minutes of one kind against what the requirements ask."""

    kind: str
    word: str
    minutes: int
    required: int | None

    @property
    def short_by(self) -> int:
        """Minutes that are missing; 0 when met or not asked for."""
        return max(0, (self.required or 0) - self.minutes)


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
    hours: tuple[Hours, ...]

    @property
    def short(self) -> tuple[Hours, ...]:
        """Kinds of hours that are short."""
        return tuple(h for h in self.hours if h.short_by)

    @property
    def anything(self) -> bool:
        """Whether something is missing."""
        return bool(self.skills or self.short)

    @property
    def sentence(self) -> str:
        """One line: the count, then what is missing."""
        held = f"{self.held} of {plural(self.required, 'required skill')} held, {self.signed} signed"
        held += f", {self.held_back} held back by an instructor" if self.held_back else ""
        hours = [f"short by {plural(h.short_by, 'minute')} {h.word}" for h in self.short]
        return f"{self.name}: {'; '.join([held, *hours])}."


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
        return asdict(self)


def _line(skill: MissingSkill) -> str:
    told = f"{skill.word}: {skill.line}" if skill.line else skill.word
    return f"  {skill.title} ({skill.skill}) · {told}"


def missing(seen: CourseView, students: Sequence[str], as_of: date) -> MissingAnswer:
    """Return what the students still need for the course's requirements."""
    return MissingAnswer(
        course=seen.course.title,
        as_of=as_of_words(as_of, seen.last_day, seen.today()),
        students=tuple(student_missing(seen, student, as_of) for student in students),
        notice=seen.profile.notice,
    )


def student_missing(seen: CourseView, student: str, as_of: date) -> StudentMissing:
    """Return what one student still needs."""
    unit_type = seen.unit_type_of(student, as_of)
    required = [s for s in seen.skills() if seen.is_required(s) and applies(s, unit_type)]
    open_skills = []
    for skill in required:
        standing = seen.standing(student, skill, as_of)
        if standing.state not in HELD:
            line = missing_line(standing, skill, seen.names)
            open_skills.append(MissingSkill(skill.id, skill.title, standing.state, standing_word(standing.state), line))
    return StudentMissing(
        student=student,
        name=seen.name(student),
        required=len(required),
        held=len(required) - len(open_skills),
        signed=sum(is_signed(seen, student, skill, as_of) for skill in required),
        held_back=sum(is_held_back(seen, student, skill, as_of) for skill in required),
        skills=tuple(open_skills),
        hours=student_hours(seen, student, as_of),
    )


def student_hours(seen: CourseView, student: str, as_of: date) -> tuple[Hours, ...]:
    """Return a student's minutes by kind, each against what the requirements ask."""
    role = SpanRole(seen.profile.for_whom)
    minutes = learner_minutes(list(seen.sessions.values()), student, as_of, role, now())
    asked: dict[str, int] = {rule.of: rule.at_least_minutes for rule in seen.profile.hours}
    kinds = [kind for kind in KIND_WORDS if kind in minutes or kind in asked]
    return tuple(Hours(kind, KIND_WORDS[kind], minutes.get(kind, 0), asked.get(kind)) for kind in kinds)
