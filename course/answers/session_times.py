"""One session minute by minute: who was where in which group, its ratio from change to change, time in the water."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.csv_text import csv_text
from course.answers.hours import BreakLine, course_breaks
from course.answers.marking import session_words
from course.answers.ratios import clock, is_low, minors, ratio_terms
from course.asker import question
from course.hours.groups import groups_of
from course.hours.ratio import Place, Presence, Stretch, by_place, counted, presences, sweep
from course.hours.unit_time import WATER, water_people
from course.moments import hour_comes_twice, now, observed_at, training_day
from course.record.day_facts import WaterTime
from course.record.facts import Session, Span
from course.words import SPAN_ROLE_WORDS, SpanRole, listed, plural


@dataclass(frozen=True)
class TimeBar:
    """One person's time in a group; minutes count from the picture's beginning."""

    name: str
    role: SpanRole
    words: str
    start: float
    end: float
    counts_from: float
    """Later than the start where they counted in another place first."""


@dataclass(frozen=True)
class RatioStep:
    """A time through which a group stayed as it was. `limit` is None where no rule says."""

    start: float
    end: float
    students: int
    limit: int | None
    broken: bool
    words: str


@dataclass(frozen=True)
class GroupLane:
    """One group of a session."""

    name: str
    bars: tuple[TimeBar, ...]
    steps: tuple[RatioStep, ...]
    breaks: tuple[BreakLine, ...]
    sentence: str


@dataclass(frozen=True)
class EnteredTime:
    """One time of a person as it stands, to be mended."""

    span: str
    person: str
    role: SpanRole
    group: str | None
    words: str
    start: str
    end: str
    """Clock times, for a form."""


@dataclass(frozen=True)
class WaterLine:
    """One line of a session's table of times in the water; empty where nothing is written yet."""

    person: str
    name: str
    learns: bool
    water: str | None
    unit: str
    """Its label; where none is written, that of the unit they dive that day."""
    unit_id: str | None
    entered: str
    left: str
    loop_minutes: int | None
    bailout_minutes: int | None
    max_depth_m: str
    visibility_m: str
    note: str
    """Deeper than the requirements allow; else empty."""


@dataclass(frozen=True)
class SessionTimes:
    """One session minute by minute."""

    session: str
    title: str
    words: str
    sentence: str
    lanes: tuple[GroupLane, ...]
    ticks: tuple[tuple[int, str], ...]
    """Minutes from the picture's beginning, with what the clocks showed."""
    length: float
    in_water: bool
    water: tuple[WaterLine, ...]
    times: tuple[EnteredTime, ...]
    visibility: str
    called_low: bool
    twice: str
    """The hour that the clocks showed twice near this session, such as "00:00 to 01:00"; else empty."""

    def csv(self) -> str:
        """Every time of the picture."""
        rows = [
            (lane.name, bar.name, SPAN_ROLE_WORDS[bar.role], bar.words, round(bar.end - bar.start))
            for lane in self.lanes
            for bar in lane.bars
        ]
        return csv_text(("group", "person", "role", "from_to", "minutes"), rows)

    def water_csv(self) -> str:
        """The table of times in the water."""
        head = ("person", "unit", "in", "out", "loop_minutes", "bailout_minutes", "max_depth_m", "visibility_m")
        rows = [
            (w.name, w.unit, w.entered, w.left, w.loop_minutes, w.bailout_minutes, w.max_depth_m, w.visibility_m)
            for w in self.water
            if w.water
        ]
        return csv_text(head, rows)


