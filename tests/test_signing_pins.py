"""PINs for signing where nobody has an account: chosen at the first signature, asked for ever after, told to nobody."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from centre_builder import Centre
from event_examples import ONE, TWO, history

from course.actions import accounts
from course.actions.drafting import body, draft
from course.actions.privacy import erase_person
from course.actions.signing_pins import choose_signing_pin, confirm, let_go_signing_pin
from course.answers.accounts import any_account
from course.answers.own_data import own_data
from course.answers.signing_pins import signing_pin_of, signing_pins
from course.errors import CourseError, NotFoundError, RefusedError
from course.exchange.own_data import page as own_data_page
from course.moments import new_id
from course.record.account_facts import SigningPin
from course.record.events import Sealed, SigningPinLetGo, SigningPinSet
from course.record.projection import project
from course.storage import passwords
from course.storage.entrance import Entrance
from course.storage.lookup import all_of
from course.words import Authority

PIN, OTHER, HERE = "471108", "258036", "this machine"


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    quick = passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8)
    monkeypatch.setattr(passwords, "_hasher", quick)
    passwords._nobodys.cache_clear()
    yield
    passwords._nobodys.cache_clear()


@pytest.fixture
def entrance(tmp_path: Path) -> Entrance:
    return Entrance(tmp_path / "entrance")


def refused(c: Centre, entrance: Entrance, given: str, again: str = "", person: str = "") -> str:
    before = c.count()
    with pytest.raises(RefusedError) as told:
        confirm(c.ledger, entrance, person or c.lead, given, again, HERE)
    assert c.count() == before
    return str(told.value)


def test_it_is_chosen_at_the_first_signature_and_asked_for_from_then_on(
    small_centre: Centre, entrance: Entrance
) -> None:
    c = small_centre
    assert "chooses a PIN for signing, 6 to 8 digits" in refused(c, entrance, "")
    assert "chooses a PIN for signing" in refused(c, entrance, PIN)
    assert "not typed the same in both fields" in refused(c, entrance, PIN, OTHER)
    assert "A PIN has 6 to 8 digits" in refused(c, entrance, "seals", "seals")
    assert "A PIN is no run such as 3456" in refused(c, entrance, "123456", "123456")
    assert confirm(c.ledger, entrance, c.lead, PIN, PIN, HERE) == "pin"
    assert confirm(c.ledger, entrance, c.lead, PIN, "", HERE) == "pin"
    assert refused(c, entrance, OTHER, OTHER) == "That is not this person's PIN for signing. Nothing was signed."
    assert not any_account(c.ledger), "it lets nobody in, and keeps nobody out"


def test_nobody_signs_by_the_pin_of_another(small_centre: Centre, entrance: Entrance) -> None:
    c = small_centre
    confirm(c.ledger, entrance, c.lead, PIN, PIN, HERE)
    confirm(c.ledger, entrance, c.second, OTHER, OTHER, HERE)
    assert "not this person's PIN" in refused(c, entrance, PIN, person=c.second)
    assert "assistant" in refused(c, entrance, PIN, PIN, person=c.assistant)


def test_guessing_is_slowed_and_a_right_one_ends_it(small_centre: Centre, entrance: Entrance) -> None:
    c = small_centre
    confirm(c.ledger, entrance, c.lead, PIN, PIN, HERE)
    told = [refused(c, entrance, f"{number}") for number in range(900_000, 900_012)]
    assert told[0].startswith("That is not this person's PIN")
    assert told[-1].startswith("Too many wrong tries. Wait ")


def test_it_is_let_go_by_who_may_make_accounts_and_then_chosen_anew(small_centre: Centre, entrance: Entrance) -> None:
    c = small_centre
    confirm(c.ledger, entrance, c.second, PIN, PIN, HERE)
    with pytest.raises(RefusedError, match="has a PIN for signing"):
        choose_signing_pin(c.ledger, c.second, OTHER, OTHER)
    with pytest.raises(CourseError):
        let_go_signing_pin(c.ledger, c.second, c.second, "forgotten")
    with pytest.raises(RefusedError, match="A reason is needed"):
        let_go_signing_pin(c.ledger, c.lead, c.second, " ")
    let_go_signing_pin(c.ledger, c.lead, c.second, "forgotten")
    assert signing_pin_of(c.ledger, c.second) is None
    assert confirm(c.ledger, entrance, c.second, OTHER, OTHER, HERE) == "pin"
    said = [(event.kind, event.actor) for event in c.ledger.events() if event.kind.startswith("signing_pin_")]
    chose, let_go = ("signing_pin_set/1", c.second), ("signing_pin_let_go/1", c.lead)
    assert said == [chose, let_go, chose], "who chose and who let go stays in the ledger"
    with pytest.raises(NotFoundError):
        let_go_signing_pin(c.ledger, c.lead, c.lead, "forgotten")


def test_of_two_that_two_laptops_took_the_first_holds_and_both_are_let_go(
    small_centre: Centre, entrance: Entrance
) -> None:
    c = small_centre
    confirm(c.ledger, entrance, c.second, PIN, PIN, HERE)
    content = body(SigningPinSet, signing_pin=new_id(), person=c.second, pin_hash=passwords.hashed_pin(OTHER))
    c.ledger.append([draft(c.second, content, private_of=c.second)])
    assert len(signing_pins(c.ledger, c.second)) == 2
    assert confirm(c.ledger, entrance, c.second, PIN, "", HERE) == "pin"
    assert "not this person's PIN" in refused(c, entrance, OTHER, person=c.second)
    let_go_signing_pin(c.ledger, c.lead, c.second, "two of them")
    assert signing_pins(c.ledger, c.second) == []


def test_whoever_has_an_account_confirms_by_that(small_centre: Centre, entrance: Entrance) -> None:
    c = small_centre
    confirm(c.ledger, entrance, c.lead, PIN, PIN, HERE)
    accounts.make_account(c.ledger, c.lead, c.lead, name="tamsin", password="seven grey seals dive")  # noqa: S106
    assert refused(c, entrance, PIN) == "That is not the password or PIN. Nothing was changed."
    assert confirm(c.ledger, entrance, c.lead, "seven grey seals dive", "", HERE) == "password"


def test_what_was_chosen_leaves_the_centre_with_nobody_and_goes_with_whoever_is_erased(
    small_centre: Centre, entrance: Entrance, tmp_path: Path
) -> None:
    c = small_centre
    confirm(c.ledger, entrance, c.second, PIN, PIN, HERE)
    (fact,) = signing_pins(c.ledger, c.second)
    known = signing_pin_of(c.ledger, c.second)
    assert known
    assert known.pin
    assert known.pin not in repr(known)
    assert "argon2" not in c.ledger.private(fact).values()
    told = own_data(c.ledger, c.second)
    assert "signing_pin_set/1" in [line["kind"] for line in told.events]
    for text in (json.dumps(told.plain()), own_data_page(told)):
        assert "argon2" not in text
        assert known.pin.rsplit("$", 1)[-1] not in text
    bodies = "".join(event.body for event in c.ledger.events())
    assert "argon2" not in bodies
    erase_person(
        c.ledger, c.lead, c.second, authority=Authority.PERSON, reason="asked by letter", despite="the course is over"
    )
    assert signing_pins(c.ledger, c.second) == []
    (gone,) = all_of(c.ledger, SigningPin, person=c.second)
    assert gone.private == ()
    with pytest.raises(CourseError):
        choose_signing_pin(c.ledger, c.second, OTHER, OTHER)


def test_what_was_let_go_stays_so_whatever_arrived_first() -> None:
    sealed = SigningPinSet(signing_pin=ONE, person=TWO, sealed=Sealed(of=TWO, data="AAAA"))
    gone = SigningPinLetGo(signing_pin=ONE)
    for said, holds in (((sealed,), True), ((sealed, gone), False), ((gone, sealed), False)):
        made = history(*said)
        fact = project(made)
        assert project(made[::-1]) == fact
        assert isinstance(fact, SigningPin)
        assert (not fact.let_go, len(fact.private)) == (holds, int(holds))
