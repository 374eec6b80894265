"""A quantity along time or depth, drawn small: a line for each end of what is not known, and a thin one for its limit.

What is drawn, and which strokes stand for which end, is written beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from course.paper.fonts import FIGURES
from course.paper.frame import INK, QUIET, RULE, SMALL
from course.physics.pictures import Picture

_HEIGHT, _WIDTH, _LEFT = 17 * mm, 62 * mm, 7 * mm
_FOOT, _ROOM = 3.6 * mm, 9 * mm
_BESIDE, _SIGN = 5 * mm, 8 * mm
_STROKES: tuple[tuple[float, ...], ...] = ((), (4, 1.5), (0.8, 1.4), (4, 1.5, 0.8, 1.5))
"""Strokes of up to four lines, as in the picture on screen."""


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
            y = self._y(self.picture.limit)
            canvas.line(_LEFT + _ROOM, y, _LEFT + _WIDTH, y)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.7)
        for curve, strokes in zip(series.curves, _STROKES, strict=False):
            points = [(self._x(x), self._y(y)) for x, y in zip(curve.places, curve.values, strict=True)]
            self._line(canvas, points, strokes)
        self._beside(canvas)

    def _line(self, canvas: Any, points: Sequence[tuple[float, float]], strokes: tuple[float, ...]) -> None:
        canvas.setDash(list(strokes), 0)
        path = canvas.beginPath()
        for place, point in enumerate(points):
            path.lineTo(*point) if place else path.moveTo(*point)
        canvas.drawPath(path, stroke=1, fill=0)
        canvas.setDash()

    def _beside(self, canvas: Any) -> None:
        """What is drawn, and the ends that the strokes stand for, from the top down."""
        picture, left = self.picture, _LEFT + _WIDTH + _BESIDE
        limit = "" if picture.limit is None else f"; limit {picture.limit:g} {picture.series.unit}".rstrip()
        canvas.setFillColor(QUIET)
        canvas.setFont(FIGURES, SMALL)
        canvas.drawString(left, _HEIGHT - SMALL, f"{picture.drawn} by {picture.along}{limit}")
        for place, (curve, strokes) in enumerate(zip(picture.series.curves, _STROKES, strict=False), 1):
            words = picture.line_words(curve)
            if words:
                y = _HEIGHT - SMALL - place * (SMALL + 1.5)
                self._line(canvas, [(left, y + SMALL / 3), (left + _SIGN, y + SMALL / 3)], strokes)
                canvas.drawString(left + _SIGN + 1 * mm, y, words)

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
