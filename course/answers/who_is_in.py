"""Who is in a session at one moment: group by group, with the ratio and what happens if one of the staff leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.gate_view import door_words
from course.answers.marking import session_words
from course.answers.ratios import break_words, ratio_terms
from course.answers.still_open import hold_word
from course.asker import question
from course.hours.groups import groups_of, members_of, still_to_come
from course.hours.ratio import (
    STILL_THERE,
    Circumstances,
    Condition,
    Place,
    Presence,
    Ratio,
    RatioBreak,
    counted,
    presences,
    ratio_at,
    ratio_breaks,
)
from course.moments import observed_at, training_day
from course.record.facts import Session, Span
from course.standards.profile import RatioRule
from course.storage.ledger import Ledger
from course.storage.lookup import needed
from course.words import SPAN_ROLE_WORDS, Role, SpanRole, listed, plural

NO_GROUP = ""
"""The key of those who are in no group."""


class Whereabouts(StrEnum):
    """Where a person is, as told by shape and word."""

    IN = "in"
    OUT = "out"
    NOT_YET = "not yet in"
    OTHER_GROUP = "in another group"


class Figure(StrEnum):
    """One figure in the picture of a group."""

    INSTRUCTOR = "instructor"
    ASSISTANT = "assistant"
    STUDENT = "student"
    OVER = "student over the limit"
    FREE = "free place"


@dataclass(frozen=True)
class PersonRow:
    """One person in a group's list; rows keep their place whoever comes or goes."""

    person: str
    name: str
    where: Whereabouts
    words: str
    note: str = ""
    times: int = 0
    """How many times they were entered in this session so far: a tap of before is not one of now."""
    can_leave: bool = False
    """A time of theirs in this group has no end yet."""


@dataclass(frozen=True)
class IfLeaves:
    """What the ratio is once one of the staff leaves."""

    name: str
    sentence: str
    broken: bool
    too_many: bool
    """Broken with an instructor still there: that the last one leaves goes without saying."""


@dataclass(frozen=True)
class GroupNow:
    """One group at one moment. `group` is empty for those who are in none."""

    group: str
    name: str
    rows: tuple[PersonRow, ...]
    ratio: str
    room: str
    broken: bool
    low_visibility: str
    figures: tuple[Figure, ...]
    if_leaves: tuple[IfLeaves, ...]
    breaks: tuple[str, ...]
    to_come: int
    """How many would come by "everyone in"."""

    @property
    def present(self) -> int:
        """How many are in."""
        return sum(row.where == Whereabouts.IN for row in self.rows)


@dataclass(frozen=True)
class SessionNow:
    """A session at one moment."""

    session: str
    title: str
    words: str
    held: str
    """Why nobody comes in, or nothing is entered at all: frozen or closed; else empty."""
    closed: bool
    live: bool
    at: datetime
    instants: dict[str, datetime]
    """For a record: clock times at which somebody came or went."""
    in_water: bool
    grouped: bool
    groups: tuple[GroupNow, ...]

    @property
    def present(self) -> int:
        """How many are in."""
        return sum(group.present for group in self.groups)


@dataclass(frozen=True)
class _Scene:
    """What all groups of a session are read from."""

    seen: CourseView
    session: Session
    sessions: dict[str, Session]
    entered: tuple[Presence, ...]
    counted: tuple[Presence, ...]
    breaks: tuple[RatioBreak, ...]
    rule: RatioRule | None
    met: Circumstances
    at: datetime
    live: bool

    def clock(self, moment: datetime) -> str:
        return f"{observed_at(moment, self.seen.course.zone).local:%H:%M}"

    def place_words(self, place: Place) -> str:
        """A place as read from this session: another session by its title, a group of this one by its name."""
        session = self.sessions[place.session]
        return groups_of(session).get(place.group or "", "no group") if session is self.session else session.title


@question(Sight.TODAY)
def session_now(
    ledger: Ledger, seen: CourseView, session: str, now: datetime, *, live: bool, at: datetime | None = None
) -> SessionNow:
    """Return who is in a session. It reads the day's sessions alone, so that a tap costs the same at any size.

    Args:
        ledger: where the sessions are read from, as they are at this moment.
        seen: the course, for names and requirements.
        session: which one.
        now: this moment.
        live: the session is of today; else it is a record, and read at a moment of its own.
        at: for a record, the moment; None: as its worst break begins, or else when most were in.
    """
    scene = _scene(ledger, seen, session, now, live=live, at=at)
    fact = scene.session
    return SessionNow(
        session=fact.id,
        title=fact.title,
        words=session_words(fact),
        held=_held(fact),
        closed=fact.closed_at is not None,
        live=live,
        at=scene.at,
        instants={} if live else _instants(scene),
        in_water=fact.setting in ("pool", "open_water"),
        grouped=bool(fact.groups),
        groups=tuple(_group(scene, key, name) for key, name in _keys(scene).items()),
    )


