"""Shapes for marks, outcomes and standings as plain lines in a unit square, for screen and paper alike.

Shape comes before colour: each one reads in grey and by its outline. Nothing is green, and only critical is warm.
The square runs from (0, 0) at the lower left to (1, 1) at the upper right; stroke widths are parts of its side.
This module only computes; `course.paper.marks` draws the same lines with ReportLab.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from course.words import Mark, Outcome, StandingState

Point = tuple[float, float]
Tone = Literal["ink", "grey", "paper", "warm"]

_INK_STROKE = 0.12
_HAIR = 0.05
_SQUARE: tuple[Point, ...] = ((0.06, 0.06), (0.94, 0.06), (0.94, 0.94), (0.06, 0.94))
_FULLEST = 0.85  # a standing that is not met never looks full


@dataclass(frozen=True)
class Part:
    """One line or area of a shape. A filled part has no stroke and is closed by itself."""

    points: tuple[Point, ...]
    filled: bool = False
    closed: bool = False
    stroke: float = _INK_STROKE
    tone: Tone = "ink"


@dataclass(frozen=True)
class Shape:
    """The parts from back to front, and the letter that stands at the lower right, if any."""

    parts: tuple[Part, ...]
    letter: str = ""


def mark_shape(mark: Mark, letter: str = "", *, critical: bool = False) -> Shape:
    """Return the shape of one step's mark; an error carries its letter, a critical one a bold bar at the left."""
    bar = (_bar(),) if critical else ()
    match mark:
        case Mark.DONE:
            return Shape(_tick())
        case Mark.ERROR:
            left = 0.26 if critical else 0.06
            cross = _diagonals(left, 0.34, left + 0.52, 0.86, 0.12, "warm" if critical else "ink")
            return Shape((*bar, *cross), letter)
        case Mark.PROMPTED:
            return Shape((_stem(), _bowl()))
        case Mark.NOT_SEEN:
            return Shape((_dash(),))
        case Mark.LEFT_OUT:
            return Shape((*bar, Part(_circle(0.5, 0.5, 0.38), closed=True)))


def whole_shape() -> Shape:
    """Return the shape of a step that is right by the one stroke for a whole attempt: a thin tick over a line."""
    thin = Part(((0.12, 0.56), (0.38, 0.3), (0.88, 0.88)), stroke=0.07)
    return Shape((thin, Part(((0.12, 0.06), (0.88, 0.06)), stroke=0.07)))


def blank_shape() -> Shape:
    """Return the shape of a step that an attempt does not have: a small grey dot."""
    return Shape((Part(_circle(0.5, 0.5, 0.09), filled=True, tone="grey"),))


def outcome_shape(outcome: Outcome) -> Shape:
    """Return the shape of one attempt's outcome."""
    match outcome:
        case Outcome.CLEAN:
            return Shape(_tick())
        case Outcome.MINOR:
            return Shape(_diagonals(0.2, 0.2, 0.8, 0.8, 0.1, "ink"))
        case Outcome.CRITICAL:
            return Shape((_bar(), *_diagonals(0.36, 0.14, 0.96, 0.86, 0.17, "warm")))
        case Outcome.STOPPED:
            return Shape((Part(((0.34, 0.16), (0.34, 0.84))), Part(((0.66, 0.16), (0.66, 0.84)))))
        case Outcome.INCOMPLETE:
            return Shape((_dash(),))
        case Outcome.VOID:
            return Shape((Part(_circle(0.5, 0.5, 0.11), filled=True, tone="grey"),))


def standing_shape(state: StandingState, filled: float = 0.0) -> Shape:
    """Return the shape of a standing; `filled` (0 to 1) is how far a "not yet" has come."""
    if state is StandingState.NOT_YET:
        share = min(max(filled, 0.0), _FULLEST)
        return Shape((_block(share), _OUTLINE) if share else (_OUTLINE,))
    return Shape(_STANDINGS[state])


def how_far(streak: int, in_a_row: int, days: int, distinct_days: int) -> float:
    """Return how far a rule is met, 0 to 1: the lesser of attempts in a row and days."""
    shares = [done / asked for done, asked in ((streak, in_a_row), (days, distinct_days)) if asked > 0]
    return max(0.0, min([1.0, *shares]))


