"""What events of sessions, courses, people, units and decisions say, one sentence each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.origin_signing import SIGNING_WORDS
from course.moments import Observed
from course.physics.field_names import inside, named
from course.record import events as kinds
from course.record.chain import Event
from course.storage.ledger import Ledger
from course.words import CARE_WORDS, READING_WORDS, ROLE_WORDS, SETTING_WORDS, SPAN_ROLE_WORDS, plural

Private = Mapping[str, Any]


def thing_words(ledger: Ledger, seen: CourseView, event: Event, body: kinds.Body) -> str:
    """Return what an event says that is not about an attempt; empty where another module tells it."""
    tell = _WORDS.get(type(body))
    return tell(ledger.private_of(event), seen, body) if tell else ""


def _span(_: Private, seen: CourseView, body: kinds.SpanRecorded) -> str:
    end = f" to {_clock(body.end)}" if body.end else ", still in"
    return f"{seen.name(body.person)} in, {SPAN_ROLE_WORDS[body.role]}, from {_clock(body.start)}{end}"


def _out(_: Private, seen: CourseView, body: kinds.SpanEnded) -> str:
    session = seen.sessions.get(body.session)
    span = next((one for one in session.spans if one.id == body.span), None) if session else None
    return f"{seen.name(span.person) if span else 'Somebody'} out at {_clock(body.end)}"


def _water(_: Private, seen: CourseView, body: kinds.WaterTimeRecorded) -> str:
    times = f", {_clock(body.entered)} to {_clock(body.left)}" if body.entered and body.left else ""
    depth = f", down to {body.max_depth_m} m" if body.max_depth_m else ""
    bailout = f", {plural(body.bailout_minutes, 'minute')} on bailout" if body.bailout_minutes else ""
    loop = plural(body.loop_minutes, "minute")
    return f"{seen.name(body.person)} in the water{times}: {loop} on the loop{bailout}{depth}"


def _planned(_: Private, __: CourseView, body: kinds.SessionPlanned) -> str:
    times = f"{_clock(body.start)} to {_clock(body.end)}"
    return f"Session planned: {SETTING_WORDS[body.setting]}, {day_words(body.start.local.date())}, {times}"


def _group(private: Private, seen: CourseView, body: kinds.GroupMade) -> str:
    people = ", ".join(seen.name(who) for who in (*body.staff, *body.students)) or "nobody"
    return f"{private.get('name', 'Group ' + body.group[-4:])}: {people}"


def _roll(_: Private, seen: CourseView, body: kinds.RollCalled) -> str:
    missing = ", ".join(seen.name(who) for who in body.missing) or "nobody"
    return f"Roll called: {plural(len(body.present), 'person', 'people')} there; missing: {missing}"


def _closed(_: Private, __: CourseView, ___: kinds.SessionClosed) -> str:
    return "Session closed"


def _enrolled(_: Private, seen: CourseView, body: kinds.Enrolled) -> str:
    return f"{seen.name(body.person)} enrolled, {ROLE_WORDS[body.role]}"


def _unit(_: Private, seen: CourseView, body: kinds.UnitAssigned) -> str:
    unit = seen.units.get(body.unit)
    return f"{seen.name(body.person)} dives {unit.label if unit else body.unit} from {body.from_day} on"


def _care(_: Private, __: CourseView, body: kinds.UnitCared) -> str:
    until = f", good until {body.good_until}" if body.good_until else ""
    return f"{CARE_WORDS[body.what].capitalize()} done{until}"


def _reading(_: Private, __: CourseView, body: kinds.ReadingTaken) -> str:
    cell = f", cell {body.cell}" if body.cell else ""
    told = ", ".join(
        f"{inside(named(one.key))} {one.value} {one.unit.replace('degC', '°C')}".rstrip() for one in body.amounts
    )
    return f"Read: {READING_WORDS[body.what]}{cell}: {told}"


def _set_point(_: Private, seen: CourseView, body: kinds.SetPointNoted) -> str:
    whose = seen.name(body.person) if body.person else "everybody without one of their own"
    since = ""
    if isinstance(body, kinds.SetPointReached):
        within = f", got to within {body.over_minutes} min" if body.over_minutes else ""
        since = f" from {_clock(body.begins)}{within}"
    return f"Set point {body.set_point_bar} bar{since}, {whose}"


def _adopted(_: Private, __: CourseView, body: kinds.RubricAdopted) -> str:
    return f"Rubrics adopted: {plural(len(body.files), 'file')}"


def _made(_: Private, __: CourseView, body: kinds.CourseMade) -> str:
    return f"Course made, {body.first_day} to {body.last_day}, on {body.profile}, revision {body.revision}"


def _clock(observed: Observed) -> str:
    return f"{observed.local:%H:%M}"


_WORDS: dict[type[kinds.Body], Callable[[Private, CourseView, Any], str]] = {
    kinds.SpanRecorded: _span,
    kinds.SpanEnded: _out,
    kinds.WaterTimeRecorded: _water,
    kinds.SessionPlanned: _planned,
    kinds.GroupMade: _group,
    kinds.RollCalled: _roll,
    kinds.SessionClosed: _closed,
    **SIGNING_WORDS,
    kinds.Enrolled: _enrolled,
    kinds.UnitAssigned: _unit,
    kinds.UnitCared: _care,
    kinds.ReadingTaken: _reading,
    kinds.SetPointNoted: _set_point,
    kinds.SetPointReached: _set_point,
    kinds.RubricAdopted: _adopted,
    kinds.CourseMade: _made,
}
"""Each takes the event's opened private part, the course, and the body."""
