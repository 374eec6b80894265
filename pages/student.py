"""Student's own: one student's own page, opened for them by an instructor, and the sheet to take home."""

import streamlit as st

from course.access import Sight
from course.answers.student_page import student_page
from course.paper.take_home import print_take_home
from course.screens import frame, offers, own_page, preview

screen = frame.begin()
frame.show_told()
if screen.seen is None or not screen.seen.students:
    frame.teach("A student's own page needs a course with students.", "Add them on People", "people")
seen = screen.course

student = own_page.chosen(screen)
if student is None:
    st.title("Whose own page?")
    frame.choose_course(screen)
    st.markdown("Opened by an instructor for the student beside them: it shows that student's own record alone.")
    own_page.choose(screen)
    frame.end()

own_page.close()
as_of = frame.choose_day(seen)
page = student_page(seen, student, as_of)
st.title(frame.plain(page.student))
st.markdown(f"## {frame.plain(page.sentence)}")
own_page.show(page)

size = st.segmented_control("Paper", ["A4", "Letter"], default="A4", key="take-home-size") or "A4"
pdf = frame.telling(preview.as_bytes)(print_take_home, screen.ledger, page, size)
frame.show_told()
if pdf is not None:
    offers.offer(
        Sight.TAKE_HOME_FILE,
        "Download the sheet to take home",
        pdf,
        "take-home.pdf",
        "application/pdf",
    )
for caution in page.cautions:
    st.caption(frame.plain(caution))
