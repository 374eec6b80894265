"""Day's end: what is open and its way out, the roll, what went wrong, and closing the day."""

import streamlit as st

from course.access import Act
from course.answers.day_end import day_end
from course.asker import may_ask
from course.screens import day_parts, frame, incident_parts

screen = frame.begin()
incident_parts.show_style()
if screen.seen is None or not screen.seen.sessions:
    frame.teach("A day ends after its sessions. Make a course and plan one.", "Plan a session", "people")

st.title("Day's end")
frame.show_told()
frame.choose_course(screen)
day = day_parts.choose_day(screen)
tablets = day_parts.waiting_marks(screen)
answer = day_end(screen.ledger, screen.course, day, tablets)
st.markdown(f"## {frame.plain(answer.sentence)}")
session = day_parts.choose_session(screen, day)
day_parts.state_part(session)
incident_parts.freeze_part(screen, session, len(tablets))
actor = day_parts.choose_actor(screen)

st.subheader(f"Roll: {frame.plain(session.title)}", anchor=False)
day_parts.roll_part(screen, session, actor)
incident_parts.incidents_part(screen, session, actor)

st.subheader("Still open", anchor=False)
day_parts.open_list(screen, answer, actor)
day_parts.close_part(screen, answer, actor, tablets)

with st.expander("Emergency contact and site plan", expanded=not session.site_plans):
    day_parts.site_part(screen, session, actor, day)
if may_ask(Act.CLOSE):
    with st.expander("Open a closed session again"):
        day_parts.reopen_part(screen, session, actor)
