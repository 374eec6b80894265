"""The step pad: one student, one skill, tap by tap.

The browser part keeps every tap on the tablet until the server has it (pad_outbox.js), works out what holds and whose
turn it is (pad_state.js, pad_line.js, pad_clock.js), draws it (pad_view.js, pad_tray.js) and turns taps into items
(pad_acts.js, step_pad.js). Python hands it a line of students as plain data and is told what only it can do.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import streamlit as st

from course.places import SCREENS
from course.screens import theme
from course.screens.order_picture import drawn_order
from course.screens.serve import MARKS, PULSE

SCRIPTS = (
    "pad_outbox.js",
    "pad_clock.js",
    "pad_state.js",
    "pad_line.js",
    "pad_view.js",
    "pad_order.js",
    "pad_tray.js",
    "pad_acts.js",
    "step_pad.js",
)
NAME = "course_step_pad"
_COMMON = ("skill", "steps", "persons", "staff")


@dataclass(frozen=True)
class PadNews:
    """What the pad told at this run.

    How many taps were saved since, an attempt that was closed, whether the pad is to be left, and a skill that was
    seen in the same act and whose steps the pad asks for.
    """

    saved: int
    closed: str | None
    leave: bool
    also: str | None


@cache
def script() -> str:
    """Return the pad's script: its parts as one module."""
    return "\n".join((SCREENS / part).read_text(encoding="utf-8") for part in SCRIPTS)


@cache
def style() -> str:
    """Return the pad's style in the colours and sizes of the theme."""
    return theme.css_constants(":host") + "\n" + (SCREENS / "step_pad.css").read_text(encoding="utf-8")


def show_pad(data: Mapping[str, Any]) -> PadNews:
    """Draw the pad of a line of students (see `course.answers.line.line_pads`) and return what it told.

    Args:
        data: the line as plain data (ids, texts, steps, marks); text of people is set as text, never as markup.
    """
    pad = st.components.v2.component(NAME, js=script(), css=style())
    told = pad(
        key=f"pad_{data['line']}",
        data={"route": MARKS, "pulse": PULSE, **shared(data)},
        on_saved_change=_heard,
        on_closed_change=_heard,
        on_leave_change=_heard,
        on_also_change=_heard,
    )
    also = told.get("also")
    return PadNews(
        int(told.get("saved") or 0), told.get("closed"), bool(told.get("leave")), str(also) if also else None
    )


def shared(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return the line's data with what many pads have in common written once: a line is sent at every rerun."""
    forms: list[dict[str, Any]] = []
    thin = []
    for pad in data["pads"]:
        form = {name: pad[name] for name in _COMMON}
        if form not in forms:
            forms.append(form)
        own = {k: v for k, v in pad.items() if k not in _COMMON}
        thin.append({**own, "order": drawn_order(pad.get("order")), "form": forms.index(form)})
    return {**data, "pads": thin, "forms": forms}


def show_mark_style() -> None:
    """Give the Mark page the whole screen."""
    st.html(f"<style>{theme.MARK_CSS}</style>")


def show_page_style() -> None:
    """Give every page its touch sizes and focus."""
    st.html(f"<style>{theme.PAGE_CSS}</style>")


def _heard() -> None:
    """Streamlit reruns the page for it; nothing else is to be done."""
