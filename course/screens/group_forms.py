"""The page Today: who is with whom, before the plan is made and as the day goes."""

from __future__ import annotations

import streamlit as st

from course.access import Act
from course.actions import courses, presence
from course.asker import may_ask
from course.screens import controls
from course.screens.frame import Screen, plain, telling
from course.words import listed


def groups_form(screen: Screen, session: str, actor: str) -> None:
    """Who is with whom: groups are made before the plan is, and changed as the day goes."""
    seen = screen.course
    fact = seen.sessions[session]
    staff = {m.person: seen.name(m.person) for m in seen.course.members if m.person not in seen.students}
    students = {person: seen.name(person) for person in seen.students}
    for group in {group.id: group for group in fact.groups}.values():
        with st.form(f"group-{group.id}"):
            st.markdown(f"**{plain(group.name)}**")
            now_in = [seen.name(person) for person in (*group.students, *group.staff)]
            st.caption(plain(f"Now: {listed(now_in) or 'nobody'}."))  # the fields show no more than fits on one line
            with_staff, with_students = _choose_people(group.id, staff, students, group.staff, group.students)
            if controls.submit(Act.RUN_DAY, "Change this group", key=f"group-{group.id}"):
                telling(presence.change_group)(
                    screen.ledger, actor, session, group.id, staff=with_staff, students=with_students
                )
                st.rerun()
    if not may_ask(Act.SET_UP):
        return
    with st.form("group-new", clear_on_submit=True):
        name = st.text_input("A new group, such as Group P", max_chars=60)
        with_staff, with_students = _choose_people("new", staff, students, (), ())
        if controls.submit(Act.SET_UP, "Make the group", type="primary"):
            telling(_make_group)(screen, session, actor, name, with_staff, with_students)
            st.rerun()


def _make_group(screen: Screen, session: str, actor: str, name: str, staff: list[str], students: list[str]) -> None:
    courses.make_group(screen.ledger, actor, session, name=name, staff=staff, students=students)


def _choose_people(
    key: str, staff: dict[str, str], students: dict[str, str], now_staff: tuple[str, ...], now_students: tuple[str, ...]
) -> tuple[list[str], list[str]]:
    first, second = st.columns(2)
    with_staff = first.multiselect(
        "Staff", list(staff), [p for p in now_staff if p in staff], format_func=staff.__getitem__, key=f"staff-{key}"
    )
    with_students = second.multiselect(
        "Students", list(students), [p for p in now_students if p in students], format_func=students.__getitem__,
        key=f"students-{key}",
    )  # fmt: skip
    return with_staff, with_students
