"""What was read of a unit on the day of a session, for whoever marks, and which ticks it overrules."""

from __future__ import annotations

from course.assessment.cell_votes import votes
from course.assessment.overruled import Against, against, by_step
from course.assessment.unit_readings import judged
from course.moments import training_day
from course.record.facts import Attempt, Session, Unit
from course.record.unit_facts import Reading
from course.standards.rubric import Skill
from course.words import ReadingKind, plural

_MARKED = "▌ This unit was read outside its bounds just before."
_OVERRULES = " A tick does not hold against it; whoever decides may set it aside on Course, with a reason."
_SET_ASIDE = "What was read outside before was set aside with a reason, and the tick holds."


def read_today(
    skill: Skill, unit: Unit | None, session: Session | None, attempt: Attempt | None = None
) -> dict[str, str]:
    """Return by step what the unit's readings of the session's day say, and whether a tick holds against them."""
    if unit is None or session is None:
        return {}
    day = training_day(session.start)
    today = [one for one in unit.readings if training_day(one.observed) == day]
    told = {step.id: _told(today, step.reading) for step in skill.steps if step.reading} if today else {}
    aside = {one.step for one in attempt.set_aside} if attempt else frozenset()
    against = by_step(skill, attempt, against_of(unit, attempt)) if attempt else {}
    told |= {step: f"{told.get(step) or _MARKED}{_OVERRULES}" for step in against}
    told |= {step: f"{told.get(step, '')} {_SET_ASIDE}".strip() for step in aside - against.keys()}
    return {step: words for step, words in told.items() if words}


def against_of(unit: Unit | None, attempt: Attempt) -> tuple[Against, ...]:
    """Return what a unit was read to say against ticks of an attempt."""
    return against(attempt, unit.readings) if unit else ()


def _told(today: list[Reading], what: ReadingKind) -> str:
    """The last one of each cell: those outside their bounds whole, else how many there are."""
    last = {one.cell: one for one in today if one.what == what}
    found = [judged(one) for one in last.values()]
    outside = [one for one in found if one.outside]
    voted = [one.told for one in votes(one.reading for one in found) if one.outvoted]
    if outside or voted:
        lines = [f"Read at {one.reading.observed.local:%H:%M}, outside: {one.told}" for one in outside] + voted
        return " ".join(["▌", *lines])
    if not found:
        return ""
    at = max(one.reading.observed.local for one in found)
    unsure = sum(one.outside is None for one in found)
    verdict = f"{unsure} without bounds to judge by" if unsure else "none outside its bounds"
    return f"{plural(len(found), 'reading')} of this unit by {at:%H:%M}, {verdict}."
