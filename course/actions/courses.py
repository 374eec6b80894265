"""Make a course, say who belongs to it and which unit they dive; plan its sessions and note who was there."""

from __future__ import annotations

from collections.abc import Sequence

from course.access import Act, may
from course.actions.drafting import allow, body, draft, living
from course.actions.gates import refuse_enrolment
from course.errors import NotFoundError, RefusedError
from course.moments import Observed, new_id, now, zone_named
from course.record.events import (
    CourseMade,
    Draft,
    Enrolled,
    GroupMade,
    SessionPlanned,
    SpanEnded,
    SpanRecorded,
    UnitAssigned,
    WaterTimeSeen,
)
from course.record.facts import Course, Session, Unit
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, needed
from course.words import EVALUATORS, ROLE_WORDS, Role, SpanRole, listed


def make_course(
    ledger: Ledger,
    actor: str,
    *,
    title: str,
    zone: str,
    adoption: str,
    profile: str,
    revision: str,
    first_day: str,
    last_day: str,
) -> str:
    """Open a course on adopted rubrics and one revision of its requirements; the acting person becomes its lead.

    Raises:
        NotFoundError: there is no such adoption, or it has no such profile or revision.
        RefusedError: a name, a day or the zone cannot be used.
    """
    allow(ledger, actor, Act.SET_UP)
    zone_named(zone)
    adopted(ledger, adoption).standards.profile(profile, revision)
    course = new_id()
    content = body(
        CourseMade,
        course=course,
        title=title,
        zone=zone,
        adoption=adoption,
        profile=profile,
        revision=revision,
        first_day=first_day,
        last_day=last_day,
    )
    lead = body(Enrolled, course=course, person=actor, role=Role.LEAD)
    ledger.append([draft(actor, content), draft(actor, lead)])
    return course


def enrol(ledger: Ledger, actor: str, course: str, person: str, role: Role) -> None:
    """Take a person into a course in a role; again in the same role adds nothing.

    Raises:
        NotFoundError: there is no such course or person.
        RefusedError: a lead or an instructor of a course has to be one in the centre; or a paper that the course asks
            for before enrolment is missing.
    """
    allow(ledger, actor, Act.SET_UP)
    of_course, who = needed(ledger, Course, course, "course"), living(ledger, person)
    theirs = who.roles
    if role in EVALUATORS and not may(theirs, Act.EVALUATE):
        raise RefusedError(
            f"This person is {listed([ROLE_WORDS[one] for one in theirs])} in the centre, and cannot be "
            f"{ROLE_WORDS[role]} of a course. Nothing was changed."
        )
    if not any((m.person, m.role) == (person, role) for m in of_course.members):
        refuse_enrolment(ledger, of_course, who, role)
        ledger.append([draft(actor, body(Enrolled, course=course, person=person, role=role))])


def assign_unit(ledger: Ledger, actor: str, course: str, person: str, unit: str, from_day: str) -> None:
    """Say which unit a person dives on a course from a day on.

    Raises:
        NotFoundError: there is no such course or unit, or the course's rubrics do not know its unit type.
        RefusedError: the person is not on the course.
    """
    allow(ledger, actor, Act.SET_UP)
    of_course = needed(ledger, Course, course, "course")
    unit_type = needed(ledger, Unit, unit, "unit").unit_type
    if person not in {m.person for m in of_course.members}:
        raise RefusedError("This person is not on the course. Put them on it first. Nothing was changed.")
    living(ledger, person)
    adopted(ledger, of_course.adoption).standards.unit_type(unit_type)
    content = body(UnitAssigned, course=course, person=person, unit=unit, unit_type=unit_type, from_day=from_day)
    ledger.append([draft(actor, content)])


def plan_session(
    ledger: Ledger,
    actor: str,
    *,
    course: str,
    title: str,
    setting: str,
    start: Observed,
    end: Observed,
    place: str | None = None,
) -> str:
    """Plan a session of a course and return its id."""
    allow(ledger, actor, Act.SET_UP)
    needed(ledger, Course, course, "course")
    session = new_id()
    content = body(
        SessionPlanned,
        session=session,
        course=course,
        title=title,
        setting=setting,
        place=place or None,
        start=start,
        end=end,
    )
    ledger.append([draft(actor, content)])
    return session


def make_group(
    ledger: Ledger, actor: str, session: str, *, name: str, staff: Sequence[str], students: Sequence[str]
) -> str:
    """Say who is with whom in a session and return the group's id."""
    allow(ledger, actor, Act.SET_UP)
    needed(ledger, Session, session, "session")
    both = set(staff) & set(students)
    if both:
        raise RefusedError("Somebody is named as staff and as student of the same group. Nothing was changed.")
    group = new_id()
    content = body(GroupMade, session=session, group=group, name=name, staff=tuple(staff), students=tuple(students))
    ledger.append([draft(actor, content)])
    return group


def span(
    actor: str,
    *,
    session: str,
    person: str,
    role: SpanRole,
    start: Observed,
    end: Observed | None = None,
    group: str | None = None,
) -> Draft:
    """Return the event that notes a person's time in a session."""
    content = body(
        SpanRecorded, session=session, span=new_id(), person=person, role=role, group=group, start=start, end=end
    )
    return draft(actor, content)


def water_time(
    actor: str,
    *,
    session: str,
    person: str,
    loop_minutes: int,
    bailout_minutes: int = 0,
    max_depth_m: str | None = None,
    visibility_m: str | None = None,
    unit: str | None = None,
    entered: Observed | None = None,
    left: Observed | None = None,
    water: str | None = None,
) -> Draft:
    """Return the event that notes a person's time in the water; `water` is its id where it has one already."""
    content = body(
        WaterTimeSeen,
        session=session,
        water=water or new_id(),
        person=person,
        unit=unit,
        entered=entered,
        left=left,
        loop_minutes=loop_minutes,
        bailout_minutes=bailout_minutes,
        max_depth_m=max_depth_m,
        visibility_m=visibility_m,
    )
    return draft(actor, content)


def record_times(ledger: Ledger, actor: str, times: Sequence[Draft]) -> None:
    """Put spans and water times of one session into the ledger together."""
    allow(ledger, actor, Act.SET_UP)
    for session in {time.body.subject for time in times}:
        needed(ledger, Session, session, "session")
    ledger.append(list(times))


def end_span(ledger: Ledger, actor: str, session: str, span_id: str, end: Observed) -> None:
    """Note that a person left.

    Raises:
        NotFoundError: there is no such session or span.
        RefusedError: they left already, would leave before they came, or at a time that is to come.
    """
    allow(ledger, actor, Act.RUN_DAY)
    found = next((s for s in needed(ledger, Session, session, "session").spans if s.id == span_id), None)
    if found is None:
        raise NotFoundError("There is no such time in this session. Nothing was changed.")
    if found.end is not None:
        raise RefusedError("This time has an end already; correct that one. Nothing was changed.")
    if end.moment <= found.start.moment:
        raise RefusedError("Nobody leaves before they came. Nothing was changed.")
    if end.moment > now():
        raise RefusedError(f"{end.local:%H:%M} is still to come: nobody has left then. Nothing was changed.")
    ledger.append([draft(actor, body(SpanEnded, session=session, span=span_id, end=end))])
