"""Attempts that were marked by another form of a skill than the one in force: kept and shown, never counted."""

from __future__ import annotations

from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.asker import question
from course.assessment.attempts import SeenAttempt
from course.assessment.sentences import standing_sentence
from course.assessment.standing import Standing
from course.standards.rubric import Skill
from course.words import plural


@question(Sight.READY)
def by_other_forms(seen: CourseView, student: str, skill: Skill, as_of: date) -> tuple[SeenAttempt, ...]:
    """Return a student's attempts up to a day that another form of the skill was asked in, in order."""
    older = (one for one in seen.earlier_rubric(student, skill) if one.day <= as_of)
    return tuple(sorted(older, key=lambda one: one.order))


def sentence_with_other_forms(seen: CourseView, student: str, skill: Skill, standing: Standing) -> str:
    """Say where a student stands, and how many attempts do not count since another form of the skill was asked then."""
    told = standing_sentence(standing, skill, seen.names)
    older = by_other_forms(seen, student, skill, standing.as_of)
    if not older:
        return told
    were, are, do = ("was", "is", "does") if len(older) == 1 else ("were", "are", "do")
    return (
        f"{told} {plural(len(older), 'attempt')} {were} marked by another form of this rubric, and {are} kept and "
        f"{do} not count: what was asked then is not what is asked now."
    )
