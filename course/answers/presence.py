"""Who was there when, group by group, with the ratio beside it: what a timeline is drawn from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from course.answers.course_view import CourseView
from course.answers.days import day_words, weekday_words
from course.answers.ratios import ratio_terms
from course.hours.ratio import (
    Circumstances,
    Place,
    Presence,
    RatioBreak,
    Stretch,
    counted,
    presences,
    ratio_breaks,
    sweep,
)
from course.moments import observed_at, training_day
from course.record.facts import Session
from course.standards.profile import RatioRule
from course.words import SETTING_WORDS, SPAN_ROLE_WORDS, SpanRole


@dataclass(frozen=True)
class Lane:
    """One person in one role in a group: whole minutes from the picture's left edge, each half open."""

    name: str
    role: SpanRole
    role_word: str
    times: tuple[tuple[int, int], ...]
    open_end: bool
    """Nobody wrote down when they left: drawn to the session's end."""


@dataclass(frozen=True)
class RatioStep:
    """A stretch through which a group stayed as it was."""

    start: int
    end: int
    words: str
    broken: bool


@dataclass(frozen=True)
class GroupTime:
    """One group of a session."""

    title: str
    lanes: tuple[Lane, ...]
    steps: tuple[RatioStep, ...]
    finding: str
    """What the picture shows: "Never over the limit", or each break with its clock times and who left."""
    broken: bool
    folded: bool = False
    """Every break of it is made by a double booking, and is told under that."""


Terms = tuple[RatioRule | None, Circumstances]
"""What a session's ratio is judged by."""


@dataclass(frozen=True)
class SessionTime:
    """One session: a picture's axis from `first` on, in true elapsed minutes, with the clock's labels."""

    session: str
    title: str
    when: str
    minutes: int
    labels: tuple[tuple[int, str], ...]
    groups: tuple[GroupTime, ...]


def session_times(seen: CourseView) -> tuple[SessionTime, ...]:
    """Return the times of every session of a course in which somebody was signed in."""
    entered = presences(seen.sessions.values())
    once = counted(entered)
    rules, met = ratio_terms(seen, seen.sessions.values())
    breaks = ratio_breaks(entered, rules, circumstances=met)
    found = []
    for session in seen.sessions.values():
        own = [one for one in entered if one.place.session == session.id]
        if own:
            found.append(_session(seen, session, own, once, breaks, (rules[session.id], met[session.id])))
    return tuple(found)


def _session(
    seen: CourseView,
    session: Session,
    own: Sequence[Presence],
    once: Sequence[Presence],
    breaks: Sequence[RatioBreak],
    terms: Terms,
) -> SessionTime:
    first = min(session.start.moment, *(one.start for one in own))
    last = max(session.end.moment, *(one.end for one in own))
    day = training_day(session.start)
    names = {group.id: group.name for group in session.groups}
    places = sorted(
        {one.place for one in own}, key=lambda place: (place.group is None, names.get(place.group or "", ""))
    )
    return SessionTime(
        session=session.id,
        title=session.title,
        when=f"{weekday_words(day)} {day_words(day)}, {SETTING_WORDS[session.setting]}",
        minutes=_minutes(first, last),
        labels=_labels(session, first, last),
        groups=tuple(
            _group(seen, session, place, names.get(place.group or "", "in no group"), own, once, breaks, terms, first)
            for place in places
        ),
    )


def _group(
    seen: CourseView,
    session: Session,
    place: Place,
    title: str,
    own: Sequence[Presence],
    once: Sequence[Presence],
    breaks: Sequence[RatioBreak],
    terms: Terms,
    first: datetime,
) -> GroupTime:
    here = [one for one in own if one.place == place]
    rule, met = terms
    steps = sweep([one for one in once if one.place == place], rule, circumstances=met)
    broken = [one for one in breaks if one.place == place]
    told = [break_words(seen, session, one) for one in broken]
    fine = "Never over the limit" if rule else "The requirements set no limit here"
    return GroupTime(
        title=title,
        lanes=_lanes(seen, session, here, first),
        steps=tuple(_step(one, first) for one in steps if one.ratio.students),
        finding="; ".join(told) if told else fine,
        broken=bool(told),
        folded=all(one.elsewhere for one in broken),
    )  # fmt: skip


def break_words(seen: CourseView, session: Session, one: RatioBreak) -> str:
    """A ratio break as a sentence's part: "15:06 to 15:20: 4 students to 1 instructor; limit 3: 14 minutes; ..."."""
    start, end = (f"{observed_at(at, session.start.zone).local:%H:%M}" for at in (one.start, one.end))
    left = f"; {' and '.join(seen.name(who) for who in one.left)} left" if one.left else ""
    came = f"; {' and '.join(seen.name(who) for who in one.came)} came" if one.came else ""
    twice = (
        f"; {' and '.join(seen.name(who) for who in one.elsewhere)} counted in another group" if one.elsewhere else ""
    )
    return f"{start} to {end}: {one.sentence}{left}{came}{twice}"


def _lanes(seen: CourseView, session: Session, here: Sequence[Presence], first: datetime) -> tuple[Lane, ...]:
    ends = {(s.person, s.start.moment) for s in session.spans if s.end is None}
    order = list(SpanRole)
    keys = sorted({(order.index(one.role), seen.name(one.person), one.person) for one in here})
    lanes = []
    for place, name, person in keys:
        own = [one for one in here if one.person == person and one.role == order[place]]
        times = tuple((_minutes(first, one.start), _minutes(first, one.end)) for one in own)
        still_open = any((person, one.start) in ends for one in own)
        lanes.append(Lane(name, order[place], SPAN_ROLE_WORDS[order[place]], times, still_open))
    return tuple(lanes)


def _step(one: Stretch, first: datetime) -> RatioStep:
    ratio = one.ratio
    helped = f"+{len(ratio.assistants)}" if ratio.assistants else ""
    words = f"{len(ratio.students)} to {len(ratio.instructors)}{helped}"
    return RatioStep(_minutes(first, one.start), _minutes(first, one.end), words, ratio.broken)


def _labels(session: Session, first: datetime, last: datetime) -> tuple[tuple[int, str], ...]:
    """Every half hour of the clock; elapsed time is true, so that a change of the clocks shows in the labels."""
    step = 1800 if (last - first).total_seconds() <= 4 * 3600 else 3600
    start = int(first.timestamp())
    ticks = range(-(-start // step) * step, int(last.timestamp()) + 1, step)
    moments = [(tick, datetime.fromtimestamp(tick, first.tzinfo)) for tick in ticks]
    return tuple(((tick - start) // 60, f"{observed_at(at, session.start.zone).local:%H:%M}") for tick, at in moments)


def _minutes(first: datetime, moment: datetime) -> int:
    return int((moment - first).total_seconds()) // 60
