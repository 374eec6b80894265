"""Findings: what does not fit, the worst first; each opens to what it rests on and takes an answer."""

import streamlit as st

from course.access import Sight
from course.answers.findings import course_findings
from course.answers.marking import observers as staff
from course.screens import choices, finding_parts, frame, offers

screen = frame.begin()
frame.show_told()
if screen.seen is None or not screen.seen.sessions:
    frame.teach("What does not fit shows once a session of a course was held.", "Plan a session", "people")
seen = screen.course

st.title("Findings")
frame.choose_course(screen)
head = st.container()
looker = choices.looking("Who is looking?", staff(seen), "findings-looker", seen.centre.lead)
as_of = frame.choose_day(seen)
answer = course_findings(screen.ledger, seen, as_of, looker or "")
head.markdown(f"## {frame.plain(answer.sentence)}")
for note in answer.notes:
    st.markdown(frame.plain(note))
finding_parts.listed_findings(screen, answer, looker, as_of)
finding_parts.found_no_more(answer)
if answer.findings:
    offers.offer(
        Sight.FINDINGS_FILE,
        "Findings (CSV)",
        finding_parts.as_csv(answer),
        "findings.csv",
        "text/csv",
    )
st.caption(frame.plain(answer.caution))
