"""Mark: one student or several, one skill, tap by tap. Nothing is opened in the ledger before its first mark."""

import streamlit as st

from course.access import Act
from course.answers.line import line_at, line_pads
from course.screens import choices, controls, frame, mark_choice, waiting_form

screen = frame.begin()
frame.show_told()

if "attempt" in st.query_params or "line" in st.query_params:
    line = frame.telling(line_at)(screen.ledger, dict(st.query_params))
    data = frame.telling(line_pads)(screen.ledger, line) if line else None
    frame.show_told()
    choices.open_pad(data if controls.may_or_tell(Act.PRACTISE, "mark") else None)
    frame.end()

if screen.seen is None:
    frame.teach("Start here: make a course, its people and a session.", "Make a course", "people")
seen = screen.course
if not seen.students or not seen.sessions:
    frame.teach(
        "This course needs a student and a session before an attempt can be marked.", "Add them on People", "people"
    )

st.title("Whom do you watch now?")
frame.choose_course(screen)
mark_choice.go_on(seen)
if controls.may_or_tell(Act.PRACTISE, "mark"):
    mark_choice.choose(seen)
    waiting_form.take_in(screen.ledger)
waiting_form.tablets_heard(seen)
