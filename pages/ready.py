"""Ready: who can be signed off, and who is short of what by how much."""

import streamlit as st

from course.answers.readiness import readiness, window_line
from course.screens import frame, gate_parts, sign_off_forms

screen = frame.begin()
frame.show_told()
if screen.seen is None or not screen.seen.students:
    frame.teach("Who can be signed off shows once a course has students.", "Add them on People", "people")
seen = screen.course

st.title("Ready")
frame.choose_course(screen)
as_of = frame.choose_day(seen)
answer = readiness(seen, as_of)
st.markdown(f"## {frame.plain(answer.sentence)}")
if window := window_line(seen, max(as_of, seen.today())):
    st.warning(frame.plain(window))
gate_parts.ready_lines(answer)
sign_off_forms.sign_off_part(screen, as_of)
st.caption("The tool tells what the requirements ask; an instructor signs, and the agency certifies.")
st.caption(frame.plain(seen.profile.notice))
