"""The trend of one skill as a small picture: attempts in order, the row after each, and which hold the standing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.units import mm

from course.answers.record_answer import AttemptTold
from course.paper.fonts import FIGURES
from course.paper.frame import INK, QUIET, RULE, SMALL, draw_rule
from course.paper.marks import draw_strip
from course.paper.shapes import outcome_shape
from course.words import Outcome

IN_ROW = 16
PITCH, SIZE = 3.1 * mm, 2.5 * mm
STRIP_WIDTH = IN_ROW * PITCH
_BARS = 5.5 * mm
_BAND = _BARS + 4.6 * mm
_MOST = 1.15
"""A streak that is longer than what is asked goes a little over the line, however long it is."""


def trend_height(attempts: int) -> float:
    """Return the height of a trend, in points: a band for every 16 attempts."""
    return float(-(-attempts // IN_ROW) * _BAND)


def draw_trend(canvas: Any, tries: Sequence[AttemptTold], asked: int, x: float, top: float) -> None:
    """Draw attempts in bands of 16, the first band's upper edge at `top`.

    A bar stands for how many were in a row after an attempt, against the line of how many are asked for. It is filled
    where the standing rests on the attempt, and an outline where it does not.
    """
    for first in range(0, len(tries), IN_ROW):
        band = tries[first : first + IN_ROW]
        low = top - _BAND * (first // IN_ROW) - _BARS
        _draw_band(canvas, band, asked, x, low)
        _draw_words(canvas, first, len(band), asked, x, low)


def _draw_band(canvas: Any, band: Sequence[AttemptTold], asked: int, x: float, low: float) -> None:
    level = _BARS / _MOST
    draw_rule(canvas, x, low, STRIP_WIDTH - (PITCH - SIZE))
    for place, one in enumerate(band):
        height = level * min(_MOST, one.streak / asked) if asked else 0
        if not height:
            continue
        canvas.setFillColor(INK)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.5)
        left = x + place * PITCH
        canvas.rect(left + 0.25, low + 0.25, SIZE - 0.5, max(0.5, height - 0.25), stroke=1, fill=int(one.holds))
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.setDash(1.5, 1.5)
    canvas.line(x, low + level, x + STRIP_WIDTH - (PITCH - SIZE), low + level)
    canvas.setDash()
    shapes = [outcome_shape(Outcome(one.outcome)) for one in band]
    draw_strip(canvas, shapes, x, low - 1.2, SIZE, PITCH, IN_ROW)


def _draw_words(canvas: Any, first: int, count: int, asked: int, x: float, low: float) -> None:
    """Say at the left what the line stands for, and which attempts these are."""
    canvas.setFont(FIGURES, SMALL)
    canvas.setFillColor(QUIET)
    if not first:
        canvas.drawRightString(x - 2 * mm, low + _BARS / _MOST - 2.6, f"{asked} asked")
    which = f"{first + 1} to {first + count}" if count > 1 else str(first + 1)
    canvas.drawRightString(x - 2 * mm, low - SIZE - 0.6, which)
