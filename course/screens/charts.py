"""Charts: drawn with the shared shapes, told by a sentence, and to take away as SVG, PNG and data.

Shape and words say everything that colour says. A picture is made on our own machine, in our own typeface, and may
fetch nothing.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path
from textwrap import wrap
from typing import Any

import altair as alt
import fontpkg
import streamlit as st
import vl_convert

from course.access import Sight
from course.answers.class_practice import ClassSkill
from course.answers.practice import ENOUGH, WHERE_WORDS
from course.answers.step_map import StepMap
from course.paper.shapes import Part, mark_shape
from course.screens import offers, theme
from course.words import Mark

LayeredChart = alt.LayerChart | alt.FacetChart | alt.VConcatChart
"""What Altair says that layers make."""
_MARK_NAMES = {mark: mark.value.replace("_", " ") for mark in Mark}
_PITCH, _PLACE_PITCH, _SHAPE_AREA = 34, 124, 200
_LABEL_WIDTH, _LABEL_LETTERS = 220, 30
_LINE = 64


def step_map_chart(drawn: StepMap) -> LayeredChart:
    """Steps against attempts, one shape a mark; a critical one has the bold bar at its left."""
    rows = [asdict(cell) | {"mark": _MARK_NAMES[cell.mark]} for cell in drawn.cells]
    base = alt.Chart(alt.InlineData(values=rows)).encode(
        x=alt.X("attempt:O", sort=list(drawn.attempts), title="attempt", axis=alt.Axis(labelAngle=-90, grid=False)),
        y=alt.Y("step:O", sort=list(drawn.steps), title=None, axis=_rows_axis(drawn.steps, grid=True)),
        tooltip=[alt.Tooltip("step:N"), alt.Tooltip("attempt:N"), alt.Tooltip("words:N", title="seen")],
    )
    signs = [_sign(mark) for mark in Mark]
    marks = base.mark_point(aria=False, filled=False, size=_SHAPE_AREA, strokeWidth=2.4, opacity=1).encode(
        shape=alt.Shape(
            "mark:N",
            scale=alt.Scale(domain=list(_MARK_NAMES.values()), range=signs),
            legend=alt.Legend(orient="bottom", title=None, columns=3, symbolStrokeColor=theme.INK),
        ),
        color=alt.condition("datum.critical", alt.value(theme.CRITICAL), alt.value(theme.INK)),
    )
    bars = base.transform_filter("datum.critical").mark_point(
        aria=False, shape=_bar_sign(), filled=True, size=_SHAPE_AREA * 1.6, color=theme.CRITICAL, opacity=1, xOffset=-4
    )
    letters = base.transform_filter("datum.letter != ''").mark_text(
        aria=False, dx=9, dy=5, fontSize=theme.SMALL, fontWeight=700, color=theme.INK
    )
    return alt.layer(marks, bars, letters.encode(text="letter:N")).properties(
        width=alt.Step(_PITCH), height=alt.Step(_PITCH), description=drawn.finding
    )


def class_chart(skills: Sequence[ClassSkill], finding: str) -> LayeredChart:
    """Skills against where: how many of how many went wrong; the square's area is their share, a bar says critical."""
    rows = [
        {
            "skill": line.title,
            "where": WHERE_WORDS[place.where],
            "told": f"{place.wrong} of {place.attempts}",
            "share": place.wrong / place.attempts if place.attempts >= ENOUGH else 0,
            "critical": place.critical > 0,
        }
        for line in skills
        for place in line.places
    ]
    places = [name for name in WHERE_WORDS.values() if any(row["where"] == name for row in rows)]
    titles = [line.title for line in skills]
    base = alt.Chart(alt.InlineData(values=rows)).encode(
        x=alt.X("where:O", sort=places, title=None, axis=alt.Axis(orient="top", labelAngle=0, grid=False)),
        y=alt.Y("skill:O", sort=titles, title=None, axis=_rows_axis(titles)),
        tooltip=[alt.Tooltip("skill:N"), alt.Tooltip("where:N"), alt.Tooltip("told:N", title="went wrong")],
    )
    squares = base.transform_filter("datum.share > 0").mark_square(
        aria=False, filled=True, opacity=1, color=theme.INK, xOffset=-38
    )
    bars = base.transform_filter("datum.critical").mark_point(
        aria=False, shape=_bar_sign(), filled=True, opacity=1, size=_SHAPE_AREA * 2, color=theme.CRITICAL, xOffset=-46
    )
    told = base.mark_text(aria=False, align="left", dx=-20, fontSize=theme.SMALL, color=theme.INK)
    area = alt.Size("share:Q", scale=alt.Scale(domain=[0, 1], range=[0, 900]), legend=None)
    return alt.layer(bars, squares.encode(size=area), told.encode(text="told:N")).properties(
        width=alt.Step(_PLACE_PITCH), height=alt.Step(_PITCH), description=finding
    )


