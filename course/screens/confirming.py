"""The signer confirms at the act, by password or PIN, that it is them; where nobody has an account, it says so."""

from __future__ import annotations

import streamlit as st

from course.actions.accounts import confirmed
from course.answers.accounts import any_account
from course.record.signing_events import Confirmed
from course.screens.frame import Screen
from course.screens.guesses import neighbourhood
from course.screens.sessions import sessions_of

SINGLE = (
    "Nobody has an account here: whoever holds this device signs in the name that is chosen, and screen and paper will "
    "say that it was not confirmed by a password or PIN. To confirm, make an account first: course account add."
)
_LONGEST = 200


def field(screen: Screen, key: str) -> str:
    """Ask for the password or PIN of whoever signs; where there are no accounts that is told instead."""
    if not any_account(screen.ledger):
        st.caption(SINGLE)
        return ""
    return st.text_input(
        "Password or PIN of whoever signs", type="password", max_chars=_LONGEST, key=f"confirm-{key}",
        autocomplete="off",
    )  # fmt: skip


def confirmed_with(screen: Screen, person: str, given: str) -> Confirmed | None:
    """Return by what somebody confirmed that it is them; None where there are no accounts.

    Raises:
        RefusedError: it is not theirs, or the next try has to wait.
    """
    if not any_account(screen.ledger):
        return None
    entrance = sessions_of(lambda: screen.ledger).entrance
    return confirmed(screen.ledger, entrance, person, given, neighbourhood(st.context.ip_address or ""))
