"""Times in the water that a scrubber's filling may have been in: of every course, since a filling knows none."""

from __future__ import annotations

from datetime import date, timedelta

from course.answers.course_view import CourseView
from course.hours.unit_time import last_filling
from course.moments import training_day
from course.record.day_facts import WaterTime
from course.record.facts import Course, Session
from course.storage.ledger import Ledger
from course.storage.lookup import all_of

_LONGEST_COURSE = timedelta(days=730)
"""Requirements let no course take longer (`finish_within_days`): nothing of it comes later after its last day."""


def water_times(ledger: Ledger, seen: CourseView) -> list[tuple[WaterTime, Session, str | None]]:
    """Return every time in the water since the oldest filling that is in a unit, of every course: a filling knows none.

    Each comes with its session and the unit that its diver was assigned that day. Courses that were over before are not
    read, so that the cost does not grow with the years that a centre has kept.
    """
    fillings = [filled for unit in seen.units.values() if (filled := last_filling(unit))]
    first = min((one.observed.local.date() for one in fillings), default=None)
    found = []
    for course in all_of(ledger, Course) if first else ():
        if first is None or date.fromisoformat(course.last_day) + _LONGEST_COURSE < first:
            continue
        own = course.id == seen.course.id
        for session in seen.sessions.values() if own else all_of(ledger, Session, course=course.id):
            day = training_day(session.start).isoformat()
            for water in session.water:
                assigned = course.assignment(water.person, day)
                found.append((water, session, assigned.unit if assigned else None))
    return found
