"""Accounts on the People page: who has one, giving one, changing or closing one. For whoever may make accounts alone.

A first password is drawn by lot and shown once, in the answer to the very tap that made it; it is kept nowhere.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import streamlit as st

from course.access import Act
from course.actions import accounts as acts
from course.answers.accounts import AccountLine, account_lines
from course.asker import asking, may_ask
from course.errors import RefusedError
from course.screens import controls, signing_pin_form
from course.screens.frame import Screen, done, fresh, telling
from course.screens.plain_http import ENTER
from course.storage.passwords import first_password
from course.words import OFFICE_WORDS, Office

_NEW = ""
_CHANGES = {
    "password": "set a new first password",
    "pin": "take the PIN away",
    **{f"give {office}": f"give the office of {OFFICE_WORDS[office]}" for office in Office},
    **{f"take {office}": f"take the office of {OFFICE_WORDS[office]} away" for office in Office},
    "close": "close the account",
}


def accounts(screen: Screen) -> None:
    """Who has an account, and the forms; how to begin where nobody has one."""
    if not may_ask(Act.ACCOUNT):
        return
    st.subheader("Accounts")
    lines = account_lines(screen.ledger)
    if not lines:
        st.markdown(
            "Nobody has an account: whoever is at this machine may do everything here. The first one is the lead's; "
            "from then on everybody signs in."
        )
        st.html(f'<p class="who"><a href="{ENTER}" target="_self">Make the first account</a></p>')
        signing_pin_form.let_go(screen)
        return
    with st.container():  # one more line leaves the forms after it where they are, open and with what is typed
        for line in lines:
            st.text(line.sentence)
    with st.expander("Give an account"):
        _give_form(screen, lines)
    with st.expander("Change or close an account"):
        _change_form(screen, lines)


def _give_form(screen: Screen, lines: tuple[AccountLine, ...]) -> None:
    has = {line.person for line in lines}
    people = {_NEW: "somebody new, for an office alone"}
    people |= {known.id: known.shown for known in screen.centre.people if known.id not in has}
    with st.form(fresh("give-account", "accounts")):
        person = st.selectbox("Who", list(people), format_func=people.__getitem__, index=None)
        shown_as = st.text_input("Name, where it is somebody new", max_chars=200)
        name = st.text_input("Sign-in name", max_chars=200)
        offices = st.pills("Offices", list(Office), format_func=OFFICE_WORDS.__getitem__, selection_mode="multi")
        if controls.submit(Act.ACCOUNT, "Give the account", type="primary"):
            _tell(telling(_give)(screen, person, shown_as, name, list(offices)))


def _give(screen: Screen, person: str | None, shown_as: str, name: str, offices: list[Office]) -> str:
    password, actor = first_password(), _actor(screen)
    if person is None:
        raise RefusedError("Choose the person first. Nothing was changed.")
    if person == _NEW:
        acts.enter_for_office(
            screen.ledger, actor, shown_as=shown_as, name=name, password=password, offices=offices
        )  # fmt: skip
    else:
        acts.make_account(screen.ledger, actor, person, name=name, password=password, offices=offices)
    return f"{name.strip()} can sign in. {_once(password)}"


def _change_form(screen: Screen, lines: tuple[AccountLine, ...]) -> None:
    people = {line.person: line.shown for line in lines}
    with st.form(fresh("change-account", "accounts")):
        person = st.selectbox("Whose account", list(people), format_func=people.__getitem__, index=None)
        change = st.selectbox("What", list(_CHANGES), format_func=_CHANGES.__getitem__, index=None)
        if controls.submit(Act.ACCOUNT, "Do it"):
            _tell(telling(_change)(screen, person, change))


def _change(screen: Screen, person: str | None, change: str | None) -> str:
    if person is None or change is None:
        raise RefusedError("Choose whose account, and what. Nothing was changed.")
    ledger, actor, password = screen.ledger, _actor(screen), first_password()
    done: dict[str, tuple[Callable[[], None], str]] = {
        "password": (
            lambda: acts.set_password(ledger, actor, person, password, own=False),
            f"Any PIN is gone. {_once(password)}",
        ),
        "pin": (lambda: acts.set_pin(ledger, actor, person, None), "The PIN is taken away."),
        "close": (lambda: acts.close_account(ledger, actor, person), "The account is closed. What they entered stays."),
    }
    for office in Office:
        done[f"give {office}"] = partial(acts.give_office, ledger, actor, person, office), "The office is given."
        done[f"take {office}"] = partial(acts.take_office, ledger, actor, person, office), "The office is taken away."
    act, told = done[change]
    act()
    return told


def _once(password: str) -> str:
    return (
        f"First password, shown this once: {password} . Hand it over in person; it has to be changed at the first "
        "sign-in."
    )


def _actor(screen: Screen) -> str:
    asker = asking()
    return asker.person if asker else screen.centre.lead


def _tell(said: str | None) -> None:
    done(said, said or "", "accounts")
