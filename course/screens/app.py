"""The entry script: page frame and menu. It lies here, and not beside pages/, so that no page runs without it."""

import streamlit as st

from course.places import PAGES
from course.screens.step_pad import show_page_style

st.set_page_config(page_title="Loopledger", layout="wide", initial_sidebar_state="collapsed")
show_page_style()
page = st.navigation(
    [
        st.Page(PAGES / "today.py", title="Today", default=True),
        st.Page(PAGES / "mark.py", title="Mark", url_path="mark"),
        st.Page(PAGES / "slate.py", title="Slate", url_path="slate"),
        st.Page(PAGES / "course.py", title="Course", url_path="standings"),
        st.Page(PAGES / "units.py", title="Units", url_path="units"),
        st.Page(PAGES / "day.py", title="Day's end", url_path="day"),
        st.Page(PAGES / "class.py", title="Class", url_path="class"),
        st.Page(PAGES / "student.py", title="Student's own", url_path="student"),
        st.Page(PAGES / "observers.py", title="Observers", url_path="observers"),
        st.Page(PAGES / "papers.py", title="Papers", url_path="papers"),
        st.Page(PAGES / "people.py", title="People", url_path="people"),
    ],
    position="top",
)
page.run()
