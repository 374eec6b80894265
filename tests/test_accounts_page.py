"""The accounts on the People page: who sees them, what they tell, and the first password that is shown once."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
import streamlit as st
from centre_builder import Centre
from opened_page import app_at
from streamlit.delta_generator import DeltaGenerator
from streamlit.testing.v1 import AppTest

from course.actions import accounts
from course.actions.pad import take
from course.actions.signing_pins import choose_signing_pin
from course.answers.accounts import AccountLine, account_lines, account_named, account_of, holders_of
from course.answers.signing_pins import signing_pin_of
from course.asker import Asker, ask_by
from course.screens import serve
from course.storage import passwords
from course.storage.passwords import first_password, is_right
from course.words import Office, Role

FIRST = "seven grey seals dive"


@pytest.fixture(autouse=True)
def _quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same hash with the least work: what it costs is tested in test_passwords.py."""
    monkeypatch.setattr(
        passwords, "_hasher", passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8)
    )  # fmt: skip


@pytest.fixture
def served(small_centre: Centre) -> Iterator[Centre]:
    """The small centre behind the pages; nobody has to sign in unless a test says so."""
    serve.start(small_centre.ledger, take)
    yield small_centre
    ask_by(None)


def with_lead(c: Centre) -> Centre:
    accounts.make_account(c.ledger, c.lead, c.lead, name="tamsin", password=FIRST)
    return c


def page() -> AppTest:
    app = app_at("people").run()
    assert not app.exception
    return app


def told(app: AppTest) -> str:
    """All that the page says."""
    parts = [*app.markdown, *app.text, *app.success, *app.warning, *app.subheader]
    return "\n".join(str(part.value) for part in parts)


def press(app: AppTest, label: str) -> AppTest:
    next(button for button in app.button if button.label == label).click().run()
    assert not app.exception
    return app


def give(app: AppTest, who: str, name: str, shown_as: str = "", offices: tuple[Office, ...] = ()) -> AppTest:
    next(box for box in app.selectbox if box.label == "Who").set_value(who)
    for field in app.text_input:
        if field.label == "Sign-in name":
            field.set_value(name)
        elif field.label == "Name, where it is somebody new":
            field.set_value(shown_as)
    next(one for one in app.button_group if one.label == "Offices").set_value(list(offices))
    return press(app, "Give the account")


def shown_password(app: AppTest) -> str:
    found = re.search(r"shown this once: ((?:[a-z]{5}\\?-?){4})", told(app))
    assert found is not None, told(app)
    return found[1].replace("\\", "")


def test_without_accounts_the_page_says_what_that_means_and_where_to_begin(served: Centre) -> None:
    app = page()
    assert "Nobody has an account: whoever is at this machine may do everything here." in told(app)
    assert not [button for button in app.button if button.label == "Give the account"]


def test_without_accounts_a_forgotten_pin_for_signing_is_let_go_with_a_reason(served: Centre) -> None:
    assert "Let it go" not in [one.label for one in page().button]
    choose_signing_pin(served.ledger, served.second, "471108", "471108")
    app = page()
    app = press(app, "Let it go")
    assert "Choose whose it is first. Nothing was changed." in told(app)
    (field,) = [one for one in app.selectbox if one.label == "Whose PIN for signing"]
    assert field.options == ["Bruno Ashkenar"]
    field.set_value(served.second)
    app = press(app, "Let it go")
    assert "A reason is needed, in a few words. Nothing was changed." in told(app)
    assert signing_pin_of(served.ledger, served.second)
    app.text_input(key="let-go-why").set_value("It was forgotten.")
    app = press(app, "Let it go")
    assert "The PIN for signing is let go." in told(app)
    assert signing_pin_of(served.ledger, served.second) is None


def test_an_account_is_given_with_a_password_that_is_shown_once(served: Centre) -> None:
    c = with_lead(served)
    app = give(page(), "Amaru Tendelle", " amaru ")
    password = shown_password(app)
    found = account_named(c.ledger, "amaru")
    assert found is not None
    assert (found.person, found.must_change, is_right(found.password, password)) == (c.amaru, True, True)
    app.run()
    assert password not in told(app).replace("\\", "")
    assert "Amaru Tendelle signs in as amaru; student; no PIN; has to change the password" in told(app)


