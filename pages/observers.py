"""Observers: two sheets on one attempt, practice sheets, and the rest; for the lead alone."""

import streamlit as st

from course.access import Sight
from course.answers import observers_export as export
from course.answers.marking import observers as staff
from course.answers.observers import CAUTION, observers
from course.screens import choices, frame, observer_sections, offers

screen = frame.begin()
frame.show_told()
if screen.seen is None or not screen.seen.attempts:
    frame.teach("Observers are compared on attempts that both scored; there is none yet.", "Mark an attempt", "mark")
seen = screen.course

st.title("Observers")
frame.choose_course(screen)
asker = choices.looking("Who is looking?", staff(seen), "looker")
if asker is None:
    st.markdown("This page is for the lead alone. Say who is looking.")
    frame.end()
as_of = frame.choose_day(seen)
answer = frame.telling(observers)(seen, asker, as_of)
if answer is None:
    frame.show_told()
    frame.end()

st.markdown(f"## {frame.plain(answer.sentence)}")
st.caption(CAUTION)
observer_sections.pairs(answer)
observer_sections.practising(answer)
observer_sections.severities(answer)

st.subheader("To take away", anchor=False)
files = (
    ("Two sheets on one attempt", export.pairs_csv(answer), "observers"),
    ("Practice sheets", export.practice_csv(answer), "practice-sheets"),
    ("Same student and skill", export.severity_csv(answer), "same-student-and-skill"),
)
with st.container(horizontal=True):
    for label, text, name in files:
        offers.offer(
            Sight.OBSERVERS_FILE,
            f"{label} (CSV)",
            text,
            f"{name}.csv",
            "text/csv",
            key=f"csv-{name}",
        )
st.caption("With AC1, Krippendorff's alpha and linear-weighted kappa, each with its n.")
