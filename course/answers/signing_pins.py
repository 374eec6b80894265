"""PINs by which people without an account confirm that a signature is theirs."""

from __future__ import annotations

from dataclasses import dataclass, field

from course.record.account_facts import SigningPin as SigningPinFact
from course.storage.ledger import Ledger
from course.storage.lookup import all_of


@dataclass(frozen=True)
class SigningPin:
    """Somebody's PIN for signing: for confirming alone, in no list, file or log."""

    id: str
    pin: str | None = field(repr=False)
    """The hash; None where the key that opens it is not here."""


def signing_pin_of(ledger: Ledger, person: str) -> SigningPin | None:
    """Return the PIN that somebody chose for signing; None where they never did, or it was let go.

    Of two that two laptops took the one that was chosen first holds, in the order of statements and by no clock.
    """
    found = signing_pins(ledger, person)
    if not found:
        return None
    first = min(found, key=lambda fact: next(ledger.events(fact.id)).order)
    opened = list(ledger.secrets(first)["by_event"].values())
    return SigningPin(first.id, opened[0].get("pin_hash") if opened else None)


def who_has_one(ledger: Ledger) -> frozenset[str]:
    """Return who has a PIN for signing."""
    return frozenset(one.person for one in all_of(ledger, SigningPinFact) if not (one.let_go or one.withdrawn))


def signing_pins(ledger: Ledger, person: str) -> list[SigningPinFact]:
    """Return every PIN for signing that somebody has: two where two laptops took one each."""
    return [one for one in all_of(ledger, SigningPinFact, person=person) if not (one.let_go or one.withdrawn)]