@question(Sight.HOURS)
def session_times(seen: CourseView, session_id: str) -> SessionTimes:
    """Return one session of a course minute by minute. A time that is to come is not drawn."""
    session = seen.sessions[session_id]
    day = training_day(session.start)
    entered = [one for one in presences([session]) if one.start < now()]
    begin = min([session.start.moment, *(one.start for one in entered)])
    finish = max([session.end.moment, *(one.end for one in entered)])
    breaks = tuple(one for one in course_breaks(seen, day, folded=True) if one.session == session_id)
    lanes = _lanes(seen, session, entered, begin, breaks)
    return SessionTimes(
        session=session_id,
        title=session.title,
        words=session_words(session),
        sentence=_sentence(session, lanes, breaks),
        lanes=lanes,
        ticks=_ticks(seen, begin, finish),
        length=_minute(finish, begin),
        in_water=session.setting in WATER,
        water=_water(seen, session) if session.setting in WATER else (),
        times=tuple(_entered(seen, session, span) for span in sorted(session.spans, key=lambda s: (s.start.utc, s.id))),
        visibility=_visibility_words(seen, session),
        called_low=session.called_low,
        twice=hour_comes_twice(session.start.moment, session.end.moment, session.start.zone),
    )


def _minute(moment: datetime, begin: datetime) -> float:
    return (moment - begin).total_seconds() / 60


def _ticks(seen: CourseView, begin: datetime, finish: datetime) -> tuple[tuple[int, str], ...]:
    """At most ten, on the half hours of the local clock; the second showing of an hour says so."""
    length = finish - begin
    step = next(s for s in (15, 30, 60, 120, 240, 480, 1440) if length <= timedelta(minutes=9 * s) or s == 1440)
    first = begin + timedelta(minutes=-observed_at(begin, seen.course.zone).local.minute % min(step, 60))
    found: list[tuple[int, str]] = []
    at = first
    while at <= finish:
        word = clock(seen, at)
        found.append((round(_minute(at, begin)), f"{word} again" if any(word == was for _, was in found) else word))
        at += timedelta(minutes=step)
    return tuple(found)


def _lanes(
    seen: CourseView, session: Session, entered: list[Presence], begin: datetime, breaks: tuple[BreakLine, ...]
) -> tuple[GroupLane, ...]:
    near = [s for s in seen.sessions.values() if training_day(s.start) == training_day(session.start) or s is session]
    rules, met = ratio_terms(seen, near)
    counts = by_place(counted(presences(near)))
    names = groups_of(session)
    groups = [group for group in [*groups_of(session), None] if any(one.place.group == group for one in entered)]
    lanes = []
    for group in groups:
        place = Place(session.id, group)
        own = counts.get(place, [])
        finish = max((one.end for one in own), default=begin)
        steps = sweep(own, rules[session.id], min(now(), finish), met[session.id])
        of_group = tuple(one for one in breaks if one.group == group)
        bars = tuple(_bar(seen, one, own, begin) for one in sorted(_of(entered, group), key=_by_role))
        name = names.get(group or "", "In no group") if session.groups else "Everybody"
        sentence = " ".join(one.words for one in of_group) or "no break of the ratio."
        lanes.append(GroupLane(name, bars, tuple(_step(s, begin) for s in steps), of_group, f"{name}: {sentence}"))
    return tuple(lanes)


def _of(entered: list[Presence], group: str | None) -> list[Presence]:
    return [one for one in entered if one.place.group == group]


def _by_role(one: Presence) -> tuple[int, datetime, str]:
    return (list(SpanRole).index(one.role), one.start, one.person)


def _bar(seen: CourseView, one: Presence, own: list[Presence], begin: datetime) -> TimeBar:
    counts = [other.start for other in own if other.person == one.person and one.start <= other.start < one.end]
    end = min(one.end, now())
    return TimeBar(
        name=seen.name(one.person),
        role=one.role,
        words=f"{clock(seen, one.start)} to {clock(seen, end)}, {int((end - one.start).total_seconds()) // 60} min",
        start=_minute(one.start, begin),
        end=_minute(end, begin),
        counts_from=_minute(min(counts, default=end), begin),
    )


def _step(one: Stretch, begin: datetime) -> RatioStep:
    return RatioStep(
        start=_minute(one.start, begin),
        end=_minute(one.end, begin),
        students=len(one.ratio.students),
        limit=one.ratio.limit,
        broken=one.ratio.broken,
        words=one.ratio.sentence,
    )


