"""The shapes of `course.paper.shapes` drawn with ReportLab, as vectors."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.colors import HexColor

from course.paper.fonts import BOLD
from course.paper.shapes import Part, Shape, Tone

TONES: dict[Tone, str] = {"ink": "#1c1b1a", "grey": "#8d8984", "paper": "#ffffff", "warm": "#9c2f00"}
"""Ink and warm keep 7:1 or more on white (WCAG 2.2, 1.4.6); grey fills shapes that also have a form."""


def draw_shape(canvas: Any, shape: Shape, x: float, y: float, size: float) -> None:
    """Draw a shape with its lower left corner at x, y; all in points."""
    canvas.saveState()
    canvas.translate(x, y)
    canvas.setLineCap(0)
    canvas.setLineJoin(0)
    for part in shape.parts:
        _draw_part(canvas, part, size)
    if shape.letter:
        canvas.setFillColor(HexColor(TONES["ink"]))
        canvas.setFont(BOLD, size * 0.62)
        canvas.drawRightString(size * 1.04, 0, shape.letter)
    canvas.restoreState()


def draw_strip(
    canvas: Any, shapes: Sequence[Shape], x: float, top: float, size: float, pitch: float, in_row: int
) -> None:
    """Draw shapes in rows of `in_row`, left to right and downwards, the first row's upper edge at `top`."""
    for place, shape in enumerate(shapes):
        row, column = divmod(place, in_row)
        draw_shape(canvas, shape, x + column * pitch, top - size - row * pitch, size)


def _draw_part(canvas: Any, part: Part, size: float) -> None:
    colour = HexColor(TONES[part.tone])
    canvas.setFillColor(colour)
    canvas.setStrokeColor(colour)
    canvas.setLineWidth(part.stroke * size)
    path = canvas.beginPath()
    first, *others = part.points
    path.moveTo(first[0] * size, first[1] * size)
    for x, y in others:
        path.lineTo(x * size, y * size)
    if part.closed or part.filled:
        path.close()
    canvas.drawPath(path, stroke=int(not part.filled), fill=int(part.filled))
