"""Figures: what to read on a unit, what it should say and why; and one quantity with its band and picture."""

import streamlit as st

from course.answers.figures import figure_table
from course.screens import figure_page, frame

screen = frame.begin()
frame.show_told()
if screen.seen is None:
    frame.teach("Figures are read by the rubrics of a course. Make one first.", "Make a course", "people")
seen = screen.course

st.title("Figures")
frame.choose_course(screen)
unit = figure_page.choose_unit(screen)
found = figure_table(seen, unit)
st.markdown(f"## {frame.plain(found.sentence)}")
to_read, to_reckon, every = figure_page.parts()
with to_read:
    figure_page.reading_table(found, figure_page.choose_skill(found), with_last=unit is not None)
with to_reckon:
    figure_page.ask(unit)
with every:
    figure_page.reference_table()
st.caption(frame.plain(f"{found.caution} This is no dive plan and no permission to dive or to breathe anything."))
