"""Move a running course to other adopted standards: first what it would change per student, then the lead decides."""

from __future__ import annotations

import streamlit as st

from course.access import Act
from course.actions.standards import move_course
from course.answers.standards_answer import history
from course.answers.standards_move import StandardsMovePreview, move_preview, moves_made
from course.screens import choices, controls, frame
from course.screens.frame import Screen, plain, telling
from course.storage.lookup import adopted
from course.words import Role, plural


def move_a_course(screen: Screen) -> None:
    """Choose a course and where it would move, see what changes, decide with a reason."""
    if screen.seen is None:
        st.text("There is no course yet, so there is none to move.")
        return
    frame.choose_course(screen)
    course = screen.course.course
    for line in moves_made(screen.ledger, screen.course):
        st.text(line.sentence)
    lines = {line.adoption: line.head + (" · in force" if line.in_force else "") for line in history(screen.ledger)}
    adoption = st.selectbox("To the rubrics of", list(lines), format_func=lines.__getitem__, key="move-adoption")
    profiles = {(p.id, p.revision): p.title for p in adopted(screen.ledger, adoption).standards.profiles}
    now_on = list(profiles).index(here) if (here := (course.profile, course.revision)) in profiles else 0
    profile, revision = st.selectbox(
        "Requirements",
        list(profiles),
        format_func=lambda key: f"{profiles[key]}, revision {key[1]}",
        index=now_on,
        key="move-profile",
    )
    as_of = screen.course.usual_day
    preview = telling(move_preview)(screen.ledger, screen.course, adoption, profile, revision, as_of)
    if preview is None:
        frame.show_told()
    elif preview.nothing:
        st.markdown("### The course is on these already.")
    else:
        _show(preview)
        _decide(screen, preview, adoption, profile, revision)


def _show(preview: StandardsMovePreview) -> None:
    st.markdown(f"### {plain(preview.sentence)}")
    for student in preview.students:
        with st.expander(f"{plain(student.name)} · {plain(student.sentence)} · {plural(len(student.lines), 'line')}"):
            for line in student.lines:
                st.text(line)
    with st.expander(f"What differs between the two ({len(preview.changes.sentences)})"):
        for sentence in preview.changes.sentences:
            st.text(sentence)
    st.caption("Attempts marked by another form of a skill are kept and shown, and do not count.")


def _decide(screen: Screen, preview: StandardsMovePreview, adoption: str, profile: str, revision: str) -> None:
    course = screen.course.course
    with st.form("move-course"):
        leads = {person: screen.course.name(person) for person in course.people(Role.LEAD)}
        who = choices.acting("Who decides? Only the lead of the course does.", leads, "move-who")
        why = st.text_area("Reason", max_chars=1000, key="move-why")
        pressed = controls.submit(Act.SET_UP, "Move the course", type="primary")
    if not pressed:
        return
    if who is None:
        st.warning("Say who decides; nothing was changed.")
        return
    st.session_state.pop("told", None)
    telling(move_course)(
        screen.ledger,
        who,
        course.id,
        adoption=adoption,
        profile=profile,
        revision=revision,
        why=why,
        shown_from=preview.shown_from,
    )
    if "told" not in st.session_state:
        st.session_state["told"] = ("done", "The course is moved; the decision is in the ledger with its reason.")
    st.rerun()
