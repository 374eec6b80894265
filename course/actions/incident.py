"""When it goes wrong: freeze a session, note what was seen, let it go on.

Freezing asks for no typing and is refused to nobody on the staff: one tap and one confirmation, the note can follow.
"""

from __future__ import annotations

from course.access import Act
from course.actions.drafting import allow, body, draft, told
from course.answers.course_view import CourseView, view
from course.answers.day_state import open_incidents
from course.answers.roll_call import spans_at, unit_in_use
from course.assessment.attempts import pending_critical
from course.errors import NotFoundError, RefusedError
from course.moments import Observed, new_id
from course.record.day_facts import Incident
from course.record.events import AttemptClosed, Draft, IncidentNoted, SessionFrozen, SessionResumed
from course.record.facts import Attempt, Session
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed, skill_as_marked
from course.words import Closing

FROZEN_REASON = "The session was frozen."


def freeze(
    ledger: Ledger,
    actor: str,
    session: str,
    observed: Observed,
    note: str | None = None,
    tablets_waiting: int = 0,
) -> str:
    """Freeze a session in one append and return the incident's id.

    It holds who was in, on which units, and which attempts were under way. Each of these ends as void, "the session
    was frozen": it counts neither for nor against. A void over a critical error needs a second instructor, and in an
    emergency nobody is asked for one; so that freezing cannot wipe a critical error out, an attempt in which one was
    marked ends as stopped by the instructor instead, which keeps it (counting.md, 12). The same where the rubric it
    is marked by cannot be read here, since nobody can then know.

    A session that is frozen already stays so: its incident is given back, and a note is added to it.

    Args:
        tablets_waiting: tablets known to hold marks that had not arrived.

    Raises:
        NotFoundError: there is no such session.
        RefusedError: the person is not on the staff, or the note cannot be kept as it is.
    """
    allow(ledger, actor, Act.FREEZE)
    fact = needed(ledger, Session, session, "session")
    held = open_incidents(fact)
    if held:
        if note:
            add_note(ledger, actor, session, held[0].id, note, observed)
        return held[0].id
    seen = view(ledger, fact.course)
    under_way = [a for a in all_of(ledger, Attempt, session=session) if a.ending is None]
    people = tuple(dict.fromkeys(span.person for span in spans_at(fact, observed.moment)))
    content = body(
        SessionFrozen, session=session, incident=new_id(), people=people, units=_units(seen, fact, people),
        attempts=tuple(a.id for a in under_way), tablets_waiting=tablets_waiting, observed=observed, note=note or None,
    )  # fmt: skip
    ends = [_ended(ledger, seen, actor, attempt, observed) for attempt in under_way]
    ledger.append([draft(actor, content), *ends])
    return content.incident


def add_note(ledger: Ledger, actor: str, session: str, incident: str, note: str, observed: Observed) -> None:
    """Write down more about an incident, in one's own words; also after the session went on.

    Raises:
        NotFoundError: there is no such session or incident.
        RefusedError: the note is empty.
    """
    allow(ledger, actor, Act.FREEZE)
    _incident(needed(ledger, Session, session, "session"), incident)
    content = body(IncidentNoted, session=session, incident=incident, observed=observed, note=_note(note))
    ledger.append([draft(actor, content)])


def resume(ledger: Ledger, actor: str, session: str, incident: str, why: str, observed: Observed) -> None:
    """Let a frozen session go on, with a reason. Attempts that ended with the freezing stay ended.

    Raises:
        NotFoundError: there is no such session or incident.
        RefusedError: it goes on already, no reason is given, or the person is neither lead nor instructor.
    """
    allow(ledger, actor, Act.CLOSE)
    if _incident(needed(ledger, Session, session, "session"), incident).resumed is not None:
        raise RefusedError("The session goes on already after this incident. Nothing was changed.")
    content = body(SessionResumed, session=session, incident=incident, observed=observed, why=told(why))
    ledger.append([draft(actor, content)])


def _units(seen: CourseView, session: Session, people: tuple[str, ...]) -> tuple[str, ...]:
    units = [unit_in_use(seen, session, person) for person in people]
    return tuple(dict.fromkeys(unit for unit in units if unit))


def _ended(ledger: Ledger, seen: CourseView, actor: str, attempt: Attempt, observed: Observed) -> Draft:
    kept = _may_be_critical(ledger, seen, attempt)
    content = body(
        AttemptClosed, attempt=attempt.id, how=Closing.STOPPED if kept else Closing.VOID,
        stopped_by="instructor" if kept else None, observed=observed, reason=FROZEN_REASON,
    )  # fmt: skip
    return draft(actor, content, private_of=attempt.student)


def _may_be_critical(ledger: Ledger, seen: CourseView, attempt: Attempt) -> bool:
    try:
        skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    except NotFoundError:
        return True
    unit_type = seen.adopted.standards.unit_types.get(attempt.unit_type or "")
    features = unit_type.feature_set if unit_type else frozenset()
    return bool(pending_critical(attempt, skill, features, seen.against(attempt)))


def _incident(session: Session, incident: str) -> Incident:
    found = next((one for one in session.incidents if one.id == incident), None)
    if found is None:
        raise NotFoundError("This session has no such incident. Nothing was changed.")
    return found


def _note(note: str) -> str:
    if not note.strip():
        raise RefusedError("Write what you saw, in your own words. Nothing was changed.")
    return note
