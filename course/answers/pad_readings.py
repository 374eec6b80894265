"""What was read of a unit on the day of a session, for whoever marks a step that reads it."""

from __future__ import annotations

from course.assessment.cell_votes import votes
from course.assessment.unit_readings import judged
from course.moments import training_day
from course.record.facts import Session, Unit
from course.record.unit_facts import Reading
from course.standards.rubric import Skill
from course.words import ReadingKind, plural


def read_today(skill: Skill, unit: Unit | None, session: Session | None) -> dict[str, str]:
    """Return by step what the unit's readings of the session's day say; a reading beats a tick."""
    if unit is None or session is None:
        return {}
    day = training_day(session.start)
    today = [one for one in unit.readings if training_day(one.observed) == day]
    told = {step.id: _told(today, step.reading) for step in skill.steps if step.reading} if today else {}
    return {step: words for step, words in told.items() if words}


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
