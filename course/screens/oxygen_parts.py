"""Oxygen exposure on the Hours page: each day of whoever was in the water, and the set points of a session."""

from __future__ import annotations

import streamlit as st

from course.access import Sight
from course.actions.set_points import note_set_point
from course.answers.oxygen import ExposureLine, OxygenAnswer
from course.answers.session_times import SessionTimes
from course.screens import offers
from course.screens.frame import Screen, plain
from course.screens.unit_parts import at_now, done, said
from course.screens.wide_table import table


def exposure(answer: OxygenAnswer) -> None:
    """A line a day under its person; a bar stands before what is over the requirements' limit or all of the table's."""
    st.markdown(f"**{plain(answer.sentence)}**")
    if answer.lines:
        head = ("Day", "Min", "Set point", "CNS, one exposure", "CNS, 24\u00a0h", "OTU, 24\u00a0h")
        rows = [
            (
                _marked(one), str(one.minutes), one.set_points, one.cns_single, one.cns_24h,
                one.otu_24h.removesuffix(" OTU"),
            )
            for one in answer.lines
        ]  # fmt: skip
        table(head, rows, right=(1, 3, 4, 5), groups=[one.name for one in answer.lines])
        for told in dict.fromkeys(one.reason for one in answer.lines if one.reason):
            st.markdown(plain(told))
        offers.offer(Sight.OXYGEN_FILE, "Data (CSV)", answer.csv(), "oxygen.csv", "text/csv", key="csv-oxygen")
    for line in answer.unwritten:
        st.markdown(plain(line))
    st.caption(plain(" ".join((*answer.cautions, f"Valid: {answer.validity}.", f"Source: {answer.source}."))))


def _marked(one: ExposureLine) -> str:
    return ("▌ " if one.over or one.past_table else "") + one.day.replace(" ", "\u00a0")


def set_point_form(screen: Screen, times: SessionTimes, actor: str | None) -> None:
    """Note the set point of a session, of one person or of everybody else."""
    session = screen.course.sessions[times.session]
    for one in session.set_points:
        whose = screen.course.name(one.person) if one.person else "everybody without one of their own"
        st.markdown(plain(f"{one.bar} bar: {whose}."))
    people = dict.fromkeys(water.person for water in session.water)
    names = {"": "everybody without one of their own", **{person: screen.course.name(person) for person in people}}
    with st.form(f"set-point-{times.session}"):
        bar = st.text_input("Set point that was held, in bar; the highest, if it was changed", max_chars=5)
        whose = st.selectbox("Whose", list(names), format_func=names.__getitem__)
        if st.form_submit_button("Note it", type="primary") and said(actor):
            done(
                lambda: note_set_point(
                    screen.ledger, str(actor), times.session, bar, at_now(screen), person=whose or None
                ),
                "The set point is noted; exposure follows it.",
            )
