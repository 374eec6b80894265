"""Accounts: who can sign in, by what name, in which roles and offices; who of two holds where laptops met.

Two laptops may have made two accounts of one person, or two people may have taken one name. The account that was made
first, in the order that settles all statements, holds until it is closed: nobody takes over a name that is in use.
Accounts are counted from the tables alone, so that a folder without its keys lets nobody in instead of everybody.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field

from course.access import HOLDER_WORDS, Act, Holder, Sight, may
from course.answers.people import known_people
from course.asker import question
from course.record.account_events import AccountClosed, AccountClosedAsLast
from course.record.account_facts import Account as AccountFact
from course.record.facts import Person
from course.record.text import clean_line
from course.storage.ledger import Ledger
from course.storage.lookup import all_of
from course.words import Office, Role, listed


@dataclass(frozen=True)
class Account:
    """An open account with what it is opened by: for signing in and confirming alone, in no list, file or log."""

    person: str
    name: str
    """The name by which they sign in."""
    password: str = field(repr=False)
    """The hash of the password."""
    pin: str | None = field(repr=False)
    """The hash of the PIN, if there is one."""
    must_change: bool
    """Somebody else chose the password."""
    roles: frozenset[Holder]


@dataclass(frozen=True)
class AccountLine:
    """An open account as a list shows it: nothing that opens it."""

    person: str
    shown: str
    sign_in: str
    """Empty where its key is not here."""
    roles: tuple[Role, ...]
    offices: tuple[Office, ...]
    must_change: bool
    has_pin: bool
    held_back: str
    """Why nobody gets in with it, as a sentence; empty where they do."""

    @property
    def sentence(self) -> str:
        """The account in one line."""
        holders: list[Holder] = [*self.roles, *self.offices]
        told = [f"{self.shown} signs in as {self.sign_in}" if self.sign_in else f"{self.shown} has an account"]
        told.append(listed([HOLDER_WORDS[holder] for holder in holders]) or "no role and no office")
        told.append("has a PIN" if self.has_pin else "no PIN")
        if self.must_change:
            told.append("has to change the password at the next sign-in")
        return f"{'; '.join(told)}.{' ' if self.held_back else ''}{self.held_back}"


def any_account(ledger: Ledger) -> bool:
    """Whether people have to sign in; else the program is in single-person mode.

    Accounts that are all closed leave nobody in as long as none was closed as the last one: two laptops may each have
    closed what the other left, and whoever met the two would else open the centre to everybody.
    """
    facts = _facts(ledger)
    return any(fact.open for fact in facts) or (bool(facts) and not _wanted_back(ledger, facts))


def account_named(ledger: Ledger, name: str) -> Account | None:
    """Return the open account with this sign-in name, however its letters are written; None where there is none."""
    wanted = name_key(name)
    if not wanted:
        return None
    found = [(fact, private["sign_in"]) for fact in _held(ledger) if (private := _opened(ledger, fact))]
    same = [fact for fact, sign_in in found if name_key(sign_in) == wanted]
    first = _first(ledger, same)
    return _account(ledger, first) if first else None


def account_of(ledger: Ledger, person: str) -> Account | None:
    """Return somebody's open account; None where there is none, or its key is not here."""
    fact = account_fact(ledger, person)
    return _account(ledger, fact) if fact else None


def holders_of(ledger: Ledger, person: str) -> frozenset[Holder]:
    """Return somebody's roles in the centre, and the offices that came with their account; nothing once erased."""
    who = ledger.fact("person", person)
    if not isinstance(who, Person) or who.withdrawn or who.erased:
        return frozenset()
    account = account_fact(ledger, person)
    return frozenset({*who.roles, *(account.offices if account else ())})


def account_fact(ledger: Ledger, person: str) -> AccountFact | None:
    """Return the account of somebody that holds, without what opens it."""
    return _first(ledger, accounts_of(ledger, person))


def accounts_of(ledger: Ledger, person: str) -> list[AccountFact]:
    """Return every open account of somebody: two where two laptops made one each."""
    return [fact for fact in all_of(ledger, AccountFact, person=person) if fact.open]


def keepers(ledger: Ledger) -> frozenset[str]:
    """Return who has an open account and may make and close accounts."""
    return frozenset(
        fact.person for fact in _held(ledger) if may(holders_of(ledger, fact.person), Act.ACCOUNT)
    )  # fmt: skip


