"""Sign people in and out of a session, move them to another group, change who is with whom.

An act carries an id made where the person taps: the same tap that arrives twice adds nothing. Leaving is always
possible, also while a session is frozen; only a closed one has to be opened again first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from course.access import Act
from course.actions.drafting import allow, body, draft, living
from course.actions.gates import refuse_at_the_door, shut_at_the_door
from course.errors import ConflictError, NotFoundError, RefusedError
from course.hours.groups import open_times, still_to_come
from course.moments import Observed, day_words, new_id, now
from course.record.events import Draft, GroupMade, SpanEnded, SpanRecorded
from course.record.facts import Course, Group, Session, Span
from course.storage.ledger import Ledger
from course.storage.lookup import needed
from course.words import Role, SpanRole, listed

SPAN_ROLES = {
    Role.LEAD: SpanRole.TEACHING,
    Role.INSTRUCTOR: SpanRole.TEACHING,
    Role.ASSISTANT: SpanRole.ASSISTING,
    Role.CANDIDATE: SpanRole.CANDIDATE,
    Role.TECHNICIAN: SpanRole.TECHNICIAN,
    Role.STUDENT: SpanRole.STUDENT,
}
"""What somebody does in a session unless told otherwise, by what they are on the course; the first that fits."""

_LEARNING = (SpanRole.STUDENT, SpanRole.CANDIDATE)


def sign_in(
    ledger: Ledger,
    actor: str,
    session: str,
    person: str,
    at: Observed,
    *,
    group: str | None = None,
    role: SpanRole | None = None,
    end: Observed | None = None,
    there_already: bool = False,
    event_id: str | None = None,
) -> str:
    """Note that a person came, and return the id of their time in the session.

    A student whose gate is shut does not come in. One who is there already is noted all the same.

    Args:
        ledger: open for writing.
        actor: who signs them in.
        session, person, at: where, who and when.
        group: which group; None: the one that was made with them in it, if there is one.
        role: what they do there; None: what they are on the course.
        end: when they left, for a time that is entered afterwards as a whole.
        there_already: they were or are there, whatever paper is missing: entered afterwards, or by a person's decision.
        event_id: made where the person taps; the time has the same id.

    Raises:
        NotFoundError: there is no such session or group.
        ConflictError: this id stands for another act already.
        RefusedError: the time is still to come, they are in already, are not on the course, a gate is shut (told
            which), or the session takes nobody; nothing was changed.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    if _came_before(ledger, event_id, SpanRecorded.kind, session, person):
        return str(event_id)
    _refuse_closed_or_frozen(fact)
    _refuse_to_come(end or at)
    _refuse_overlap(fact, person, at, end)
    of_course = needed(ledger, Course, fact.course, "course")
    living(ledger, person)
    role = role or role_on(of_course, person)
    if role in _LEARNING and not there_already and end is None:
        refuse_at_the_door(ledger, of_course, fact, person)
    event_id = event_id or new_id()
    ledger.append([_coming(actor, fact, event_id, person, role, group or _group_of(fact, person), at, end)])
    return event_id


def sign_out(
    ledger: Ledger, actor: str, session: str, person: str, at: Observed, *, event_id: str | None = None
) -> None:
    """Note that a person left; also in a frozen session.

    Raises:
        NotFoundError: there is no such session.
        RefusedError: they are not in, would leave before they came or at a time to come, or the session is closed.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    if _came_before(ledger, event_id, SpanEnded.kind, session):
        return
    _refuse_closed(fact)
    there = open_times(fact, person)
    if not there:
        raise RefusedError("This person is not in, so they cannot leave. Nothing was changed.")
    ledger.append(_leaving(actor, fact, there, at, event_id))


def move(
    ledger: Ledger,
    actor: str,
    session: str,
    person: str,
    group: str | None,
    at: Observed,
    *,
    role: SpanRole | None = None,
    event_id: str | None = None,
) -> str:
    """Move somebody who is in to another group, or to another role: one time ends and the next begins, together.

    Raises:
        NotFoundError: there is no such session or group.
        ConflictError: this id stands for another act already.
        RefusedError: they are not in, are in that group already, or the session takes nobody; nothing was changed.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    if _came_before(ledger, event_id, SpanRecorded.kind, session, person):
        return str(event_id)
    _refuse_closed_or_frozen(fact)
    there = open_times(fact, person)
    if not there:
        raise RefusedError("This person is not in. Sign them in to that group. Nothing was changed.")
    role = role or there[-1].role
    if any((span.group, span.role) == (group, role) for span in there):
        raise RefusedError("This person is in that group already. Nothing was changed.")
    event_id = event_id or new_id()
    coming = _coming(actor, fact, event_id, person, role, group, at)
    ledger.append([*_leaving(actor, fact, there, at), coming])
    return event_id


