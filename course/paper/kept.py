"""Rows of a paper that stay on one page: a block, or the code at its end with the last of what it proves."""

from __future__ import annotations

from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether, NextPageTemplate, PageBreak

_TALLEST_KEPT = 195 * mm  # less than the room on Letter below a repeated table head
_FEWEST_WITH_PROOF = 4
"""Rows and gaps of a paper that stand on its last page with its code."""


class Kept(KeepTogether):  # type: ignore[misc]  # ReportLab is not typed
    """Rows that stay together. None of ours adds to its frame, so the frame need not be copied to measure them."""

    def __init__(self, rows: list[Any]) -> None:
        super().__init__(rows)
        self.rows = rows

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: N803  # ReportLab's own names
        """Measure the rows as ReportLab does, without its copy of the frame."""
        document = self.canv._doctemplate  # noqa: SLF001 - ReportLab has no other way
        frame, document.frame = document.frame, None
        try:
            size: tuple[float, float] = super().wrap(availWidth, availHeight)
        finally:
            document.frame = frame
        return size


def keep_together(rows: list[Any], width: float) -> list[Any]:
    """Return rows that stay on one page; a block too tall for any page flows on instead, and a row stands by itself."""
    if len(rows) == 1:
        return rows
    return [Kept(rows)] if height_of(rows, width) < _TALLEST_KEPT else rows


def height_of(rows: list[Any], width: float) -> float:
    """Return the height that rows take in a column of a width, in points."""
    return float(sum(row.wrap(width, _TALLEST_KEPT)[1] + row.getSpaceBefore() + row.getSpaceAfter() for row in rows))


def ended(story: list[Any], proof: list[Any], width: float) -> list[Any]:
    """Return a story with its proof kept with the last rows of what it proves: no page holds a code alone.

    The last rows of a table go on under its captions, so a template that comes after them comes no more.
    """
    start, rows = len(story), list(proof)
    while start and len(rows) < len(proof) + _FEWEST_WITH_PROOF and not isinstance(story[start - 1], PageBreak):
        more = [*_rows_of(story[start - 1]), *rows]
        if height_of(more, width) > _TALLEST_KEPT:
            break
        start, rows = start - 1, more
    return [*story[:start], Kept(rows)]


def _rows_of(part: Any) -> list[Any]:
    """What a part of a story draws: rows that are kept one by one, and of a change of template nothing."""
    if isinstance(part, NextPageTemplate):
        return []
    return part.rows if isinstance(part, Kept) else [part]
