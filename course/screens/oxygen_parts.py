"""Oxygen exposure on the Hours page: each day of whoever was in the water."""

from __future__ import annotations

import streamlit as st

from course.access import Sight
from course.answers.oxygen import ExposureLine, OxygenAnswer
from course.screens import offers
from course.screens.frame import plain
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
    return ("▌\u00a0" if one.over or one.past_table else "") + one.day.replace(" ", "\u00a0")
