"""Which attempts were under way while a group's ratio was broken: they are flagged, never void by it."""

from __future__ import annotations

from collections.abc import Iterable

from course.hours.ratio import Presence, RatioBreak
from course.record.facts import Attempt
from course.words import SpanRole


def attempts_inside(attempts: Iterable[Attempt], one: RatioBreak, entered: Iterable[Presence]) -> tuple[Attempt, ...]:
    """Return the attempts of a group's students that were seen while its ratio was broken, in the order of time."""
    there = [p for p in entered if p.place == one.place and p.role == SpanRole.STUDENT]
    found = []
    for attempt in attempts:
        at = attempt.observed.moment
        inside = attempt.session == one.place.session and one.start <= at < one.end
        if inside and any(p.person == attempt.student and p.start <= at < p.end for p in there):
            found.append(attempt)
    return tuple(sorted(found, key=lambda attempt: (attempt.observed.utc, attempt.id)))
