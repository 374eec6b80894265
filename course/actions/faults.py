"""Fault slips: plant a fault on a bench, show one in the water, note who found it, clear it, pass the list again.

A planted fault is a hazard made by training: with its slip the unit goes on hold, in one save, and stays out of the
water until every fault is cleared and the whole list was passed again. In the water no fault is ever made.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from course.access import Act
from course.actions.drafting import allow, body, draft
from course.actions.unit_care import planted_in, planted_title, releases
from course.errors import NotFoundError, RefusedError
from course.hours.unit_time import WATER, bookings
from course.moments import Observed, new_id
from course.record.events import FaultAnswered, FaultCleared, FaultSet, UnitHeld
from course.record.facts import Course, Session, Slip, Unit
from course.standards.planted import PlantedFault, fits
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, all_of, needed
from course.words import SETTING_WORDS, Role, SlipAnswer, SlipKind

_AGAIN = timedelta(minutes=1)
"""A second answer of one person to one slip within this time is a double tap, not a second try."""


def set_fault(
    ledger: Ledger,
    actor: str,
    *,
    session: str,
    how: SlipKind,
    fault: str,
    observed: Observed,
    unit: str | None = None,
    for_whom: Sequence[str] = (),
    bag: str | None = None,
) -> str:
    """Plant a fault in a unit on a bench, which holds the unit; or show one in the water. Returns the slip's id.

    Args:
        ledger: open for writing.
        actor: who plants or shows it.
        session: where; dry for a planted fault, pool or open water for a shown one.
        how: planted or shown.
        fault: of the adopted planted faults; for a shown one the skill that answers it.
        observed: when.
        unit: the unit in which it is planted; none for a shown one.
        for_whom: who is to find or answer it; a shown one needs somebody.
        bag: what stands on the bag in which a part that was taken out waits.

    Raises:
        NotFoundError: there is no such session, unit, fault or skill.
        RefusedError: something does not fit (told what); nothing was changed.
    """
    allow(ledger, actor, Act.CARE)
    of_session = needed(ledger, Session, session, "session")
    of_course = needed(ledger, Course, of_session.course, "course")
    if of_session.frozen_by:
        raise RefusedError(f"{of_session.title} is frozen after an incident: no fault is set. Nothing was changed.")
    _refuse_strangers(of_course, actor, for_whom)
    slip = new_id()
    content = body(
        FaultSet, slip=slip, course=of_course.id, session=session, how=how, fault=fault, unit=unit,
        for_whom=tuple(for_whom), bag=bag or None, observed=observed,
    )  # fmt: skip
    drafts = [draft(actor, content)]
    if how == SlipKind.PLANTED:
        held = _refuse_unplantable(ledger, of_course, of_session, content)
        drafts.append(draft(actor, body(UnitHeld, unit=held, hold=new_id(), observed=observed, slip=slip)))
    else:
        _refuse_unshowable(ledger, of_course, of_session, content)
    ledger.append(drafts)
    return slip


def answer_fault(
    ledger: Ledger,
    actor: str,
    slip: str,
    person: str,
    answer: SlipAnswer,
    observed: Observed,
    *,
    replaces: str | None = None,
    note: str | None = None,
) -> None:
    """Note what one person made of a fault. Another answer of theirs is another try, unless it replaces one.

    Raises:
        NotFoundError: there is no such slip, or no such answer to replace.
        RefusedError: the person is not on the course or set the fault, it was not set yet, or it is told already.
    """
    allow(ledger, actor, Act.CARE)
    fact = needed(ledger, Slip, slip, "fault slip")
    of_course = needed(ledger, Course, fact.course, "course")
    _refuse_strangers(of_course, fact.set_by, [person])
    if observed.moment < fact.observed.moment:
        raise RefusedError("Nobody answers a fault before it was set. Nothing was changed.")
    if replaces is not None and replaces not in {reply.event for reply in fact.replies}:
        raise NotFoundError("This slip has no such answer to put right. Nothing was changed.")
    near = [r for r in fact.replies if r.person == person and r.answer == answer and r.event != replaces]
    if any(abs(observed.moment - reply.observed.moment) < _AGAIN for reply in near):
        raise RefusedError("This answer was noted a moment ago. Another try can be noted in a minute.")
    content = body(
        FaultAnswered, slip=slip, person=person, answer=answer, replaces=(replaces,) if replaces else (),
        observed=observed, note=note or None,
    )  # fmt: skip
    ledger.append([draft(actor, content, private_of=person)])


def clear_fault(ledger: Ledger, actor: str, slip: str, observed: Observed, note: str | None = None) -> None:
    """Note that a planted fault was taken out again; the unit stays on hold until its whole list is passed.

    Raises:
        NotFoundError: there is no such slip.
        RefusedError: it is cleared already, was shown only, or would be cleared before it was planted.
    """
    allow(ledger, actor, Act.CARE)
    fact = needed(ledger, Slip, slip, "fault slip")
    if fact.how == SlipKind.SHOWN:
        raise RefusedError("This fault was only shown: there is nothing to clear. Nothing was changed.")
    if fact.cleared is not None:
        raise RefusedError(f"{planted_title(ledger, fact)} is cleared already. Nothing was changed.")
    if observed.moment < fact.observed.moment:
        raise RefusedError("A fault is not cleared before it was planted. Nothing was changed.")
    ledger.append([draft(actor, body(FaultCleared, slip=slip, observed=observed, note=note or None))])


def pass_list_again(
    ledger: Ledger, actor: str, unit: str, observed: Observed, *, passed_by: str, why: str | None = None
) -> tuple[str, ...]:
    """Say who saw a unit's whole list passed after its faults were cleared; lifts their holds and returns their ids.

    Raises:
        NotFoundError: there is no such unit or person.
        RefusedError: no planted fault holds the unit, one is still in it, or the person may not say so.
    """
    allow(ledger, actor, Act.RELEASE)
    fact = needed(ledger, Unit, unit, "unit")
    holds = [one for one in fact.held if one.slip]
    if not holds:
        raise RefusedError(f"{fact.label} is not on hold for a planted fault. Nothing was changed.")
    ledger.append(releases(ledger, actor, fact, holds, observed, why=why, list_passed_by=passed_by))
    return tuple(one.id for one in holds)


def _refuse_strangers(of_course: Course, set_by: str, people: Sequence[str]) -> None:
    members = {member.person for member in of_course.members}
    if set_by in people:
        raise RefusedError("Whoever sets a fault knows it, and does not look for it. Nothing was changed.")
    if not members.issuperset(people):
        raise RefusedError("Somebody named here is not on the course. Nothing was changed.")


def _refuse_unplantable(ledger: Ledger, of_course: Course, session: Session, slip: FaultSet) -> str:
    """Return the unit in which a fault may be planted, after every check."""
    if session.setting != "dry":
        raise RefusedError(
            f"A fault is planted on a bench only, and {session.title} is {SETTING_WORDS[session.setting]}. In the "
            "water faults are shown on a slip, never made. Nothing was changed."
        )
    if slip.unit is None:
        raise RefusedError("Say in which unit the fault is planted. Nothing was changed.")
    standards = adopted(ledger, of_course.adoption).standards
    unit, fault = needed(ledger, Unit, slip.unit, "unit"), standards.planted_fault(slip.fault)
    if not fits(fault, standards.skills, standards.unit_type(unit.unit_type)):
        raise RefusedError(
            f"{fault.title} is not for {unit.label}: no step that could find it is for its unit type. "
            "Nothing was changed."
        )
    _refuse_planted_twice(ledger, unit, fault)
    _refuse_in_water(ledger, unit, slip.observed.moment)
    return unit.id


def _refuse_planted_twice(ledger: Ledger, unit: Unit, fault: PlantedFault) -> None:
    if any(one.fault == fault.id and one.cleared is None for one in planted_in(ledger, unit)):
        raise RefusedError(f"{fault.title} is planted in {unit.label} already. Nothing was changed.")


def _refuse_in_water(ledger: Ledger, unit: Unit, moment: datetime) -> None:
    for of_course in all_of(ledger, Course):
        sessions = [
            s
            for s in all_of(ledger, Session, course=of_course.id)
            if s.setting in WATER and s.start.moment <= moment < s.end.moment
        ]
        learners = of_course.people(Role.STUDENT, Role.CANDIDATE)
        for booking in bookings(of_course, sessions, learners):
            if booking.unit == unit.id and booking.start <= moment < booking.end:
                title = next(s.title for s in sessions if s.id == booking.session)
                raise RefusedError(
                    f"{unit.label} is booked for the water at this very time ({title}). Plant the fault in a unit "
                    "that stays on the bench. Nothing was changed."
                )


def _refuse_unshowable(ledger: Ledger, of_course: Course, session: Session, slip: FaultSet) -> None:
    if session.setting not in WATER:
        raise RefusedError(
            f"A fault is shown in the water only, and {session.title} is {SETTING_WORDS[session.setting]}. On a bench "
            "it is planted. Nothing was changed."
        )
    if slip.unit is not None or slip.bag is not None:
        raise RefusedError(
            "In the water faults are shown, never made: a shown fault has no unit and no bag. Nothing was changed."
        )
    if not slip.for_whom:
        raise RefusedError("Say to whom the fault is shown. Nothing was changed.")
    standards = adopted(ledger, of_course.adoption).standards
    skill = standards.skill(slip.fault)
    if session.setting not in skill.setting:
        raise RefusedError(f"{skill.title} is not for {SETTING_WORDS[session.setting]}. Nothing was changed.")
    day = session.start.local.date().isoformat()
    for person in slip.for_whom:
        assigned = of_course.assignment(person, day)
        if not applies(skill, standards.unit_types.get(assigned.unit_type) if assigned else None):
            raise RefusedError(
                f"{skill.title} is not for the unit of everybody named here. Choose another fault, or show it to "
                "fewer. Nothing was changed."
            )