def with_pin(ledger: Ledger) -> dict[str, str]:
    """Return who can be switched to by PIN, id to name as shown."""
    return {line.person: line.shown for line in _lines(ledger) if line.has_pin and not line.held_back}


@question(Sight.PEOPLE)
def account_lines(ledger: Ledger) -> tuple[AccountLine, ...]:
    """Return every open account as a list shows it, by name."""
    return _lines(ledger)


def _lines(ledger: Ledger) -> tuple[AccountLine, ...]:
    facts = [fact for fact in _facts(ledger) if fact.open]
    asked = [ledger.fact("person", person) for person in {fact.person for fact in facts}]
    known = known_people(ledger, [one for one in asked if isinstance(one, Person)])
    lines = []
    for fact in facts:
        who, sign_in = known.get(fact.person), str(_opened(ledger, fact).get("sign_in", ""))
        lines.append(AccountLine(
            person=fact.person, shown=who.shown if who else f"person {fact.person[-6:]}", sign_in=sign_in,
            roles=who.roles if who else (), offices=fact.offices, must_change=fact.must_change,
            has_pin=fact.pin_event is not None, held_back=_held_back(ledger, fact, sign_in),
        ))  # fmt: skip
    return tuple(sorted(lines, key=lambda line: (line.shown.casefold(), line.sign_in)))


def name_key(name: str) -> str:
    """Return a sign-in name as names are compared: NFC and without case; empty for what can be no name."""
    try:
        clean = clean_line(name)
    except ValueError:
        return ""
    return unicodedata.normalize("NFC", clean.casefold())


def _held_back(ledger: Ledger, fact: AccountFact, sign_in: str) -> str:
    if not sign_in:
        return "Its key is not in this folder: bring the keys of the laptop that has it, or close it."
    if account_fact(ledger, fact.person) != fact:
        return "This person has an earlier account, which holds; close that one, or this."
    first = account_named(ledger, sign_in)
    if first and first.person != fact.person:
        return "Somebody else signs in by this name, and was first: close this account and make one with another name."
    return ""


def _facts(ledger: Ledger) -> list[AccountFact]:
    return all_of(ledger, AccountFact)


def _wanted_back(ledger: Ledger, facts: Iterable[AccountFact]) -> bool:
    """Whether single-person mode is: by the closing that stands last in the order of statements."""
    told = (event for fact in facts for event in ledger.events(fact.id))
    closings = [event for event in told if event.kind in (AccountClosed.kind, AccountClosedAsLast.kind)]
    return bool(closings) and max(closings, key=lambda one: one.order).kind == AccountClosedAsLast.kind


def _held(ledger: Ledger) -> list[AccountFact]:
    """The open accounts that hold, one for each person."""
    by_person: dict[str, list[AccountFact]] = {}
    for fact in _facts(ledger):
        if fact.open:
            by_person.setdefault(fact.person, []).append(fact)
    return [first for same in by_person.values() if (first := _first(ledger, same))]


def _first(ledger: Ledger, facts: Iterable[AccountFact]) -> AccountFact | None:
    """The one that was made first, in the order of statements and by no clock."""
    found = list(facts)
    if len(found) < 2:
        return found[0] if found else None
    return min(found, key=lambda fact: next(ledger.events(fact.id)).order)


def _opened(ledger: Ledger, fact: AccountFact) -> dict[str, str]:
    """The sign-in name and the hashes that hold; empty without the key."""
    by_event = ledger.secrets(fact)["by_event"]
    password = by_event.get(fact.password_event, {}).get("password_hash")
    sign_in = next((part["sign_in"] for part in by_event.values() if "sign_in" in part), None)
    if not (password and sign_in):
        return {}
    pin = by_event.get(fact.pin_event or "", {}).get("pin_hash")
    return {"sign_in": sign_in, "password": password} | ({"pin": pin} if pin else {})


def _account(ledger: Ledger, fact: AccountFact) -> Account | None:
    private = _opened(ledger, fact)
    if not private:
        return None
    return Account(
        person=fact.person, name=private["sign_in"], password=private["password"], pin=private.get("pin"),
        must_change=fact.must_change, roles=holders_of(ledger, fact.person),
    )  # fmt: skip
