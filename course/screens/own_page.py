"""A student's own page on the screen: choosing whose, and the sections of what they hold, miss and repeat."""

from __future__ import annotations

import streamlit as st

from course.access import Sight
from course.answers.practice import WeakSkillLine
from course.answers.student_page import StudentPage, attempt_words, days_of
from course.asker import only_own
from course.screens import controls, figure_parts
from course.screens.frame import Screen, plain
from course.words import begun, listed, plural

_FEW = 8


def chosen(screen: Screen) -> str | None:
    """Whose page is open; the address holds it, so that a reload shows the same one and nobody else's name."""
    student = only_own(Sight.STUDENT) or st.query_params.get("student", "")
    return student if student in screen.students(Sight.STUDENT) else None


def choose(screen: Screen) -> None:
    """One button a student."""
    for student, name in screen.students(Sight.STUDENT).items():
        if controls.way(plain(name), key=f"own-{student}", width="stretch"):
            st.query_params["student"] = student
            st.rerun()


def close() -> None:
    """Offer to put the page away before the tablet is handed on; one's own page stays."""
    if not only_own(Sight.STUDENT) and controls.way("Close this page", key="close-own"):
        del st.query_params["student"]
        st.rerun()


def show(page: StudentPage) -> None:
    """Show what is missing, what to repeat, weak steps, what is held, and who saw it."""
    count = len(page.missing) + len(page.hours) + len(page.gaps) + len(page.papers)
    st.subheader(f"What is missing: {count}", anchor=False)
    lines = [f"- **{plain(one.title)}**: {plain(one.line)}" for one in page.missing]
    lines += [f"- **Hours and counts**: {plain(one)}" for one in page.hours]
    lines += [f"- **Missed in the exam, to talk through**: {plain(one)}" for one in page.gaps]
    lines += [f"- **Paper**: {plain(one)}" for one in page.papers]
    _lines(lines, "Nothing that the course asks for.")
    if page.adjustments:
        st.subheader("What I do another way", anchor=False)
        st.markdown("\n".join(f"- {plain(one)}" for one in page.adjustments))
    st.subheader("What to repeat next, in order, and where", anchor=False)
    _lines(
        [
            f"{n}. **{plain(one.title)}**: {one.place}. {plain(begun(one.line))}."
            for n, one in enumerate(page.repeat, 1)
        ],
        "Nothing has to be repeated.",
    )
    _weak(page)
    _held(page)
    _attempts(page)


def _lines(lines: list[str], nothing: str) -> None:
    """The first few, and the rest behind one tap."""
    st.markdown("\n".join(lines[:_FEW]) or nothing)
    if len(lines) > _FEW:
        with st.expander(f"{len(lines) - _FEW} more"):
            st.markdown("\n".join(lines[_FEW:]))


def _weak(page: StudentPage) -> None:
    now, since = [w for w in page.weak if not w.held], [w for w in page.weak if w.held]
    st.subheader("My weak steps, and why they matter", anchor=False)
    for skill in now[:_FEW]:
        _weak_skill(skill)
    if not now:
        st.markdown("No step of an open skill went wrong.")
    if len(now) > _FEW or since:
        rest = [*now[_FEW:], *since]
        held_since = ", held since" if not now[_FEW:] else ""
        with st.expander(f"{plural(len(rest), 'more skill')} with an error{held_since}"):
            for skill in rest:
                _weak_skill(skill)


def _weak_skill(skill: WeakSkillLine) -> None:
    st.markdown(f"**{plain(skill.title)}**: {plain(skill.words)}")
    for step in skill.steps:
        bar = "▌ critical: " if step.critical else ""
        st.markdown(f"- {bar}{plain(step.sentence)} {plain(step.why)}")
    figure_parts.in_numbers(tuple(dict.fromkeys(step.in_numbers for step in skill.steps if step.in_numbers)))


def _held(page: StudentPage) -> None:
    st.subheader(f"What I hold: {page.held_words}", anchor=False)
    if not page.held:
        st.markdown("Nothing yet: this is where it will stand.")
        return
    with st.expander("Skill by skill, with the day"):
        st.markdown("\n".join(f"- ■ **{plain(one.title)}**: {plain(one.line)}, {one.signed}" for one in page.held))


def _attempts(page: StudentPage) -> None:
    who = listed([f"{plain(name)} ({plural(count, 'attempt')})" for name, count in page.seen_by])
    st.subheader("My attempts, and who saw them", anchor=False)
    st.markdown(who + "." if who else "No attempt yet.")
    for day, attempts in days_of(page).items():
        with st.expander(f"{day}: {plural(len(attempts), 'attempt')}"):
            st.markdown("\n".join(f"- {plain(attempt_words(attempt))}" for attempt in attempts))
