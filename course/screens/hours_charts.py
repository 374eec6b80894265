"""Pictures of hours: who was where in a session with its ratio line, and one student's bars against the requirements.

One ink. What somebody did is told by the bar's filling and by its words: full teaches, grey assists, open learns,
dashed is anything else. A break is a shaded band with its minutes, and a full block in the ratio line.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import altair as alt

from course.answers.csv_text import csv_text
from course.answers.hours import StudentBars
from course.answers.session_times import GroupLane, SessionTimes
from course.screens import charts, theme
from course.words import SPAN_ROLE_WORDS, SpanRole

_WIDTH, _ROW, _RATIO_HEIGHT, _NAMES = 540, 30, 84, 124
_BAND = "#d8d2c4"
_HALF = "#b0b0b0"
_FILLS = {SpanRole.TEACHING: theme.INK, SpanRole.ASSISTING: _HALF}
_STUDENT_ROW = 34


def session_chart(times: SessionTimes) -> alt.VConcatChart:
    """Groups from top to bottom, each with its people's times and, where it has any, students against the limit."""
    chart: alt.VConcatChart = alt.vconcat(*session_parts(times), spacing=6).properties(description=times.sentence)
    return chart


def session_parts(times: SessionTimes) -> list[charts.LayeredChart]:
    """The parts of `session_chart` from top to bottom, each with an axis of its own."""
    parts = []
    for lane in times.lanes:
        parts.append(_people(lane, times))
        if _has_students(lane):
            parts.append(_ratio(lane, times))
    return parts


def _has_students(lane: GroupLane) -> bool:
    return any(step.students for step in lane.steps)


def bars_chart(student: StudentBars) -> charts.LayeredChart:
    """One bar a requirement under its words, each as long as what is asked; a line marks where it is met."""
    rows = [
        {
            "what": bar.word,
            "told": f"{bar.word}: {bar.words}",
            "share": min(bar.have / bar.required, 1.3),
            "asked": 1,
            "short": bar.short_by > 0,
        }
        for bar in student.bars
    ]
    y = alt.Y("what:N", sort=[bar.word for bar in student.bars], title=None, axis=None)
    x = alt.X("share:Q", title=None, axis=None, scale=alt.Scale(domain=[0, 1.3]))
    base = alt.Chart(alt.InlineData(values=rows)).encode(y=y)
    solid = base.mark_bar(aria=False, height=12, yOffset=9, color=theme.INK).encode(x=x)
    open_bars = base.transform_filter("datum.short").mark_bar(
        aria=False, height=12, yOffset=9, color=theme.PAPER, stroke=theme.INK, strokeWidth=2
    )
    asked = alt.Chart(alt.InlineData(values=[{"share": 1}])).mark_rule(
        aria=False, color=theme.INK, strokeWidth=2, strokeDash=[4, 3]
    )
    words = base.mark_text(aria=False, align="left", dx=2, dy=-9, fontSize=theme.SMALL, color=theme.INK)
    x_asked = alt.X("asked:Q", title=None, axis=None, scale=alt.Scale(domain=[0, 1.3]))
    layers = (open_bars.encode(x=x_asked), solid, asked.encode(x=x))
    return alt.layer(*layers, words.encode(x=alt.value(0), text="told:N")).properties(
        width=_WIDTH, height=alt.Step(_STUDENT_ROW + 10), description=student.sentence
    )


def bars_csv(students: Sequence[StudentBars]) -> str:
    """Everybody's bars as CSV."""
    rows = [(s.name, bar.word, bar.have, bar.elsewhere, bar.required, bar.short_by) for s in students for bar in s.bars]
    return csv_text(("student", "what", "have", "of_them_elsewhere", "asked", "short_by"), rows)


def _x(times: SessionTimes, *, labels: bool, field: str = "start:Q") -> alt.X:
    words = json.dumps({str(minute): word for minute, word in times.ticks})
    axis = alt.Axis(
        values=[minute for minute, _ in times.ticks],
        labelExpr=f"{words}[datum.value]",
        labels=labels,
        labelFlush=False,
        labelPadding=8,
        grid=True,
    )
    return alt.X(field, title=None, axis=axis, scale=alt.Scale(domain=[0, times.length], nice=False))


def _rows(rows: Sequence[dict[str, Any]]) -> alt.Chart:
    return alt.Chart(alt.InlineData(values=list(rows)))


