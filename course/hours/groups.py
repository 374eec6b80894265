"""Who belongs to a group of a session, who is in it now, and who is still to come."""

from __future__ import annotations

from course.record.facts import Course, Session, Span


def members_of(session: Session, group: str) -> tuple[str, ...]:
    """Return who belongs to a group, staff first; where two laptops changed it, all whom either names."""
    live = [one for one in session.groups if one.id == group]
    people = [*(p for one in live for p in one.staff), *(p for one in live for p in one.students)]
    return tuple(dict.fromkeys(people))


def groups_of(session: Session) -> dict[str, str]:
    """Return the groups of a session, id to name, in the order in which they were made."""
    return {group.id: group.name for group in session.groups}


def open_times(session: Session, person: str) -> list[Span]:
    """Return the times of a person that nobody ended; two laptops may have begun one each."""
    return sorted((s for s in session.spans if s.person == person and s.end is None), key=lambda s: s.start.utc)


def still_to_come(session: Session, course: Course, group: str | None) -> tuple[str, ...]:
    """Return who of a group was not in yet; where all were in and all left, all of them.

    Whoever left while others stayed left on purpose. None as the group is everybody on the course.
    """
    if group is None:
        people = tuple(dict.fromkeys(member.person for member in course.members))
    else:
        people = members_of(session, group)
    away = [person for person in people if not open_times(session, person)]
    not_yet = [person for person in away if not any(span.person == person for span in session.spans)]
    return tuple(not_yet or (away if len(away) == len(people) else ()))