def test_an_auditor_is_entered_with_their_account(served: Centre) -> None:
    c = with_lead(served)
    app = give(page(), "somebody new, for an office alone", "odo", "Odo Penhallick", (Office.AUDITOR,))
    shown_password(app)
    found = account_named(c.ledger, "odo")
    assert found is not None
    assert found.roles == {Office.AUDITOR}
    refused = give(page(), "somebody new, for an office alone", "ada", "Ada Kestrelle")
    assert "needs an office, auditor or administrator" in told(refused)


def change(app: AppTest, who: str, what: str) -> AppTest:
    for label, value in (("Whose account", who), ("What", what)):
        next(box for box in app.selectbox if box.label == label).set_value(value)
    return press(app, "Do it")


def test_passwords_offices_and_closing_by_the_page(served: Centre) -> None:
    c = with_lead(served)
    accounts.make_account(c.ledger, c.lead, c.second, name="second", password=FIRST)
    name = next(one.shown for one in _known(c) if one.person == c.second)
    change(page(), name, "give the office of administrator")
    assert holders_of(c.ledger, c.second) == {Role.INSTRUCTOR, Office.ADMINISTRATOR}
    password = shown_password(change(page(), name, "set a new first password"))
    found = account_of(c.ledger, c.second)
    assert found is not None
    assert is_right(found.password, password)
    change(page(), name, "take the office of administrator away")
    assert holders_of(c.ledger, c.second) == {Role.INSTRUCTOR}
    assert "The PIN is taken away." in told(change(page(), name, "take the PIN away"))
    assert "What they entered stays." in told(change(page(), name, "close the account"))
    assert account_of(c.ledger, c.second) is None
    kept = change(page(), next(one.shown for one in _known(c)), "close the account")
    assert "Nobody else with an account may make and close accounts" in told(kept)


def _known(c: Centre) -> tuple[AccountLine, ...]:
    return account_lines(c.ledger)


@pytest.mark.parametrize("by_pin", [False, True])
def test_only_who_may_make_accounts_sees_them(served: Centre, by_pin: bool) -> None:  # noqa: FBT001
    c = with_lead(served)
    for roles, sees in (
        ({Role.LEAD}, not by_pin), ({Role.INSTRUCTOR}, False), ({Office.ADMINISTRATOR}, not by_pin),
        ({Office.AUDITOR}, False),
    ):  # fmt: skip
        asker = Asker(c.lead, frozenset(roles), by_pin=by_pin, name="x")
        ask_by(lambda asker=asker: asker)
        assert ("Accounts" in told(page()).splitlines()) is sees, roles


def test_first_passwords_are_drawn_by_lot_and_are_passwords() -> None:
    drawn = {first_password() for _ in range(50)}
    assert len(drawn) == 50
    for one in drawn:
        word = r"([bdfgklmnprstvz][aeiou]){2}[bdfgklmnprstvz]"
        assert re.fullmatch(rf"{word}(-{word}){{3}}", one)
        assert passwords.hashed_password(one).startswith("$argon2id$")


def test_what_was_done_is_said_once_the_empty_form_stands_and_the_forms_stay_where_they_are(
    served: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else somebody types the next one into a form that is about to be drawn anew, and loses it."""
    with_lead(served)
    app, drawn = page(), list[str]()
    success, form = DeltaGenerator.success, st.form
    monkeypatch.setattr(DeltaGenerator, "success", lambda *a, **k: (drawn.append("said"), success(*a, **k))[1])
    monkeypatch.setattr(st, "form", lambda *a, **k: (drawn.append("form"), form(*a, **k))[1])
    places = [_place(app, label) for label in ("Give an account", "Change or close an account")]
    give(app, "somebody new, for an office alone", "odo", "Odo Penhallick", (Office.AUDITOR,))
    shown_password(app)
    assert (drawn[-1], drawn.count("said")) == ("said", 1)
    assert drawn.count("form") >= 2
    assert [len(one) for one in places] == [1, 1]
    assert [_place(app, label) for label in ("Give an account", "Change or close an account")] == places
    drawn.clear()
    assert "needs an office" in told(give(app, "somebody new, for an office alone", "ada", "Ada Kestrelle"))
    assert next(one.value for one in app.text_input if one.label == "Sign-in name") == "ada"
    assert "said" not in drawn


def _place(app: AppTest, label: str) -> list[int]:
    """Where an expander stands on the page, by which a browser knows it again."""
    return [
        place
        for place, one in app.main.children.items()
        if one.type == "expander" and str(getattr(one, "label", "")) == label
    ]
