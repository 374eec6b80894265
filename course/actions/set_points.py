"""Note which set point was held in a session, and from when: exposure follows it, never the diluent's share."""

from __future__ import annotations

from dataclasses import dataclass

from course.access import Act
from course.actions import amending
from course.actions.drafting import allow, body, draft
from course.actions.times import OVERHANG
from course.errors import NotFoundError, RefusedError
from course.hours.unit_time import WATER
from course.moments import Observed
from course.record.day_facts import SetPoint
from course.record.events import SetPointNoted, SetPointReached
from course.record.facts import Person, Session
from course.standards.profile import LEAST_SET_POINT, MOST_SET_POINT
from course.standards.rubric import is_decimal
from course.storage.ledger import Ledger
from course.storage.lookup import needed

MOST_MINUTES = 240
"""The longest way from one set point to the next that is taken for one."""
_KEPT = "Nothing was changed."


@dataclass(frozen=True)
class From:
    """From when a set point held, and in how many minutes the loop went there evenly from what was held before."""

    begins: Observed
    over_minutes: int = 0


def note_set_point(
    ledger: Ledger,
    actor: str,
    session: str,
    bar: str,
    observed: Observed,
    *,
    person: str | None = None,
    since: From | None = None,
    instead_of: str | None = None,
) -> None:
    """Note a session's set point in bar; it takes the place of the same person's from the same moment.

    Args:
        ledger: the ledger.
        actor: who notes it.
        session: of which session in the water.
        bar: decimal text.
        observed: when it is noted.
        person: whose; None: that of everybody without one of their own.
        since: from when it held; None: it is what was held at first.
        instead_of: a note, by its event, whose place it takes too, whatever moment that was of.

    Raises:
        NotFoundError: there is no such session, person or note.
        RefusedError: it is no set point, the time or the minutes cannot be, or the session is not in the water.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    if fact.setting not in WATER:
        raise RefusedError(f"{fact.title} is not in the water: no set point is held there. {_KEPT}")
    if person is not None:
        needed(ledger, Person, person, "person")
    if instead_of is not None and all(one.event != instead_of for one in fact.set_points):
        raise NotFoundError(f"There is no such set point in this session. {_KEPT}")
    text = bar.strip()
    if not is_decimal(text) or not LEAST_SET_POINT <= float(text) <= MOST_SET_POINT:
        raise RefusedError(
            f"{text[:20]!r} is no set point: write {LEAST_SET_POINT} to {MOST_SET_POINT} bar, such as 1.3. {_KEPT}"
        )
    if since is not None:
        _check_time(fact, since)
    before = tuple(
        one.event for one in fact.set_points if one.event == instead_of or _is_of(one, person, since)
    )  # fmt: skip
    fields = {"session": session, "person": person, "set_point_bar": text, "replaces": before, "observed": observed}
    if since is None:
        content = body(SetPointNoted, **fields)
    else:
        content = body(SetPointReached, **fields, begins=since.begins, over_minutes=since.over_minutes)
    ledger.append([draft(actor, content)])


def take_back_set_point(ledger: Ledger, actor: str, session: str, event_id: str, why: str) -> None:
    """Say that a set point was not held after all, with a reason; the note stays to be read.

    Raises:
        NotFoundError: there is no such note in this session.
        RefusedError: no reason is given.
    """
    allow(ledger, actor, Act.AMEND)
    fact = needed(ledger, Session, session, "session")
    if all(one.event != event_id for one in fact.set_points):
        raise NotFoundError(f"There is no such set point in this session. {_KEPT}")
    amending.withdraw(ledger, actor, event_id, why)


def _is_of(one: SetPoint, person: str | None, since: From | None) -> bool:
    """Whether a note is of the same person and of the same moment."""
    at = since.begins.moment if since else None
    return one.person == person and (one.begins.moment if one.begins else None) == at


def _check_time(session: Session, since: From) -> None:
    if not 0 <= since.over_minutes <= MOST_MINUTES:
        raise RefusedError(
            f"{since.over_minutes} minutes to get there cannot be: write 0, where it was at once, to {MOST_MINUTES}. "
            f"{_KEPT}"
        )
    at, start, end = since.begins, session.start, session.end
    if not start.moment - OVERHANG <= at.moment <= end.moment + OVERHANG:
        raise RefusedError(
            f"{at.local:%H:%M} lies far outside; {session.title} was planned from {start.local:%H:%M} to "
            f"{end.local:%H:%M}. {_KEPT}"
        )
