"""Note which set point was held in a session: exposure follows it, never the diluent's share."""

from __future__ import annotations

from course.access import Act
from course.actions.drafting import allow, body, draft
from course.errors import RefusedError
from course.hours.unit_time import WATER
from course.moments import Observed
from course.record.events import SetPointNoted
from course.record.facts import Person, Session
from course.standards.profile import LEAST_SET_POINT, MOST_SET_POINT
from course.standards.rubric import is_decimal
from course.storage.ledger import Ledger
from course.storage.lookup import needed


def note_set_point(
    ledger: Ledger, actor: str, session: str, bar: str, observed: Observed, *, person: str | None = None
) -> None:
    """Note a session's set point in bar; it takes the place of the one that stood there.

    Args:
        ledger: the ledger.
        actor: who notes it.
        session: of which session in the water.
        bar: decimal text.
        observed: when it is noted.
        person: whose; None: that of everybody without one of their own.

    Raises:
        NotFoundError: there is no such session or person.
        RefusedError: it is no set point, or the session is not in the water.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    if fact.setting not in WATER:
        raise RefusedError(f"{fact.title} is not in the water: no set point is held there. Nothing was changed.")
    if person is not None:
        needed(ledger, Person, person, "person")
    text = bar.strip()
    if not is_decimal(text) or not LEAST_SET_POINT <= float(text) <= MOST_SET_POINT:
        raise RefusedError(
            f"{text!r} is no set point: write {LEAST_SET_POINT} to {MOST_SET_POINT} bar, such as 1.3. "
            "Nothing was changed."
        )
    before = tuple(one.event for one in fact.set_points if one.person == person)
    content = body(
        SetPointNoted, session=session, person=person, set_point_bar=text, replaces=before, observed=observed
    )  # fmt: skip
    ledger.append([draft(actor, content)])
