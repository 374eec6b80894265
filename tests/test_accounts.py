"""Accounts: who may make, close and change them; what holds where laptops met; that no hash is ever told."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

import pytest
from centre_builder import Centre, tap
from event_examples import FIVE, ONE, SECRET_HASH, THREE, TWO, event, history
from hypothesis import given
from hypothesis import strategies as st

from course.access import Act
from course.actions import accounts
from course.actions.amending import correct, withdraw
from course.actions.centre import add_person, add_unit, make_centre
from course.actions.drafting import allow, draft
from course.actions.pad import take
from course.actions.privacy import erase_person, set_retention
from course.answers.accounts import (
    account_fact,
    account_lines,
    account_named,
    account_of,
    any_account,
    holders_of,
    keepers,
    name_key,
)
from course.answers.health import health
from course.answers.keeping import kept_until
from course.answers.own_data import own_data
from course.errors import CourseError, NotFoundError, RefusedError
from course.record import projection
from course.record.account_facts import Account
from course.record.events import AccountClosed, AccountMade, Body, OfficesGiven, PasswordSet, PinSet, Sealed
from course.record.facts import Centre as CentreFact
from course.record.facts import Person
from course.storage import passwords
from course.storage.entrance import Entrance
from course.storage.passwords import is_right
from course.words import Authority, Office, Role

FIRST, NEXT, OTHER = "seven grey seals dive", "a lamp under the pier", "nine loud gulls on ice"
OF_NAMES, OF_OTHERS = "amaru tendelle", "odo-penhallick-odo"


@pytest.fixture(autouse=True)
def _quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same hash with the least work: what it costs is tested in test_entrance.py."""
    quick = passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8)
    monkeypatch.setattr(passwords, "_hasher", quick)


def lead_account(c: Centre) -> Centre:
    """The small centre, its lead with an account."""
    accounts.make_account(c.ledger, c.lead, c.lead, name="Lien", password=FIRST)
    return c


def test_without_an_account_there_is_none_and_roles_are_those_of_the_person(small_centre: Centre) -> None:
    c = small_centre
    assert not any_account(c.ledger)
    assert account_of(c.ledger, c.lead) is None
    assert account_named(c.ledger, "Lien") is None
    assert holders_of(c.ledger, c.lead) == {Role.LEAD}
    assert holders_of(c.ledger, "nobody") == frozenset()


def test_an_account_is_found_by_its_name_however_that_is_typed(small_centre: Centre) -> None:
    c = small_centre
    accounts.make_account(c.ledger, c.lead, c.lead, name="Zo\u00eb Stra\u00dfe", password=FIRST)
    for typed in ("zoe\u0308 strasse", "ZO\u00cb  STRASSE".replace("  ", " "), " Zo\u00eb Stra\u00dfe "):
        found = account_named(c.ledger, typed)
        assert found is not None
        assert (found.person, found.name) == (c.lead, "Zo\u00eb Stra\u00dfe")
        assert is_right(found.password, FIRST)
        assert (found.pin, found.must_change, found.roles) == (None, False, {Role.LEAD})
    for typed in ("", "  ", "zoe", "zoe\u202e", "zo\n\u00eb"):
        assert account_named(c.ledger, typed) is None


def test_the_first_account_is_for_a_lead_and_nobody_has_two(small_centre: Centre) -> None:
    c = small_centre
    for person in (c.second, c.amaru):
        with pytest.raises(RefusedError, match="The first account of a centre is for a lead instructor"):
            accounts.make_account(c.ledger, c.lead, person, name="x", password=FIRST)
    with pytest.raises(RefusedError, match="first account of a centre"):
        accounts.enter_for_office(
            c.ledger, c.lead, shown_as="Odo", name="odo", password=FIRST, offices=[Office.AUDITOR]
        )
    lead_account(c)
    with pytest.raises(RefusedError, match="has an account already"):
        accounts.make_account(c.ledger, c.lead, c.lead, name="other", password=FIRST)
    with pytest.raises(RefusedError, match="Somebody signs in by that name already"):
        accounts.make_account(c.ledger, c.lead, c.second, name=" LIEN ", password=FIRST)