def everyone_in(ledger: Ledger, actor: str, session: str, group: str | None, at: Observed) -> tuple[str, ...]:
    """Sign in everybody of a group who was not in yet, or where all were and left, all of them; return who came.

    Students whose gate is shut stay out. Staff and students come at one instant, so that no break of the ratio is made
    by the order of tapping. None as the group is everybody on the course, for a session without groups.

    Raises:
        NotFoundError: there is no such session or group.
        RefusedError: the session takes nobody.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    of_course = needed(ledger, Course, fact.course, "course")
    _refuse_closed_or_frozen(fact)
    if group is not None:
        _refuse_unknown_group(fact, group)
    _refuse_to_come(at)
    coming = tuple(
        person
        for person in still_to_come(fact, of_course, group)
        if role_on(of_course, person) not in _LEARNING or not shut_at_the_door(ledger, of_course, fact, person)
    )
    ledger.append(
        [_coming(actor, fact, new_id(), person, role_on(of_course, person), group, at) for person in coming]
    )  # fmt: skip
    return coming


def everyone_out(ledger: Ledger, actor: str, session: str, group: str | None, at: Observed) -> tuple[str, ...]:
    """Sign out everybody who is in a group, also in a frozen session; return who left.

    Raises:
        NotFoundError: there is no such session.
        RefusedError: somebody came later than that, or the session is closed; nobody was signed out.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    there = [span for span in fact.spans if span.end is None and span.group == group]
    people_out(ledger, actor, session, [span.id for span in there], at)
    return tuple(dict.fromkeys(span.person for span in there))


def people_out(ledger: Ledger, actor: str, session: str, times: Sequence[str], at: Observed) -> None:
    """End these times of a session, which are still open, at one moment and together.

    Raises:
        NotFoundError: there is no such session.
        RefusedError: somebody came later than that, the time is still to come, or the session is closed.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    _refuse_closed(fact)
    there = [span for span in fact.spans if span.end is None and span.id in times]
    ledger.append(_leaving(actor, fact, there, at))


def change_group(
    ledger: Ledger,
    actor: str,
    session: str,
    group: str,
    *,
    staff: Sequence[str],
    students: Sequence[str],
    name: str | None = None,
    event_id: str | None = None,
) -> None:
    """Say anew who is with whom in a group; the same people again add nothing. Where people are now stays as it is.

    Raises:
        NotFoundError: there is no such session or group.
        RefusedError: somebody is named twice, or the session is closed; nothing was changed.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    _refuse_closed(fact)
    _refuse_unknown_group(fact, group)
    both = set(staff) & set(students)
    if both:
        raise RefusedError("Somebody is named as staff and as student of the same group. Nothing was changed.")
    live = [one for one in fact.groups if one.id == group]
    name = name or live[0].name
    if [(one.staff, one.students, one.name) for one in live] == [(tuple(staff), tuple(students), name)]:
        return
    content = body(
        GroupMade, session=session, group=group, name=name, staff=tuple(dict.fromkeys(staff)),
        students=tuple(dict.fromkeys(students)), replaces=tuple(one.event for one in live),
    )  # fmt: skip
    ledger.append([draft(actor, content, event_id=event_id)])


