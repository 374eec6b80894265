"""What is in force, how it came to be so, and the rubric files of the centre's own folder."""

from __future__ import annotations

import streamlit as st

from course import places
from course.access import Act
from course.actions.standards import adopt_revision
from course.answers.course_view import view
from course.answers.standards_answer import (
    AdoptionLine,
    InForce,
    PhaseStandards,
    adoption_contest,
    history,
    waiting_in_folder,
)
from course.answers.standards_move import course_contest
from course.asker import may_ask
from course.errors import CourseError
from course.screens import choices, controls
from course.screens.frame import Screen, literal, plain, telling
from course.standards.standards import Standards
from course.storage.lookup import adopted
from course.storage.rubric_files import read_folder


def show_in_force(answer: InForce) -> None:
    """Skills by phase with their rules, requirements, unit types."""
    for phase in answer.phases:
        with st.expander(f"{plain(phase.title)} · {len(phase.skills)}"):
            _phase(phase)
    st.subheader("Requirements", anchor=False)
    for profile in answer.profiles:
        with st.expander(f"{plain(profile.title)}, revision {plain(profile.revision)}, from {profile.in_force_from}"):
            for line in profile.lines:
                st.text(line)
            st.caption(plain(profile.notice))
    st.subheader("Unit types", anchor=False)
    for line in answer.unit_types:
        st.text(line)
    st.caption(plain(answer.note))


def _phase(phase: PhaseStandards) -> None:
    st.markdown(f"{plain(phase.intro)} Revision {plain(phase.revision)}.")
    for row in phase.skills:
        bar = "▌ " if row.can_be_critical else ""
        st.markdown(f"{bar}**{plain(row.title)}** · {plain(row.rule)}")
    st.caption("▌ something in this skill can be critical.")


def show_history(screen: Screen) -> None:
    """Every adoption, the newest first, with what it changed."""
    for line in history(screen.ledger):
        with st.expander(plain(line.head), expanded=line.in_force):
            _adoption(line)


def _adoption(line: AdoptionLine) -> None:
    st.markdown("**In force for new courses**" if line.in_force else "Not in force any more; kept for its courses.")
    st.text(f"Courses on it: {', '.join(line.courses) or 'none'}.")
    for change in line.changes:
        st.text(change)
    if not line.changes:
        st.text("Nothing came before it to be compared with.")


def begin_with_shipped(screen: Screen) -> None:
    """An empty centre: take rubric files into use."""
    st.markdown("### No rubrics are in use yet. Begin with those that come with the program, and make them your own.")
    if not may_ask(Act.SET_UP):
        return
    found = folder_standards(screen) or telling(read_folder)(places.RUBRICS)
    who = choices.acting("Who takes them into use?", {p.id: p.shown for p in screen.centre.evaluators}, "adopt-first")
    if found and who and controls.button(Act.SET_UP, "Take them into use", type="primary"):
        _adopt(screen, who, found, None)


def offer_folder(screen: Screen, in_force: str) -> None:
    """Rubric files that somebody put into the centre's own folder and that differ from what is in force."""
    if not may_ask(Act.SET_UP):
        return
    found = folder_standards(screen)
    changes = waiting_in_folder(found, screen.ledger)
    if not changes or found is None:
        return
    with st.expander(f"The rubric files in the centre's folder differ in {len(changes.sentences)} places"):
        for sentence in changes.sentences:
            st.text(sentence)
        people = {p.id: p.shown for p in screen.centre.evaluators}
        who = choices.acting("Who takes them into use?", people, "adopt-folder")
        if who and controls.button(Act.SET_UP, "Take these files into use", key="take-folder"):
            _adopt(screen, who, found, in_force)


def show_contests(screen: Screen, in_force: str) -> None:
    """Adoptions and moves from two devices that disagree: told first, whatever is shown below."""
    for course in screen.centre.courses:
        if told := course_contest(view(screen.ledger, course.id)):
            st.warning(literal(told))
    contest = adoption_contest(screen.ledger)
    if contest is None:
        return
    st.warning(literal(contest.sentence))
    with st.expander(f"What differs between them ({len(contest.differs)})"):
        for sentence in contest.differs:
            st.text(sentence)
    if not may_ask(Act.SET_UP):
        return
    people = {p.id: p.shown for p in screen.centre.evaluators}
    who = choices.acting("Who says that what is in force holds?", people, "contest-who")
    if who and controls.button(Act.SET_UP, "What is in force holds", key="contest-holds"):
        _adopt(screen, who, adopted(screen.ledger, in_force).standards, in_force)


def folder_standards(screen: Screen) -> Standards | None:
    """The rubric files of the centre's own folder, None where it has none or they have flaws."""
    own = screen.ledger.folder / "rubrics"
    if not own.is_dir():
        return None
    try:
        return read_folder(own)
    except CourseError:
        st.warning("The centre's own rubric files have flaws: `course standards FOLDER/rubrics` tells each one.")
        return None


def _adopt(screen: Screen, who: str, standards: Standards, began_from: str | None) -> None:
    if telling(adopt_revision)(screen.ledger, who, standards.written, began_from):
        st.session_state["told"] = ("done", "In force for new courses. Courses that run stay on theirs.")
    st.rerun()
