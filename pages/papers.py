"""Papers: the competency record and the sheet to take home, previewed before they are printed."""

import streamlit as st

from course.answers.competency import competency_record
from course.answers.student_page import student_page
from course.paper.competency_record import print_competency_record
from course.paper.take_home import print_take_home
from course.screens import choices, frame, preview

screen = frame.begin()
frame.show_told()
if screen.seen is None or not screen.seen.students:
    frame.teach("A competency record needs a course with students.", "Add them on People", "people")
seen = screen.course

names = ["Competency record", "Sheet to take home"]
name = st.segmented_control("Which paper", names, default=names[0], key="paper-name") or names[0]
st.title(name)
frame.choose_course(screen)
student = choices.one_of("Student", {s: seen.name(s) for s in seen.students}, "paper-student")
as_of = frame.choose_day(seen)
size = st.segmented_control("Paper", ["A4", "Letter"], default="A4", key="paper-size") or "A4"
if not student:
    st.markdown("Choose a student; the paper is shown here as it prints.")
    st.stop()

if name == names[0]:
    answer, printing = competency_record(screen.ledger, seen, student, as_of), print_competency_record
    sentence = answer.summary
else:
    answer, printing = student_page(seen, student, as_of), print_take_home
    sentence = answer.sentence
pdf = frame.telling(preview.as_bytes)(printing, answer, size)
if pdf is None:
    frame.show_told()
    st.stop()
st.markdown(f"### {frame.plain(sentence)}")
file = f"{name.lower().replace(' ', '-')}.pdf"
st.download_button("Download the PDF", pdf, file, "application/pdf", type="primary", on_click="ignore")
preview.show(pdf)
