"""Privacy: whose data are due for erasing, one person's own data, erasing, and how long data are kept."""

import streamlit as st

from course.access import Act
from course.answers.keeping import keeping
from course.screens import choices, controls, frame, privacy_parts

screen = frame.begin()
st.title("Privacy")
frame.show_told()
answer = keeping(screen.ledger)
st.markdown(f"## {frame.plain(answer.sentence)}")
privacy_parts.due(answer)

if not controls.may_or_tell(Act.KEEP, "act on personal data"):
    frame.end()
actor = choices.acting("Who acts? A lead answers for personal data.", privacy_parts.leads(screen), "privacy-actor")
if actor is None:
    st.markdown("Choose who acts; one person's own data, erasing and the time for keeping come next.")
    frame.end()
names = {known.id: known.shown for known in screen.centre.people}
person = st.selectbox("Whose data?", list(names), format_func=names.__getitem__, index=None, key="privacy-person")
if person is not None:
    with st.expander("Give this person their own data"):
        privacy_parts.own_data_button(screen, actor, person)
    with st.expander("Erase this person's data"):
        privacy_parts.erase_form(screen, actor, person)
with st.expander("For how long data are kept"):
    privacy_parts.retention_form(screen, actor, answer)
