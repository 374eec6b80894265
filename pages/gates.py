"""Gates: which stage each student may go to, which paper holds one shut, and noting the papers that were seen."""

import streamlit as st

from course.access import Act
from course.answers.gate_view import gates_answer, learners
from course.answers.marking import deciders
from course.asker import may_ask
from course.screens import choices, controls, frame, gate_forms, gate_parts

screen = frame.begin()
frame.show_told()
if screen.seen is None:
    frame.teach("A course says which papers it asks for. Make one first.", "Make a course", "people")
seen = screen.course

st.title("Gates")
frame.choose_course(screen)
as_of = frame.choose_day(seen)
answer = gates_answer(seen, as_of)
st.markdown(f"## {frame.plain(answer.sentence)}")
notes = may_ask(Act.SET_UP)
actor = choices.acting("Who is looking, and notes what they saw?", deciders(seen), "gate-actor") if notes else None
lead = actor is not None and gate_parts.is_lead(seen, actor)
for student in answer.students:
    gate_parts.student_gates(student, lead=lead)
if lead:
    gate_parts.interests(answer)

st.subheader("Note what you saw", anchor=False)
if not controls.may_or_tell(Act.SET_UP, "note a paper as seen"):
    frame.end()
if actor is None:
    st.markdown("Choose who is looking: the paper is noted as seen by them.")
    frame.end()
person = choices.one_of_many("Of whom?", learners(seen), "gate-person")
with st.expander("A paper that was seen", expanded=True):
    gate_forms.proof_form(screen, actor, person)
with st.expander("A guardian's consent"):
    gate_forms.consent_form(screen, actor, person)
with st.expander("An exam, and the items missed"):
    gate_forms.exam_form(screen, actor, person)
with st.expander("Another way of doing a skill (adjustment)"):
    gate_forms.adjustment_form(screen, actor, person)
with st.expander("Birth date; leaving the course, coming back; a tie to the staff"):
    gate_forms.person_forms(screen, actor, person)
st.caption(frame.plain(seen.profile.notice))
