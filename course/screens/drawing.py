"""The shared shapes as plain data for the drawn components."""

from __future__ import annotations

from typing import Any

from course.answers.matrix import Matrix
from course.assessment.sentences import of_asked
from course.paper.shapes import Part, Shape, outcome_shape, standing_shape
from course.screens import theme
from course.words import OUTCOME_WORDS, Outcome

_TONES = {"ink": theme.INK, "grey": theme.RULE, "paper": theme.PAPER, "warm": theme.CRITICAL}


def shape_plain(shape: Shape) -> list[dict[str, Any]]:
    """A shape as SVG path data in a square of 100 by 100, origin at the upper left."""
    return [_path(part) for part in shape.parts]


def history_plain(outcomes: list[Outcome], streaks: list[int], in_a_row: int) -> list[dict[str, Any]]:
    """Attempts from left to right: the outcome's shape and word, and how many in a row it made."""
    return [
        {
            "shape": shape_plain(outcome_shape(outcome)),
            "word": OUTCOME_WORDS[outcome],
            "streak": of_asked(streak, in_a_row),
        }
        for outcome, streak in zip(outcomes, streaks, strict=True)
    ]


def matrix_plain(matrix: Matrix) -> dict[str, Any]:
    """The matrix as data for its component."""
    return {
        "columns": [
            {
                "student": c.student,
                "name": c.name,
                "unit": c.unit,
                "count": f"{c.held} of {c.required} held, {c.signed} signed",
            }
            for c in matrix.columns
        ],
        "phases": [
            {
                "title": phase.title,
                "rows": [
                    {
                        "skill": row.skill,
                        "title": row.title,
                        "required": row.required,
                        "cells": [
                            {
                                "student": cell.student,
                                "word": cell.word,
                                "line": cell.line,
                                "signed": cell.signed,
                                "open": cell.open_attempts,
                                "shape": shape_plain(standing_shape(cell.state, cell.streak / cell.in_a_row)),
                            }
                            for cell in row.cells
                        ],
                    }
                    for row in phase.rows
                ],
            }
            for phase in matrix.phases
        ],
    }


def _path(part: Part) -> dict[str, Any]:
    points = [f"{x * 100:.1f} {(1 - y) * 100:.1f}" for x, y in part.points]
    colour = _TONES[part.tone]
    return {
        "d": f"M{' L'.join(points)}{'Z' if part.closed or part.filled else ''}",
        "fill": colour if part.filled else "none",
        "stroke": "none" if part.filled else colour,
        "width": round(part.stroke * 100, 1),
    }