def day_breaks(
    ledger: Ledger, seen: CourseView, sessions: Sequence[Session], until: datetime | None
) -> tuple[tuple[str, str], ...]:
    """Return breaks of the ratio in sessions that are read together: (session, sentence). `until` is now, if live."""
    found = []
    for session in sessions:
        now = until or session.end.moment
        scene = _scene(ledger, seen, session.id, now, live=until is not None, at=now)
        own = [one for one in scene.breaks if one.place.session == session.id and not one.elsewhere]
        found += [(session.id, f"{scene.place_words(one.place)}: {break_words(scene.seen, one)}") for one in own]
    return tuple(found)


def _scene(ledger: Ledger, seen: CourseView, session: str, now: datetime, *, live: bool, at: datetime | None) -> _Scene:
    fact = needed(ledger, Session, session, "session")
    near = [s for s in seen.sessions.values() if s.id != session and _near(s, fact)]
    sessions = {session: fact} | {s.id: needed(ledger, Session, s.id, "session") for s in near}
    rules, met = ratio_terms(seen, sessions.values())
    entered = presences(sessions.values(), live=live)
    breaks = ratio_breaks(entered, rules, now if live else STILL_THERE, met)
    once = counted(entered)
    if at is None:
        at = now if live else _telling_moment(fact, once, breaks)
    return _Scene(seen, fact, sessions, entered, once, breaks, rules[session], met[session], at, live)


def _near(one: Session, other: Session) -> bool:
    """Sessions of one training day, or that overlap: somebody can be in both."""
    overlap = one.start.moment < other.end.moment and other.start.moment < one.end.moment
    return overlap or training_day(one.start) == training_day(other.start)


def _telling_moment(session: Session, once: Sequence[Presence], breaks: Sequence[RatioBreak]) -> datetime:
    own = [one for one in breaks if one.place.session == session.id]
    if own:
        return max(own, key=lambda one: (one.worst.too_many, one.elapsed)).start
    here = [one for one in once if one.place.session == session.id]
    most = max((sum(o.start <= one.start < o.end for o in here) for one in here), default=0)
    full = [one.start for one in here if sum(o.start <= one.start < o.end for o in here) == most]
    return min(full, default=session.start.moment)


def _instants(scene: _Scene) -> dict[str, datetime]:
    """Clock times to moments; an hour that the clocks show twice is told apart."""
    own = [one for one in scene.entered if one.place.session == scene.session.id]
    moments = sorted({moment for one in own for moment in (one.start, one.end)})
    found: dict[str, datetime] = {}
    for moment in moments[:-1] or [scene.session.start.moment]:
        word = scene.clock(moment)
        found[f"second {word}" if word in found else word] = moment
    return found


def _held(session: Session) -> str:
    if session.closed_at is not None:
        return f"{session.title} is closed: it is opened again before anybody is signed in or out."
    if session.frozen_by:
        since = listed([f"{incident.observed.local:%H:%M}" for incident in session.frozen_by])
        return f"{session.title} is frozen since {since}: nobody comes in. Everybody can be signed out."
    return ""


def _keys(scene: _Scene) -> dict[str, str]:
    """Groups in the order in which they were made; last those who are in none, if there are any."""
    if not scene.session.groups:
        return {NO_GROUP: "Everybody"}
    return groups_of(scene.session) | ({NO_GROUP: "In no group"} if _without_group(scene) else {})


def _without_group(scene: _Scene) -> tuple[str, ...]:
    grouped = {p for group in scene.session.groups for p in (*group.staff, *group.students)}
    been = {span.person for span in scene.session.spans if span.group is not None}
    loose = [span.person for span in scene.session.spans if span.group is None]
    members = [p for p in _course_members(scene.seen) if p not in grouped | been]
    return tuple(dict.fromkeys([*members, *loose]))


def _course_members(seen: CourseView) -> tuple[str, ...]:
    return tuple(dict.fromkeys([*seen.course.people(*(role for role in Role if role != Role.STUDENT)), *seen.students]))


def _group(scene: _Scene, key: str, name: str) -> GroupNow:
    place = Place(scene.session.id, key or None)
    ratio = ratio_at([one for one in scene.counted if one.place == place], scene.at, scene.rule, scene.met)
    people = _people(scene, key)
    return GroupNow(
        group=key,
        name=name,
        rows=tuple(_row(scene, place, person) for person in people),
        ratio=f"{ratio.sentence}.",
        room=_room_words(ratio),
        broken=ratio.broken,
        low_visibility=_low_visibility_words(ratio),
        figures=_figures(ratio),
        if_leaves=_if_leaves(scene, ratio),
        breaks=tuple(break_words(scene.seen, one) for one in scene.breaks if one.place == place),
        to_come=0 if name == "In no group" else len(still_to_come(scene.session, scene.seen.course, key or None)),
    )


def _people(scene: _Scene, key: str) -> tuple[str, ...]:
    """Those whom the group was made of, then whoever came besides, in the order in which they came."""
    if key:
        own = members_of(scene.session, key)
    else:
        own = _without_group(scene) if scene.session.groups else _course_members(scene.seen)
    came = sorted((s for s in scene.session.spans if (s.group or NO_GROUP) == key), key=lambda s: (s.start.utc, s.id))
    return tuple(dict.fromkeys([*own, *(span.person for span in came)]))


