"""Confirm at the act that a signature is one's own: by account, or by a PIN for signing where nobody has an account.

Such a PIN is chosen at the first signature and lets nobody in: the program stays in single-person mode. It shows that
whoever signs now is who signed first under that name on this ledger; who that was nobody but people can say.
"""

from __future__ import annotations

from course.access import Act
from course.actions.accounts import confirmed
from course.actions.drafting import allow, body, draft, living, told
from course.answers.accounts import any_account
from course.answers.signing_pins import signing_pin_of, signing_pins
from course.errors import NotFoundError, RefusedError
from course.moments import new_id
from course.record.events import Draft, SigningPinLetGo, SigningPinSet
from course.storage.entrance import Entrance, Strength
from course.storage.ledger import Ledger
from course.storage.passwords import LONGEST_PIN, SHORTEST_SIGNING_PIN, hashed_pin, is_right
from course.words import plural

_NONE_YET = (
    f"Whoever signs here for the first time chooses a PIN for signing, {SHORTEST_SIGNING_PIN} to {LONGEST_PIN} digits: "
    "type it in both fields, and keep it for the next signature. Nothing was signed."
)
_NO_KEY = (
    "This person's PIN for signing was chosen on another laptop, and its key is not in this folder: bring the keys of "
    "that laptop, or let the PIN go. Nothing was signed."
)
_OTHERWISE = "The PIN was not typed the same in both fields. Type it once more. Nothing was signed."


def confirm(ledger: Ledger, entrance: Entrance, person: str, given: str, again: str, address: str) -> Strength:
    """Look whether whoever is about to sign is who they say, and return by what they showed it.

    Args:
        ledger: open for writing.
        entrance: where wrong guesses are counted.
        person: who signs.
        given: password or PIN, as typed.
        again: the same PIN, where it is chosen now; else it is not looked at.
        address: where it was typed, as sign-in counts addresses.

    Raises:
        RefusedError: it is wrong, the next guess has to wait, or a PIN that is chosen now cannot be used.
    """
    if any_account(ledger):
        return confirmed(ledger, entrance, person, given, address)
    known = signing_pin_of(ledger, person)
    if known is None:
        choose_signing_pin(ledger, person, given, again)
        return "pin"
    if known.pin is None:
        raise RefusedError(_NO_KEY)
    counted = f"pin {person}"
    if wait := entrance.guess(counted, address):
        raise RefusedError(f"Too many wrong tries. Wait {plural(wait, 'second')}, then try again. Nothing was signed.")
    if not is_right(known.pin, given):
        raise RefusedError("That is not this person's PIN for signing. Nothing was signed.")
    entrance.right(counted, address)
    return "pin"


def choose_signing_pin(ledger: Ledger, actor: str, pin: str, again: str) -> None:
    """Choose one's own PIN for signing, where there is none.

    Raises:
        RefusedError: it cannot be used, was typed otherwise the second time, or there is one already.
    """
    allow(ledger, actor, Act.SIGN)
    living(ledger, actor)
    if signing_pins(ledger, actor):
        raise RefusedError("This person has a PIN for signing. Let it go first to choose another. Nothing was changed.")
    if not (pin and again):
        raise RefusedError(_NONE_YET)
    if pin != again:
        raise RefusedError(_OTHERWISE)
    content = body(SigningPinSet, signing_pin=new_id(), person=actor, pin_hash=hashed_pin(pin, SHORTEST_SIGNING_PIN))
    ledger.append([draft(actor, content, private_of=actor)])


def let_go_signing_pin(ledger: Ledger, actor: str, person: str, why: str) -> None:
    """Let somebody's PIN for signing go, such as when it is forgotten; they choose another at their next signature.

    Raises:
        NotFoundError: there is none.
        RefusedError: no reason is given, or the actor may not.
    """
    allow(ledger, actor, Act.ACCOUNT)
    found = letting_go(ledger, actor, person, told(why))
    if not found:
        raise NotFoundError("This person has no PIN for signing. Nothing was changed.")
    ledger.append(found)


def letting_go(ledger: Ledger, actor: str, person: str, why: str | None = None) -> list[Draft]:
    """Return what lets every PIN for signing of somebody go, to be appended with what else is done about them."""
    said = [body(SigningPinLetGo, signing_pin=one.id, why=why) for one in signing_pins(ledger, person)]
    return [draft(actor, one, private_of=person if why else None) for one in said]