def _sentence(session: Session, lanes: tuple[GroupLane, ...], breaks: tuple[BreakLine, ...]) -> str:
    if not lanes:
        return f"{session.title}: nobody's time is entered yet."
    minutes = int((session.end.moment - session.start.moment).total_seconds()) // 60
    if not breaks:
        return f"{session.title}: no break of the ratio in {plural(minutes, 'minute')}."
    fine = [lane.name for lane in lanes if not lane.breaks]
    rest = f" No break in {listed(fine)}." if fine else ""
    broken = [lane.sentence for lane in lanes if lane.breaks]
    return f"{session.title}, {' '.join(broken)}{rest}"


def _entered(seen: CourseView, session: Session, span: Span) -> EnteredTime:
    group = groups_of(session).get(span.group or "", "")
    end = f"{span.end.local:%H:%M}" if span.end else ""
    told = f"{span.start.local:%H:%M} to {end or 'no end yet'}"
    parts = [seen.name(span.person), SPAN_ROLE_WORDS[span.role], group, told]
    words = " · ".join(part for part in parts if part)
    return EnteredTime(span.id, span.person, span.role, span.group, words, f"{span.start.local:%H:%M}", end)


# --- in the water --------------------------------------------------------------------------------------------------


def _water(seen: CourseView, session: Session) -> tuple[WaterLine, ...]:
    """A line for everybody who may have been in the water, learners first; several for who was in several times."""
    people = water_people(session, seen.students)
    ordered = [*(p for p in seen.students if p in people), *(p for p in people if p not in seen.students)]
    lines = []
    for person in ordered:
        own = sorted((w for w in session.water if w.person == person), key=lambda w: (w.entered or session.start).utc)
        lines += [_water_line(seen, session, person, water) for water in own]
        lines += [] if own else [_water_line(seen, session, person, None)]
    return tuple(lines)


def _water_line(seen: CourseView, session: Session, person: str, water: WaterTime | None) -> WaterLine:
    day = training_day(session.start)
    assigned = seen.unit_of(person, day)
    unit = seen.units.get(water.unit) if water and water.unit else assigned
    return WaterLine(
        person=person,
        name=seen.name(person),
        learns=person in seen.students,
        water=water.id if water else None,
        unit=unit.label if unit else "",
        unit_id=water.unit if water else unit.id if unit else None,
        entered=f"{water.entered.local:%H:%M}" if water and water.entered else "",
        left=f"{water.left.local:%H:%M}" if water and water.left else "",
        loop_minutes=water.loop_minutes if water else None,
        bailout_minutes=water.bailout_minutes if water else None,
        max_depth_m=(water.max_depth_m or "") if water else "",
        visibility_m=(water.visibility_m or "") if water else "",
        note=_depth_note(seen, person, day, water.max_depth_m if water else None),
    )


def depth_limit(seen: CourseView, person: str, day: date) -> int:
    """Return how deep the requirements let somebody go on a day, in metres."""
    limit, for_minor = seen.profile.max_depth_m, seen.profile.max_depth_m_minor
    return min(limit, for_minor) if for_minor is not None and person in minors(seen, day) else limit


def _depth_note(seen: CourseView, person: str, day: date, depth: str | None) -> str:
    limit = depth_limit(seen, person, day)
    return f"deeper than the {limit} m of the requirements" if depth and Decimal(depth) > limit else ""


def _visibility_words(seen: CourseView, session: Session) -> str:
    """What the visibility does to the limit; empty where no rule speaks of it."""
    rule = next((rule for rule in seen.profile.ratios if rule.setting == session.setting), None)
    if rule is None or rule.low_visibility_students_per_instructor is None:
        return ""
    allowed = plural(rule.low_visibility_students_per_instructor, "student")
    below = rule.low_visibility_below_m
    if is_low(session, rule):
        return f"Low visibility: {allowed} to 1 instructor, for the whole session."
    by_number = f" or a visibility below {below} m is written down" if below else ""
    return f"Where the visibility is called low{by_number}, the requirements allow {allowed} to 1 instructor."
