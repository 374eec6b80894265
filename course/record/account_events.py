"""Events of accounts: one was made or closed, a password or PIN was set, offices were given.

A hash is sealed with the key of the person, as their name is, and is a `Secret` beside that: no list, file or answer
holds it. What two laptops say of one account is settled in `account_facts`.
"""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from course.record.body import Body, Id, PrivateLine, PrivateNote, Secret
from course.words import Office

SecretHash = Annotated[
    Annotated[str, Field(pattern=r"^\$argon2id\$[A-Za-z0-9+/=,$]{20,300}$")] | None,
    Secret(),
]
"""Algorithm, parameters, salt and hash in one line."""


class AccountMade(Body):
    """A person has an account, with the name by which they sign in."""

    kind: ClassVar[str] = "account_made/1"
    about: ClassVar[str] = "account"
    needed: ClassVar[tuple[str, ...]] = ("sign_in", "password_hash")

    account: Id
    person: Id
    sign_in: PrivateLine = None
    password_hash: SecretHash = None
    must_change: bool
    """Somebody else chose the password, so it has to be changed before anything else."""


class PasswordSet(Body):
    """A password took the place of the one before."""

    kind: ClassVar[str] = "password_set/1"
    about: ClassVar[str] = "account"
    needed: ClassVar[tuple[str, ...]] = ("password_hash",)

    account: Id
    password_hash: SecretHash = None
    must_change: bool


class PinSet(Body):
    """A PIN took the place of the one before; without one the PIN was taken away."""

    kind: ClassVar[str] = "pin_set/1"
    about: ClassVar[str] = "account"

    account: Id
    pin_hash: SecretHash = None


class SigningPinSet(Body):
    """Somebody without an account chose a PIN for their signature."""

    kind: ClassVar[str] = "signing_pin_set/1"
    about: ClassVar[str] = "signing_pin"
    needed: ClassVar[tuple[str, ...]] = ("pin_hash",)

    signing_pin: Id
    person: Id
    pin_hash: SecretHash = None


class SigningPinLetGo(Body):
    """A PIN for signing holds no more, since it was forgotten; it has no reason where its person was erased."""

    kind: ClassVar[str] = "signing_pin_let_go/1"
    about: ClassVar[str] = "signing_pin"

    signing_pin: Id
    why: PrivateNote = None


class OfficesGiven(Body):
    """These are the offices of whoever has the account; none of them takes all away."""

    kind: ClassVar[str] = "offices_given/1"
    about: ClassVar[str] = "account"

    account: Id
    offices: Annotated[tuple[Office, ...], Field(max_length=len(Office))]
    replaces: tuple[Id, ...] = ()
    """Earlier ones whose place this one takes: what the person who gave them had seen."""


class SignedIn(Body):
    """Whoever has the account signed in, or took a tablet over by PIN."""

    kind: ClassVar[str] = "signed_in/1"
    about: ClassVar[str] = "account"

    account: Id
    by_pin: bool


class SignedOut(Body):
    """Whoever has the account signed out; sessions that ended by themselves leave no such line."""

    kind: ClassVar[str] = "signed_out/1"
    about: ClassVar[str] = "account"

    account: Id
    everywhere: bool
    """All of their sessions ended."""


class AccountClosed(Body):
    """An account was closed, for good: whoever comes back gets another one."""

    kind: ClassVar[str] = "account_closed/1"
    about: ClassVar[str] = "account"

    account: Id


class AccountClosedAsLast(AccountClosed):
    """The same of the only account that was left: from then on nobody is asked who they are, and that was wanted.

    Where two laptops each closed what the other left, nobody wanted that, and people still have to sign in.
    """

    kind: ClassVar[str] = "account_closed/2"
