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
    """Draw a shape with its lower left corner at x, y; all in points.

    Its lines stand once in the file and are referred to wherever it is drawn; a record has some two thousand.
    """
    canvas.saveState()
    canvas.translate(x, y)
    _draw_here(canvas, shape, size)
    canvas.restoreState()


def _draw_here(canvas: Any, shape: Shape, size: float) -> None:
    if shape.letter:  # its typeface belongs to the page
        _draw_parts(canvas, shape, size)
        canvas.setFillColor(HexColor(TONES["ink"]))
        canvas.setFont(BOLD, size * 0.62)
        canvas.drawRightString(size * 1.04, 0, shape.letter)
    else:
        canvas.doForm(_kept(canvas, shape, size))


def _kept(canvas: Any, shape: Shape, size: float) -> str:
    """Return the name of a shape's lines in this file; they are written when it is drawn first."""
    kept = canvas.__dict__.setdefault("shapes_drawn", {})
    name: str = kept.get((shape, size), "")
    if not name:
        name = kept[shape, size] = f"shape-{len(kept)}"
        canvas.beginForm(name, -1, -1, size + 1, size + 1)
        _draw_parts(canvas, shape, size)
        canvas.endForm()
    return name


def _draw_parts(canvas: Any, shape: Shape, size: float) -> None:
    canvas.setLineCap(0)
    canvas.setLineJoin(0)
    for part in shape.parts:
        _draw_part(canvas, part, size)


def draw_strip(
    canvas: Any, shapes: Sequence[Shape], x: float, top: float, size: float, pitch: float, in_row: int
) -> None:
    """Draw shapes in rows of `in_row`, left to right and downwards, the first row's upper edge at `top`."""
    canvas.saveState()
    canvas.translate(x, top - size)
    for place, shape in enumerate(shapes):
        if place:
            is_next_row = place % in_row == 0
            canvas.translate(-(in_row - 1) * pitch if is_next_row else pitch, -pitch if is_next_row else 0)
        _draw_here(canvas, shape, size)
    canvas.restoreState()


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
