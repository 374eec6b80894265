"""Mark: one student, one skill, tap by tap."""

import streamlit as st

from course.actions.attempts import open_attempt
from course.answers import marking
from course.moments import now, observed_at
from course.screens import choices, frame

screen = frame.begin()
frame.show_told()

if {"attempt", "sheet"} <= set(st.query_params):
    data = frame.telling(marking.pad)(screen.ledger, st.query_params["attempt"], st.query_params["sheet"])
    frame.show_told()
    choices.open_pad(data)
    st.stop()

if screen.seen is None:
    frame.teach("Start here: make a course, its people and a session.", "Make a course", "people")
seen = screen.course
if not seen.students or not seen.sessions:
    frame.teach(
        "This course needs a student and a session before an attempt can be marked.", "Add them on People", "people"
    )

st.title("Whom do you watch now?")
frame.choose_course(screen)
for still in marking.open_attempts(seen)[:6]:
    if st.button(f"Go on: {still.student} · {still.title} ({still.observer})", key=f"open-{still.attempt}"):
        choices.go_to_attempt(still.attempt, still.sheet)
observer = choices.one_of("Who is marking?", marking.observers(seen), "observer")
session = choices.one_of_many("Session", marking.sessions(seen, seen.today()), "session")
if note := marking.session_note(seen, session, seen.today()):
    st.warning(note)
student = choices.one_of("Student", marking.session_students(seen, session), f"student-{session}")
if not (observer and student):
    st.markdown("Choose who is marking and the student; the skills come next.")
    st.stop()

for phase in marking.skill_choices(seen, session, student):
    st.subheader(phase.title)
    for skill in phase.skills:
        if choices.skill_button(skill):
            opened = frame.telling(open_attempt)(
                screen.ledger,
                observer,
                course=seen.course.id,
                session=session,
                student=student,
                skill=skill.skill,
                observed=observed_at(now(), seen.course.zone),
            )
            if opened:
                choices.go_to_attempt(opened.attempt, opened.sheet)
            st.rerun()
