"""Standards: rubrics and requirements in force, their history; try a rule, edit a skill, move a course."""

import streamlit as st

from course.answers.standards_answer import standards_in_force
from course.screens import frame, moving_forms, rubric_forms, standards_parts, trial_parts

IN_FORCE, TRY, EDIT, HISTORY, MOVE = "In force", "Try a rule", "Edit a skill", "History", "Move a course"
VIEWS = {"in-force": IN_FORCE, "try": TRY, "edit": EDIT, "history": HISTORY, "move": MOVE}

screen = frame.begin()
frame.show_told()
st.title("Standards")
answer = standards_in_force(screen.ledger)
if answer is None:
    standards_parts.begin_with_shipped(screen)
    st.stop()

asked = VIEWS.get(st.query_params.get("view", ""), IN_FORCE)
view = st.segmented_control("Show", list(VIEWS.values()), default=asked, key="standards-view") or IN_FORCE
if view == IN_FORCE:
    st.markdown(f"## {frame.plain(answer.sentence)}")
    standards_parts.offer_folder(screen, answer.adoption)
    standards_parts.show_in_force(answer)
elif view == TRY:
    trial_parts.try_a_rule(screen)
elif view == EDIT:
    rubric_forms.edit_skill(screen, answer.adoption)
elif view == HISTORY:
    standards_parts.show_history(screen)
else:
    moving_forms.move_a_course(screen)
