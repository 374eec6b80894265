"""The entry script: page frame and menu. It lies here, and not beside pages/, so that no page runs without it."""

import streamlit as st

from course.places import PAGES
from course.screens import theme

st.set_page_config(page_title="Loopledger", layout="wide", initial_sidebar_state="collapsed")
st.html(f"<style>{theme.PAGE_CSS}</style>")
page = st.navigation(
    [
        st.Page(PAGES / "mark.py", title="Mark", default=True),
        st.Page(PAGES / "course.py", title="Course", url_path="course_page"),
        st.Page(PAGES / "papers.py", title="Papers", url_path="papers"),
        st.Page(PAGES / "people.py", title="People", url_path="people"),
    ],
    position="top",
)
page.run()
