"""Standards: rubrics and requirements in force, their history; try a rule, edit a skill, move a course."""

import streamlit as st

from course.access import Act
from course.answers.standards_answer import standards_in_force
from course.asker import may_ask
from course.screens import frame, moving_forms, profile_forms, rubric_forms, standards_parts, trial_parts

IN_FORCE, TRY, SKILLS, REQUIREMENTS = "In force", "Try a rule", "Skills", "Requirements"
UNIT_TYPES, HISTORY, MOVE = "Unit types", "History", "Move a course"
VIEWS = {
    "in-force": IN_FORCE, "try": TRY, "edit": SKILLS, "requirements": REQUIREMENTS, "unit-types": UNIT_TYPES,
    "history": HISTORY, "move": MOVE,
}  # fmt: skip
LOOKS = ("in-force", "try", "history")
"""Those that change nothing."""

screen = frame.begin()
frame.show_told()
st.title("Standards")
answer = standards_in_force(screen.ledger)
if answer is None:
    standards_parts.begin_with_shipped(screen)
    frame.end()

standards_parts.show_contests(screen, answer.adoption)
shown = [one for name, one in VIEWS.items() if name in LOOKS or may_ask(Act.SET_UP)]
asked = VIEWS.get(st.query_params.get("view", ""), IN_FORCE)
asked = asked if asked in shown else IN_FORCE
view = st.pills("Show", shown, default=asked, key="standards-view") or IN_FORCE
if view == IN_FORCE:
    st.markdown(f"## {frame.plain(answer.sentence)}")
    standards_parts.offer_folder(screen, answer.adoption)
    standards_parts.show_in_force(answer)
elif view == TRY:
    trial_parts.try_a_rule(screen)
elif view == SKILLS:
    rubric_forms.edit_skills(screen, answer.adoption)
elif view == REQUIREMENTS:
    profile_forms.edit_requirements(screen, answer.adoption)
elif view == UNIT_TYPES:
    profile_forms.edit_unit_types(screen, answer.adoption)
elif view == HISTORY:
    standards_parts.show_history(screen)
else:
    moving_forms.move_a_course(screen)
