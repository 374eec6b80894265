"""Where a class is weak: skill by skill with its numbers, where it goes wrong, and at which steps.

About what is taught, not about who learns: it names students only where they were not seen yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.csv_text import csv_text
from course.answers.practice import (
    ENOUGH,
    TOO_FEW,
    WHERE_WORDS,
    Told,
    WeakStepLine,
    can_be_critical,
    ranked_skills,
    step_lines,
    telling_attempts,
)
from course.asker import question
from course.assessment.weak_skills import WeakSkill
from course.standards.rubric import Setting, Skill
from course.standards.units import applies
from course.words import plural


@dataclass(frozen=True)
class PlaceCount:
    """Attempts at one skill in one setting, over a class."""

    where: Setting
    wrong: int
    attempts: int
    critical: int


@dataclass(frozen=True)
class ClassSkill:
    """One skill over a class."""

    skill: str
    title: str
    can_be_critical: bool
    wrong: int
    attempts: int
    critical: int
    students: int
    """Students with an attempt that says something."""
    of_students: int
    not_seen_yet: tuple[str, ...]
    """Names of those without one."""
    in_doubt: int
    """Students whose attempts, drawn towards the class, leave it likelier than not that they still go wrong."""
    places: tuple[PlaceCount, ...]
    steps: tuple[WeakStepLine, ...]

    @property
    def words(self) -> str:
        """As read: 9 of 41 went wrong, 3 critical (6 students)."""
        critical = f", {self.critical} critical" if self.critical else ""
        few = f": {TOO_FEW}" if self.attempts < ENOUGH else ""
        return f"{self.wrong} of {self.attempts} went wrong{critical} ({plural(self.students, 'student')}){few}"

    @property
    def doubt_words(self) -> str:
        """As read: Open for 2 of 3 students, going by their own attempts drawn towards the class."""
        if self.attempts < ENOUGH:
            return ""
        students = plural(self.students, "student")
        return f"Open for {self.in_doubt} of {students}, going by their own attempts drawn towards the class."


@dataclass(frozen=True)
class ClassPractice:
    """Where a class is weak."""

    sentence: str
    skills: tuple[ClassSkill, ...]
    """Skills in which something went wrong, weakest first."""
    not_seen_yet: tuple[ClassSkill, ...]
    """Required skills that some or all students were not seen at."""


def class_csv(practice: ClassPractice) -> str:
    """Where a class is weak as a table: one line a skill and place."""
    columns = (
        "skill",
        "title",
        "where",
        "went wrong",
        "attempts",
        "critical in all",
        "students",
        "step most often wrong",
    )
    return csv_text(
        columns,
        [
            (
                line.skill, line.title, WHERE_WORDS[place.where], place.wrong, place.attempts, place.critical,
                line.students, line.steps[0].sentence if line.steps else "",
            )
            for line in practice.skills
            for place in line.places
        ],
    )  # fmt: skip


@question(Sight.CLASS)
def class_practice(seen: CourseView, as_of: date) -> ClassPractice:
    """Return where a class is weak, skill by skill, and which steps go wrong most."""
    ranked = ranked_skills(seen, as_of)
    lines = [
        _class_skill(seen, skill, as_of, [one for one in ranked if one.skill == skill.id]) for skill in seen.skills()
    ]
    weak = sorted((line for line in lines if line.wrong), key=_class_order)
    unseen = [line for line in lines if line.not_seen_yet and line.skill in seen.profile.required_skills]
    return ClassPractice(_class_sentence(weak, lines), tuple(weak), tuple(unseen))


def _class_skill(seen: CourseView, skill: Skill, as_of: date, ranked: Sequence[WeakSkill]) -> ClassSkill:
    students = [student for student in seen.students if applies(skill, seen.unit_type_of(student, as_of))]
    told = [one for student in students for one in telling_attempts(seen, student, skill, as_of)]
    said = [one for one in told if one.judgement.counts or one.judgement.breaks]
    active = {one.student for one in said}
    return ClassSkill(
        skill=skill.id,
        title=skill.title,
        can_be_critical=can_be_critical(skill),
        wrong=sum(one.judgement.breaks for one in said),
        attempts=len(said),
        critical=sum(bool(one.judgement.critical_reasons) for one in said),
        students=len(active),
        of_students=len(students),
        not_seen_yet=tuple(seen.name(student) for student in students if student not in active),
        in_doubt=sum(one.doubt > 0.5 for one in ranked),
        places=_places(said),
        steps=step_lines(skill, told),
    )


def _places(said: Sequence[Told]) -> tuple[PlaceCount, ...]:
    counts = {name: [one.judgement for one in said if one.where == name] for name in WHERE_WORDS}
    return tuple(
        PlaceCount(name, sum(one.breaks for one in own), len(own), sum(bool(one.critical_reasons) for one in own))
        for name, own in counts.items()
        if own
    )


def _class_order(line: ClassSkill) -> tuple[bool, bool, float, float, str]:
    """Too few to say last; critical errors first; then students in doubt, then the share of attempts gone wrong."""
    doubt = line.in_doubt / max(line.students, 1)
    return (line.attempts < ENOUGH, line.critical == 0, -doubt, -line.wrong / line.attempts, line.skill)


def _class_sentence(weak: Sequence[ClassSkill], lines: Sequence[ClassSkill]) -> str:
    attempts = sum(line.attempts for line in lines)
    if not attempts:
        return "Nobody was seen at anything yet: there is nothing to say about this class."
    if not weak:
        said = plural(attempts, "attempt that counts or breaks a row", "attempts that count or break a row")
        return f"Nothing went wrong in {said}."
    first = weak[0]
    if first.attempts < ENOUGH:
        return f"{TOO_FEW.capitalize()}: no skill with an error has {ENOUGH} attempts yet."
    step = f" Most often: {first.steps[0].sentence}" if first.steps else ""
    return f"The class is weakest at “{first.title}”: {first.words}.{step}"
