"""Slate sheets as PDF: what an instructor takes into the water, a pencil on a string.

One page is one skill for some students. Black on white, grey only where a unit has no such step. The same sheets give
the same bytes: no time of printing is in them, and nobody's name is in the file's metadata.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any

from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.pdfgen.canvas import Canvas

from course.answers.slate_sheet import SlateSheet
from course.errors import PaperError
from course.paper.fonts import REGULAR
from course.paper.frame import one_at_a_time
from course.paper.shapes import Part as ShapePart
from course.paper.slate_layout import lay_out
from course.paper.slate_page import (
    BOLD_LINE,
    THIN,
    Box,
    Code,
    Filled,
    Grey,
    Item,
    Ruled,
    SlatePage,
    SlateSize,
    form_of,
)
from course.paper.slate_text import Drawn, Words

TITLE = "Slate sheets"
_GREY = 0.82
_HATCH = 3.4
_QUIET = 4
"""Modules of white around a square code. Source: ISO/IEC 18004 (from memory)."""
_ROUND = 6.0

Step = Callable[[int, int, str], None]


def print_slates(sheets: Sequence[SlateSheet], size: SlateSize = "a5", step: Step | None = None) -> bytes:
    """Return sheets as one PDF, in the order in which they come.

    Args:
        sheets: what stands on them.
        size: a4, a5 or small (A6).
        step: told after each sheet: how many are done, of how many, which.

    Raises:
        PaperError: there is no such size, a letter has no font here, a step is too long, or there is no sheet.
    """
    if not sheets:
        raise PaperError("There is no sheet to print. Choose a skill. Nothing was printed.")
    form = form_of(size)
    out = io.BytesIO()
    with one_at_a_time:
        pages = [page for sheet in sheets for page in lay_out(sheet, size)]
        canvas = Canvas(
            out, pagesize=(form.width, form.height), invariant=1, lang="en", initialFontName=REGULAR, pageCompression=1
        )
        _describe(canvas)
        done = 0
        for number, page in enumerate(pages):
            _draw_page(canvas, page, number)
            if page.part == page.parts:
                done += 1
                if step:
                    step(done, len(sheets), page.title)
        canvas.save()
    return out.getvalue()


def _describe(canvas: Any) -> None:
    canvas.setTitle(TITLE)
    canvas.setAuthor("Loopledger")
    canvas.setCreator("Loopledger")
    canvas.setSubject("")
    for preference, value in (("DisplayDocTitle", "true"), ("PrintScaling", "None"), ("Duplex", "Simplex")):
        canvas.setViewerPreference(preference, value)


def _draw_page(canvas: Any, page: SlatePage, number: int) -> None:
    canvas.bookmarkPage(f"page-{number}")
    part = f" ({page.part} of {page.parts})" if page.parts > 1 else ""
    canvas.addOutlineEntry(f"{page.code.split('|')[2]} {page.title}{part}", f"page-{number}")
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    for item in page.items:
        _draw(canvas, item)
    canvas.showPage()


def _draw(canvas: Any, item: Item) -> None:
    match item:
        case Words():
            canvas.setFont(item.font, item.size)
            canvas.drawString(item.x, item.y, item.text)
        case Ruled():
            canvas.setLineWidth(item.stroke)
            canvas.line(item.x, item.y, item.x + item.width, item.y)
        case Box():
            _draw_box(canvas, item)
        case Filled():
            canvas.rect(item.area.x, item.area.y, item.area.width, item.area.height, stroke=0, fill=1)
        case Grey():
            _draw_grey(canvas, item)
        case Drawn():
            _draw_shape(canvas, item)
        case Code():
            _draw_code(canvas, item)


def _draw_box(canvas: Any, box: Box) -> None:
    """Draw a box with its stroke inside its area, so that neighbours keep their distance."""
    stroke = BOLD_LINE if box.what == "own mark" else THIN
    inside = box.area.inset(stroke / 2, stroke / 2)
    canvas.setLineWidth(stroke)
    if box.what == "whole":
        canvas.roundRect(inside.x, inside.y, inside.width, inside.height, _ROUND, stroke=1, fill=0)
    else:
        canvas.rect(inside.x, inside.y, inside.width, inside.height, stroke=1, fill=0)


def _draw_grey(canvas: Any, grey: Grey) -> None:
    area = grey.area
    canvas.setFillGray(_GREY)
    canvas.rect(area.x, area.y, area.width, area.height, stroke=0, fill=1)
    canvas.setFillGray(0)
    if not grey.hatched:
        return
    canvas.saveState()
    path = canvas.beginPath()
    path.rect(area.x, area.y, area.width, area.height)
    canvas.clipPath(path, stroke=0, fill=0)
    canvas.setLineWidth(THIN)
    at = area.x - area.height
    lines = []
    while at < area.right:
        lines.append((at, area.y, at + area.height, area.top))
        at += _HATCH * 2
    canvas.lines(lines)
    canvas.restoreState()


def _draw_shape(canvas: Any, drawn: Drawn) -> None:
    for part in drawn.shape.parts:
        _draw_part(canvas, part, drawn)


def _draw_part(canvas: Any, part: ShapePart, drawn: Drawn) -> None:
    area, side = drawn.area, drawn.area.width
    path = canvas.beginPath()
    (x, y), *others = part.points
    path.moveTo(area.x + x * side, area.y + y * side)
    for x, y in others:
        path.lineTo(area.x + x * side, area.y + y * side)
    if part.closed or part.filled:
        path.close()
    canvas.setLineWidth(part.stroke * side)
    canvas.drawPath(path, stroke=int(not part.filled), fill=int(part.filled))


def _draw_code(canvas: Any, code: Code) -> None:
    """Draw the square code at the upper right of its area; the page's margin is its quiet zone on the other sides."""
    bars, modules = _bars(code.text)
    side = code.area.width / (modules + _QUIET)
    left = code.area.x + _QUIET * side
    path = canvas.beginPath()
    for row, column, count in bars:
        path.rect(left + column * side, code.area.top - (row + 1) * side, count * side, side)
    canvas.drawPath(path, stroke=0, fill=1)


@lru_cache(maxsize=256)
def _bars(text: str) -> tuple[tuple[tuple[int, int, int], ...], int]:
    """Return the dark stretches of a QR code (ISO/IEC 18004) as (row, column, length), and its modules a side."""
    widget = QrCodeWidget(text, barLevel="M")
    widget.qr.make()
    found = []
    for row, cells in enumerate(widget.qr.modules):
        start: int | None = None
        for column, dark in enumerate([*cells, False]):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                found.append((row, start, column - start))
                start = None
    return tuple(found), int(widget.qr.getModuleCount())
