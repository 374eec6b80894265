"""Slate: give out paper sheets for the water, and copy them in again."""

import streamlit as st

from course.access import Act
from course.answers.slate_grid import grid, sheets_out
from course.asker import may_ask
from course.screens import controls, frame, slate_forms
from course.screens.slate_grid import show_grid, show_slate_style

screen = frame.begin()
if screen.seen is None or not screen.seen.students or not screen.seen.sessions:
    frame.teach("A paper sheet needs a course with a student and a session.", "Add them on People", "people")
seen = screen.course


def go(session: str, slate: str) -> None:
    """Open a sheet, or the list; the address holds it, so that a reload resumes."""
    for name, value in (("session", session), ("slate", slate)):
        if value:
            st.query_params[name] = value
        else:
            st.query_params.pop(name, None)
    slate_forms.remember_way(session, slate)
    st.rerun()


slate_forms.keep_to_way()
if {"session", "slate"} <= set(st.query_params):
    show_slate_style()
    if controls.way("All sheets", key="all-sheets"):
        go("", "")
    if not controls.may_or_tell(Act.RUN_DAY, slate_forms.ACTS):
        frame.end()
    data = frame.telling(grid)(screen.ledger, st.query_params["session"], st.query_params["slate"])
    frame.show_told()
    if data is not None and (then := show_grid(data, sheets_out(seen))):
        go(*then)
    frame.end()

st.title("Paper sheets")
st.markdown(f"## {slate_forms.summary(screen)}")
frame.choose_course(screen)
found = slate_forms.find_form(screen) if controls.may_or_tell(Act.RUN_DAY, slate_forms.ACTS) else None
frame.show_told()
chosen = slate_forms.out_list(screen) or found
if chosen:
    go(*chosen)
if sheets_out(seen):
    with st.expander("Print sheets that are out"):
        slate_forms.print_again(screen)
if may_ask(Act.RUN_DAY):
    with st.expander("Give out sheets", expanded=not sheets_out(seen) or "given-out" in st.session_state):
        slate_forms.give_out_form(screen)
