"""Taking in a file of marks that waited on a tablet, and which tablets were heard of."""

from __future__ import annotations

import streamlit as st

from course.access import Act
from course.actions.waiting_file import read_waiting_file, take_waiting_file
from course.answers.course_view import CourseView
from course.moments import now
from course.screens import controls, frame, tablets
from course.storage.ledger import Ledger
from course.words import plural


def tablets_heard(seen: CourseView) -> None:
    """Say in one line which tablets were heard of, and what waits on them."""
    if words := tablets.tablets_line(seen.names, now()):
        st.caption(frame.plain(f"Heard of since the program started: {words}."))


def take_in(ledger: Ledger) -> None:
    """Let a person hand over a file of waiting marks, see what is in it, and take it in."""
    with st.expander("Marks saved as a file on a tablet"):
        st.markdown("A tablet that cannot reach this machine saves its waiting marks as a file: *See*, then *Save*.")
        given = st.file_uploader("File of waiting marks", type=["json"], key="waiting-file")
        file = frame.telling(read_waiting_file)(ledger, given.getvalue()) if given else None
        frame.show_told()
        if file is None:
            return
        st.markdown(f"**{frame.plain(file.sentence)}**")
        for attempt in file.attempts:
            st.text(attempt.line)
        if not file.new:
            st.markdown("Nothing is left to take in.")
        elif controls.button(Act.PRACTISE, f"Take in {plural(file.new, 'tap')}", type="primary", key="take-in"):
            answer = frame.telling(take_waiting_file)(ledger, file)
            if answer is not None:
                refused = [f"Not taken: {sentence}" for sentence in dict.fromkeys(s for _, s in answer.refused)]
                if answer.left:
                    refused.append(f"{plural(len(answer.left), 'tap')} of others: they sign in and take them in.")
                told = (
                    "All of the file is in the ledger now." if not refused else "Part of the file is in the ledger now."
                )
                st.session_state["told"] = ("warning" if refused else "done", "  \n".join([told, *refused]))
            st.rerun()