def _came_before(ledger: Ledger, event_id: str | None, kind: str, session: str, person: str | None = None) -> bool:
    """Whether this very tap arrived before.

    Raises:
        ConflictError: the id is that of another act.
    """
    event = ledger.event(event_id) if event_id else None
    if event is None:
        return False
    same_person = person is None or any(s.id == event_id and s.person == person for s in _spans(ledger, session))
    if (event.kind, event.subject) != (kind, session) or not same_person:
        raise ConflictError("This tap's id stands for another act already. Nothing was changed; tap once more.")
    return True


def _spans(ledger: Ledger, session: str) -> tuple[Span, ...]:
    return needed(ledger, Session, session, "session").spans


def role_on(course: Course, person: str) -> SpanRole:
    """Return what somebody does in a session unless told otherwise.

    Raises:
        RefusedError: they are not on the course.
    """
    roles = {member.role for member in course.members if member.person == person}
    for role, span_role in SPAN_ROLES.items():
        if role in roles:
            return span_role
    raise RefusedError("This person is not on the course. Put them on it on People first. Nothing was changed.")


def _group_of(session: Session, person: str) -> str | None:
    """The group made with this person in it; of several the first in which they have not been yet."""
    own = [group for group in session.groups if person in (*group.staff, *group.students)]
    been = {span.group for span in session.spans if span.person == person}
    fresh: list[Group] = [group for group in own if group.id not in been]
    return (fresh or own)[0].id if own else None


def _coming(
    actor: str,
    session: Session,
    event_id: str,
    person: str,
    role: SpanRole,
    group: str | None,
    at: Observed,
    end: Observed | None = None,
) -> Draft:
    """The event of a person's coming; it gives its id to their time, so that the tap can be found again."""
    if group is not None:
        _refuse_unknown_group(session, group)
    if end is not None and end.moment <= at.moment:
        raise RefusedError("Nobody leaves before they came. Nothing was changed.")
    content = body(
        SpanRecorded, session=session.id, span=event_id, person=person, role=role, group=group, start=at, end=end
    )
    return draft(actor, content, event_id=event_id)


def _leaving(
    actor: str, session: Session, there: Iterable[Span], at: Observed, event_id: str | None = None
) -> list[Draft]:
    drafts: list[Draft] = []
    _refuse_to_come(at)
    for span in there:
        if at.moment <= span.start.moment:
            raise RefusedError(
                f"They came at {span.start.local:%H:%M}; nobody leaves before they came. Nothing was changed. "
                "Enter the time at which they left."
            )
        content = body(SpanEnded, session=session.id, span=span.id, end=at)
        drafts.append(draft(actor, content, event_id=None if drafts else event_id))
    return drafts


def _refuse_to_come(at: Observed) -> None:
    if at.moment > now():
        raise RefusedError(
            f"{at.local:%H:%M} on {day_words(at.local.date())} is still to come: people come and go at the time at "
            "which they do. Nothing was changed."
        )


def _refuse_closed(session: Session) -> None:
    if session.closed_at is not None:
        raise RefusedError(
            f"{session.title} is closed. The lead or an instructor opens it again, with a reason; then people can be "
            "signed in and out. Nothing was changed."
        )


def _refuse_closed_or_frozen(session: Session) -> None:
    _refuse_closed(session)
    if session.frozen_by:
        since = listed([f"{incident.observed.local:%H:%M}" for incident in session.frozen_by])
        raise RefusedError(
            f"{session.title} is frozen since {since}: nobody comes in until it goes on. People can be signed out. "
            "Nothing was changed."
        )


def _refuse_overlap(session: Session, person: str, start: Observed, end: Observed | None) -> None:
    for span in session.spans:
        ended_before = span.end is not None and span.end.moment <= start.moment
        begins_after = end is not None and end.moment <= span.start.moment
        if span.person != person or ended_before or begins_after:
            continue
        if span.end is None:
            raise RefusedError("This person is in already. Move them, or sign them out first. Nothing was changed.")
        raise RefusedError(
            f"This person was in from {span.start.local:%H:%M} to {span.end.local:%H:%M} already, and nobody is in "
            "twice. Nothing was changed."
        )


def _refuse_unknown_group(session: Session, group: str) -> None:
    if group not in {one.id for one in session.groups}:
        raise NotFoundError("This session has no such group. Nothing was changed.")