def test_a_password_that_somebody_else_chose_has_to_be_changed_into_another_one(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST)
    before = account_of(c.ledger, c.second)
    assert before is not None
    assert before.must_change
    with pytest.raises(RefusedError, match="the password that has to be changed"):
        accounts.set_password(c.ledger, c.second, c.second, FIRST, own=True)
    accounts.set_password(c.ledger, c.second, c.second, NEXT, own=True)
    after = account_of(c.ledger, c.second)
    assert after is not None
    assert (after.must_change, is_right(after.password, NEXT), is_right(after.password, FIRST)) == (False, True, False)


def test_a_password_that_is_set_by_somebody_else_ends_the_pin(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST)
    accounts.set_password(c.ledger, c.second, c.second, NEXT, own=True)
    accounts.set_pin(c.ledger, c.second, c.second, "4826")
    held = account_of(c.ledger, c.second)
    assert held is not None
    assert is_right(held.pin, "4826")
    accounts.set_password(c.ledger, c.second, c.second, OTHER, own=True)  # one's own leaves it
    assert getattr(account_of(c.ledger, c.second), "pin", None)
    accounts.set_password(c.ledger, c.lead, c.second, FIRST, own=False)
    reset = account_of(c.ledger, c.second)
    assert reset is not None
    assert (reset.pin, reset.must_change) == (None, True)


def test_everybody_sets_their_own_password_and_pin(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST)
    before = c.count()
    with pytest.raises(RefusedError, match="Everybody sets their own password"):
        accounts.set_password(c.ledger, c.lead, c.second, NEXT, own=True)
    with pytest.raises(RefusedError, match="Everybody sets their own PIN"):
        accounts.set_pin(c.ledger, c.lead, c.second, "4826")
    with pytest.raises(RefusedError, match="make and close accounts"):
        accounts.set_password(c.ledger, c.second, c.lead, NEXT, own=False)
    with pytest.raises(RefusedError, match="make and close accounts"):
        accounts.set_pin(c.ledger, c.second, c.lead, None)
    with pytest.raises(NotFoundError, match="has no account"):
        accounts.set_password(c.ledger, c.amaru, c.amaru, NEXT, own=True)
    assert c.count() == before
    accounts.set_pin(c.ledger, c.second, c.second, "4826")
    accounts.set_pin(c.ledger, c.lead, c.second, None)
    assert getattr(account_of(c.ledger, c.second), "pin", "") is None


# --- offices ---------------------------------------------------------------------------------------------------------


def test_an_office_comes_with_an_account_and_adds_to_the_roles(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    with pytest.raises(NotFoundError, match="has no account"):
        accounts.give_office(c.ledger, c.lead, c.second, Office.AUDITOR)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST)
    accounts.give_office(c.ledger, c.lead, c.second, Office.ADMINISTRATOR)
    assert holders_of(c.ledger, c.second) == {Role.INSTRUCTOR, Office.ADMINISTRATOR}
    before = c.count()
    accounts.give_office(c.ledger, c.lead, c.second, Office.ADMINISTRATOR)
    assert c.count() == before
    accounts.make_account(c.ledger, c.second, c.amaru, name="amaru", password=FIRST)  # the office lets them
    accounts.take_office(c.ledger, c.lead, c.second, Office.ADMINISTRATOR)
    with pytest.raises(RefusedError, match="Only somebody who is lead instructor or administrator may make and close"):
        accounts.close_account(c.ledger, c.second, c.amaru)


