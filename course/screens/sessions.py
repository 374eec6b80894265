"""Signing in and out, and who a request or a page belongs to; no HTTP and no Streamlit in here.

What a session rests on (roles, password, for a PIN that too) goes with it as a hash. Once that is otherwise the
session is over, by whatever way it changed: a new role, a new password, an account that was closed, somebody erased.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from course.actions.accounts import make_account, set_password, set_pin
from course.actions.drafting import draft
from course.answers.accounts import (
    Account,
    account_fact,
    account_named,
    account_of,
    any_account,
    name_key,
    with_pin,
)
from course.answers.centre_answer import centre
from course.asker import Asker, asked_as
from course.errors import RefusedError, SignedOutError, StorageError
from course.record.events import Body, SignedIn, SignedOut
from course.screens.plain_http import neighbourhood
from course.storage.device import state_folder
from course.storage.entrance import Entrance, Session, Strength
from course.storage.passwords import is_right

NOT_RIGHT = "The name or the password is not right."
PIN_NOT_RIGHT = "That is not this person's PIN."
OUT = "Nobody is signed in here, or no longer. Sign in; what waits on this tablet is kept. Nothing was changed."
BY_PIN = "A PIN is not enough for this. Sign out, and sign in with your password first. Nothing was changed."
TO_CHANGE = "Choose a password of your own first: somebody else knows this one. Nothing was changed."


@dataclass(frozen=True)
class Entered:
    """How asking to be let in ended: a new token, or a sentence and how long to wait."""

    token: str = ""
    sentence: str = ""
    wait_seconds: int = 0
    must_change: bool = False


class Sessions:
    """Who is signed in at one centre.

    Args:
        entrance: keeps tokens and counts wrong guesses.
        ledger: gives the ledger that the screens work on.
    """

    def __init__(self, entrance: Entrance, ledger: Callable[[], Any]) -> None:
        self.entrance = entrance
        self._ledger = ledger
        self._kept: tuple[object, bool, dict[str, Account | None]] | None = None

    def needed(self) -> bool:
        """Whether somebody has to sign in: there is an account. Without one this is single-person mode."""
        return self._at_head()[0]

    def session(self, token: str | None) -> tuple[Session, Account] | None:
        """Return a session that still holds with its account; one whose grounds are gone is ended at once."""
        return self._session(token, self._at_head()[1])

    def _session(
        self, token: str | None, accounts: dict[str, Account | None], *, used: bool = True
    ) -> tuple[Session, Account] | None:
        found = self.entrance.who(token, used=used) if token else None
        if token is None or found is None:
            return None
        account = self._account(found.person, accounts)
        if account is None or grounds(account, found.strength) != found.grounds:
            self.entrance.end(token)
            return None
        return found, account

    def who(self, token: str | None, *, used: bool = True) -> Asker | None:
        """Return who asks with this token; None in single-person mode.

        Args:
            token: of the session.
            used: somebody asks, and no page by itself.

        Raises:
            SignedOutError: nobody is signed in with it, or they have to choose a password of their own first.
        """
        needed, accounts = self._at_head()
        if not needed:
            return None
        found = self._session(token, accounts, used=used)
        if found is None:
            raise SignedOutError(OUT)
        session, account = found
        if account.must_change:
            raise SignedOutError(TO_CHANGE)
        return Asker(account.person, account.roles, by_pin=session.strength == "pin", name=account.name)

    def sign_in(self, name: str, password: str, address: str, instead_of: str | None = None) -> Entered:
        """Look at a name and a password; an unknown name takes as long and is told the same as a wrong password."""
        at_door = self.session(instead_of) is None  # who is signed in already waits for nobody else's guesses
        account = account_named(self._ledger(), name)  # before it counts: a ledger that cannot be read is no guess
        if wait := self.entrance.guess(name_key(name), neighbourhood(address), at_door=at_door):
            return Entered(sentence=_wait_words(wait), wait_seconds=wait)
        if not is_right(account.password if account else None, password) or account is None:
            return Entered(sentence=NOT_RIGHT)
        self.entrance.right(name_key(name), neighbourhood(address), at_door=at_door)
        return Entered(self._begin(account, "password", instead_of), must_change=account.must_change)

    def switch(self, token: str | None, person: str, pin: str, address: str) -> Entered:
        """Hand a tablet on to somebody by PIN; somebody has to be signed in on it, whose session ends."""
        if self.session(token) is None:
            return Entered(sentence=OUT)
        account = self._account(person)
        if wait := self.entrance.guess(f"pin {person}", neighbourhood(address)):
            return Entered(sentence=_wait_words(wait), wait_seconds=wait)
        given = account.pin if account and not account.must_change else None
        if not is_right(given, pin) or account is None:
            return Entered(sentence=PIN_NOT_RIGHT)
        self.entrance.right(f"pin {person}", neighbourhood(address))
        return Entered(self._begin(account, "pin", token))

    def is_begun(self, token: str | None) -> bool:
        """Whether this is a session's token, as far as can be told while the ledger cannot be read."""
        return bool(token) and self.entrance.who(token or "", used=False) is not None

    def sign_out(self, token: str, *, everywhere: bool = False) -> None:
        """End a session, or every session of whoever it belongs to; also while the ledger cannot be read."""
        found = self.entrance.who(token)
        with contextlib.suppress(StorageError):
            holds = self.session(token)
            found = holds[0] if holds else None
        self.entrance.end(token)
        if found is None:
            return
        person = found.person
        if everywhere:
            self.entrance.end_all_of(person)
        self._note(person, lambda of: SignedOut(account=of, everywhere=everywhere))

    def change_password(self, token: str, before: str, new: str, address: str) -> Entered:
        """Put one's own new password in the place of the one before, which is asked for; all other sessions end.

        Raises:
            RefusedError: the new one cannot be used.
        """
        known = self._confirmed(token, before, address)
        if isinstance(known, Entered):
            return known
        with asked_as(Asker(known.person, known.roles)):
            set_password(self._ledger(), known.person, known.person, new, own=True)
        self.entrance.end_all_of(known.person)
        return Entered(self._begin(self._needed_account(known.person), "password", token))

    def change_pin(self, token: str, password: str, pin: str, address: str) -> Entered:
        """Set one's own PIN, or take it away with an empty one; the password is asked for.

        Raises:
            RefusedError: it is no PIN.
        """
        known = self._confirmed(token, password, address)
        if isinstance(known, Entered):
            return known
        set_pin(self._ledger(), known.person, known.person, pin or None)
        return Entered(self._begin(self._needed_account(known.person), "password", token))

    def first_account(self, name: str, password: str) -> Entered:
        """Make the first account, for the centre's lead, and sign in with it.

        Raises:
            RefusedError: there is one already, or the name or the password cannot be used.
        """
        ledger = self._ledger()
        if self.needed():
            raise RefusedError("There are accounts already. Sign in. Nothing was changed.")
        lead = centre(ledger).lead
        make_account(ledger, lead, lead, name=name, password=password)
        return Entered(self._begin(self._needed_account(lead), "password", None))

    def with_pin(self) -> dict[str, str]:
        """Return who can be switched to by PIN, id to name as shown."""
        return with_pin(self._ledger())

    def _confirmed(self, token: str, password: str, address: str) -> Account | Entered:
        """The account of whoever is signed in by password, with the password given once more."""
        found = self.session(token)
        if found is None:
            return Entered(sentence=OUT)
        if found[0].strength != "password":
            return Entered(sentence=BY_PIN)
        account = found[1]
        if wait := self.entrance.guess(name_key(account.name), neighbourhood(address)):
            return Entered(sentence=_wait_words(wait), wait_seconds=wait)
        if not is_right(account.password, password):
            return Entered(sentence="That is not the password that you have now. Nothing was changed.")
        self.entrance.right(name_key(account.name), neighbourhood(address))
        return account

    def _begin(self, account: Account, strength: Strength, instead_of: str | None) -> str:
        token = self.entrance.begin(account.person, strength, instead_of, grounds(account, strength))
        self._note(account.person, lambda of: SignedIn(account=of, by_pin=strength == "pin"))
        return token

    def _note(self, person: str, content: Callable[[str], Body]) -> None:
        """Say it in the ledger. One that takes nothing keeps nobody out: they have to see why."""
        ledger = self._ledger()
        with contextlib.suppress(StorageError):
            fact = account_fact(ledger, person)
            if fact is not None:
                ledger.append([draft(person, content(fact.id))])

    def _needed_account(self, person: str) -> Account:
        account = self._account(person)
        if account is None:
            raise SignedOutError(OUT)
        return account

    def _account(self, person: str, kept: dict[str, Account | None] | None = None) -> Account | None:
        kept = self._at_head()[1] if kept is None else kept
        if person not in kept:
            kept[person] = account_of(self._ledger(), person)
        return kept[person]

    def _at_head(self) -> tuple[bool, dict[str, Account | None]]:
        """What is known at the ledger's head, read once for each: an account is sealed, and asked for very often."""
        ledger = self._ledger()
        head = (id(ledger), *((one.chain, one.hash) for one in ledger.heads()))
        if self._kept is None or self._kept[0] != head:
            self._kept = (head, any_account(ledger), {})
        return self._kept[1], self._kept[2]


def sessions_of(ledger: Callable[[], Any]) -> Sessions:
    """Return the sessions of a centre on this machine, kept in the user's state folder.

    Raises:
        StorageError: they cannot be kept there.
    """
    return Sessions(Entrance(state_folder() / "entrance" / str(ledger().centre_id)), ledger)


def grounds(account: Account, strength: Strength) -> str:
    """Return a hash of all that a session of an account rests on."""
    parts = [account.person, account.password, *sorted(account.roles)]
    parts += [account.pin or ""] if strength == "pin" else []
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _wait_words(seconds: int) -> str:
    return f"Too many wrong tries. Wait {seconds} s and try again; nobody is locked out for good."
