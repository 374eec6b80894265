"""What all actions share: who may act, and events whose faults are told as sentences."""

from __future__ import annotations

from typing import Any, TypeVar

from pydantic import ValidationError

from course.access import Act, may, require
from course.actions.field_words import field_words
from course.answers.accounts import account_fact, any_account, holders_of
from course.answers.signing_pins import signing_pins
from course.asker import asking, refuse_other_name, refuse_unconfirmed
from course.errors import RefusedError
from course.moments import new_id
from course.record import facts
from course.record.events import Body, Draft, plain_faults
from course.record.signing_events import Confirmed
from course.storage.ledger import Ledger
from course.storage.lookup import needed

_B = TypeVar("_B", bound=Body)


def body(model: type[_B], **fields: Any) -> _B:
    """Make an event's body.

    Raises:
        RefusedError: the fields do not fit, told field by field; nothing was changed.
    """
    try:
        return model.model_validate({name: value for name, value in fields.items() if value is not None})
    except ValidationError as error:
        raise RefusedError(f"{plain_faults(error, field_words(model.__name__))} Nothing was changed.") from None


def draft(actor: str, content: Body, *, private_of: str | None = None, event_id: str | None = None) -> Draft:
    """Make an event for the ledger; its id is made here unless it was made where the person acted."""
    return Draft(id=event_id or new_id(), actor=actor, body=content, private_of=private_of)


def allow(ledger: Ledger, actor: str, act: Act) -> facts.Person:
    """Return the acting person if they may do this, and are who is signed in where somebody has to be.

    Raises:
        NotFoundError: the acting person is not in this centre.
        RefusedError: they may not; OtherNameError where somebody else is signed in.
    """
    refuse_other_name(actor)
    return allow_for(ledger, actor, act)


def allow_for(ledger: Ledger, actor: str, act: Act) -> facts.Person:
    """Return the person if they may do this, whoever enters it: a sheet of paper is copied in by the lead too.

    Raises:
        NotFoundError: the acting person is not in this centre.
        RefusedError: they may not, or whoever is signed in may not.
    """
    person = living(ledger, actor, "acting person")
    asker = asking()
    if asker is not None:
        asker.require(act)
    if (asker is None or asker.person != actor) and not may(person.roles, act):
        # offices are looked up where they are needed alone: a tap costs nothing more
        require(holders_of(ledger, actor), act, offices=any_account(ledger))
    return person


def refuse_unconfirmed_of_known(ledger: Ledger, person: str, confirmed_with: Confirmed | None) -> None:
    """Ask whoever has a password or PIN for it; nobody is kept from a decision of the pool's day for want of one.

    Raises:
        RefusedError: they have one and did not give it.
    """
    if asking() is not None or account_fact(ledger, person) or signing_pins(ledger, person):
        refuse_unconfirmed(confirmed_with)


def refuse_erased(person: facts.Person) -> None:
    """Refuse an act by or about somebody whose data were erased.

    Raises:
        RefusedError: they were.
    """
    if person.erased:
        raise RefusedError(
            f"The personal data of this person (erased person {person.id[-6:]}) were erased: what was, stays counted, "
            "and nothing is added. Enter them anew if they come back. Nothing was changed."
        )


def living(ledger: Ledger, person: str, what: str = "person") -> facts.Person:
    """Return somebody about whom something can still be entered.

    Raises:
        NotFoundError: there is no such person.
        RefusedError: their data were erased.
    """
    found = needed(ledger, facts.Person, person, what)
    refuse_erased(found)
    return found


def told(why: str | None) -> str:
    """Return a reason that was given.

    Raises:
        RefusedError: there is none.
    """
    if not isinstance(why, str) or not why.strip():
        raise RefusedError("A reason is needed, in a few words. Nothing was changed.")
    return why
