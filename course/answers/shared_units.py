"""Units that several students are to dive on one day."""

from __future__ import annotations

from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.asker import question
from course.moments import training_day
from course.words import listed


@question(Sight.TODAY)
def shared_units(seen: CourseView, day: date | None = None) -> tuple[str, ...]:
    """Return a line for each unit that several students are to dive on one day: of one day, or of all with a session.

    Diving in turn is as it may be; it is told since a second unit that was never assigned looks just like it.
    """
    days = [day] if day else sorted({training_day(session.start) for session in seen.sessions.values()})
    found: dict[tuple[str, tuple[str, ...]], list[date]] = {}
    for one in days:
        by_unit: dict[str, list[str]] = {}
        for student in seen.students:
            if unit := seen.unit_of(student, one):
                by_unit.setdefault(unit.label, []).append(seen.name(student))
        for label, names in by_unit.items():
            if len(names) > 1:
                found.setdefault((label, tuple(names)), []).append(one)
    return tuple(
        f"{label} is assigned to {listed(list(names))} on {_days_told(own)}: only one of them dives it at a time."
        for (label, names), own in found.items()
    )


def _days_told(days: list[date]) -> str:
    return day_words(days[0]) if len(days) == 1 else f"{len(days)} days, from {day_words(days[0])} on"
