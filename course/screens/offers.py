"""The one way in which a page offers a file to take away: to whoever may, and to nobody else."""

from __future__ import annotations

from typing import Any

import streamlit as st

from course.access import Sight
from course.asker import may_ask


def offer(sight: Sight, label: str, data: Any, name: str, kind: str, **more: Any) -> bool:
    """Offer a file where whoever asks may take it away; True when it was tapped.

    Streamlit keeps the file under an address with a hash of its content, for whoever is signed in and knows that
    address, until the page is left or drawn without it.
    """
    if not may_ask(sight):
        return False
    return bool(st.download_button(label, data, name, kind, on_click="ignore", **more))
