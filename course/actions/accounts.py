"""Make and close accounts, set passwords and PINs, give offices. What opens an account is never told again.

Who looks after accounts cannot reach for the lead's: an administrator who could set the lead's password could sign in
the lead's name. Everybody changes their own password and PIN themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from functools import wraps
from threading import Lock
from typing import ParamSpec, TypeVar

from course.access import Act, may
from course.actions.drafting import allow, body, draft, living
from course.answers.accounts import (
    account_fact,
    account_named,
    account_of,
    accounts_of,
    holders_of,
    keepers,
    name_key,
)
from course.asker import refuse_other_name
from course.errors import NotFoundError, RefusedError
from course.moments import new_id
from course.record.account_facts import Account
from course.record.events import (
    AccountClosed,
    AccountClosedAsLast,
    AccountMade,
    Draft,
    OfficesGiven,
    PasswordSet,
    PersonAddedForOffice,
    PinSet,
)
from course.record.facts import Centre, Person
from course.storage.entrance import Entrance, Strength
from course.storage.ledger import Ledger
from course.storage.passwords import hashed_password, hashed_pin, is_right, may_be_pin
from course.words import Office, Role, plural

_P = ParamSpec("_P")
_R = TypeVar("_R")
_ONE_AT_A_TIME = Lock()


def _one_at_a_time(act: Callable[_P, _R]) -> Callable[_P, _R]:
    """What was looked at (is there an account, who is left) still holds when the event is saved."""

    @wraps(act)
    def acted(*args: _P.args, **named: _P.kwargs) -> _R:
        with _ONE_AT_A_TIME:
            return act(*args, **named)

    return acted


@_one_at_a_time
def make_account(
    ledger: Ledger, actor: str, person: str, *, name: str, password: str, offices: Collection[Office] = (),
) -> None:  # fmt: skip
    """Give somebody an account. A password that somebody else chose has to be changed at the first sign-in.

    Args:
        ledger: open for writing.
        actor: a lead or administrator.
        person: whose account it is.
        name: the name by which they sign in.
        password: the first one.
        offices: what they are to the centre beside teaching.

    Raises:
        NotFoundError: there is no such person.
        RefusedError: they have an account, the name is taken, the password cannot be used, or the first account of the
            centre is for somebody who could not make the others.
    """
    allow(ledger, actor, Act.ACCOUNT)
    who = living(ledger, person)
    _first_is_for_a_lead(ledger, who)
    if accounts_of(ledger, person):
        raise RefusedError("This person has an account already. Close it to make another. Nothing was changed.")
    if not (who.roles or offices):
        raise RefusedError(_NOTHING_TO_DO)
    ledger.append(_made(ledger, actor, person, name, password, offices))


@_one_at_a_time
def enter_for_office(
    ledger: Ledger, actor: str, *, shown_as: str, name: str, password: str, offices: Collection[Office]
) -> str:
    """Enter somebody who neither teaches nor learns here, such as an auditor, with an account; return their id.

    Raises:
        RefusedError: a name or the password cannot be used, no office is given, or there is no account yet.
    """
    allow(ledger, actor, Act.ACCOUNT)
    person = new_id()
    content = body(PersonAddedForOffice, person=person, roles=(), name=shown_as)
    if content.name is None:
        raise RefusedError("A person needs a name. Nothing was changed.")
    if not offices:
        raise RefusedError(_NOTHING_TO_DO)
    if not _open(ledger):
        raise RefusedError(_FIRST)
    entered = draft(actor, content, private_of=person)
    ledger.append([entered, *_made(ledger, actor, person, name, password, offices, shown_as)])
    return person


@_one_at_a_time
def close_account(ledger: Ledger, actor: str, person: str, *, last: bool = False) -> None:
    """Close somebody's account, for good. What they entered stays theirs.

    Args:
        ledger: open for writing.
        actor: a lead or administrator; for a lead's account a lead.
        person: whose.
        last: close the only account that is left, and go back to single-person mode.

    Raises:
        NotFoundError: they have no account.
        RefusedError: nobody could make and close accounts any more.
    """
    allow(ledger, actor, Act.ACCOUNT)
    _within_reach(ledger, actor, person)
    drafts = closing(ledger, actor, person, last=last)
    if not drafts:
        raise NotFoundError(_NO_ACCOUNT)
    ledger.append(drafts)


def closing(ledger: Ledger, actor: str, person: str, *, last: bool = False) -> list[Draft]:
    """Return what closes every account of somebody, to be appended with what else is done about them.

    Raises:
        RefusedError: nobody could make and close accounts any more.
    """
    ending = last and {fact.person for fact in _open(ledger)} == {person}
    kind = AccountClosedAsLast if ending else AccountClosed
    drafts = [draft(actor, body(kind, account=fact.id)) for fact in accounts_of(ledger, person)]
    if drafts and not ending:
        _somebody_is_left(ledger, person)
    return drafts


def set_password(ledger: Ledger, actor: str, person: str, password: str, *, own: bool) -> None:
    """Set a password in the place of the one before.

    Args:
        ledger: open for writing.
        actor: who sets it: the person, or a lead or administrator.
        person: whose.
        password: the new one.
        own: the person chose it. Otherwise it has to be changed at the next sign-in, and their PIN no longer holds.

    Raises:
        NotFoundError: they have no account.
        RefusedError: it cannot be used, it is the one that has to be changed, or the actor may not.
    """
    if own:
        _is_oneself(actor, person, "password")
    else:
        allow(ledger, actor, Act.ACCOUNT)
        _within_reach(ledger, actor, person)
    fact, before = _account(ledger, person), account_of(ledger, person)
    if own and before and before.must_change and is_right(before.password, password):
        raise RefusedError("This is the password that has to be changed. Choose another one. Nothing was changed.")
    hashed = hashed_password(password, _about(ledger, person, before.name if before else ""))
    content = body(PasswordSet, account=fact.id, password_hash=hashed, must_change=not own)
    ledger.append([draft(actor, content, private_of=person)])


def set_pin(ledger: Ledger, actor: str, person: str, pin: str | None) -> None:
    """Set one's own PIN in the place of the one before; None takes it away, which a lead or administrator may too.

    Raises:
        NotFoundError: they have no account.
        RefusedError: it cannot be used, or the actor may not.
    """
    if pin is not None or actor == person:
        _is_oneself(actor, person, "PIN")
    else:
        allow(ledger, actor, Act.ACCOUNT)
        _within_reach(ledger, actor, person)
    fact = _account(ledger, person)
    content = body(PinSet, account=fact.id, pin_hash=None if pin is None else hashed_pin(pin))
    ledger.append([draft(actor, content, private_of=person)])


@_one_at_a_time
def give_office(ledger: Ledger, actor: str, person: str, office: Office) -> None:
    """Give somebody with an account an office; one that they have is not given twice.

    Raises:
        NotFoundError: they have no account.
        RefusedError: the actor may not.
    """
    allow(ledger, actor, Act.ACCOUNT)
    _within_reach(ledger, actor, person)
    fact = _account(ledger, person)
    if office not in fact.offices:
        ledger.append([_offices(actor, fact, {*fact.offices, office})])


@_one_at_a_time
def take_office(ledger: Ledger, actor: str, person: str, office: Office) -> None:
    """Take an office from somebody; one that they do not have is not taken.

    Raises:
        NotFoundError: they have no account.
        RefusedError: nobody could make and close accounts any more, they would be left with nothing that they may do,
            or the actor may not.
    """
    allow(ledger, actor, Act.ACCOUNT)
    _within_reach(ledger, actor, person)
    fact = _account(ledger, person)
    left = set(fact.offices) - {office}
    if office not in fact.offices:
        return
    roles = holders_of(ledger, person) - {office}
    if not roles:
        raise RefusedError("That is all that this person is here. Close the account instead. Nothing was changed.")
    if not may(roles, Act.ACCOUNT):
        _somebody_is_left(ledger, person)
    ledger.append([_offices(actor, fact, left)])


def confirmed(ledger: Ledger, entrance: Entrance, person: str, given: str, address: str) -> Strength:
    """Look whether somebody who is about to act is who they say, and return by what they showed it.

    Digits as a PIN has them are looked at as the PIN, anything else as the password, so each is looked at once.
    Wrong ones are counted together with those at sign-in. What a PIN is enough for is the caller's to judge.

    Args:
        ledger: the centre's ledger.
        entrance: where wrong guesses are counted.
        person: who acts.
        given: password or PIN, as typed.
        address: where it was typed, as sign-in counts addresses.

    Raises:
        RefusedError: it is wrong, the password has to be changed first, or the next guess has to wait. Somebody without
            an account is told the same as for a wrong password, after as much work.
    """
    account = account_of(ledger, person)
    strength: Strength = "pin" if may_be_pin(given) else "password"
    counted = f"pin {person}" if strength == "pin" else name_key(account.name) if account else person
    if wait := entrance.guess(counted, address):
        raise RefusedError(f"Too many wrong tries. Wait {plural(wait, 'second')}, then try again. Nothing was changed.")
    kept = None if account is None else account.pin if strength == "pin" else account.password
    if not is_right(kept, given) or account is None:
        raise RefusedError("That is not the password or PIN. Nothing was changed.")
    entrance.right(counted, address)
    if account.must_change:
        raise RefusedError("Somebody else chose this password: change it first. Nothing was changed.")
    return strength


_NO_ACCOUNT = "This person has no account. Nothing was changed."
_NOTHING_TO_DO = "Somebody without a role needs an office, auditor or administrator. Nothing was changed."
_FIRST = (
    "The first account of a centre is for a lead instructor, who can make the others. Make that one first. "
    "Nothing was changed."
)


def _first_is_for_a_lead(ledger: Ledger, who: Person) -> None:
    if Role.LEAD not in who.roles and not _open(ledger):
        raise RefusedError(_FIRST)


def _made(
    ledger: Ledger, actor: str, person: str, name: str, password: str, offices: Collection[Office], shown_as: str = ""
) -> list[Draft]:
    """What makes an account."""
    account, hashed = new_id(), hashed_password(password, _about(ledger, person, name, shown_as))
    content = body(
        AccountMade, account=account, person=person, sign_in=name, password_hash=hashed, must_change=actor != person,
    )  # fmt: skip
    if content.sign_in is None or not name_key(content.sign_in):
        raise RefusedError("“Sign-in name” is empty. Nothing was changed.")
    if account_named(ledger, content.sign_in):
        raise RefusedError("Somebody signs in by that name already. Choose another one. Nothing was changed.")
    drafts = [draft(actor, content, private_of=person)]
    given = body(OfficesGiven, account=account, offices=_in_order(offices))
    return [*drafts, draft(actor, given)] if offices else drafts


def _about(ledger: Ledger, person: str, *names: str) -> list[str]:
    """Names that others would try first as this person's password."""
    centre, who = ledger.fact("centre", ledger.centre_id), ledger.fact("person", person)
    own = str(ledger.private(who).get("name") or "") if who else ""
    return [*names, own, centre.name if isinstance(centre, Centre) else ""]


