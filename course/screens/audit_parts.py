"""On the Papers page: the audit file, sealed where the screens run and taken away as one file."""

from __future__ import annotations

import tempfile
from pathlib import Path

import streamlit as st

from course.access import Sight
from course.answers.audit import LIMITS
from course.exchange.audit_file import seal
from course.screens import controls, offers
from course.screens.frame import Screen, plain, show_told, telling

_STEPS = {"check": 0, "events": 1, "facts": 2, "tables": 3}
_KEPT = "audit-file"


def seal_file(screen: Screen) -> None:
    """Ask who gets it, seal it, and offer it."""
    st.markdown("## One file for an auditor: paper, tables, every event, and what checks them.")
    whom = st.text_input("Who gets it", key="audit-for")
    scope = st.segmented_control("Of", ["This course", "Every course"], default="This course", key="audit-of")
    course = screen.course.course.id if scope != "Every course" else None
    st.markdown(
        f"Names and what people wrote go in, and the file says that it is for {plain(whom)}. Copies that are given out "
        "cannot be erased from here later."
        if whom
        else "Nobody is named, so people are numbers in it, and texts are left out."
    )
    asked = (screen.ledger.head().hash, course, whom)
    if controls.button(Sight.AUDIT_FILE, "Seal the file", type="primary", key="audit-seal"):
        made = telling(_sealed)(screen, course, whom or None)
        st.session_state[_KEPT] = (asked, made) if made else None
        show_told()
    kept = st.session_state.get(_KEPT)
    if kept and kept[0] == asked:
        offers.offer(Sight.AUDIT_FILE, "Download the audit file", kept[1], "audit.zip", "application/zip")
        st.markdown("Whoever has it can check it with the program alone: `course check audit.zip`")
    st.caption("  \n".join(LIMITS))


def _sealed(screen: Screen, course: str | None, whom: str | None) -> bytes:
    bar = st.progress(0.0, "Sealing")

    def step(done: int, of: int, what: str) -> None:
        bar.progress(min(1.0, (_STEPS[what] + done / max(1, of)) / len(_STEPS)), f"Sealing: {what}")

    with tempfile.TemporaryDirectory(prefix="loopledger-") as place:
        out = Path(place) / "audit.zip"
        seal(screen.ledger, out, course=course, given_to=whom, step=step)
        bar.empty()
        return out.read_bytes()
