"""Until when a session takes what was seen in it: until it is closed, or frozen after something went wrong."""

from __future__ import annotations

from course.actions.gates import refuse_unsigned
from course.actions.unit_care import refuse_held
from course.errors import RefusedError
from course.moments import Observed
from course.record.facts import Assignment, Course, Session
from course.storage.ledger import Ledger


def refuse_beginning(
    ledger: Ledger, course: Course, session: Session, student: str, assigned: Assignment | None, observed: Observed
) -> None:
    """Refuse to begin an attempt where none may.

    That is after the session's end, in the water on a unit that is on hold, and of a student whom a gate keeps out.

    Raises:
        RefusedError: told why and what can be done.
    """
    refuse_after_the_session(ledger, session.id, observed)
    refuse_held(ledger, session, assigned, observed)
    refuse_unsigned(ledger, course, session, student, observed)


def refuse_after_the_session(ledger: Ledger, session: str, observed: Observed, *, ends: bool = False) -> None:
    """Refuse what was seen after a session was closed or frozen; what was seen before and comes late is kept.

    Args:
        ledger: the ledger.
        session: where it was seen; one that was withdrawn has no end.
        observed: when it was seen.
        ends: it stops or voids an attempt, which is possible while a session is frozen.

    Raises:
        RefusedError: told when the session ended and what can be done.
    """
    found = ledger.fact("session", session)
    if not isinstance(found, Session) or found.withdrawn:
        return
    at = f"{observed.local:%H:%M}"
    if found.closed_at is not None and observed.moment > found.closed_at.moment:
        raise RefusedError(
            f"{found.title} was closed at {found.closed_at.local:%H:%M}, and this was tapped at {at}. "
            "It was NOT saved. Open the session again, with a reason, and send it again; "
            "or amend the attempt on the Course page."
        )
    frozen = min((incident.observed for incident in found.frozen_by), key=lambda o: o.moment, default=None)
    if frozen is not None and observed.moment > frozen.moment and not ends:
        raise RefusedError(
            f"{found.title} was frozen at {frozen.local:%H:%M}, and this was tapped at {at}. "
            "It was NOT saved. An open attempt can be stopped or made void; "
            "for more let the session go on, with a reason, and send it again."
        )