def test_an_auditor_without_a_role_is_entered_with_an_account_and_changes_nothing(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    with pytest.raises(RefusedError, match="needs an office"):
        accounts.enter_for_office(c.ledger, c.lead, shown_as="Odo", name="odo", password=FIRST, offices=[])
    odo = accounts.enter_for_office(
        c.ledger, c.lead, shown_as="Odo Penhallick", name="odo", password=FIRST, offices=[Office.AUDITOR]
    )
    found = account_named(c.ledger, "ODO")
    assert found is not None
    assert (found.person, found.roles, found.must_change) == (odo, {Office.AUDITOR}, True)
    with pytest.raises(RefusedError, match="this person is auditor"):
        add_unit(c.ledger, odo, label="X-1", unit_type="type-a")
    with pytest.raises(RefusedError, match="all that this person is here"):
        accounts.take_office(c.ledger, c.lead, odo, Office.AUDITOR)
    accounts.close_account(c.ledger, c.lead, odo)
    assert holders_of(c.ledger, odo) == frozenset()


def test_an_administrator_does_not_reach_for_a_leads_account(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    admin = accounts.enter_for_office(
        c.ledger, c.lead, shown_as="Odo", name="odo", password=FIRST, offices=[Office.ADMINISTRATOR]
    )
    for act in (
        lambda: accounts.set_password(c.ledger, admin, c.lead, NEXT, own=False),
        lambda: accounts.set_pin(c.ledger, admin, c.lead, None),
        lambda: accounts.close_account(c.ledger, admin, c.lead),
        lambda: accounts.give_office(c.ledger, admin, c.lead, Office.AUDITOR),
    ):
        with pytest.raises(RefusedError, match="A lead's account is for a lead"):
            act()
    with pytest.raises(RefusedError, match="set up people, units"):
        add_person(c.ledger, admin, name="x", roles=[Role.STUDENT])


# --- closing ---------------------------------------------------------------------------------------------------------


def test_a_closed_account_lets_nobody_in_and_its_hashes_leave_the_tables(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST, offices=[Office.AUDITOR])
    fact = account_fact(c.ledger, c.second)
    assert fact is not None
    accounts.close_account(c.ledger, c.lead, c.second)
    closed = c.ledger.fact("account", fact.id)
    assert isinstance(closed, Account)
    assert (closed.open, closed.private) == (False, ())
    assert (account_of(c.ledger, c.second), account_named(c.ledger, "second")) == (None, None)
    assert holders_of(c.ledger, c.second) == {Role.INSTRUCTOR}
    with pytest.raises(NotFoundError, match="has no account"):
        accounts.close_account(c.ledger, c.lead, c.second)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=NEXT)  # the name is free again
    assert getattr(account_named(c.ledger, "second"), "person", "") == c.second


def test_somebody_who_can_make_accounts_is_always_left(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST)
    assert keepers(c.ledger) == {c.lead}
    for last in (False, True):
        with pytest.raises(RefusedError, match="Nobody else with an account may make and close accounts"):
            accounts.close_account(c.ledger, c.lead, c.lead, last=last)
    accounts.give_office(c.ledger, c.lead, c.second, Office.ADMINISTRATOR)
    accounts.close_account(c.ledger, c.lead, c.lead)
    assert keepers(c.ledger) == {c.second}
    with pytest.raises(RefusedError, match="Nobody else with an account"):
        accounts.take_office(c.ledger, c.lead, c.second, Office.ADMINISTRATOR)


def test_the_only_account_is_closed_when_single_person_mode_is_wanted_back(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    with pytest.raises(RefusedError, match="Nobody else with an account"):
        accounts.close_account(c.ledger, c.lead, c.lead)
    accounts.close_account(c.ledger, c.lead, c.lead, last=True)
    assert not any_account(c.ledger)


def test_two_laptops_that_closed_what_the_other_left_open_the_centre_to_nobody(small_centre: Centre) -> None:
    """What a merge makes of it lets nobody in until a lead is given an account; one closed as the last ends that."""
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST)
    facts = [account_fact(c.ledger, person) for person in (c.lead, c.second)]
    c.ledger.append([draft(c.lead, AccountClosed(account=fact.id)) for fact in facts if fact])  # as a merge brings it
    assert any_account(c.ledger)
    assert account_named(c.ledger, "Lien") is None
    state, told = accounts_line(c)
    assert state == "bad"
    assert told.startswith("All are closed, none of them as the last one, so nobody gets in. Give a lead one")
    with pytest.raises(RefusedError, match="The first account of a centre is for a lead"):
        accounts.make_account(c.ledger, c.lead, c.zoe, name="zoe", password=FIRST)
    lead_account(c)
    assert account_named(c.ledger, "Lien") is not None
    accounts.close_account(c.ledger, c.lead, c.lead, last=True)
    assert not any_account(c.ledger)


def test_erasing_somebody_closes_their_account_in_the_same_append(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST)
    fact = account_fact(c.ledger, c.second)
    assert fact is not None
    erase_person(
        c.ledger, c.lead, c.second, authority=Authority.ORDER, reason="asked", despite="the course goes on without"
    )
    kinds = [one.kind for one in c.ledger.events()][-2:]
    assert kinds == ["account_closed/1", "person_erased/1"]
    assert account_of(c.ledger, c.second) is None
    assert all(not c.ledger.private_of(one) for one in c.ledger.events(fact.id))


def test_nobody_is_erased_while_they_alone_can_make_accounts(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST, offices=[Office.ADMINISTRATOR])
    accounts.close_account(c.ledger, c.lead, c.lead)
    before = c.count()
    with pytest.raises(RefusedError, match="Nobody else with an account may make and close accounts"):
        erase_person(
            c.ledger, c.lead, c.second, authority=Authority.ORDER, reason="asked", despite="the course goes on"
        )
    assert c.count() == before
    assert account_of(c.ledger, c.second) is not None


def test_accounts_are_kept_in_either_database(tmp_path: Path, either_database: str | None) -> None:
    with make_centre(tmp_path / "either", name="Kelp", lead_name="Ines Duarte", database=either_database) as ledger:
        centre = ledger.fact("centre", ledger.centre_id)
        assert isinstance(centre, CentreFact)
        accounts.make_account(ledger, centre.lead, centre.lead, name="ines", password=FIRST)
        odo = accounts.enter_for_office(
            ledger, centre.lead, shown_as="Odo", name="odo", password=NEXT, offices=[Office.AUDITOR]
        )
        assert holders_of(ledger, odo) == {Office.AUDITOR}
        accounts.close_account(ledger, centre.lead, odo)
        found = account_named(ledger, "INES")
        assert found is not None
        assert is_right(found.password, FIRST)
        assert keepers(ledger) == {centre.lead}


def accounts_line(c: Centre) -> tuple[str, str]:
    """What Health says of accounts."""
    (line,) = [line for line in health(c.ledger).lines if line.what == "Accounts"]
    return line.state.value, line.words


def test_health_tells_of_accounts_that_let_nobody_in_and_names_nobody(small_centre: Centre) -> None:
    c = small_centre
    assert not [line for line in health(c.ledger).lines if line.what == "Accounts"]
    lead_account(c)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST)
    assert accounts_line(c) == ("ok", "2 accounts. 1 first password still to be changed by whose it is.")
    later = AccountMade(
        account=THREE, person=c.zoe, sign_in="LIEN", password_hash=passwords.hashed_password(NEXT), must_change=False
    )
    c.ledger.append([draft(c.lead, later, private_of=c.zoe)])
    told = "3 accounts, 1 of which lets nobody in. The People page says why, with what to do."
    assert accounts_line(c) == ("look", told)
    made = next(c.ledger.events(c.lead)).id
    correct(c.ledger, c.lead, made, "left", change={"roles": ["instructor"]})
    assert accounts_line(c)[0] == "bad"


