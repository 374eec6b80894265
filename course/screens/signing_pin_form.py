"""Letting somebody's PIN for signing go on the People page, where nobody has an account: forgotten, or not theirs."""

from __future__ import annotations

import streamlit as st

from course.access import Act
from course.actions.signing_pins import let_go_signing_pin
from course.answers.signing_pins import who_has_one
from course.errors import RefusedError
from course.screens import controls
from course.screens.frame import Screen, telling


def let_go(screen: Screen) -> None:
    """The form; nothing where nobody chose a PIN for signing yet."""
    having = who_has_one(screen.ledger)
    people = {known.id: known.shown for known in screen.centre.people if known.id in having}
    if not people:
        return
    with st.expander("Let a PIN for signing go"), st.form("let-go-signing-pin"):
        person = st.selectbox("Whose PIN for signing", list(people), format_func=people.__getitem__, index=None)
        why = st.text_input("Reason", max_chars=500, key="let-go-why")
        st.caption("Their next signature asks for a new one. Who let it go, and why, stands in the ledger.")
        if not controls.submit(Act.ACCOUNT, "Let it go", key="let-go"):
            return
    if telling(_let_go)(screen, person, why):
        st.session_state["told"] = ("done", "The PIN for signing is let go.")
    st.rerun()


def _let_go(screen: Screen, person: str | None, why: str) -> bool:
    if person is None:
        raise RefusedError("Choose whose it is first. Nothing was changed.")
    let_go_signing_pin(screen.ledger, screen.centre.lead, person, why)
    return True
