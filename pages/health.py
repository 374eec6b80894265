"""Health: how the centre's storage is, one line a thing, and what to do where it is not fine."""

import streamlit as st

from course.answers.health import MARKS, health
from course.screens import frame, health_parts

screen = frame.begin()
answer = health(screen.ledger, health_parts.running_lines())
st.title("Health")
st.markdown(f"## {frame.plain(answer.sentence)}")
for line in answer.lines:
    st.text(f"{MARKS[line.state]} {line.state.value} · {line.what}: {line.words}")
st.caption("A full check reads the whole ledger: course verify. Looking here changes nothing.")