def _offices(actor: str, fact: Account, offices: Iterable[Office]) -> Draft:
    content = body(OfficesGiven, account=fact.id, offices=_in_order(offices), replaces=fact.offices_given)
    return draft(actor, content)


def _in_order(offices: Iterable[Office]) -> tuple[Office, ...]:
    wanted = set(offices)
    return tuple(office for office in Office if office in wanted)


def _account(ledger: Ledger, person: str) -> Account:
    living(ledger, person)
    fact = account_fact(ledger, person)
    if fact is None:
        raise NotFoundError(_NO_ACCOUNT)
    return fact


def _open(ledger: Ledger) -> list[Account]:
    return [fact for fact in ledger.facts("account") if isinstance(fact, Account) and fact.open]


def _is_oneself(actor: str, person: str, what: str) -> None:
    refuse_other_name(actor)
    if actor != person:
        raise RefusedError(f"Everybody sets their own {what}. Nothing was changed.")


def _within_reach(ledger: Ledger, actor: str, person: str) -> None:
    """An administrator looks after accounts, and not after the lead's."""
    if Role.LEAD in holders_of(ledger, person) and Role.LEAD not in holders_of(ledger, actor):
        raise RefusedError("A lead's account is for a lead to change. Nothing was changed.")


def _somebody_is_left(ledger: Ledger, person: str) -> None:
    if not keepers(ledger) - {person}:
        raise RefusedError(
            "Nobody else with an account may make and close accounts. Give another lead an account, or somebody the "
            "office of administrator, first. Nothing was changed."
        )
