"""The entry script: page frame and menu. It lies here, and not beside pages/, so that no page runs without it."""

import streamlit as st

from course.screens import shown_page
from course.screens.step_pad import show_page_style

st.set_page_config(page_title="Loopledger", layout="wide", initial_sidebar_state="collapsed")
show_page_style()
shown_page.run()
