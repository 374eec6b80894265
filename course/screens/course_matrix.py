"""The student x skill matrix as a component: every cell is a button that opens what is behind it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import streamlit as st

from course.answers.matrix import Matrix
from course.screens import theme
from course.screens.drawing import matrix_plain

_HERE = Path(__file__).parent


@st.cache_resource
def _component() -> Any:
    css = theme.css_constants(".matrix") + (_HERE / "course_matrix.css").read_text("utf-8")
    return st.components.v2.component(
        "loopledger_matrix", css=css, js=(_HERE / "course_matrix.js").read_text("utf-8"), isolate_styles=False
    )


def course_matrix(matrix: Matrix, chosen: tuple[str, str] | None) -> tuple[tuple[str, str] | None, int]:
    """Draw the matrix; return the cell (student, skill) tapped now, if any, and how many taps wait on this device."""
    data = {**matrix_plain(matrix), "chosen": list(chosen or ())}
    result = _component()(data=data, key="matrix", on_cell_change=lambda: None, on_waiting_change=lambda: None)
    cell = result.get("cell")
    tapped = (str(cell["student"]), str(cell["skill"])) if isinstance(cell, dict) else None
    waiting = result.get("waiting")
    return tapped, waiting if isinstance(waiting, int) else 0
