"""Units: what holds each one, its dates and minutes, fault slips, and what a unit change would do."""

import streamlit as st

from course.access import Act
from course.answers.faults import slip_view
from course.answers.units import units_answer
from course.asker import may_ask
from course.screens import change_parts, fault_parts, frame, reading_parts, unit_parts

screen = frame.begin()
frame.show_told()
if screen.seen is None:
    frame.teach("Units are read by the rubrics of a course. Make one first.", "Make a course", "people")
seen = screen.course
if not seen.units:
    frame.teach("No unit is entered yet.", "Enter a unit", "people")
answer = units_answer(screen.ledger, seen)

if "slip" in st.query_params:
    slip = frame.telling(slip_view)(screen.ledger, seen, st.query_params["slip"])
    if slip is None:
        unit_parts.go()
    fault_parts.show_slip(screen, slip)
    st.caption(frame.plain(answer.caution))
    frame.end()

card = next((card for card in answer.units if card.unit == st.query_params.get("unit")), None)
if card is not None:
    actor = unit_parts.show_unit(screen, card)
    reading_parts.show_readings(screen, card, actor)
    st.caption(frame.plain(answer.caution))
    frame.end()

st.title("Units")
frame.choose_course(screen)
st.markdown(f"## {frame.plain(answer.sentence)}")
unit_parts.show_findings(answer.findings)
for line in answer.shared:
    st.text(line)
unit_parts.choose_unit(answer)
actor = unit_parts.acting(screen)
if may_ask(Act.CARE):
    with st.expander("Plant a fault on a bench"):
        fault_parts.plant_form(screen, actor)
    with st.expander("Show a fault in the water"):
        fault_parts.show_form(screen, actor)
with st.expander("Fault slips"):
    fault_parts.slip_list(screen)
with st.expander("Who found what"):
    fault_parts.count_list(screen)
with st.expander("What a unit change would do"):
    change_parts.change_form(screen)
st.caption(frame.plain(answer.caution))