def test_an_account_is_neither_corrected_nor_taken_back(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    fact = account_fact(c.ledger, c.lead)
    assert fact is not None
    for act in (
        lambda: correct(c.ledger, c.lead, fact.password_event, "why", change={"must_change": True}),
        lambda: withdraw(c.ledger, c.lead, fact.password_event, "why"),
    ):
        with pytest.raises(RefusedError, match="close the account and make another"):
            act()


# --- two laptops -----------------------------------------------------------------------------------------------------


def account(*bodies: Body) -> Account:
    """The account that these statements make, whichever came first."""
    made = history(*bodies)
    fact = projection.project(made)
    assert projection.project(made[::-1]) == fact
    assert isinstance(fact, Account)
    return fact


MADE = AccountMade(account=ONE, person=TWO, sign_in="kelp", password_hash=SECRET_HASH, must_change=True)


def test_of_two_passwords_the_later_statement_holds_whatever_arrived_first() -> None:
    early = event(2, PasswordSet(account=ONE, must_change=False, password_hash=SECRET_HASH), chain="two", lamport=5)
    late = event(3, PasswordSet(account=ONE, must_change=True, password_hash=SECRET_HASH), chain="one", lamport=6)
    made = event(1, MADE)
    for order in ((made, early, late), (late, early, made)):
        fact = projection.project(order)
        assert isinstance(fact, Account)
        assert (fact.password_event, fact.must_change) == (late.id, True)


def test_closed_stays_closed_whatever_another_laptop_said_later() -> None:
    fact = account(MADE, AccountClosed(account=ONE), PasswordSet(account=ONE, must_change=False), PinSet(account=ONE))
    assert (fact.open, fact.private) == (False, ())


def test_of_offices_given_apart_only_those_hold_that_both_gave() -> None:
    both = (Office.AUDITOR, Office.ADMINISTRATOR)
    first = OfficesGiven(account=ONE, offices=both)
    second = OfficesGiven(account=ONE, offices=(Office.AUDITOR,))
    fact = account(MADE, first, second)
    assert fact.offices == (Office.AUDITOR,)
    joined = OfficesGiven(account=ONE, offices=both, replaces=fact.offices_given)
    assert account(MADE, first, second, joined).offices == both


def test_a_name_that_two_took_stays_with_the_first_and_the_list_says_so(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    later = AccountMade(
        account=THREE, person=c.second, sign_in="LIEN", password_hash=passwords.hashed_password(NEXT), must_change=False
    )
    c.ledger.append([draft(c.second, later, private_of=c.second)])  # as a merge brings it
    assert getattr(account_named(c.ledger, "lien"), "person", "") == c.lead
    (told,) = (line.sentence for line in account_lines(c.ledger) if line.person == c.second)
    assert told.endswith("was first: close this account and make one with another name.")


def test_of_two_accounts_of_one_person_the_first_holds_until_it_is_closed(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    later = AccountMade(
        account=FIVE, person=c.lead, sign_in="Lien2", password_hash=passwords.hashed_password(NEXT), must_change=False
    )
    c.ledger.append([draft(c.lead, later, private_of=c.lead)])
    assert account_named(c.ledger, "Lien2") is None
    assert getattr(account_of(c.ledger, c.lead), "name", "") == "Lien"
    assert [line.held_back[:36] for line in account_lines(c.ledger)] == ["", "This person has an earlier account, "]
    accounts.close_account(c.ledger, c.lead, c.lead, last=True)  # closes both: no account is left behind unseen
    assert not any_account(c.ledger)


def test_without_the_keys_accounts_are_there_and_let_nobody_in(small_centre: Centre) -> None:
    """A folder without its vault must not fall back to single-person mode."""
    c = lead_account(small_centre)
    c.ledger.vault.forget(c.lead)
    assert any_account(c.ledger)
    assert account_named(c.ledger, "Lien") is None
    assert account_of(c.ledger, c.lead) is None


# --- confirming an act -----------------------------------------------------------------------------------------------


class Time:
    """A clock and seconds that go on when the test says so."""

    def __init__(self) -> None:
        self.seconds = 0.0

    def clock(self) -> datetime:
        return datetime(2026, 3, 1, 9, tzinfo=UTC) + timedelta(seconds=self.seconds)

    def steady(self) -> float:
        return self.seconds


@pytest.fixture
def at(tmp_path: Path) -> tuple[Entrance, Time]:
    time = Time()
    return Entrance(tmp_path, time.clock, time.steady), time


def test_an_act_is_confirmed_by_password_or_pin_and_by_which_is_told(
    small_centre: Centre, at: tuple[Entrance, Time]
) -> None:
    c, entrance = lead_account(small_centre), at[0]
    accounts.set_pin(c.ledger, c.lead, c.lead, "4826")
    assert accounts.confirmed(c.ledger, entrance, c.lead, FIRST, "10.0.0.7") == "password"
    assert accounts.confirmed(c.ledger, entrance, c.lead, "4826", "10.0.0.7") == "pin"
    for number, wrong in enumerate(("", "4827", "seven grey seals dive ")):
        with pytest.raises(RefusedError, match="That is not the password or PIN"):
            accounts.confirmed(c.ledger, entrance, c.lead, wrong, f"10.0.0.{number}")


def test_who_has_no_account_is_told_the_same_after_as_much_work(
    small_centre: Centre, at: tuple[Entrance, Time], monkeypatch: pytest.MonkeyPatch
) -> None:
    c, asked = lead_account(small_centre), []
    monkeypatch.setattr(accounts, "is_right", lambda kept, given: bool(asked.append((kept is None, given))))
    told = set()
    for person in (c.lead, c.second, "nobody"):
        for typed in ("4826", NEXT):
            with pytest.raises(RefusedError) as refused:
                accounts.confirmed(c.ledger, at[0], person, typed, "10.0.0.7" + person)
            told.add(refused.value.sentence)
    assert told == {"That is not the password or PIN. Nothing was changed."}
    assert len(asked) == 6  # once each, also where there is nothing to compare with


def test_guessing_has_to_wait_and_a_right_one_gets_in_after_the_wait(
    small_centre: Centre, at: tuple[Entrance, Time]
) -> None:
    c, (entrance, time) = lead_account(small_centre), at
    for _ in range(3):
        with pytest.raises(RefusedError, match="That is not"):
            accounts.confirmed(c.ledger, entrance, c.lead, NEXT, "10.0.0.7")
    for address in ("10.0.0.7", "10.0.0.8"):
        with pytest.raises(RefusedError, match=r"Too many wrong tries\. Wait 1 second, then try again"):
            accounts.confirmed(c.ledger, entrance, c.lead, FIRST, address)
    assert entrance.guess(name_key("LIEN"), "10.0.0.9") == 1  # counted together with sign-in
    time.seconds += 1
    assert accounts.confirmed(c.ledger, entrance, c.lead, FIRST, "10.0.0.8") == "password"
    for person in (c.second, c.amaru, c.candidate):  # one after the other from one address, with and without account
        with pytest.raises(RefusedError):
            accounts.confirmed(c.ledger, entrance, person, NEXT, "10.0.0.7")
    with pytest.raises(RefusedError, match="Wait"):
        accounts.confirmed(c.ledger, entrance, c.assistant, NEXT, "10.0.0.7")


def test_a_clock_that_goes_back_shortens_no_wait(small_centre: Centre, at: tuple[Entrance, Time]) -> None:
    c, (entrance, time) = lead_account(small_centre), at
    for _ in range(3):
        with pytest.raises(RefusedError, match="That is not"):
            accounts.confirmed(c.ledger, entrance, c.lead, NEXT, "10.0.0.7")
    time.seconds -= 3600
    with pytest.raises(RefusedError, match="Wait 1 second"):
        accounts.confirmed(c.ledger, entrance, c.lead, FIRST, "10.0.0.7")


def test_a_password_that_somebody_else_chose_confirms_nothing(small_centre: Centre, at: tuple[Entrance, Time]) -> None:
    """Whoever chose it could sign in that person's name."""
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=OTHER)
    with pytest.raises(RefusedError, match="Somebody else chose this password: change it first"):
        accounts.confirmed(c.ledger, at[0], c.second, OTHER, "10.0.0.7")
    accounts.set_password(c.ledger, c.second, c.second, NEXT, own=True)
    assert accounts.confirmed(c.ledger, at[0], c.second, NEXT, "10.0.0.7") == "password"


def test_a_closed_account_confirms_nothing(small_centre: Centre, at: tuple[Entrance, Time]) -> None:
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=OTHER)
    accounts.set_password(c.ledger, c.second, c.second, NEXT, own=True)
    accounts.close_account(c.ledger, c.lead, c.second)
    with pytest.raises(RefusedError, match="That is not the password or PIN"):
        accounts.confirmed(c.ledger, at[0], c.second, NEXT, "10.0.0.7")


def test_names_of_the_person_and_the_centre_make_no_password(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    with pytest.raises(RefusedError, match="made of names"):
        accounts.make_account(c.ledger, c.lead, c.amaru, name="glasswort", password=f"{OF_NAMES} glasswort")
    with pytest.raises(RefusedError, match="made of names"):
        accounts.enter_for_office(
            c.ledger, c.lead, shown_as="Odo Penhallick", name="odo", password=OF_OTHERS,
            offices=[Office.AUDITOR],
        )  # fmt: skip


# --- what is never told ----------------------------------------------------------------------------------------------


def test_hashes_are_opened_by_their_own_door_alone(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    accounts.set_pin(c.ledger, c.lead, c.lead, "4826")
    fact = account_fact(c.ledger, c.lead)
    assert fact is not None
    told = [c.ledger.private(fact), *(c.ledger.private_of(one) for one in c.ledger.events())]
    assert "argon2" not in json.dumps(told, default=str)
    assert json.dumps(c.ledger.secrets(fact), default=str).count("$argon2id$") == 3  # the founding one stands twice
    assert "argon2" not in repr(account_of(c.ledger, c.lead))


def test_refusals_name_offices_once_there_are_accounts(small_centre: Centre) -> None:
    c = small_centre
    with pytest.raises(RefusedError, match=r"Only somebody who is lead instructor may erase"):
        allow(c.ledger, c.second, Act.ERASE)
    lead_account(c)
    with pytest.raises(RefusedError, match=r"Only somebody who is lead instructor or administrator may erase"):
        allow(c.ledger, c.second, Act.ERASE)


def test_a_refused_act_adds_nothing(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    before = c.count()
    for name, password in (("", FIRST), ("x", ""), ("x", "short"), ("x\u202e", FIRST)):
        with pytest.raises(CourseError, match="Nothing was changed"):
            accounts.make_account(c.ledger, c.lead, c.second, name=name, password=password)
    assert c.count() == before


STATEMENTS = st.one_of(
    st.builds(PasswordSet, account=st.just(ONE), must_change=st.booleans()),
    st.builds(PinSet, account=st.just(ONE), sealed=st.sampled_from([None, Sealed(of=TWO, data="AAAA")])),
    st.builds(OfficesGiven, account=st.just(ONE), offices=st.lists(st.sampled_from(Office), unique=True).map(tuple)),
    st.just(AccountClosed(account=ONE)),
)


@given(st.lists(STATEMENTS, max_size=6), st.randoms(use_true_random=False))
def test_an_account_is_a_function_of_the_set_of_its_statements(said: list[Body], random: Random) -> None:
    events = history(MADE, *said)
    fact = projection.project(events)
    shuffled = list(events)
    random.shuffle(shuffled)
    assert projection.project(shuffled) == fact
    assert isinstance(fact, Account)
    last = max(n for n, one in enumerate([MADE, *said]) if isinstance(one, AccountMade | PasswordSet))
    assert (fact.password_event, fact.must_change) == (events[last].id, [MADE, *said][last].must_change)
    assert fact.closed is any(isinstance(one, AccountClosed) for one in said)
    given_offices = [set(one.offices) for one in said if isinstance(one, OfficesGiven)]
    assert set(fact.offices) == (set.intersection(*given_offices) if given_offices else set())
    last_pin = next((n for n in range(len(said), 0, -1) if isinstance(said[n - 1], PinSet)), 0)
    reset = any(isinstance(one, PasswordSet) and one.must_change for one in said[last_pin:])
    held = last_pin and said[last_pin - 1].sealed and not reset
    assert fact.pin_event == (events[last_pin].id if held else None)


# --- somebody who is here for an office alone ------------------------------------------------------------------------


def test_somebody_without_a_role_is_kept_like_the_staff_and_told_of_by_their_office(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    odo = accounts.enter_for_office(
        c.ledger, c.lead, shown_as="Odo Penhallick", name="odo", password=FIRST, offices=[Office.AUDITOR]
    )
    set_retention(c.ledger, c.lead, student_days=10, staff_days=400, incident_days=None)
    fact = c.ledger.fact("person", odo)
    assert isinstance(fact, Person)
    found = kept_until(c.ledger, fact)
    assert found is not None
    assert found[2] == 400
    assert own_data(c.ledger, odo).person["roles"] == []
    assert own_data(c.ledger, c.amaru).person["name"] == "Amaru Tendelle"
    (told,) = [line.sentence for line in account_lines(c.ledger) if line.person == odo]
    assert told.startswith("Odo Penhallick signs in as odo; auditor; no PIN;")


# --- a role that changes in the middle -------------------------------------------------------------------------------


def test_marks_that_were_tapped_before_a_role_changed_stay_and_stay_theirs(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open(by=c.second)
    mark = {"marks": [{"step": "co-hand", "mark": "done"}]}
    assert take(c.ledger, [tap(c, opened, "marks_given/1", mark)]).refused == ()
    made = next(c.ledger.events(c.second)).id
    correct(c.ledger, c.lead, made, "left the staff", change={"roles": ["student"]})
    before = c.count()
    ((_, sentence),) = take(c.ledger, [tap(c, opened, "marks_given/1", mark)]).refused
    assert "this person is student" in sentence
    assert c.count() == before
    (sheet,) = c.attempt(opened.attempt).sheets
    assert (sheet.observer, sheet.role, [line.step for line in sheet.marks]) == (c.second, Role.INSTRUCTOR, ["co-hand"])


def test_marks_of_somebody_whose_account_was_closed_stay_and_stay_theirs(small_centre: Centre) -> None:
    c = lead_account(small_centre)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST)
    opened = c.open(by=c.second)
    assert take(c.ledger, [tap(c, opened, "whole_attempt_clean/1")]).refused == ()
    accounts.close_account(c.ledger, c.lead, c.second)
    (sheet,) = c.attempt(opened.attempt).sheets
    assert (sheet.observer, bool(sheet.whole_clean)) == (c.second, True)
