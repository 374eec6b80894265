"""The signer confirms at the act, by password or PIN, that it is them; where nobody has an account, it says so."""

from __future__ import annotations

import streamlit as st

from course.record.signing_events import Confirmed
from course.screens.frame import Screen

SINGLE = "Nobody has an account here: whoever holds this device signs in the name that is chosen."


def field(screen: Screen, key: str) -> str:
    """Ask for the password or PIN; empty where there are no accounts, which is told instead."""
    st.caption(SINGLE)
    return ""


def confirmed_with(screen: Screen, person: str, given: str) -> Confirmed | None:
    """Return by what somebody confirmed; None where there are no accounts."""
    return None
