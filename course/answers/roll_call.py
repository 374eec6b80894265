"""Who is in and on which unit, who has to answer when the roll is called, and who is missing.

Nobody drops out of a roll by being forgotten: who went in has to answer coming out, also when somebody wrote down that
they left.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from course.access import Sight
from course.answers.course_view import CourseView
from course.asker import question
from course.moments import training_day
from course.record.day_facts import RollCall
from course.record.facts import Session, Span

When = Literal["going_in", "coming_out", "other"]
WHEN_WORDS: dict[When, str] = {"going_in": "going in", "coming_out": "coming out", "other": "at another time"}
_IN_WATER = ("pool", "open_water")


def spans_at(session: Session, moment: datetime) -> tuple[Span, ...]:
    """Return the spans of those who were in at a moment; one without an end is still in, whatever its clock said."""
    return tuple(s for s in session.spans if s.end is None or s.start.moment <= moment < s.end.moment)


@question(Sight.TODAY)
def unit_in_use(seen: CourseView, session: Session, person: str) -> str | None:
    """Return the unit that a person was on in a session: of a dive that has not ended there, else the assigned one."""
    diving = [water.unit for water in session.water if water.person == person and water.left is None and water.unit]
    assigned = seen.course.assignment(person, training_day(session.start).isoformat())
    return diving[-1] if diving else (assigned.unit if assigned else None)


def leaving_together(session: Session) -> tuple[tuple[Span, ...], tuple[str, ...]]:
    """Return the open times that end when everybody leaves, and who stays since they are missing."""
    missing = missing_now(session)
    return tuple(s for s in session.spans if s.end is None and s.person not in missing), missing


def rolls_in_order(session: Session) -> tuple[RollCall, ...]:
    """Return the roll calls by the time at which they were called."""
    return tuple(sorted(session.rolls, key=lambda roll: (roll.observed.utc, roll.id)))


def went_in(session: Session) -> tuple[str, ...]:
    """Return who answered a roll going in, and no roll coming out since."""
    inside: dict[str, None] = {}
    for roll in rolls_in_order(session):
        if roll.when == "going_in":
            inside |= dict.fromkeys(roll.present)
        elif roll.when == "coming_out":
            inside = {person: None for person in inside if person not in roll.present}
    return tuple(inside)


def missing_now(session: Session) -> tuple[str, ...]:
    """Return who was missing at a roll (not one going in: they never went) and answered none since."""
    missing: dict[str, None] = {}
    for roll in rolls_in_order(session):
        missing = {person: None for person in missing if person not in roll.present}
        if roll.when != "going_in":
            missing |= dict.fromkeys(roll.missing)
    return tuple(missing)


def has_to_answer(session: Session, when: When) -> tuple[str, ...]:
    """Return whose names are called: who went in, is signed in or is missing; before that, the groups' people."""
    here = [span.person for span in session.spans if span.end is None]
    planned = [person for group in session.groups for person in (*group.staff, *group.students)]
    asked = dict.fromkeys([*missing_now(session), *went_in(session), *here])
    if when == "going_in" or not asked:
        asked |= dict.fromkeys(planned)
    return tuple(asked)


def usual_roll(session: Session) -> When:
    """Return which roll is called next: coming out while anybody is in or missing, else going in, a second dive too.

    Once a roll was called coming out and everybody answered, those who are signed in are between two dives; with
    nobody signed in the session has had its dives, and only coming out can be left to call.
    """
    if went_in(session) or missing_now(session):
        return "coming_out"
    called_out = any(roll.when == "coming_out" for roll in session.rolls)
    anybody_here = any(span.end is None for span in session.spans)
    return "coming_out" if called_out and not anybody_here else "going_in"


def not_called_out(session: Session) -> tuple[str, ...]:
    """Return who went in and was not yet called coming out; those called and missing stand in `missing_now`."""
    missing = missing_now(session)
    return tuple(person for person in went_in(session) if person not in missing)


def still_in_water(session: Session) -> tuple[str, ...]:
    """Return who is in a session in the water by its record: signed in without an end, or missing at a roll."""
    here = [span.person for span in session.spans if span.end is None]
    return tuple(dict.fromkeys([*missing_now(session), *here])) if session.setting in _IN_WATER else ()


def lacks_roll_out(session: Session) -> bool:
    """Whether people were in the water here and nobody called the roll coming out."""
    wet = session.setting in _IN_WATER and bool(session.spans or session.water)
    return wet and not any(roll.when != "going_in" for roll in session.rolls)
