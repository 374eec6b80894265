"""Who was there when, drawn as vectors: a bar for each person by role, the ratio below, breaks as bold bars.

Shape before colour: students are filled bars, instructors open ones, assistants open ones half as high, others a line.
A time that nobody ended runs out in an arrow. No warm colour: that is for critical errors alone.
"""

from __future__ import annotations

from typing import Any

from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable

from course.answers.presence import GroupTime, Lane, RatioStep, SessionTime
from course.paper.fonts import FIGURES, FIGURES_MEDIUM, REGULAR
from course.paper.frame import INK, QUIET, RULE, SMALL, column_x, draw_words
from course.words import SpanRole

_LANE = 4.6 * mm
_BAR = 2.6 * mm
_AXIS = 5 * mm
_RATIO = 6.5 * mm
_MOST_LANES = 36
_HEIGHTS = {SpanRole.STUDENT: 1.0, SpanRole.TEACHING: 1.0, SpanRole.ASSISTING: 0.5}


def group_pictures(time: SessionTime, group: GroupTime) -> list[Flowable]:
    """Return a group's picture; one with very many people goes on in a second one."""
    parts = [group.lanes[at : at + _MOST_LANES] for at in range(0, len(group.lanes), _MOST_LANES)] or [()]
    last = len(parts) - 1
    return [GroupPicture(time, lanes, group.steps if place == last else ()) for place, lanes in enumerate(parts)]


class GroupPicture(Flowable):  # type: ignore[misc]  # ReportLab is not typed
    """One group of a session against the clock."""

    def __init__(self, time: SessionTime, lanes: tuple[Lane, ...], steps: tuple[RatioStep, ...]) -> None:
        super().__init__()
        self.time, self.lanes, self.steps = time, lanes, steps

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """Return the room it takes."""
        self.width = width
        self.height = _AXIS + len(self.lanes) * _LANE + (_RATIO if self.steps else 0)
        return width, self.height

    def draw(self) -> None:
        """Draw the axis, a lane for each person, and the ratio."""
        canvas = self.canv
        y = self.height - _AXIS
        self._axis(canvas, y)
        for lane in self.lanes:
            y -= _LANE
            self._lane(canvas, lane, y)
        if self.steps:
            self._ratio(canvas, y - _RATIO)

    def _x(self, minute: int) -> float:
        left = column_x(4, self.width)
        return float(left + (self.width - left) * minute / max(1, self.time.minutes))

    def _axis(self, canvas: Any, y: float) -> None:
        canvas.setLineWidth(0.3)
        for minute, label in self.time.labels:
            x = self._x(minute)
            canvas.setStrokeColor(RULE)
            canvas.line(x, y + 1, x, y - len(self.lanes) * _LANE)
            canvas.setFillColor(QUIET)
            canvas.setFont(FIGURES, SMALL)
            place = min(x, self.width - stringWidth(label, FIGURES, SMALL) / 2)
            canvas.drawCentredString(place, y + 3, label)

    def _lane(self, canvas: Any, lane: Lane, y: float) -> None:
        room = column_x(4, self.width) - 3 * mm
        words = f"{lane.name}, {lane.role_word}"
        while stringWidth(words, REGULAR, SMALL) > room and len(words) > 4:
            words = words[:-2].rstrip() + "…" if not words.endswith("…") else words[:-2] + "…"
        draw_words(canvas, 0, y + 1.2 * mm, words)
        for start, end in lane.times:
            self._bar(canvas, lane, self._x(start), max(self._x(end), self._x(start) + 0.6), y + 0.8 * mm)

    def _bar(self, canvas: Any, lane: Lane, x: float, end: float, y: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setFillColor(INK)
        canvas.setLineWidth(0.7)
        share = _HEIGHTS.get(lane.role)
        middle = y + _BAR / 2
        if share is None:
            canvas.line(x, middle, end, middle)
        else:
            tall = _BAR * share
            canvas.rect(x, middle - tall / 2, end - x, tall, stroke=1, fill=int(lane.role == SpanRole.STUDENT))
        if lane.open_end:
            path = canvas.beginPath()
            path.moveTo(end, middle + 2.4)
            path.lineTo(min(end + 4, self.width), middle)
            path.lineTo(end, middle - 2.4)
            canvas.drawPath(path, stroke=1, fill=0)

    def _ratio(self, canvas: Any, y: float) -> None:
        draw_words(canvas, 0, y + 2, "students to instructors (+ assistants)", colour=QUIET)
        free_from = 0.0
        for step in self.steps:
            x, end = self._x(step.start), self._x(step.end)
            font = FIGURES_MEDIUM if step.broken else FIGURES
            canvas.setFillColor(INK)
            canvas.setStrokeColor(INK)
            if step.broken:
                canvas.rect(x, y + 11, max(end - x, 1), 3, stroke=0, fill=1)
            else:
                canvas.setLineWidth(0.4)
                canvas.line(x, y + 12, end, y + 12)
            wide = stringWidth(step.words, font, SMALL)
            place = min(x, self.width - wide)
            if place >= free_from:
                canvas.setFont(font, SMALL)
                canvas.drawString(place, y + 2, step.words)
                free_from = place + wide + 4
