"""People: make a course, enter people and units, plan sessions; who belongs where."""

import streamlit as st

from course.access import Act
from course.asker import may_ask
from course.screens import account_forms, frame, people_forms

screen = frame.begin()
frame.show_told()
st.title("People, units and sessions")
st.markdown(f"## {frame.plain(people_forms.next_step(screen))}")
with st.container():  # what may be there or longer next time has a place of its own, so that no form after it moves
    people_forms.go_on(screen)
    frame.choose_course(screen)

if may_ask(Act.SET_UP):
    with st.expander("A new course", expanded=screen.seen is None):
        people_forms.course_form(screen)
    with st.expander("A new person", expanded=screen.seen is not None and not screen.course.students):
        people_forms.person_form(screen)
    with st.expander("A new unit", expanded=not screen.centre.units):
        people_forms.unit_form(screen)
    if screen.seen is not None:
        with st.expander("Who is on this course, on which unit", expanded=not screen.seen.students):
            people_forms.enrol_form(screen)
        with st.expander("A new session", expanded=not screen.seen.sessions):
            people_forms.session_form(screen)
with st.container():
    if screen.seen is not None:
        people_forms.course_overview(screen)
people_forms.everybody(screen)
account_forms.accounts(screen)
