"""Figures on a page: what an error leads to in numbers, with what was assumed and a small picture."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import Any

import altair as alt
import streamlit as st

from course.answers.consequence import Consequence
from course.physics.pictures import Picture
from course.screens import charts, theme
from course.screens.frame import plain

_WIDTH, _HEIGHT = 300, 180
_LEGEND_LINE = 24
_TITLE_LETTERS, _TITLE_LINE = 36, 20
_AS_GIVEN = "as given"
_STROKES = [[1, 0], [10, 4], [2, 3], [10, 4, 2, 4]]
"""Strokes of up to four lines: nothing is told by colour."""


def in_numbers(found: Sequence[Consequence]) -> None:
    """Tell each: two sentences, the picture, what was assumed, where it holds, from where, and every caution."""
    for one in found:
        st.markdown(f"**In numbers: {plain(one.error)}.** {plain(one.told)}")
        if one.picture:
            charts.show_small(curves_chart(one.picture), one.sentences[0])
        mode = f"Mode: {one.mode}. "
        st.caption(plain(f"{one.assumed} {mode}Valid: {one.validity}. Source: {one.source}. {' '.join(one.cautions)}"))


def curves_chart(picture: Picture, width: int = _WIDTH, height: int = _HEIGHT) -> charts.LayeredChart:
    """One line for each end of what is not known, with strokes of its own; a thin line with its number is the limit."""
    rows: list[dict[str, Any]] = [
        {"place": place, "value": value, "end": picture.end_words(curve) or _AS_GIVEN}
        for curve in picture.series.curves
        for place, value in zip(curve.places, curve.values, strict=True)
    ]
    ends = list(dict.fromkeys(row["end"] for row in rows))
    falling = bool(rows) and rows[0]["place"] > rows[-1]["place"]
    # as much as a phone shows of a line: what is not known stands above its ends, or their last words would be cut off
    named = alt.Legend(orient="bottom", title=picture.unknown, columns=1, labelLimit=width, symbolSize=500)
    legend = named if ends[1:] else None
    along = wrap(picture.along, _TITLE_LETTERS)
    base = alt.Chart(alt.InlineData(values=rows))
    lines = base.mark_line(aria=False, color=theme.INK, strokeWidth=1.8).encode(
        x=alt.X(
            "place:Q",
            title=along,
            scale=alt.Scale(reverse=falling, zero=False, nice=False),
        ),
        y=alt.Y("value:Q", title=picture.drawn, scale=alt.Scale(zero=True)),
        strokeDash=alt.StrokeDash(
            "end:N", sort=ends, scale=alt.Scale(domain=ends, range=_STROKES[: len(ends)]), legend=legend
        ),
        tooltip=[
            alt.Tooltip("end:N", title="with"),
            alt.Tooltip("place:Q", format=".3~g", title=picture.along),
            alt.Tooltip("value:Q", format=".2f", title=picture.drawn),
        ],
    )
    height += _TITLE_LINE * (len(along) - 1)
    tall = height + (
        _LEGEND_LINE * (len(ends) + 1) if legend else 0
    )  # Streamlit fits a legend into the height it is given
    return alt.layer(lines, *_limit_line(picture)).properties(width=width, height=tall)


def _limit_line(picture: Picture) -> list[Any]:
    """The limit over the whole width; its number stands at the left on that side of it where the lines are not."""
    curves = [curve for curve in picture.series.curves if curve.places]
    if picture.limit is None or not curves:
        return []
    said = f"limit {picture.limit:g} {picture.series.unit}".rstrip()
    row = {"limit": picture.limit, "place": curves[0].places[0], "said": said}
    base = alt.Chart(alt.InlineData(values=[row])).encode(y="limit:Q")
    above = curves[0].values[0] < picture.limit
    words = base.mark_text(
        aria=False, align="left", baseline="bottom" if above else "top", dx=4, dy=-3 if above else 3,
        fontSize=theme.SMALL, color=theme.INK,
    ).encode(text="said:N", x="place:Q")  # fmt: skip
    return [base.mark_rule(aria=False, color=theme.RULE), words]
