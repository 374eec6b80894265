"""A unit and what goes with it as they stood at the end of a day: what was done or read later is left out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, time, timedelta

from course.answers.course_view import CourseView
from course.moments import Observed, training_day, zone_named
from course.record.facts import Slip, Unit

_STILL_HELD = {"until": None, "released_by": None, "release_event": None, "list_passed_by": None}


def end_of(seen: CourseView, as_of: date) -> datetime:
    """Return the moment with which a day ends where the course is, in UTC."""
    return datetime.combine(as_of + timedelta(days=1), time(), zone_named(seen.course.zone)).astimezone(UTC)


def view_until(seen: CourseView, as_of: date) -> CourseView:
    """Return the course with its units, sessions and who was given which unit as of a day."""
    end = end_of(seen, as_of)
    given = tuple(one for one in seen.course.assignments if one.from_day <= as_of.isoformat())
    return seen.changed(
        course=seen.course.model_copy(update={"assignments": given}),
        units={name: _unit_until(unit, end) for name, unit in seen.units.items()},
        sessions={name: one for name, one in seen.sessions.items() if training_day(one.start) <= as_of},
    )


def slips_until(slips: Iterable[Slip], end: datetime | None) -> Iterator[Slip]:
    """Yield fault slips that were set by then, with the answers that were noted by then; None: as they are."""
    for slip in slips:
        if end is None:
            yield slip
        elif _by(slip.observed, end):
            replies = tuple(one for one in slip.replies if _by(one.observed, end))
            cleared = slip.cleared is not None and _by(slip.cleared, end)
            kept = {} if cleared else {"cleared": None, "cleared_by": None}
            yield slip.model_copy(update={"replies": replies, **kept})


def _unit_until(unit: Unit, end: datetime) -> Unit:
    holds = (
        hold if hold.until and _by(hold.until, end) else hold.model_copy(update=_STILL_HELD)
        for hold in unit.holds
        if _by(hold.since, end)
    )
    return unit.model_copy(
        update={
            "care": tuple(one for one in unit.care if _by(one.observed, end)),
            "readings": tuple(one for one in unit.readings if _by(one.observed, end)),
            "holds": tuple(holds),
        }
    )


def _by(at: Observed, end: datetime) -> bool:
    return at.moment < end
