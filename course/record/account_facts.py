"""What is true of an account, from its statements.

Of two passwords that two laptops set, the later statement holds, by the order that settles all statements and never by
a clock; so for PINs. A password that somebody else set ends the PIN before it. Closed stays closed. Of offices that two
laptops gave without knowing of each other only those hold that both gave.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from course.record.account_events import (
    AccountClosed,
    AccountMade,
    OfficesGiven,
    PasswordSet,
    PinSet,
    SigningPinLetGo,
    SigningPinSet,
)
from course.record.facts import Fact
from course.record.statements import Statement, Statements
from course.words import Office


class Account(Fact):
    """One person's account. Its sign-in name and hashes are sealed; a closed one has none in the tables any more."""

    person: str
    closed: bool = False
    must_change: bool
    password_event: str
    """The event whose password holds."""
    pin_event: str | None = None
    """The event whose PIN holds; None: there is no PIN."""
    offices: tuple[Office, ...] = ()
    offices_given: tuple[str, ...] = ()
    """Events of offices that no other takes the place of: the next one names them."""

    @property
    def open(self) -> bool:
        """Whether somebody can sign in with it."""
        return not (self.closed or self.withdrawn)


class SigningPin(Fact):
    """The PIN by which somebody without an account confirms that a signature is theirs."""

    person: str
    let_go: bool = False


def build_signing_pin(founding: Statement, statements: Statements, shared: dict[str, Any]) -> SigningPin:
    """Return what is true of a signing PIN: let go stays let go, and another is another one."""
    chosen = founding.body
    if not isinstance(chosen, SigningPinSet):
        raise TypeError(f"{founding.event.kind} makes no signing PIN")
    gone = any(isinstance(s.body, SigningPinLetGo) for s in statements)
    private = () if gone else tuple(piece for piece in shared["private"] if piece.founding)
    return SigningPin(
        id=founding.event.subject, person=chosen.person, let_go=gone, **(shared | {"private": private})
    )  # fmt: skip


def build_account(founding: Statement, statements: Statements, shared: dict[str, Any]) -> Account:
    """Return what is true of an account."""
    made = founding.body
    if not isinstance(made, AccountMade):
        raise TypeError(f"{founding.event.kind} makes no account")
    live = [(s, s.body) for s in statements if not s.withdrawn or s is founding]
    password, must_change, pin = founding.event.id, made.must_change, None
    for statement, body in live:
        if isinstance(body, PasswordSet):
            password, must_change = statement.event.id, body.must_change
            pin = None if body.must_change else pin
        elif isinstance(body, PinSet):
            pin = statement.event.id if body.sealed else None
    closed = any(isinstance(body, AccountClosed) for body in (s.body for s in statements))
    kept = set() if closed or founding.withdrawn else {founding.event.id, password, pin}
    private = tuple(piece for piece in shared["private"] if piece.event in kept)
    offices, given = _offices([(s.event.id, body) for s, body in live if isinstance(body, OfficesGiven)])
    return Account(
        id=founding.event.subject, person=made.person, closed=closed, must_change=must_change, password_event=password,
        pin_event=pin, offices=offices, offices_given=given, **(shared | {"private": private}),
    )  # fmt: skip


def _offices(said: Sequence[tuple[str, OfficesGiven]]) -> tuple[tuple[Office, ...], tuple[str, ...]]:
    replaced = {earlier for _, body in said for earlier in body.replaces}
    live = [(event, set(body.offices)) for event, body in said if event not in replaced]
    both = set.intersection(*(offices for _, offices in live)) if live else set()
    return tuple(office for office in Office if office in both), tuple(event for event, _ in live)