def _people(lane: GroupLane, times: SessionTimes) -> charts.LayeredChart:
    rows: list[dict[str, Any]] = [
        {
            "who": bar.name,
            "row": f"{number}",
            "told": f"{SPAN_ROLE_WORDS[bar.role]}, {bar.words}",
            "role": bar.role.value,
            "start": bar.start,
            "end": bar.end,
        }
        for number, bar in enumerate(lane.bars)
    ]
    names = json.dumps({row["row"]: row["who"] for row in rows})
    axis = alt.Axis(labelLimit=_NAMES, minExtent=_NAMES, grid=False, labelExpr=f"{names}[datum.value]")
    y = alt.Y("row:N", sort=[row["row"] for row in rows], title=None, axis=axis)
    base = _rows(rows).encode(x=_x(times, labels=not _has_students(lane)), x2="end:Q", y=y, tooltip=["who:N", "told:N"])
    layers = [*_bands(lane, times), *(_role_bars(base, role) for role in SpanRole)]
    for dark in (True, False):
        full = f"datum.role === '{SpanRole.TEACHING.value}'"
        text = base.transform_filter(full if dark else f"!({full})").mark_text(
            aria=False, align="left", dx=6, fontSize=theme.SMALL, color=theme.PAPER if dark else theme.INK
        )
        layers.append(text.encode(text="told:N", x2=alt.Undefined))
    title = alt.TitleParams(text=lane.name, anchor="start", frame="group", fontSize=theme.BODY, offset=6)
    return alt.layer(*layers).properties(width=_WIDTH, height=_ROW * len(rows), title=title)


def _role_bars(base: alt.Chart, role: SpanRole) -> alt.Chart:
    dashes = [1, 0] if role in (*_FILLS, SpanRole.STUDENT) else [4, 3]
    chart: alt.Chart = base.transform_filter(f"datum.role === '{role.value}'").mark_bar(
        aria=False,
        height=22,
        color=_FILLS.get(role, theme.PAPER),
        stroke=theme.INK,
        strokeWidth=1.5,
        strokeDash=dashes,
        opacity=1,
        fillOpacity=1 if role in _FILLS else 0.72,
    )
    return chart


def _bands(lane: GroupLane, times: SessionTimes) -> list[alt.Chart]:
    """The shaded band of each break; nothing where there is none."""
    broken = _broken(lane)
    if not broken:
        return []
    return [_rows(broken).mark_rect(aria=False, color=_BAND).encode(x=_x(times, labels=False), x2="end:Q")]


def _broken(lane: GroupLane) -> list[dict[str, Any]]:
    """Times without a gap in which the ratio was broken, with their minutes."""
    found: list[dict[str, Any]] = []
    for step in lane.steps:
        if not step.broken:
            continue
        if found and found[-1]["end"] == step.start:
            found[-1]["end"] = step.end
        else:
            found.append({"start": step.start, "end": step.end, "middle": 0.0, "told": ""})
    for one in found:
        one["middle"] = (one["start"] + one["end"]) / 2
        one["told"] = f"{int(one['end'] - one['start'])} min"
    return found


def _ratio(lane: GroupLane, times: SessionTimes) -> charts.LayeredChart:
    steps = list(lane.steps)
    most = max([1, *(max(step.students, step.limit or 0) for step in steps)])
    y_axis = alt.Axis(values=list(range(0, most + 1, 1 if most < 7 else 2)), grid=False, minExtent=_NAMES, format="d")
    y = alt.Y("count:Q", title=None, axis=y_axis, scale=alt.Scale(domain=[0, most + 1.2], nice=False))
    x = _x(times, labels=True)
    layers: list[alt.Chart] = _bands(lane, times)
    blocks = [
        {"start": s.start, "end": s.end, "count": s.students, "least": s.limit, "told": s.words}
        for s in steps
        if s.broken
    ]
    if blocks:
        block = _rows(blocks).mark_rect(aria=False, color=theme.INK)
        layers.append(block.encode(x=x, x2="end:Q", y=y, y2="least:Q", tooltip=["told:N"]))
    limits = [{"start": s.start, "end": s.end, "count": s.limit} for s in steps if s.limit is not None]
    # a little higher than it is, so that it shows where as many are in as may be
    rule = _rows(limits).mark_rule(
        aria=False, color=theme.INK, strokeWidth=2, strokeDash=[5, 4], yOffset=-5, y2Offset=-5
    )
    layers.append(rule.encode(x=x, x2="end:Q", y=y))
    line = [{"start": s.start, "count": s.students} for s in steps]
    line += [{"start": steps[-1].end, "count": steps[-1].students}] if steps else []
    students = _rows(line).mark_line(aria=False, interpolate="step-after", color=theme.INK, strokeWidth=3)
    layers.append(students.encode(x=x, y=y))
    minutes = _rows(_broken(lane)).mark_text(
        aria=False, dy=-10, fontSize=theme.SMALL, fontWeight=700, color=theme.INK, baseline="bottom"
    )
    layers.append(minutes.encode(x=_x(times, labels=True, field="middle:Q"), y=alt.datum(most), text="told:N"))
    return alt.layer(*layers).properties(width=_WIDTH, height=_RATIO_HEIGHT)
