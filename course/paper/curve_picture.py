"""A quantity along time or depth, drawn small: a line for each end of what is not known, a dashed one for its limit."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from course.paper.fonts import FIGURES
from course.paper.frame import INK, QUIET, RULE, SMALL
from course.physics.telling import Picture

_HEIGHT, _WIDTH, _LEFT = 17 * mm, 62 * mm, 7 * mm
_FOOT, _ROOM = 3.6 * mm, 9 * mm


class CurvePicture(Flowable):  # type: ignore[misc]  # ReportLab is not typed
    """One picture, indented as the text above it."""

    def __init__(self, picture: Picture) -> None:
        super().__init__()
        self.picture = picture
        curves = [curve for curve in picture.series.curves if curve.places]
        self.places = [place for curve in curves for place in curve.places]
        values = [value for curve in curves for value in curve.values]
        limit = [] if picture.limit is None else [picture.limit]
        self.highest = max([*values, *limit, 0.0]) or 1.0

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return the room it takes."""
        return _LEFT + _WIDTH, _HEIGHT

    def draw(self) -> None:
        """Draw the axes with their ends, the limit and the curves."""
        canvas, series = self.canv, self.picture.series
        canvas.setLineWidth(0.4)
        canvas.setStrokeColor(RULE)
        canvas.line(self._x(min(self.places)), _FOOT, self._x(max(self.places)), _FOOT)
        canvas.line(_LEFT + _ROOM, _FOOT, _LEFT + _ROOM, _HEIGHT)
        self._words(canvas, series.unit, series.along_unit)
        if self.picture.limit is not None:
            canvas.setDash(2, 2)
            y = self._y(self.picture.limit)
            canvas.line(_LEFT + _ROOM, y, _LEFT + _WIDTH, y)
            canvas.setDash()
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.7)
        for curve in series.curves:
            points = [(self._x(x), self._y(y)) for x, y in zip(curve.places, curve.values, strict=True)]
            for (left, low), (right, high) in pairwise(points):
                canvas.line(left, low, right, high)

    def _words(self, canvas: Any, unit: str, along_unit: str) -> None:
        canvas.setFillColor(QUIET)
        canvas.setFont(FIGURES, SMALL)
        canvas.drawString(_LEFT, _HEIGHT - SMALL, f"{self.highest:.2g} {unit}".rstrip())
        canvas.drawString(self._x(self.places[0]), 0, f"{self.places[0]:.2g}")
        last = max(self.places, key=lambda place: abs(place - self.places[0]))
        canvas.drawRightString(self._x(last), 0, f"{last:.2g} {along_unit}".rstrip())

    def _x(self, place: float) -> float:
        first = self.places[0]
        far = max((abs(one - first) for one in self.places), default=0.0) or 1.0
        return float(_LEFT + _ROOM + (_WIDTH - _ROOM) * abs(place - first) / far)

    def _y(self, value: float) -> float:
        return float(_FOOT + (_HEIGHT - _FOOT - 1) * value / self.highest)
