"""A table that goes over pages: how it begins, how it ends, and what stands over it on the pages that it goes on to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.platypus import NextPageTemplate

from course.paper.kept import keep_together

_FEWEST = 2
"""Lines of a table that a page holds at least: one alone at its foot or top seems to belong to something else."""


def table_rows(top: list[Any], lines: Sequence[list[Any]], width: float, template: str = "") -> list[Any]:
    """Return the rows of a table: its top stays with the first two lines, and the last two stay together.

    Where two are too tall for a page the top stays with one. A line is not broken where it fits a page.

    Args:
        top: its heading, a note and its captions, as they stand once.
        lines: what each of its lines is made of.
        width: of the column, in points.
        template: whose pages repeat its captions; "" for a list without any.
    """
    few = len(lines) < 2 * _FEWEST
    first, last = (lines, []) if few else (lines[:_FEWEST], lines[-_FEWEST:])
    rows = _begun(top, first, width, template)
    rows += [row for line in lines[len(first) : len(lines) - len(last)] for row in keep_together(line, width)]
    rows += _kept([], last, width)
    return [*rows, NextPageTemplate("plain")] if template else rows


def _begun(top: list[Any], first: Sequence[list[Any]], width: float, template: str) -> list[Any]:
    """The captions are repeated from the page on that comes after the first lines."""
    rows = _kept(top, first, width)
    return [*rows[:1], NextPageTemplate(template), *rows[1:]] if template else rows


def _kept(top: list[Any], lines: Sequence[list[Any]], width: float) -> list[Any]:
    """Keep as many of the lines with what stands over them as fit a page, and the others each by itself."""
    for count in range(len(lines), 0, -1):
        rows = [*top, *(row for line in lines[:count] for row in line)]
        kept = keep_together(rows, width)
        if len(kept) == 1 or count == 1:
            return [*kept, *(row for line in lines[count:] for row in keep_together(line, width))]
    return top
