"""The entry script: page frame and menu. It lies here, and not beside pages/, so that no page runs without it."""

import streamlit as st

from course.places import PAGES
from course.screens.step_pad import show_page_style

st.set_page_config(page_title="Loopledger", layout="wide", initial_sidebar_state="collapsed")
show_page_style()
page = st.navigation(
    [
        st.Page(PAGES / "mark.py", title="Mark", default=True),
        st.Page(PAGES / "course.py", title="Course", url_path="standings"),
        st.Page(PAGES / "standards.py", title="Standards", url_path="standards"),
        st.Page(PAGES / "papers.py", title="Papers", url_path="papers"),
        st.Page(PAGES / "people.py", title="People", url_path="people"),
    ],
    position="top",
)
page.run()
