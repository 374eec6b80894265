"""Look after units: service, oxygen cells and scrubber fillings with their dates; hold a unit back, and lift the hold.

The dates are entered by whoever did or read them; nothing here judges whether a unit is fit to be dived.
"""

from __future__ import annotations

from collections.abc import Sequence

from course.access import Act, may
from course.actions.drafting import allow, body, draft, told
from course.answers.units import water_block
from course.errors import NotFoundError, RefusedError
from course.hours.unit_time import WATER
from course.moments import Observed, new_id
from course.record.events import Draft, UnitCared, UnitHeld, UnitReleased
from course.record.facts import Assignment, Course, Person, Session, Slip, Unit
from course.record.unit_facts import Hold
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, needed
from course.words import CARE_WORDS, Care, listed

FLOODED = "Flooded: water was in the loop. The manual says what a wet scrubber means, and what has to be done."
"""The reason that such a hold stands under."""


def record_care(
    ledger: Ledger,
    actor: str,
    unit: str,
    what: Care,
    observed: Observed,
    *,
    good_until: str | None = None,
    good_minutes: int | None = None,
    note: str | None = None,
) -> str:
    """Note a service, new cells or a new scrubber filling, with how long it is good for; returns the care's id.

    Raises:
        NotFoundError: there is no such unit.
        RefusedError: how long it is good for is missing, does not fit what was done, or lies before it.
    """
    allow(ledger, actor, Act.CARE)
    needed(ledger, Unit, unit, "unit")
    if what == Care.SCRUBBER and good_minutes is None:
        raise RefusedError("A scrubber filling needs its minutes, by the maker's manual. Nothing was changed.")
    if what != Care.SCRUBBER and (good_until is None or good_minutes is not None):
        raise RefusedError(
            f"{CARE_WORDS[what].capitalize()}: say until which day, by the maker's manual, and no minutes. "
            "Nothing was changed."
        )
    care = new_id()
    content = body(
        UnitCared, unit=unit, care=care, what=what, observed=observed, good_until=good_until,
        good_minutes=good_minutes, note=note or None,
    )  # fmt: skip
    if content.good_until is not None and content.good_until < observed.local.date().isoformat():
        raise RefusedError("It cannot be good until a day before it was done. Nothing was changed.")
    ledger.append([draft(actor, content)])
    return care


def hold(ledger: Ledger, actor: str, unit: str, observed: Observed, why: str) -> str:
    """Hold a unit back from the water, with a reason; returns the hold's id.

    Raises:
        NotFoundError: there is no such unit.
        RefusedError: no reason is given.
    """
    allow(ledger, actor, Act.CARE)
    needed(ledger, Unit, unit, "unit")
    content = body(UnitHeld, unit=unit, hold=new_id(), observed=observed, why=told(why))
    ledger.append([draft(actor, content)])
    return content.hold


def flooded(ledger: Ledger, actor: str, unit: str, observed: Observed, note: str | None = None) -> str:
    """Record that water was in a unit's loop, which holds it back; returns the hold's id.

    Nothing is computed of a flood: how much water, and what it did to the scrubber, nobody knows.

    Raises:
        NotFoundError: there is no such unit.
    """
    return hold(ledger, actor, unit, observed, f"{FLOODED} {note.strip()}" if note and note.strip() else FLOODED)


def release(
    ledger: Ledger,
    actor: str,
    unit: str,
    hold_id: str,
    observed: Observed,
    *,
    why: str | None = None,
    list_passed_by: str | None = None,
) -> None:
    """Lift one hold. After a planted fault that needs every fault cleared and the whole list passed; else a reason.

    Raises:
        NotFoundError: there is no such unit, hold or person.
        RefusedError: it is lifted already, or what lifts it is missing.
    """
    allow(ledger, actor, Act.RELEASE)
    fact = needed(ledger, Unit, unit, "unit")
    found = next((one for one in fact.holds if one.id == hold_id), None)
    if found is None:
        raise NotFoundError("This unit has no such hold. Nothing was changed.")
    if found.until is not None:
        raise RefusedError(f"This hold of {fact.label} is lifted already. Nothing was changed.")
    if found.slip is None:
        told(why)
    ledger.append(releases(ledger, actor, fact, [found], observed, why=why, list_passed_by=list_passed_by))


