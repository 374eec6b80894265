"""Small components: the student x skill matrix, a skill's history, and two that draw nothing and ask the browser."""

from __future__ import annotations

from typing import Any

import streamlit as st

from course.answers.matrix import Matrix
from course.places import SCREENS
from course.screens import theme
from course.screens.drawing import history_plain, matrix_plain
from course.words import Outcome


def course_matrix(matrix: Matrix, chosen: tuple[str, str] | None) -> tuple[str, str] | None:
    """Draw the matrix; return the cell (student, skill) that was tapped now, if any."""
    data = {**matrix_plain(matrix), "chosen": list(chosen or ())}
    result = _component("course_matrix", ".matrix")(data=data, key="matrix", on_cell_change=_heard)
    cell = result.get("cell")
    return (str(cell["student"]), str(cell["skill"])) if isinstance(cell, dict) else None


def history(outcomes: list[Outcome], streaks: list[int], in_a_row: int) -> None:
    """Draw attempts, oldest first, with the count in a row after each."""
    _component("history", ".history")(data={"attempts": history_plain(outcomes, streaks, in_a_row)}, key="history")


def unit_list(rows: list[dict[str, Any]]) -> str | None:
    """Draw the units with shape and word; return the one that was tapped now, if any."""
    result = _component("unit_list", ".units")(data={"rows": rows}, key="units", on_unit_change=_heard)
    unit = result.get("unit")
    return str(unit) if isinstance(unit, str) else None


def taps_waiting() -> int:
    """Return how many taps on this device wait to be saved, as far as the browser has told."""
    known = int(st.session_state.get("taps-waiting", 0))
    told = _component("waiting")(data={"waiting": known}, key="waiting", on_waiting_change=_heard).get("waiting")
    st.session_state["taps-waiting"] = int(told) if isinstance(told, int | float) else known
    return int(st.session_state["taps-waiting"])


def watch_session(mark: str) -> None:
    """Have the page go by itself once the session that it is shown to has ended."""
    script = (SCREENS / "signed_in.js").read_text("utf-8")
    st.components.v2.component("course_signed_in", js=script, isolate_styles=False)(data={"of": mark}, key="signed-in")


def _component(name: str, selector: str = "") -> Any:
    script = "\n".join((SCREENS / part).read_text("utf-8") for part in ("shapes.js", f"{name}.js"))
    style = theme.css_constants(selector) + (SCREENS / f"{name}.css").read_text("utf-8") if selector else None
    return st.components.v2.component(f"course_{name}", css=style, js=script, isolate_styles=False)


def _heard() -> None:
    """Streamlit reruns the page for it; nothing else is to be done."""
