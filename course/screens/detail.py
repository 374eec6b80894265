"""What stands behind a cell of the course: rule, history, attempts with their sheets, and the decision."""

from __future__ import annotations

import streamlit as st

from course.access import Act
from course.answers.order_told import OrderTold
from course.answers.skill_detail import AttemptDetail, SkillDetail
from course.answers.step_map import step_map
from course.assessment.sentences import of_asked
from course.places import PAGES
from course.screens import charts, controls, figure_parts
from course.screens.amend_forms import amend
from course.screens.components import history
from course.screens.frame import Screen, plain
from course.screens.order_picture import order_image, order_signs
from course.screens.signing_forms import decide
from course.screens.what_if_form import what_if


def show(screen: Screen, detail: SkillDetail) -> None:
    """Show why a standing is what it is, then let a person decide."""
    st.title(f"{plain(detail.student)} · {plain(detail.title)}", anchor=False)
    st.markdown(f"## {plain(detail.sentence)}")
    for fault in detail.faults[:3]:
        st.markdown(plain(fault))
    st.markdown(f"**The rule:** {plain(detail.rule)}")
    history(list(detail.outcomes), list(detail.streaks), detail.in_a_row)
    _map(screen, detail)
    figure_parts.in_numbers(detail.in_numbers)
    for still_open, sheet in detail.open_attempts:
        if controls.button(Act.PRACTISE, "Go on with the open attempt", key=f"go-{still_open}"):
            st.switch_page(PAGES / "mark.py", query_params={"attempt": still_open, "sheet": sheet})
    for attempt in reversed(detail.attempts):
        _attempt(attempt, detail.in_a_row)
    for line in detail.not_counted:
        st.text(line)
    _beside(detail)
    if controls.way("Show every entry behind it", page="why", key="why"):
        st.switch_page(PAGES / "why.py", query_params={"student": detail.student_id, "skill": detail.skill})
    what_if(screen, detail)
    st.caption(plain(detail.caution))
    decide(screen, detail)
    amend(screen, detail)


def _map(screen: Screen, detail: SkillDetail) -> None:
    """Every step against every attempt, under the sentence that says what the map shows."""
    drawn = step_map(screen.course, detail.student_id, detail.skill, detail.day)
    if drawn.cells:
        st.markdown(f"**Step by step:** {plain(drawn.finding)}")
        charts.show(charts.step_map_chart(drawn), drawn.finding, drawn.csv(), f"steps-{detail.skill}")


def _beside(detail: SkillDetail) -> None:
    with st.expander("Beside the standing"):
        for sentence in detail.beside.sentences:
            st.text(sentence)
        st.caption(plain(detail.beside.note))


def _attempt(attempt: AttemptDetail, in_a_row: int) -> None:
    worth = f"**{attempt.outcome}** · {of_asked(attempt.streak, in_a_row)} · {plain(attempt.effect)}"
    with st.expander(f"{worth}  \n{plain(attempt.head)}", expanded=False):
        for reason in (*attempt.reasons, attempt.ending, attempt.entered, *attempt.amended):
            if reason:
                st.text(reason)
        for number in attempt.in_numbers:
            st.text(f"In numbers, {number.error}: {number.told}")
        for sheet in attempt.sheets:
            st.markdown(f"**{plain(sheet.observer)}** · {sheet.capacity} · {sheet.source}")
            _order(sheet.order)
            for mark in sheet.marks:
                bar = "▌ " if mark.critical else ""
                st.text(f"{mark.number}. {bar}{mark.words} — {mark.do}")


def _order(order: OrderTold) -> None:
    """The order as one sentence, and as one picture where an order is known."""
    st.text(order.sentence)
    picture = order_image(order)
    if picture:
        st.html(picture)
        if signs := order_signs(order.seen):
            st.caption(signs)
