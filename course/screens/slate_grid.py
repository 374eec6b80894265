"""The copying grid: one paper sheet again, filled by keyboard alone or by touch.

The browser part keeps the copy on the device with every key (slate_draft.js), draws it (slate_view.js) and asks the
server what saving would do before it saves (slate_grid.js, through a route of its own). Python hands it the sheet as
plain data and is told which sheet to open next.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import streamlit as st

from course.answers.slate_grid import SheetOut
from course.places import SCREENS
from course.screens import theme
from course.screens.slate_route import SLATE

SCRIPTS = ("slate_draft.js", "slate_view.js", "slate_grid.js")
NAME = "course_slate_grid"


@cache
def script() -> str:
    """Return the grid's script: its parts as one module."""
    return "\n".join((SCREENS / part).read_text(encoding="utf-8") for part in SCRIPTS)


@cache
def style() -> str:
    """Return the grid's style in the colours and sizes of the theme."""
    return theme.css_constants(":host") + "\n" + (SCREENS / "slate_grid.css").read_text(encoding="utf-8")


def show_grid(data: Mapping[str, Any], waiting: Sequence[SheetOut]) -> tuple[str, str] | None:
    """Draw the grid of one sheet; return (session, slate) where the person goes next, both empty for the list.

    Args:
        data: the sheet as plain data; text of people is set as text, never as markup.
        waiting: sheets that are still out; those after this one are offered first once it is saved.
    """
    component = st.components.v2.component(NAME, js=script(), css=style())
    place = next((at for at, one in enumerate(waiting) if one.slate == data["slate"]), len(waiting))
    others = [
        {"slate": one.slate, "session": one.session, "code": one.code, "title": one.title}
        for one in (*waiting[place + 1 :], *waiting[:place])
    ]
    content = {**data, "route": SLATE, "next": others}
    told = component(key=f"slate_{data['slate']}", data=content, on_open_change=_heard).get("open")
    return (str(told["session"]), str(told["slate"])) if isinstance(told, dict) else None


def show_slate_style() -> None:
    """Keep the page usable while Streamlit's own connection is lost: the grid has its own."""
    st.html('<style>[data-testid="stDialog"] { display: none; } html, body { overflow: auto !important; }</style>')


def _heard() -> None:
    """Streamlit reruns the page for it; nothing else is to be done."""
