"""Papers: a student's record or sheet to take home, or a paper of a day, previewed before it is printed."""

import streamlit as st

from course.access import Sight
from course.answers.competency import competency_record
from course.answers.student_page import student_page
from course.paper.competency_record import print_competency_record
from course.paper.take_home import print_take_home
from course.screens import choices, day_preview, frame, offers, preview

screen = frame.begin()
frame.show_told()
if screen.seen is None or not screen.seen.students:
    frame.teach("A competency record needs a course with students.", "Add them on People", "people")
seen = screen.course

st.title("Papers")
frame.choose_course(screen)
name = day_preview.choose(screen)
student = choices.one_of("Student", screen.students(Sight.PAPERS), "paper-student")
as_of = frame.choose_day(seen)
size = st.segmented_control("Paper size", ["A4", "Letter"], default="A4", key="paper-size") or "A4"
if not student:
    st.markdown("Choose a student; the paper is shown here as it prints.")
    frame.end()

if name == day_preview.RECORD:
    answer, printing = competency_record(screen.ledger, seen, student, as_of), print_competency_record
    sentence = answer.summary
else:
    answer, printing = student_page(seen, student, as_of), print_take_home
    sentence = answer.sentence
pdf = frame.telling(preview.as_bytes)(printing, screen.ledger, answer, size)
if pdf is None:
    frame.show_told()
    frame.end()
st.markdown(f"## {frame.plain(sentence)}")
preview.tell_unsigned(screen.ledger)
file = f"{name.lower().replace(' ', '-')}.pdf"
offers.offer(Sight.PAPER_FILE, "Download the PDF", pdf, file, "application/pdf", type="primary")
preview.show(pdf)
