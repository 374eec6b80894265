"""The chance to meet a rule, attempt by attempt, as a chart: told apart by dashes and by words at the ends of lines.

One ink, no colour. The finding stands above the chart and is its text for whoever does not see it. The chart's own menu
is off, since it would offer to send data to an editor on the network; ours makes pictures on this machine.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO
from typing import Any

import altair as alt
import streamlit as st

from course.answers.rule_strictness import CurvePoint
from course.screens import charts, theme

_DASHES = ([1, 0], [10, 4], [2, 3], [8, 3, 2, 3], [5, 5], [14, 3, 2, 3, 2, 3])
_LABEL_GAP = 7.5
"""Least distance of two labels, in hundredths of the height."""


@dataclass(frozen=True)
class CurveLine:
    """One line with its words."""

    label: str
    points: tuple[CurvePoint, ...]


@dataclass(frozen=True)
class BudgetMark:
    """A number of attempts that a rule is meant for."""

    attempts: int
    label: str


def show(lines: Sequence[CurveLine], budgets: Sequence[BudgetMark], finding: str, file: str) -> None:
    """Draw the lines with the budget; offer the picture and the data."""
    chart = curve_chart(lines, budgets)
    st.altair_chart(chart, theme=None, width="stretch", alt=finding, key=f"chart-{file}")
    charts.offer(chart.properties(title=charts.title_of(finding), width=640).to_json(), curve_csv(lines), file)


def curve_csv(lines: Sequence[CurveLine]) -> str:
    """Return the points of all lines as CSV; chances between 0 and 1."""
    text = StringIO()
    writer = csv.writer(text)
    writer.writerow(["line", "share_of_attempts_that_count", "attempt", "chance_to_have_met_the_rule"])
    for line in lines:
        writer.writerows([line.label, point.share, point.attempt, f"{point.chance:.6f}"] for point in line.points)
    return text.getvalue()


def curve_chart(lines: Sequence[CurveLine], budgets: Sequence[BudgetMark]) -> alt.LayerChart:
    """Return the chart."""
    last = max(line.points[-1].attempt for line in lines)
    x = alt.X(
        "attempt:Q",
        title="attempts",
        scale=alt.Scale(domain=[0, last * 1.3], nice=False),
        axis=alt.Axis(values=_ticks(last), grid=False, tickMinStep=1),
    )
    y = alt.Y("hundredths:Q", title="times in 100 met by then", scale=alt.Scale(domain=[0, 108], nice=False), axis=_Y)
    layers = [*_budgets(budgets), *(_line(line, number, x, y) for number, line in enumerate(lines)), *_labels(lines)]
    chart: alt.LayerChart = (
        alt.layer(*layers)
        .properties(height=380, usermeta={"embedOptions": {"actions": False, "renderer": "svg"}})
        .configure(font=theme.FONT_FAMILY)
        .configure_axis(labelFontSize=14, titleFontSize=14, labelColor=theme.INK, titleColor=theme.INK)
        .configure_view(stroke=None)
    )
    return chart


_Y = alt.Axis(values=[0, 20, 40, 60, 80, 100], gridColor="#d0d0d0", domain=False, ticks=False)


def _ticks(last: int) -> list[int]:
    step = next(step for step in (1, 2, 3, 5, 10, 20) if last / step <= 10)
    return list(range(0, last + 1, step))


def _rows(points: Sequence[dict[str, Any]]) -> alt.Chart:
    return alt.Chart(alt.InlineData(values=list(points)))


def _line(line: CurveLine, number: int, x: alt.X, y: alt.Y) -> alt.Chart:
    points = [{"attempt": 0, "hundredths": 0.0}]
    points += [{"attempt": point.attempt, "hundredths": round(100 * point.chance, 3)} for point in line.points]
    dash = _DASHES[number % len(_DASHES)]
    chart: alt.Chart = _rows(points).mark_line(color=theme.INK, strokeWidth=2, strokeDash=dash).encode(x=x, y=y)
    return chart


def _budgets(budgets: Sequence[BudgetMark]) -> list[alt.Chart]:
    layers = []
    for mark in budgets:
        row = _rows([{"attempt": mark.attempts, "label": mark.label, "hundredths": 105}])
        layers.append(row.mark_rule(color=theme.RULE, strokeWidth=1.5).encode(x="attempt:Q"))
        text = row.mark_text(align="right", dx=-6, fontSize=14, color=theme.GREY)
        layers.append(text.encode(x="attempt:Q", y="hundredths:Q", text="label:N"))
    return layers


def _labels(lines: Sequence[CurveLine]) -> list[alt.Chart]:
    """Words at the ends of lines, apart from each other, each led to by a thin stroke."""
    last = max(line.points[-1].attempt for line in lines)
    ends = {line.label: 100 * line.points[-1].chance for line in lines}
    layers = []
    for label, height in dodged(ends).items():
        at = next(line.points[-1].attempt for line in lines if line.label == label)
        lead = [{"attempt": at, "hundredths": ends[label]}, {"attempt": last * 1.05, "hundredths": height}]
        layers.append(_rows(lead).mark_line(color=theme.RULE, strokeWidth=1).encode(x="attempt:Q", y="hundredths:Q"))
        text = _rows([{"attempt": last * 1.06, "hundredths": height, "label": label}])
        marked = text.mark_text(align="left", fontSize=14, color=theme.INK)
        layers.append(marked.encode(x="attempt:Q", y="hundredths:Q", text="label:N"))
    return layers


def dodged(ends: dict[str, float], gap: float = _LABEL_GAP) -> dict[str, float]:
    """Return heights for labels at least a gap apart, the highest first, none above 100 and none below 0."""
    placed: dict[str, float] = {}
    ceiling = 100.0
    for label, height in sorted(ends.items(), key=lambda pair: -pair[1]):
        placed[label] = min(height, ceiling)
        ceiling = placed[label] - gap
    lowest = min(placed.values(), default=0.0)
    return {label: height - min(lowest, 0.0) for label, height in placed.items()} if lowest < 0 else placed
