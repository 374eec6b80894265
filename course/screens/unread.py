"""What a page shows while the ledger cannot be read, as when a database server does not answer.

A pad stays: what is tapped on it waits on the tablet, and it is all that an instructor beside the water has.
"""

from __future__ import annotations

from typing import Any

import streamlit as st

from course.screens import controls
from course.screens.frame import show_unread
from course.screens.step_pad import PadNews, show_mark_style, show_pad

_PAD = "pad-shown"
_GO_ON = "You can go on marking: taps wait on this tablet until they can be saved."


def show_pad_and_keep(data: dict[str, Any]) -> PadNews:
    """Show a pad, and keep what it was drawn from for as long as its address stays."""
    st.session_state[_PAD] = (st.query_params.to_dict(), data)
    return show_pad(data)


def forget() -> None:
    """Keep nothing of a pad: whoever saw it is signed out."""
    st.session_state.pop(_PAD, None)


def tell(sentence: str) -> None:
    """Say why nothing can be shown, over the pad where one was open."""
    address, data = st.session_state.get(_PAD, ({}, None))
    stays = data is not None and address == st.query_params.to_dict()
    show_unread(sentence, f" {_GO_ON}" if stays else "")
    controls.way("Try again", key="try-again")
    if stays:
        show_mark_style()
        show_pad(data)