def _row(scene: _Scene, place: Place, person: str) -> PersonRow:
    own = sorted((s for s in scene.session.spans if s.person == person), key=lambda s: (s.start.utc, s.id))
    here = [span for span in own if span.group == place.group]
    now = [span for span in own if _covers(scene, span)]
    inside = [span for span in now if span.group == place.group]
    if inside:
        where, words = Whereabouts.IN, _in_words(scene, inside[-1])
    elif now:
        other = scene.place_words(Place(scene.session.id, now[-1].group))
        where, words = Whereabouts.OTHER_GROUP, f"in {other} since {now[-1].start.local:%H:%M}"
    elif left := [span for span in here if span.end is not None and span.end.moment <= scene.at]:
        where, words = Whereabouts.OUT, " and ".join(_times_words(span) for span in left)
    else:
        where, words = Whereabouts.NOT_YET, "not in yet"
    note = _double_words(scene, place, person) or _gate_words(scene, person, inside=bool(inside))
    dives = scene.live and not (own and own[-1].role == SpanRole.SURFACE)
    held = hold_word(scene.seen, person, scene.session, scene.at) if dives else ""
    note = f"{note}; {held}" if note and held else note or held
    can_leave = any(span.end is None for span in here)
    return PersonRow(person, scene.seen.name(person), where, words, note, len(own), can_leave)


def _covers(scene: _Scene, span: Span) -> bool:
    place = Place(scene.session.id, span.group)
    return any(
        one.start == span.start.moment and one.start <= scene.at < one.end
        for one in scene.entered
        if one.person == span.person and one.place == place
    )


def _in_words(scene: _Scene, span: Span) -> str:
    words = f"in since {span.start.local:%H:%M}" if span.end is None else f"in, {_times_words(span)}"
    if span.role == SpanRole.SURFACE:
        words += f", {SPAN_ROLE_WORDS[span.role]}"
    if span.end is not None:
        return words
    over = scene.at >= scene.session.end.moment or scene.session.end.moment <= span.start.moment
    return f"{words}; the session was planned to {scene.session.end.local:%H:%M}" if over else words


def _times_words(span: Span) -> str:
    end = span.end.local if span.end else span.start.local
    return f"{span.start.local:%H:%M} to {end:%H:%M}"


def _double_words(scene: _Scene, place: Place, person: str) -> str:
    """That somebody is in two places, and where they count; a body is counted once."""
    where = {one.place for one in scene.entered if one.person == person and one.start <= scene.at < one.end}
    counts = {one.place for one in scene.counted if one.person == person and one.start <= scene.at < one.end}
    others = [other for other in sorted(where - {place}, key=str) if other.session != place.session]
    if place in where and counts and place not in counts:
        return f"counts in {listed([scene.place_words(one) for one in counts])}, where they were first"
    if others and place in where:
        return f"also in {listed([scene.place_words(one) for one in others])}"
    return f"is in {listed([scene.place_words(one) for one in others])} now" if others else ""


def _gate_words(scene: _Scene, person: str, *, inside: bool) -> str:
    """That a gate is shut for a student, and no more: others read this list. Of a record only what was passed."""
    if person not in scene.seen.students or not (scene.live or inside):
        return ""
    return "a gate is shut" if door_words(scene.seen, scene.session, person) else ""


def _room_words(ratio: Ratio) -> str:
    if ratio.broken:
        return f"{plural(ratio.too_many, 'student')} too many." if ratio.instructors else "An instructor is missing."
    if not ratio.instructors or ratio.limit is None:
        return ""
    return f"Room for {ratio.room} more." if ratio.room else "Full."


def _low_visibility_words(ratio: Ratio) -> str:
    least = ratio.rule.low_visibility_students_per_instructor if ratio.rule else None
    if Condition.LOW_VISIBILITY in ratio.conditions:
        return ""  # the limit that is told is that one already
    return f"In low visibility the requirements allow {least} to 1 instructor." if least and ratio.students else ""


def _figures(ratio: Ratio) -> tuple[Figure, ...]:
    fit = len(ratio.students) - ratio.too_many
    return (
        *[Figure.INSTRUCTOR] * len(ratio.instructors),
        *[Figure.ASSISTANT] * len(ratio.assistants),
        *[Figure.STUDENT] * fit,
        *[Figure.OVER] * ratio.too_many,
        *[Figure.FREE] * ratio.room,
    )


def _if_leaves(scene: _Scene, ratio: Ratio) -> tuple[IfLeaves, ...]:
    """Assistants first: they are the ones who leave early; nothing where no student is in."""
    if not ratio.students:
        return ()
    found = []
    for person in (*ratio.assistants, *ratio.instructors):
        after, name = ratio.without(person), scene.seen.name(person)
        too_many = after.broken and bool(after.instructors)
        sentence = f"If {name} leaves: {after.short}{': too many.' if too_many else '.'}"
        found.append(IfLeaves(name, sentence, after.broken, too_many))
    return tuple(found)
