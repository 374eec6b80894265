"""What the ratios of sessions are judged by: the setting's rule, and who is a minor, how clear and how deep it was."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal

from course.answers.course_view import CourseView
from course.hours import gates
from course.hours.ratio import Circumstances, Dive, RatioBreak
from course.moments import observed_at, training_day
from course.record.facts import Session
from course.standards.profile import ADULT_YEARS, RatioRule
from course.words import listed, plural


def ratio_terms(
    seen: CourseView, sessions: Iterable[Session], *, by_age: bool = True
) -> tuple[dict[str, RatioRule | None], dict[str, Circumstances]]:
    """Return, by session, the rule of its setting and what makes its limits stricter.

    Args:
        seen: the course.
        sessions: which of its sessions.
        by_age: whether a minor among the students makes a limit stricter; birth dates are private, and what is derived
            without a key cannot know of them.
    """
    rules = {rule.setting: rule for rule in seen.profile.ratios}
    told = list(sessions)
    by_session = {session.id: rules.get(session.setting) for session in told}
    return by_session, {
        session.id: _circumstances(seen, session, by_session[session.id], by_age=by_age) for session in told
    }


def is_low(session: Session, rule: RatioRule | None) -> bool:
    """Whether the visibility of a session is low: somebody called it so, or a visibility below the rule's was met."""
    below = rule.low_visibility_below_m if rule else None
    met = [Decimal(water.visibility_m) for water in session.water if water.visibility_m is not None]
    return session.called_low or (below is not None and any(one < below for one in met))


def minors(seen: CourseView, day: date) -> frozenset[str]:
    """Return the learners who are under age on a day; somebody without a birth date is not known to be."""
    return frozenset(one for one in seen.students if (age := age_on(seen, one, day)) is not None and age < ADULT_YEARS)


def age_on(seen: CourseView, person: str, day: date) -> int | None:
    """Return a person's age in whole years; None where no birth date is entered. Born on 29 Feb: older on 1 Mar."""
    known = seen.people.get(person)
    if known is None or not known.birth_date:
        return None
    return gates.age_on(date.fromisoformat(known.birth_date), day)


def clock(seen: CourseView, moment: datetime) -> str:
    """Return the clock time of a moment where the course is."""
    return f"{observed_at(moment, seen.course.zone).local:%H:%M}"


def break_words(seen: CourseView, one: RatioBreak) -> str:
    """A break as said on a pool deck: "4 to 1, limit 3, for 14 minutes, 15:06 to 15:20: Lien left."."""
    ratio, names = one.worst, seen.name
    what = ratio.short if ratio.instructors else ratio.sentence
    comma = "," if ratio.instructors else ""
    long = plural(one.minutes, "minute") if one.minutes else "under a minute"
    why = []
    if one.left:
        why.append(f"{listed([names(p) for p in one.left])} left")
    if one.came:
        why.append(f"{listed([names(p) for p in one.came])} came")
    if one.elsewhere:
        why.append(f"{listed([names(p) for p in one.elsewhere])} counted elsewhere")
    told = f": {'; '.join(why)}" if why else ""
    return f"{what}{comma} for {long}, {clock(seen, one.start)} to {clock(seen, one.end)}{told}."


def _circumstances(seen: CourseView, session: Session, rule: RatioRule | None, *, by_age: bool) -> Circumstances:
    dives = tuple(
        Dive(
            person=water.person,
            start=(water.entered or session.start).moment,
            end=(water.left or session.end).moment,
            depth_m=Decimal(water.max_depth_m),
        )
        for water in session.water
        if water.max_depth_m is not None
    )
    young = minors(seen, training_day(session.start)) if by_age else frozenset()
    return Circumstances(young, is_low(session, rule), dives)
