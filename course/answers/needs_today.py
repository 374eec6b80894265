"""What one student still needs in a session: skills that can go forward here, re-teach and critical ones first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from course.access import Sight
from course.answers.course_view import CourseView, standing_word
from course.answers.days_left import DaysLeft, days_left
from course.answers.decisions import HELD
from course.answers.gate_view import adjustment_lines
from course.answers.missing import student_exam
from course.answers.still_open import UnitNote, unit_notes
from course.asker import question
from course.assessment.sentences import missing_line
from course.assessment.standing import Standing
from course.record.facts import Session
from course.standards.rubric import Setting, Skill
from course.standards.units import applies
from course.words import StandingState, plural


@dataclass(frozen=True)
class Need:
    """One skill that a student can go forward with here. `attempts` is how many are worth trying here."""

    skill: str
    title: str
    word: str
    line: str
    attempts: int
    reteach: int
    critical: bool
    """Something critical can happen in it."""


@dataclass(frozen=True)
class StudentToday:
    """What one student still needs in a session. `elsewhere` counts skills that wait for another day or place."""

    student: str
    name: str
    unit: str
    unit_notes: tuple[UnitNote, ...]
    needs: tuple[Need, ...]
    elsewhere: int
    days: tuple[DaysLeft, ...]
    gaps: tuple[str, ...] = ()
    """Items missed in the exam that are talked through on a dry day, in a dry session."""
    adjustments: tuple[str, ...] = ()

    @property
    def lost(self) -> tuple[DaysLeft, ...]:
        """Skills that cannot be rescued as things are planned."""
        return tuple(one for one in self.days if one.lost)

    @property
    def sentence(self) -> str:
        """One line: how many skills and attempts, what comes first."""
        parts = [f"{plural(len(self.needs), 'skill')} here, {plural(self.attempts, 'attempt')}"]
        if reteach := sum(need.reteach > 0 for need in self.needs):
            parts.append(f"{reteach} with re-teach first")
        if critical := sum(need.critical for need in self.needs):
            parts.append(f"{critical} in which something critical can happen")
        gaps = [f"{plural(len(self.gaps), 'gap')} of the exam to talk through"] if self.gaps else []
        first = "; ".join([*(parts if self.needs else []), *gaps]) or "Nothing here"
        return f"{first}; {self.elsewhere} on another day or in another place." if self.elsewhere else f"{first}."

    @property
    def attempts(self) -> int:
        """Attempts that are worth trying here, re-teach among them."""
        return sum(need.attempts for need in self.needs)


@question(Sight.TODAY)
def student_today(
    seen: CourseView, student: str, session: Session, as_of: date, moment: datetime, *, over: bool
) -> StudentToday:
    """Return what a student still needs in a session.

    Args:
        seen: the course.
        student: whose.
        session: where.
        as_of: standings as of this day.
        moment: the moment that the day is read at.
        over: the day is over, so that nothing can be shared out between it and others any more.
    """
    unit_type = seen.unit_type_of(student, as_of)
    needs: list[Need] = []
    elsewhere = 0
    for skill in seen.skills():
        if not seen.is_required(skill) or not applies(skill, unit_type):
            continue
        standing = seen.standing(student, skill, as_of)
        if standing.state in HELD:
            continue
        attempts = attempts_here(standing, skill, session.setting, None if over else as_of)
        if attempts:
            needs.append(_need(skill, standing, attempts))
        else:
            elsewhere += 1
    return StudentToday(
        student=student,
        name=seen.name(student),
        unit=seen.unit_words(student, as_of) or "no unit yet",
        unit_notes=unit_notes(seen, student, session, moment),
        needs=tuple(sorted(needs, key=lambda need: (not need.reteach, not need.critical))),
        elsewhere=elsewhere,
        days=days_left(seen, student, as_of, moment),
        gaps=tuple(gap.item for gap in student_exam(seen, student, as_of).gaps) if session.setting == "dry" else (),
        adjustments=adjustment_lines(seen, student),
    )


def attempts_here(standing: Standing, skill: Skill, setting: Setting, day: date | None) -> int:
    """Return how many attempts a rule can still use in a setting on a day, re-teach among them; 0: none.

    What is left for other settings and other days is not tried here. `day` is None where only the setting matters.
    """
    if setting not in skill.setting:
        return 0
    missing = standing.missing
    if standing.state == StandingState.WAITING:
        return 1
    other_places = len([name for name in missing.settings if name != setting])
    other_days = 0
    if day is not None and missing.days:
        other_days = missing.days - (day not in standing.days)
    return max(0, missing.attempts - max(other_places, other_days)) + missing.reteach


def _need(skill: Skill, standing: Standing, attempts: int) -> Need:
    return Need(
        skill=skill.id,
        title=skill.title,
        word=standing_word(standing.state),
        line=missing_line(standing, skill),
        attempts=attempts,
        reteach=standing.missing.reteach,
        critical=any(step.can_be_critical for step in skill.steps),
    )
