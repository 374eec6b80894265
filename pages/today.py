"""Today: who is in, what each student still needs, what stands open, and what matters most now."""

import streamlit as st

from course.access import Act
from course.answers.readiness import window_line
from course.answers.shared_units import shared_units
from course.answers.today import runners
from course.asker import may_ask
from course.places import PAGES
from course.screens import choices, finding_parts, frame, group_forms, today_parts

if {"attempt", "line"} & set(st.query_params):  # the address of an attempt or line without its page
    st.switch_page(PAGES / "mark.py", query_params=st.query_params.to_dict())

screen = frame.begin()
frame.show_told()
if screen.centre.ending:
    st.text(screen.centre.ending)
if screen.seen is None:
    frame.teach("Start here: make a course, its people and a session.", "Make a course", "people")
seen = screen.course
if not seen.students or not seen.sessions:
    frame.teach("Today needs a student and a session of the course.", "Add them on People", "people")

st.title("Today")
head = st.container()
frame.choose_course(screen)
answer = today_parts.choose(screen)
head.markdown(f"## {frame.plain(answer.sentence)}")
with head:
    today_parts.to_days_end(answer, answer.day)
if window := window_line(seen, max(answer.day, seen.today())):
    head.warning(frame.plain(window))
if answer.session is None:
    today_parts.no_session(seen, answer, answer.day)
else:
    people = st.container()
    actor = choices.acting_of_many("Signed in and out by", runners(seen), "runner")
    with people:
        if not answer.live and may_ask(Act.RUN_DAY):
            st.markdown("This day is a record: in and out ask for the time.")
        today_parts.who_is_in(screen, answer.session, actor, live=answer.live)
    if may_ask(Act.RUN_DAY):
        with st.expander("Who is with whom: make and change groups"):
            group_forms.groups_form(screen, answer.session, actor)
    st.subheader("What each student still needs here", anchor=False)
    today_parts.needs(answer)

st.subheader("What stands open", anchor=False)
finding_parts.count_line(screen, screen.actor(runners(seen)))
for line in shared_units(seen, answer.day):
    st.text(line)
today_parts.stands_open(screen, answer, screen.actor(runners(seen)))
st.subheader("Days left against days needed", anchor=False)
today_parts.days_against_days(answer)
st.caption(frame.plain(seen.profile.notice))
