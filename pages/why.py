"""Show why: what a standing, a signed record, minutes, a session or one entry rests on."""

import streamlit as st

from course.screens import frame, why_parts

screen = frame.begin()
frame.show_told()
if screen.seen is None:
    frame.teach("There is no course yet; what stands later can be followed back here.", "Make a course", "people")

st.title("Show why")
frame.choose_course(screen)
what = why_parts.choose(screen)
as_of = frame.choose_day(screen.course)
answer = why_parts.ask(screen, what, as_of)
if answer is None:
    frame.show_told()
    st.markdown("Choose what to follow back: every entry behind it is shown, with who wrote it and when.")
    frame.end()
why_parts.show(screen, answer)
