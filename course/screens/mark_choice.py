"""Choosing on the Mark page: who marks, in which session, one student or several, and the skill."""

from __future__ import annotations

import streamlit as st

from course.access import Act
from course.answers import line, marking
from course.answers.course_view import CourseView
from course.answers.gate_view import door_words
from course.answers.line import Line
from course.answers.pad import left_words, shut_words
from course.answers.units import not_into_water
from course.asker import asking
from course.moments import new_id, now
from course.screens import choices, controls, frame

_ONE, _SEVERAL = "One student", "Several, one after another"


def go_on(seen: CourseView) -> None:
    """Offer the attempts that are still open, on the sheet that was begun."""
    asker = asking()
    own = [one for one in marking.open_attempts(seen) if asker is None or asker.person in one.observers[:1]]
    for still in own[:6]:
        words = frame.literal(f"Go on: {still.student} · {still.title} ({still.observer})")
        if controls.button(Act.PRACTISE, words, key=f"open-{still.attempt}"):
            choices.go_to({"attempt": still.attempt, "sheet": still.sheet})


def choose(seen: CourseView) -> None:
    """Choose observer, session, students and skill; a skill that is tapped opens the pad, and nothing in the ledger."""
    observer = choices.acting("Who is marking?", marking.observers(seen), "observer")
    session = choices.one_of_many("Session", marking.sessions(seen, seen.today(), now()), "session")
    for note in filter(None, (shut_words(seen.sessions[session]), marking.session_note(seen, session, seen.today()))):
        st.warning(frame.literal(note))
    if observer is None:
        st.markdown("Choose who is marking; the students and skills come next.")
        return
    _beside(seen, observer, session)
    students = _students(seen, session)
    if not students:
        st.markdown("Choose the student; the skills come next.")
        return
    held = {student: not_into_water(seen, seen.sessions[session], student, now()) for student in students}
    for student in students:
        if left := left_words(seen.sessions[session], student):
            st.info(f"{frame.plain(seen.name(student))}: {left}.")
        if held[student]:
            st.error(f"{frame.plain(seen.name(student))}: {frame.plain(held[student] or '')}")
    students = tuple(student for student in students if not held[student] and _may_begin(seen, session, student))
    if not students:
        return
    if len(students) == 1:
        _skills_of_one(seen, observer, session, students[0])
    else:
        _skills_of_line(seen, observer, session, students)


def _may_begin(seen: CourseView, session: str, student: str) -> bool:
    """Tell of a shut gate; it keeps only those out who are not there yet: who is signed in is marked."""
    of_session = seen.sessions[session]
    door = door_words(seen, of_session, student)
    there = any(span.person == student for span in of_session.spans) or of_session.end.moment <= now()
    if door:
        told = f"{frame.plain(seen.name(student))}: {frame.plain(door)}"
        (st.warning if there else st.error)(f"{told} {'Marks are kept.' if there else 'Sign them in on Today first.'}")
    return there or not door


def _students(seen: CourseView, session: str) -> tuple[str, ...]:
    here = marking.session_students(seen, session)
    how = choices.one_of("How many?", {_ONE: _ONE, _SEVERAL: _SEVERAL}, "how-many", _ONE) if len(here) > 1 else _ONE
    if how != _SEVERAL:
        student = choices.one_of("Student", here, f"student-{session}")
        return (student,) if student else ()
    groups = {name: own for name, own in marking.groups(seen, session).items() if len(own) > 1}
    for name, own in groups.items():
        names = ", ".join(seen.name(student) for student in own)
        if controls.way(frame.literal(f"All of {name}: {names}"), key=f"group-{session}-{name}"):
            st.session_state[f"line-{session}"] = list(own)
    return choices.some_of("Students, tapped in the order in which they go", here, f"line-{session}")


def _beside(seen: CourseView, observer: str, session: str) -> None:
    """Offer what others mark now: a second observer has a sheet of their own, begun with its first mark."""
    for still in marking.beside(seen, observer, session)[:6]:
        words = f"Beside {still.observer}, on your own sheet: {still.student} · {still.title}"
        if controls.button(Act.PRACTISE, frame.literal(words), key=f"beside-{still.attempt}"):
            choices.go_to({"attempt": still.attempt, "by": observer})


def _skills_of_one(seen: CourseView, observer: str, session: str, student: str) -> None:
    for phase in marking.skill_choices(seen, session, student):
        st.header(frame.literal(phase.title))
        for skill in phase.skills:
            if choices.skill_button(skill):
                choices.go_to(Line(new_id(), session, skill.skill, observer, (student,)).address())


def _skills_of_line(seen: CourseView, observer: str, session: str, students: tuple[str, ...]) -> None:
    for title, skills in line.line_skills(seen, session, students):
        st.header(frame.literal(title))
        for skill in skills:
            if choices.line_button(skill):
                choices.go_to(Line(new_id(), session, skill.skill, observer, skill.students).address())
