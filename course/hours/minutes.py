"""How long a person was where, by kind of training: true elapsed time, never a sum of overlapping spans.

Someone in two places at once counts only in the span that began first. Spans are half open. A span without an end
runs to the end of its session. Session time, time on the loop and time on bailout are three numbers: the first comes
from spans, the other two are written down in water. Every page and paper asks here, so that totals agree to the minute.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from course.moments import training_day
from course.record.day_facts import WaterTime
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


@dataclass(frozen=True)
class PersonMinutes:
    """Whole minutes of one person in one role, each by kind: theory, dry, pool, open_water."""

    session: Mapping[str, int]
    loop: Mapping[str, int]
    bailout: Mapping[str, int]

    @property
    def session_total(self) -> int:
        """Minutes in sessions: the sum of what stands beside each kind, so that a column adds up."""
        return sum(self.session.values())

    @property
    def loop_total(self) -> int:
        """Minutes on the loop."""
        return sum(self.loop.values())

    @property
    def bailout_total(self) -> int:
        """Minutes on bailout."""
        return sum(self.bailout.values())


@dataclass(frozen=True)
class SessionMinutes:
    """One person's part in one session: true elapsed time, and the times in the water that count."""

    session: Session
    time: timedelta
    water: tuple[WaterTime, ...]


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


def session_minutes(
    sessions: Iterable[Session], person: str, role: SpanRole, as_of: date | None = None, now: datetime | None = None
) -> tuple[SessionMinutes, ...]:
    """Return what one person did in one role, session by session, in the order of time.

    Args:
        sessions: with their spans and water times; withdrawn ones are left out.
        person: who.
        role: what they were there as. A time in the water counts in the roles that they had in its session; where no
            span of theirs is written, in whatever role is asked for.
        as_of: leave out training days after this one.
        now: a time without an end counts to its session's end, and not at all before that end has come.
    """
    told = sorted(
        (s for s in sessions if not s.withdrawn and (as_of is None or training_day(s.start) <= as_of)),
        key=lambda s: (s.start.utc, s.id),
    )
    times = time_by_kind(
        # as in a ratio: of two that begin and end together, the first by session and group has the time
        Interval(span.start.moment, (span.end or session.end).moment, f"{session.id}|{span.group or ''}|{span.role}")
        for session in told
        for span in session.spans
        if span.person == person and (span.end is not None or now is None or session.end.moment <= now)
    )
    by_session: dict[str, timedelta] = {}
    for key, time in times.items():
        session_id, _, of_role = key.split("|")
        if of_role == role:
            by_session[session_id] = by_session.get(session_id, timedelta()) + time
    dived = [water.id for water, _ in counted_water(told, person)]
    found = []
    for session in told:
        roles = {span.role for span in session.spans if span.person == person}
        own = [w for w in session.water if w.person == person and w.id in dived and (not roles or role in roles)]
        if session.id in by_session or own:
            found.append(SessionMinutes(session, by_session.get(session.id, timedelta()), tuple(own)))
    return tuple(found)


def person_minutes(
    sessions: Iterable[Session], person: str, role: SpanRole, as_of: date | None = None, now: datetime | None = None
) -> PersonMinutes:
    """Return session, loop and bailout minutes of one person in one role; arguments as for `session_minutes`."""
    time: dict[str, timedelta] = {}
    loop: dict[str, int] = {}
    bailout: dict[str, int] = {}
    for part in session_minutes(sessions, person, role, as_of, now):
        kind = KIND_OF_SETTING[part.session.setting]
        if part.time:
            time[kind] = time.get(kind, timedelta()) + part.time
        for water in part.water:
            loop[kind] = loop.get(kind, 0) + water.loop_minutes
            bailout[kind] = bailout.get(kind, 0) + water.bailout_minutes
    whole = {kind: int(one.total_seconds()) // 60 for kind, one in time.items()}
    return PersonMinutes(whole, loop, bailout)


def counted_water(sessions: Iterable[Session], person: str) -> tuple[tuple[WaterTime, Session], ...]:
    """Return a person's times in the water that count.

    Nobody is in the water twice: of times that overlap, from two laptops, the one with the fewest minutes on the loop
    holds. Times without in and out overlap nothing.
    """
    own = [(water, session) for session in sessions for water in session.water if water.person == person]
    told = [(w, s) for w, s in own if w.entered and w.left]
    found = [(w, s) for w, s in own if not (w.entered and w.left)]
    together: list[tuple[WaterTime, Session]] = []
    until: datetime | None = None
    for water, session in sorted(told, key=lambda pair: (pair[0].entered.utc if pair[0].entered else "", pair[0].id)):
        entered, left = water.entered, water.left
        if entered is None or left is None:
            continue
        if until is not None and entered.moment >= until:
            found.append(min(together, key=_fewest))
            together = []
        together.append((water, session))
        until = max(until or left.moment, left.moment)
    if together:
        found.append(min(together, key=_fewest))
    return tuple(found)


def _fewest(pair: tuple[WaterTime, Session]) -> tuple[int, int, str]:
    return (pair[0].loop_minutes, pair[0].bailout_minutes, pair[0].id)


def learner_minutes(
    sessions: Sequence[Session],
    person: str,
    as_of: date | None = None,
    role: SpanRole = SpanRole.STUDENT,
    now: datetime | None = None,
) -> dict[str, int]:
    """Return whole minutes of one learner by kind (theory, dry, pool, open_water, in_water_on_loop).

    The same numbers as `person_minutes`, named as the requirements name them.
    """
    minutes = person_minutes(sessions, person, role, as_of, now)
    return dict(minutes.session) | ({ON_LOOP: minutes.loop_total} if minutes.loop_total else {})
