"""How long a person was where, by kind of training: true elapsed time, never a sum of overlapping spans.

Someone in two places at once counts only in the span that began first. Spans are half open. A span without an end
runs to the end of its session.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from course.moments import training_day
from course.record.facts import Session
from course.words import SpanRole

KIND_OF_SETTING = {"class": "theory", "dry": "dry", "pool": "pool", "open_water": "open_water"}
ON_LOOP = "in_water_on_loop"


@dataclass(frozen=True)
class Interval:
    """A half-open stretch of time of one kind."""

    start: datetime
    end: datetime
    kind: str


def time_by_kind(intervals: Iterable[Interval]) -> dict[str, timedelta]:
    """Return the time per kind; where intervals overlap, the one that began first has it."""
    totals: dict[str, timedelta] = {}
    free_from: datetime | None = None
    for interval in sorted(intervals, key=lambda i: (i.start, i.end, i.kind)):
        begin = interval.start if free_from is None else max(interval.start, free_from)
        if interval.end > begin:
            totals[interval.kind] = totals.get(interval.kind, timedelta()) + (interval.end - begin)
            free_from = interval.end
    return totals


def learner_minutes(
    sessions: Sequence[Session],
    person: str,
    as_of: date | None = None,
    role: SpanRole = SpanRole.STUDENT,
    now: datetime | None = None,
) -> dict[str, int]:
    """Return whole minutes of one learner by kind (theory, dry, pool, open_water, in_water_on_loop).

    Args:
        sessions: the course's sessions with their spans and water times.
        person: the learner.
        as_of: leave out training days after this one.
        role: what the course has its learners as: student, or candidate on a course for candidates.
        now: a time without an end counts to its session's end, and not at all before that end has come.
    """
    counted = [s for s in sessions if not s.withdrawn and (as_of is None or training_day(s.start) <= as_of)]
    intervals = [
        Interval(span.start.moment, (span.end or session.end).moment, KIND_OF_SETTING[session.setting])
        for session in counted
        for span in session.spans
        if span.person == person and span.role == role
        if span.end is not None or now is None or session.end.moment <= now
    ]
    minutes = {kind: int(time.total_seconds()) // 60 for kind, time in time_by_kind(intervals).items()}
    on_loop = sum(water.loop_minutes for session in counted for water in session.water if water.person == person)
    return minutes | ({ON_LOOP: on_loop} if on_loop else {})
