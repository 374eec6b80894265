"""Days left against days needed: skills that a student can no longer finish, or only if every day that is left is used.

A rule that asks for several days cannot be rescued on the last evening. Days count in every setting that a skill has;
a setting that the rule still misses needs a day of its own kind.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.decisions import HELD
from course.asker import question
from course.assessment.standing import Standing
from course.moments import training_day
from course.record.facts import Session
from course.standards.rubric import Setting, Skill
from course.standards.units import applies
from course.words import SETTING_WORDS, StandingState, listed, plural


@dataclass(frozen=True)
class DaysLeft:
    """One skill of one student for which days run out. `needed` and `left` are training days."""

    skill: str
    title: str
    needed: int
    left: int
    lost: bool
    """More is needed than is left: it cannot be rescued as things are planned."""
    sentence: str


@question(Sight.TODAY)
def days_left(seen: CourseView, student: str, as_of: date, moment: datetime) -> tuple[DaysLeft, ...]:
    """Return the required skills of a student for which as many days are needed as are left, or more; lost ones first.

    Args:
        seen: the course.
        student: whose.
        as_of: standings as of this day.
        moment: sessions that end after it are still to come.
    """
    unit_type = seen.unit_type_of(student, as_of)
    coming = to_come(seen, student, moment)
    found = []
    for skill in seen.skills():
        if not seen.is_required(skill) or not applies(skill, unit_type):
            continue
        standing = seen.standing(student, skill, as_of)
        if standing.state in (*HELD, StandingState.WAITING) or not standing.missing.attempts:
            continue
        told = _told(skill, standing, coming)
        found += [told] if told else []
    return tuple(sorted(found, key=lambda one: not one.lost))


def to_come(seen: CourseView, student: str, moment: datetime) -> tuple[Session, ...]:
    """Return the sessions that are still to come for a student: those of their groups, or of nobody's yet."""
    return tuple(
        session
        for session in seen.sessions.values()
        if not session.withdrawn
        and session.closed_at is None
        and session.end.moment > moment
        and (not session.groups or any(student in group.students for group in session.groups))
    )


def _told(skill: Skill, standing: Standing, coming: Iterable[Session]) -> DaysLeft | None:
    days: dict[Setting, set[date]] = {}
    for session in coming:
        if session.setting in skill.setting:
            days.setdefault(session.setting, set()).add(training_day(session.start))
    every = set().union(*days.values())
    missing = standing.missing
    places = {setting: days.get(setting, set()) for setting in missing.settings}
    # Days that are in the streak already bring no new one; where only attempts are missing, today does.
    usable = every.difference(standing.days) if missing.days else every
    needed, left = max(1, missing.days), len(usable)
    none_left = [setting for setting, found in places.items() if not found]
    last_one = [setting for setting, found in places.items() if len(found) == 1]
    if left < needed:
        return DaysLeft(skill.id, skill.title, needed, left, lost=True, sentence=_lost_words(needed, left))
    if none_left:
        where = listed([SETTING_WORDS[setting] for setting in none_left])
        sentence = f"{where} is missing, and no such session is left: cannot be rescued as planned"
        return DaysLeft(skill.id, skill.title, needed, 0, lost=True, sentence=sentence)
    if left == needed:
        return DaysLeft(skill.id, skill.title, needed, left, lost=False, sentence=_just_words(needed))
    if last_one:
        where = listed([SETTING_WORDS[setting] for setting in last_one])
        return DaysLeft(skill.id, skill.title, 1, 1, lost=False, sentence=f"{where} is missing: one day of it is left")
    return None


def _lost_words(needed: int, left: int) -> str:
    there = f"{left or 'none'} {'is' if left < 2 else 'are'} left"
    return f"needs {plural(needed, 'more day')}, {there}: cannot be rescued as planned"


def _just_words(needed: int) -> str:
    if needed == 1:
        return "needs 1 more day: the only day that is left"
    return f"needs {plural(needed, 'more day')}: exactly the days that are left"
