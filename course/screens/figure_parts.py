"""Figures on a page: what an error leads to in numbers, with what was assumed and a small picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import altair as alt
import streamlit as st

from course.answers.consequence import Consequence
from course.physics.telling import Picture
from course.screens import charts, theme
from course.screens.frame import plain

_WIDTH, _HEIGHT = 340, 150
_CAUTIONS_SHOWN = 2


def in_numbers(found: Sequence[Consequence]) -> None:
    """Tell each: two sentences, the picture, what was assumed and from where."""
    for one in found:
        st.markdown(f"**In numbers: {plain(one.error)}.** {plain(one.told)}")
        if one.picture:
            charts.show_small(curves_chart(one.picture), one.sentences[0])
        st.caption(plain(f"{one.assumed} Source: {one.source}. {one.cautions[-1]}"))


def curves_chart(picture: Picture, width: int = _WIDTH, height: int = _HEIGHT) -> charts.LayeredChart:
    """One line for each end of what is not known, a dashed one for the limit."""
    series = picture.series
    rows: list[dict[str, Any]] = [
        {"place": place, "value": value, "end": ", ".join(str(one) for one in curve.over) or "as given"}
        for curve in series.curves
        for place, value in zip(curve.places, curve.values, strict=True)
    ]
    along = f"{series.along.replace('_', ' ')} ({series.along_unit})" if series.along_unit else series.along
    falling = bool(rows) and rows[0]["place"] > rows[-1]["place"]
    base = alt.Chart(alt.InlineData(values=rows))
    lines = base.mark_line(aria=False, color=theme.INK, strokeWidth=1.6).encode(
        x=alt.X("place:Q", title=along, scale=alt.Scale(reverse=falling, zero=False, nice=False)),
        y=alt.Y("value:Q", title=series.unit or "share", scale=alt.Scale(zero=True)),
        detail="end:N",
        tooltip=[alt.Tooltip("end:N", title="with"), alt.Tooltip("value:Q", format=".2f", title=series.unit or "is")],
    )
    layers = [lines]
    if picture.limit is not None:
        limit = alt.Chart(alt.InlineData(values=[{"limit": picture.limit}]))
        layers.append(limit.mark_rule(aria=False, color=theme.INK, strokeDash=[5, 4]).encode(y="limit:Q"))
    return alt.layer(*layers).properties(width=width, height=height)
