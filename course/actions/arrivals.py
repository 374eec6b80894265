"""A student who goes on at another centre or comes from one: consent, a file that arrived, what the lead accepts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from course.access import Act
from course.actions import amending
from course.actions.drafting import allow, body, draft, living, told
from course.answers.arrival import acceptable, rehearse
from course.answers.course_view import CourseView, view
from course.answers.paper_verdict import Shown
from course.answers.transfer import consent_to_transfer
from course.asker import refuse_unconfirmed
from course.errors import NotFoundError, RefusedError
from course.moments import new_id, now, observed_at
from course.record.arrival_events import ArrivedFromElsewhere, ArrivedSkill, ElsewhereAccepted, TransferAgreed
from course.record.arrival_facts import Accepted, Arrival
from course.record.centre_key import CentreKey
from course.record.events import Corrected, Withdrawn
from course.record.signing_events import Confirmed
from course.record.statements import live_statements
from course.storage.ledger import Ledger
from course.storage.lookup import needed
from course.words import Role


def note_consent(ledger: Ledger, actor: str, course: str, student: str, *, day: str, given_to: str) -> str:
    """Note that a student agrees to be given on to another centre; returns the consent's id.

    Raises:
        RefusedError: nobody on the course, to whom is missing, or the person may not set this up.
    """
    allow(ledger, actor, Act.SET_UP)
    seen = view(ledger, course)
    _refuse_other(ledger, seen, student)
    if not given_to.strip():
        raise RefusedError("Say to which centre. Nothing was changed.")
    before = consent_to_transfer(ledger, seen, student)
    content = body(
        TransferAgreed, transfer=new_id(), course=course, student=student, day=day, given_to=given_to,
        replaces=(before.id,) if before else (),
    )  # fmt: skip
    ledger.append([draft(actor, content, private_of=student)])
    return content.transfer


def note_arrival(
    ledger: Ledger,
    actor: str,
    course: str,
    student: str,
    shown: Shown,
    keys: Sequence[CentreKey] | None,
    sure: str | None = None,
) -> str:
    """Note what arrived of a student from another centre; returns the arrival's id. Nothing counts by that.

    Of a file that arrived before with a key that nobody had pinned, it is noted that its key is pinned now.

    Args:
        shown: what was read from the file.
        keys: public keys of the other centre that somebody pinned; None: none were given.
        sure: why it is the same person where the file calls them otherwise.

    Raises:
        RefusedError: as for `rehearse`; it arrived before, it is another person's, or the person does not lead here.
    """
    seen = _leading(ledger, actor, course)
    _refuse_other(ledger, seen, student)
    found = rehearse(ledger, seen, student, shown, keys)
    if found.now_pinned:
        _note_key(ledger, actor, found.id, student)
        return found.id
    if found.known:
        raise RefusedError(f"{found.known} Nothing was changed.")
    born = seen.people[student].birth_year
    carried = found.carried
    if born and carried.birth_year and born != carried.birth_year:
        raise RefusedError("The file is of somebody born in another year: another person's. Nothing was taken in.")
    if found.person and not (sure or "").strip():
        raise RefusedError(
            "The file calls this person otherwise. If it is the same person, say how you know. Nothing was taken in."
        )
    content = body(
        ArrivedFromElsewhere,
        arrival=found.id,
        course=course,
        student=student,
        file=found.file,
        from_centre=carried.from_centre,
        from_course=carried.from_course,
        from_student=carried.from_student,
        as_of=carried.as_of,
        signature=found.signature,
        key=found.key,
        skills=tuple(ArrivedSkill(**{n: getattr(one, n) for n in ArrivedSkill.model_fields}) for one in carried.skills),
        amounts=carried.amounts,
        observed=observed_at(now(), seen.course.zone),
        centre_name=carried.centre,
        titles={one.skill: one.title for one in carried.skills} or None,
        sure=sure if found.person else None,
    )
    ledger.append([draft(actor, content, private_of=student)])
    return found.id


def _note_key(ledger: Ledger, actor: str, arrival: str, student: str) -> None:
    """The line about an arrival stands; whose key signed it is corrected."""
    first = next(event.id for event in ledger.events(arrival) if event.kind == ArrivedFromElsewhere.kind)
    content = body(
        Corrected, thing=arrival, corrects=first, change={"signature": "pinned"}, why="Its key was pinned since."
    )
    ledger.append([draft(actor, content, private_of=student)])


def accept(
    ledger: Ledger,
    actor: str,
    arrival: str,
    item: str,
    *,
    as_of: date,
    amount: int | None = None,
    reason: str,
    confirmed_with: Confirmed | None = None,
) -> str:
    """Accept one thing of what arrived; returns the event's id. Accepting it anew takes the place of what was before.

    Args:
        item: "hours:KIND", "count:KIND" or "skill:ID".
        amount: how many minutes or times count here, at most what the file says; None for a skill.

    Raises:
        NotFoundError: there is no such arrival, or it was withdrawn.
        RefusedError: the file does not say so much, these requirements do not ask for it, an earlier file of the same
            record counts for it, no reason is given, or the person does not lead the course.
    """
    allow(ledger, actor, Act.SIGN)
    refuse_unconfirmed(confirmed_with)
    fact = needed(ledger, Arrival, arrival, "arrival")
    seen = _leading(ledger, actor, fact.course)
    living(ledger, fact.student)
    _refuse_item(seen, fact, item, amount, as_of)
    content = body(
        ElsewhereAccepted,
        arrival=arrival,
        item=item,
        amount=None if item.startswith("skill:") else amount,
        replaces=tuple(one.event for one in fact.accepted if one.item == item),
        observed=observed_at(now(), seen.course.zone),
        confirmed_with=confirmed_with,
        reason=told(reason),
    )
    made = draft(actor, content, private_of=fact.student)
    ledger.append([made])
    return made.id


def take_back(
    ledger: Ledger, actor: str, arrival: str, item: str, why: str, confirmed_with: Confirmed | None = None
) -> None:
    """Take back what was accepted of one thing; it counts no more, and stays to be read. Confirmed as accepting is.

    Raises:
        NotFoundError: there is no such arrival.
        RefusedError: nothing of it is accepted, no reason is given, or the person does not lead the course.
    """
    allow(ledger, actor, Act.SIGN)
    refuse_unconfirmed(confirmed_with)
    fact = needed(ledger, Arrival, arrival, "arrival")
    _leading(ledger, actor, fact.course)
    live = _accepted(fact, item)
    if live is None:
        raise RefusedError("Nothing of this is accepted. Nothing was changed.")
    amending.withdraw(ledger, actor, live.event, why, confirmed_with)


def take_back_file(ledger: Ledger, actor: str, arrival: str, why: str, confirmed_with: Confirmed | None = None) -> None:
    """Take a whole arrival back: nothing of it counts any more, and it stays to be read. Confirmed as accepting is.

    Raises:
        NotFoundError: there is no such arrival, or it was taken back.
        RefusedError: no reason is given, it was not confirmed, or the person does not lead the course.
    """
    allow(ledger, actor, Act.SIGN)
    refuse_unconfirmed(confirmed_with)
    fact = needed(ledger, Arrival, arrival, "arrival")
    _leading(ledger, actor, fact.course)
    amending.withdraw(ledger, actor, _arrived(ledger, arrival), why, confirmed_with)


def hold_again(ledger: Ledger, actor: str, arrival: str, why: str, confirmed_with: Confirmed | None = None) -> None:
    """Say that an arrival that was taken back holds after all, with what was accepted of it. Confirmed as accepting is.

    Raises:
        RefusedError: it holds, no reason is given, it was not confirmed, or the person does not lead the course.
    """
    allow(ledger, actor, Act.SIGN)
    refuse_unconfirmed(confirmed_with)
    fact = ledger.fact("arrival", arrival)
    if not isinstance(fact, Arrival) or not fact.withdrawn:
        raise RefusedError("This file was not taken back. Nothing was changed.")
    _leading(ledger, actor, fact.course)
    living(ledger, fact.student)
    own = _arrived(ledger, arrival)
    back = [
        amending.withdrawal(one.event, why, confirmed_with)
        for one in live_statements(ledger.events(arrival))
        if isinstance(one.body, Withdrawn) and one.body.withdraws == own and not one.withdrawn
    ]  # two laptops may each have taken it back
    ledger.append([draft(actor, one, private_of=fact.student) for one in back])


def _arrived(ledger: Ledger, arrival: str) -> str:
    return next(one.id for one in ledger.events(arrival) if one.kind == ArrivedFromElsewhere.kind)


def _leading(ledger: Ledger, actor: str, course: str) -> CourseView:
    allow(ledger, actor, Act.SIGN)
    seen = view(ledger, course)
    if actor not in seen.course.people(Role.LEAD):
        raise RefusedError(
            "What comes from elsewhere is taken in by the lead of this course alone. Nothing was changed."
        )
    return seen


def _refuse_other(ledger: Ledger, seen: CourseView, student: str) -> None:
    living(ledger, student)
    if student not in seen.students:
        raise RefusedError(f"This person is no {seen.profile.for_whom} of the course. Nothing was changed.")


def _refuse_item(seen: CourseView, fact: Arrival, item: str, amount: int | None, as_of: date) -> None:
    if item not in acceptable(seen, fact, as_of):
        raise NotFoundError(
            "The file says nothing of this, or these requirements do not ask for it. Nothing was changed."
        )
    if item.startswith("skill:"):
        return
    there = fact.amount_of(item) or 0
    if amount is None or not 0 < amount <= there:
        raise RefusedError(f"The file tells of {there}: accept from 1 to {there}. Nothing was changed.")
    others = [one for one in seen.arrivals if one.origin == fact.origin and one.id != fact.id]
    if any(_accepted(one, item) for one in others):
        raise RefusedError(
            "Another file of the same record counts for this already, and both tell of the same time. Take that back "
            "first. Nothing was changed."
        )


def _accepted(fact: Arrival, item: str) -> Accepted | None:
    return next((one for one in fact.accepted if one.item == item), None)