def _tick() -> tuple[Part, ...]:
    return (Part(((0.12, 0.5), (0.38, 0.2), (0.88, 0.82)), stroke=0.13),)


def _dash() -> Part:
    return Part(((0.14, 0.5), (0.86, 0.5)), stroke=0.13)


def _bar() -> Part:
    return Part(((0.0, 0.0), (0.16, 0.0), (0.16, 1.0), (0.0, 1.0)), filled=True, tone="warm")


def _stem() -> Part:
    return Part(((0.28, 0.08), (0.28, 0.92)), stroke=0.14)


def _bowl() -> Part:
    """The round of a P: half a circle from the top of the stem to its middle."""
    turn = [math.pi / 2 - math.pi * step / 16 for step in range(17)]
    arc = tuple((0.5 + 0.23 * math.cos(angle), 0.66 + 0.19 * math.sin(angle)) for angle in turn)
    return Part(((0.28, 0.85), *arc, (0.28, 0.47)), stroke=0.14)


def _diagonals(left: float, low: float, right: float, high: float, stroke: float, tone: Tone) -> tuple[Part, ...]:
    return (
        Part(((left, low), (right, high)), stroke=stroke, tone=tone),
        Part(((left, high), (right, low)), stroke=stroke, tone=tone),
    )


def _block(share: float) -> Part:
    """A square filled from below by its share; a full one reaches the outline's outer edge."""
    low, high = 0.02, 0.98
    top = low + (high - low) * share
    return Part(((low, low), (high, low), (high, top), (low, top)), filled=True)


def _inset(edge: float) -> tuple[Point, ...]:
    return ((edge, edge), (1 - edge, edge), (1 - edge, 1 - edge), (edge, 1 - edge))


def _slash() -> Part:
    return Part(((0.06, 0.06), (0.94, 0.94)), stroke=0.1, tone="paper")


def _dashed_square() -> tuple[Part, ...]:
    """A thin outline in dashes, corners kept: nothing is there yet."""
    low, high, corner, half = 0.05, 0.95, 0.24, 0.1
    corners = (
        ((low + corner, low), (low, low), (low, low + corner)),
        ((low, high - corner), (low, high), (low + corner, high)),
        ((high - corner, high), (high, high), (high, high - corner)),
        ((high, low + corner), (high, low), (high - corner, low)),
    )
    middles = (
        ((0.5 - half, low), (0.5 + half, low)),
        ((0.5 - half, high), (0.5 + half, high)),
        ((low, 0.5 - half), (low, 0.5 + half)),
        ((high, 0.5 - half), (high, 0.5 + half)),
    )
    return tuple(Part(points, stroke=_HAIR) for points in (*corners, *middles))


def _circle(x: float, y: float, radius: float) -> tuple[Point, ...]:
    """Return 32 points: round to the eye at the sizes used, and plain lines for every kind of drawing."""
    turn = [2 * math.pi * step / 32 for step in range(32)]
    return tuple((x + radius * math.cos(angle), y + radius * math.sin(angle)) for angle in turn)


_OUTLINE = Part(_SQUARE, closed=True, stroke=0.08)
_STANDINGS = {
    StandingState.MET: (_block(1.0),),
    StandingState.MET_WATCH: (_block(1.0), Part(_circle(0.5, 0.5, 0.22), closed=True, stroke=0.11, tone="paper")),
    StandingState.AGAIN: (_OUTLINE, *_diagonals(0.26, 0.26, 0.74, 0.74, 0.1, "ink")),
    StandingState.OUT_OF_DATE: (_OUTLINE, Part(_inset(0.28), closed=True, stroke=0.08)),
    StandingState.WAITING: (_OUTLINE, *(Part(_circle(x, 0.5, 0.085), filled=True) for x in (0.26, 0.5, 0.74))),
    StandingState.NOT_STARTED: _dashed_square(),
    StandingState.NOT_FOR_THIS_UNIT: (Part(_inset(0.06), filled=True, tone="grey"), _slash()),
}
