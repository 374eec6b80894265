"""Check a paper: is it as it was signed, does the ledger still say so, and what changed since."""

import streamlit as st

from course.screens import check_parts, frame

screen = frame.begin()
st.title("Check a paper")
found = check_parts.ask(screen)
frame.show_told()
if found:
    check_parts.show(found)
else:
    st.markdown("## Show a paper that was printed here: by its PDF, its square code, or the rows beside that.")
check_parts.keys(screen)
