"""On Papers, before a transfer file: the student agrees to be given on, and to whom."""

from __future__ import annotations

import streamlit as st

from course.access import Act
from course.actions.arrivals import note_consent
from course.answers.marking import deciders
from course.answers.transfer import consent_to_transfer
from course.screens import choices, controls
from course.screens.frame import Screen, plain, show_told, telling


def agreed(screen: Screen, student: str) -> bool:
    """Whether the student's consent is noted; else ask for it."""
    seen = screen.course
    if consent_to_transfer(screen.ledger, seen, student) is not None:
        return True
    st.markdown(f"## {plain(seen.name(student))} has to agree before another centre gets this.")
    if not controls.may_or_tell(Act.SET_UP):
        return False
    with st.form(f"transfer-{student}"):
        who = choices.acting("Who notes it?", deciders(seen), "transfer-by")
        given_to = st.text_input("Which centre gets it", max_chars=200, key="transfer-to")
        day = st.date_input("Agreed on", seen.today(), format="YYYY-MM-DD", key="transfer-day")
        st.caption("The file carries name, birth year, skills, minutes and papers seen; no medical paper.")
        if not controls.submit(Act.SET_UP, "The student agrees", type="primary") or who is None:
            show_told()
            return False
    noted = telling(note_consent)(
        screen.ledger, who, seen.course.id, student, day=str(day), given_to=given_to
    )  # fmt: skip
    if noted:
        st.session_state["told"] = ("done", "The consent is noted.")
    st.rerun()
    return False
