"""The one way in which a page offers a file to take away or shows a picture: to whoever may, and to nobody else."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import streamlit as st

from course.access import Sight
from course.asker import asking, may_ask, require_sight
from course.screens.door import as_token, asking_token
from course.screens.shown_files import SHOWN

Content = str | bytes
"""A text is sent as UTF-8."""


def offer(sight: Sight, label: str, data: Content | Callable[[], Content], name: str, kind: str, **more: Any) -> bool:
    """Offer a file where whoever asks may take it away; True when it was tapped.

    One that is made when it is asked for is made for whom it was offered to, if they may take it away still.
    """
    if not may_ask(sight):
        return False
    token = _session()
    given: Any = partial(_made, sight, data, token) if callable(data) else SHOWN.note(token, _bytes(data))
    more["key"] = f"{sight.name} {more.get('key', label)}"  # so that what is on a page can be told by its right
    return bool(st.download_button(label, given, name, kind, on_click="ignore", **more))


def picture(content: bytes, **more: Any) -> None:
    """Show a picture on the page of whoever asks."""
    st.image(SHOWN.note(_session(), content), **more)


def _made(sight: Sight, make: Callable[[], Content], token: str | None) -> bytes:
    """Make a file that was asked for.

    Raises:
        RefusedError: they may no longer take it away; SignedOutError where the session is over.
    """
    with as_token(token):
        require_sight(sight)
        return SHOWN.note(token, _bytes(make()))


def _session() -> str | None:
    """The session that a file is shown to; None in single-person mode, where there are none."""
    return None if asking() is None else asking_token()


def _bytes(content: Content) -> bytes:
    return content.encode() if isinstance(content, str) else content