def _rows_axis(names: Sequence[str], *, grid: bool = False) -> alt.Axis:
    """An axis of names, each on two lines where one is too short for it; what is longer still ends in dots."""
    lines = {name: wrap(name, _LABEL_LETTERS, max_lines=2, placeholder=" …") for name in names}
    told = f"{json.dumps(lines)}[datum.value]"
    line = theme.SMALL + 1
    two_lines = {"test": f"length({told}) > 1", "value": -line / 2}  # both are about the row's middle, not below it
    return alt.Axis(
        labelExpr=told,
        labelLimit=_LABEL_WIDTH,
        labelLineHeight=line,
        labelOffset={"condition": two_lines, "value": 0},
        grid=grid,
    )


def show(
    chart: LayeredChart, finding: str, data: str, name: str, *, narrow: Sequence[LayeredChart] | None = None
) -> None:
    """Show a chart under its finding, and offer it as SVG, PNG and data.

    `narrow` are the chart's parts where they are shown one below the other, each as wide as the screen lets it be:
    then a phone need not be pushed sideways.
    """
    for part in narrow or (chart,):
        bare = _dressed(part)  # a copy
        if narrow:  # its width gives way alone; else title and axis would be taken from the height of its rows
            bare.autosize = alt.AutoSizeParams(type="fit-x", contains="padding")
        bare.description = alt.Undefined  # on screen `alt` says it; said twice, Streamlit warns at each run
        st.altair_chart(bare, width="stretch" if narrow else "content", theme=None, alt=finding)
    offer(_titled(chart, finding).to_json(), data, name)


def show_small(chart: LayeredChart, finding: str) -> None:
    """Show a chart beside the sentence that tells it, with nothing to take away."""
    st.altair_chart(_dressed(chart), width="content", theme=None, alt=finding)


def offer(picture: str, data: str, name: str) -> None:
    """Offer a chart's specification as SVG and PNG, made when they are asked for, and its data as CSV."""
    files: tuple[tuple[str, Any, str, str], ...] = (
        ("SVG", lambda: _svg(picture), "svg", "image/svg+xml"),
        ("PNG", lambda: _png(picture), "png", "image/png"),
        ("Data (CSV)", data, "csv", "text/csv"),
    )
    with st.container(horizontal=True):
        for label, content, ending, kind in files:
            offers.offer(Sight.CHART_FILE, label, content, f"{name}.{ending}", kind, key=f"{ending}-{name}")


def svg_of(chart: LayeredChart, finding: str) -> str:
    """A chart with its finding as title, as SVG."""
    return _svg(_titled(chart, finding).to_json())


def png_of(chart: LayeredChart, finding: str) -> bytes:
    """A chart with its finding as title, as PNG."""
    return _png(_titled(chart, finding).to_json())


def _svg(picture: str) -> str:
    _register_font()
    return str(vl_convert.vegalite_to_svg(picture, allowed_base_urls=[]))


def _png(picture: str) -> bytes:
    _register_font()
    return bytes(vl_convert.vegalite_to_png(picture, scale=2, allowed_base_urls=[]))


@lru_cache(maxsize=1)
def _register_font() -> None:
    vl_convert.register_font_directory(str(Path(fontpkg.path("Fira Sans", weight=400, style="normal")).parent))


def title_of(finding: str) -> alt.TitleParams:
    """A finding as a chart's title, wrapped."""
    return alt.TitleParams(text=wrap(finding, _LINE), anchor="start", frame="group", fontSize=theme.BODY, offset=14)


def _titled(chart: LayeredChart, finding: str) -> Any:
    return _dressed(chart.properties(title=title_of(finding)))


def _dressed(chart: LayeredChart) -> Any:
    words = {
        "labelFontSize": theme.SMALL,
        "titleFontSize": theme.SMALL,
        "labelColor": theme.INK,
        "titleColor": theme.INK,
    }
    return (
        chart.configure(font=theme.FONT_FAMILY, background=theme.PAPER)
        .configure_axis(**words, domain=False, ticks=False, gridColor=theme.SHADE, titleFontWeight=400)
        .configure_legend(labelFontSize=theme.SMALL, labelColor=theme.INK)
        .configure_view(stroke=None)
        .configure_title(color=theme.INK, font=theme.FONT_FAMILY)
    )


def _sign(mark: Mark) -> str:
    """The lines of a mark's shape as an SVG path between -1 and 1."""
    return " ".join(_path(part) for part in mark_shape(mark).parts if not part.filled)


def _bar_sign() -> str:
    """The bold bar of a critical mark."""
    return " ".join(_path(part) for part in mark_shape(Mark.ERROR, critical=True).parts if part.filled)


def _path(part: Part) -> str:
    points = [f"{2 * x - 1:.2f},{1 - 2 * y:.2f}" for x, y in part.points]
    return f"M{' L'.join(points)}{'Z' if part.closed or part.filled else ''}"