def refuse_held(ledger: Ledger, session: Session, assigned: Assignment | None, observed: Observed) -> None:
    """Refuse to begin an attempt in the water on a unit that is on hold.

    What was seen on one all the same is copied in from its slate, is kept, and is a finding.
    """
    unit = ledger.fact("unit", assigned.unit) if assigned and session.setting in WATER else None
    if isinstance(unit, Unit) and (why := water_block(unit, observed.moment)):
        raise RefusedError(f"{why} Nothing was changed.")


def releases(
    ledger: Ledger,
    actor: str,
    unit: Unit,
    holds: Sequence[Hold],
    observed: Observed,
    *,
    why: str | None,
    list_passed_by: str | None,
) -> list[Draft]:
    """Return the events that lift open holds of a unit, after it was checked that they may be lifted.

    Raises:
        NotFoundError: there is no such person.
        RefusedError: a planted fault stands in the way, the list was passed by nobody who may say so, or the hold is
            to end before it began.
    """
    if any(observed.moment < one.since.moment for one in holds):
        raise RefusedError(f"{unit.label} was not on hold yet at that time. Nothing was changed.")
    if any(one.slip for one in holds):
        _refuse_planted(ledger, unit, observed)
        _refuse_unpassed(ledger, unit, list_passed_by)
    elif list_passed_by is not None:
        _refuse_unpassed(ledger, unit, list_passed_by)
    return [
        draft(
            actor,
            body(
                UnitReleased, unit=unit.id, hold=one.id, observed=observed, list_passed_by=list_passed_by,
                why=why or None,
            ),
        )
        for one in holds
    ]  # fmt: skip


def planted_in(ledger: Ledger, unit: Unit) -> tuple[Slip, ...]:
    """Return the slips of planted faults that still hold a unit, cleared or not; one that was withdrawn is none."""
    slips = (ledger.fact("slip", one.slip) for one in unit.held if one.slip)
    return tuple(slip for slip in slips if isinstance(slip, Slip) and not slip.withdrawn)


def planted_title(ledger: Ledger, slip: Slip) -> str:
    """Return a planted fault's title by the rubrics that its course adopted."""
    adoption = needed(ledger, Course, slip.course, "course").adoption
    return adopted(ledger, adoption).standards.planted_fault(slip.fault).title


def _refuse_planted(ledger: Ledger, unit: Unit, observed: Observed) -> None:
    """A list that is passed with a fault still in the unit, or before it came out, proves nothing."""
    slips = planted_in(ledger, unit)
    if left := [planted_title(ledger, slip) for slip in slips if slip.cleared is None]:
        raise RefusedError(
            f"{unit.label} still has a planted fault in it: {listed(left)}. Clear it first, then pass the whole list "
            "again. Nothing was changed."
        )
    if any(slip.cleared and observed.moment < slip.cleared.moment for slip in slips):
        raise RefusedError(
            f"The list of {unit.label} counts only when it is passed after the fault was cleared. Nothing was changed."
        )


def _refuse_unpassed(ledger: Ledger, unit: Unit, list_passed_by: str | None) -> None:
    if list_passed_by is None:
        raise RefusedError(
            f"After a planted fault {unit.label} needs its whole list passed again: say who saw it. "
            "Nothing was changed."
        )
    if not may(needed(ledger, Person, list_passed_by, "person").roles, Act.RELEASE):
        raise RefusedError(
            "Only an instructor or a technician says that a unit's whole list was passed. Nothing was changed."
        )
