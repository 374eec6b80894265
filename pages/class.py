"""Class: where a course's students go wrong, skill by skill, and where."""

import streamlit as st

from course.answers.class_practice import class_csv, class_practice
from course.screens import charts, figure_parts, frame

screen = frame.begin()
frame.show_told()
if screen.seen is None or not screen.seen.students:
    frame.teach("Where a class is weak shows once a course has students and attempts.", "Add them on People", "people")
seen = screen.course

st.title(f"Where the class is weak: {frame.plain(seen.course.title)}")
frame.choose_course(screen)
as_of = frame.choose_day(seen)
practice = class_practice(seen, as_of)
st.markdown(f"## {frame.plain(practice.sentence)}")

most = 12
first, rest = practice.skills[:most], practice.skills[most:]
if first:
    charts.show(charts.class_chart(first, practice.sentence), practice.sentence, class_csv(practice), "class")
    st.caption(
        "Weakest first: critical errors, then doubt. The larger the square, the larger the share that went wrong; a "
        "bar at its left: critical. Below 3 attempts only the numbers stand. The order proposes what to teach next and "
        "changes no standing."
    )
    st.subheader("Skill by skill, and the step that goes wrong most", anchor=False)
for line in first:
    with st.expander(f"{'▌ ' if line.critical else ''}**{frame.plain(line.title)}**: {frame.plain(line.words)}"):
        st.markdown(line.doubt_words)
        for step in line.steps:
            mark = "▌ critical: " if step.critical else ""
            st.markdown(f"- {mark}{frame.plain(step.sentence)} {frame.plain(step.why)}")
        figure_parts.in_numbers(tuple(dict.fromkeys(step.in_numbers for step in line.steps if step.in_numbers)))
if rest:
    with st.expander(f"{len(rest)} more skills with an error"):
        st.markdown("\n".join(f"- **{frame.plain(line.title)}**: {frame.plain(line.words)}" for line in rest))
if practice.not_seen_yet:
    st.subheader("Not seen yet", anchor=False)
    for line in practice.not_seen_yet:
        who = "nobody was seen at it" if not line.students else f"{', '.join(line.not_seen_yet)}"
        st.markdown(f"- **{frame.plain(line.title)}**: {frame.plain(who)}")
st.caption(frame.plain(seen.profile.notice))
