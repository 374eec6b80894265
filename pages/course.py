"""Course: every standing, and behind each cell the attempts, sheets and marks; sign here."""

import streamlit as st

from course.answers.decisions import changed_since_signed
from course.answers.matrix import matrix
from course.answers.readiness import window_line
from course.answers.skill_detail import skill_detail
from course.answers.standards_move import course_contest
from course.screens import controls, detail, frame
from course.screens.components import course_matrix
from course.screens.signing_forms import decide_for_student

screen = frame.begin()
frame.show_told()
if screen.seen is None:
    frame.teach(
        "There is no course yet. Make one, then mark attempts; their standings come here.", "Make a course", "people"
    )
seen = screen.course

chosen = (st.query_params.get("student", ""), st.query_params.get("skill", ""))
if chosen[0] in seen.students and chosen[1] in seen.adopted.standards.skills:
    if controls.way("All skills of the course", key="all-skills"):
        del st.query_params["student"], st.query_params["skill"]
        st.session_state["last-cell"] = chosen
        st.rerun()
    as_of = frame.choose_day(seen)
    detail.show(screen, skill_detail(screen.ledger, seen, *chosen, as_of))
    frame.end()

st.title(frame.plain(seen.course.title))
frame.choose_course(screen)
as_of = frame.choose_day(seen)
if sign_first := st.query_params.get("sign", "") in seen.students:  # somebody was led here to sign for one student
    decide_for_student(screen, as_of, st.query_params["sign"])
answer = matrix(seen, as_of)
st.markdown(f"## {frame.plain(answer.sentence)}")
if window := window_line(seen, max(as_of, seen.today())):
    st.warning(frame.plain(window))
if contest := course_contest(seen):
    st.caption(frame.plain(contest))
if not answer.columns:
    frame.teach("Nobody is enrolled yet.", "Add students", "people")
st.markdown("Tap a cell: it opens to the attempts, sheets and marks behind it, and there you sign.")
tapped = course_matrix(answer, st.session_state.get("last-cell"))
if tapped:
    st.query_params["student"], st.query_params["skill"] = tapped
    st.rerun()
for line in changed_since_signed(screen.ledger, seen, as_of):
    st.warning(frame.plain(line))
if not sign_first:
    decide_for_student(screen, as_of)
st.caption(frame.plain(seen.profile.notice))
