"""Who is signed in, on every page, with the ways out; or that nobody has to be, and what that means."""

from __future__ import annotations

from html import escape

import streamlit as st

from course.asker import Asker
from course.screens.components import watch_session
from course.screens.door import asking_token, page_mark
from course.screens.door_forms import LEAVE, SWITCH
from course.screens.frame import literal

SINGLE = "Single-person mode: nobody signs in on this machine."
SHARED = "Shared without accounts: whoever has the code acts as anybody."


def show_who(asker: Asker | None, *, shared: bool) -> None:
    """One short line: who is signed in, or the mode."""
    if asker is None:
        st.html(f'<p class="who">{SHARED if shared else SINGLE}</p>')
        return
    by = " by PIN" if asker.by_pin else ""
    st.html(
        f'<p class="who">{escape(asker.name)} is signed in{by}. '
        f'<a href="{SWITCH}" target="_self">Hand on</a> <a href="{LEAVE}" target="_self">Sign out</a></p>'
    )
    watch_session(page_mark(asking_token() or ""))


def ask_to_sign_in(sentence: str) -> None:
    """What is left of a page that was open when its session ended."""
    st.title("Signed out")
    st.markdown(f"## {literal(sentence)}")
    st.html('<p class="who"><a href="/" target="_self">Sign in</a></p>')
