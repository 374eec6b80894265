"""Laptops: who has what, handing everything over, and taking in what another laptop brings."""

import streamlit as st

from course.access import Act
from course.answers.laptops import laptops
from course.asker import asking, may_ask
from course.screens import choices, controls, frame, laptop_parts

screen = frame.begin()
st.title("Laptops")
frame.show_told()
answer = laptops(screen.ledger)
st.markdown(f"## {frame.plain(answer.sentence)}")
for one in answer.laptops:
    st.text(f"{laptop_parts.mark(one)} {one.words}")
for sentence in (*answer.forks, *answer.unknown, *answer.clocks):
    st.warning(sentence)

takes_in = controls.may_or_tell(Act.SET_UP, "take in what another laptop brings")
actor = choices.acting("Who acts?", laptop_parts.who_may(screen), "laptops-actor") if takes_in else None
if actor is None and asking() is None:
    st.markdown("Choose who acts; handing over and taking in come next.")
    frame.end()
if actor is not None:
    with st.expander("Take in what another laptop brings", expanded=True):
        laptop_parts.take_in_form(screen, actor)
if may_ask(Act.BACKUP):
    with st.expander("Hand everything over to another laptop"):
        laptop_parts.hand_over_buttons(screen)
