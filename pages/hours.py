"""Hours: minutes against the requirements, who was where with the ratio line, time in the water, totals."""

import streamlit as st

from course.access import Act
from course.answers.hours import hours
from course.answers.oxygen import oxygen
from course.answers.session_times import session_times
from course.answers.set_points import set_points
from course.asker import may_ask
from course.screens import frame, hours_forms, hours_parts, oxygen_parts, set_point_parts

screen = frame.begin()
if screen.seen is None or not screen.seen.sessions:
    frame.teach("Hours come from sessions. Make a course and plan one.", "Plan a session", "people")
seen = screen.course

st.title("Hours")
frame.choose_course(screen)
as_of = frame.choose_day(seen)
answer = hours(seen, as_of)
st.markdown(f"## {frame.plain(answer.sentence)}")
hours_parts.notes(answer)

st.subheader("Against the requirements", anchor=False)
hours_parts.bars(answer)

st.subheader("Who was where", anchor=False)
times = session_times(seen, hours_parts.choose_session(screen, answer))
frame.show_told()
hours_parts.timeline(times)
if times.in_water:
    st.subheader("Time in the water", anchor=False)
    hours_parts.water_table(times)
    noted = set_points(seen, times.session)
    set_point_parts.pictures(noted)
if may_ask(Act.RUN_DAY):
    actor = hours_forms.choose_actor(screen)
    hours_forms.visibility_part(screen, times, actor)
    if times.in_water:
        with st.expander("Enter or mend time in the water"):
            hours_forms.water_form(screen, times, actor)
        with st.expander("Note the set point that was held"):
            set_point_parts.forms(screen, times, noted, actor)
    with st.expander("Enter or mend who was there"):
        hours_forms.times_form(screen, times, actor)

st.subheader("Oxygen exposure", anchor=False)
oxygen_parts.exposure(oxygen(seen, as_of))

st.subheader("Totals", anchor=False)
hours_parts.totals(answer)
for caution in answer.cautions:
    st.caption(frame.plain(caution))
