"""Lay out one slate sheet: which students and which steps stand on which page, in the largest type that fits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from math import ceil

from reportlab.lib.units import mm

from course.answers.slate_sheet import SlateColumn, SlateSheet
from course.errors import PaperError
from course.paper.fonts import BOLD, REGULAR, register_fonts
from course.paper.slate_head import SMALLEST, Part, column_heads, foot, foot_height, head, part_code, strip
from course.paper.slate_page import GAP, MARGIN, Box, Form, Item, SlatePage, form_of
from course.paper.slate_rows import Grid, Measured, measure, place_row, spread
from course.paper.slate_text import Area, fits, leading, place, shorten, wrap

_ONWARD = 12.0
_MANY = 99
"""Pages that a head is measured for before it is known how many there are."""
_LEAST_NOTES = 14 * mm


@dataclass(frozen=True)
class _Block:
    """Some columns with their rows, spread over pages: (first, last) of each page's rows, last not among them."""

    columns: tuple[int, int]
    grid: Grid
    rows: tuple[Measured, ...]
    pages: tuple[tuple[int, int], ...]


def lay_out(sheet: SlateSheet, size: str) -> tuple[SlatePage, ...]:
    """Return the pages of a sheet, measured.

    Raises:
        PaperError: there is no such size, a letter has no font here, or a step is too long for this size.
    """
    form = form_of(size)
    register_fonts()
    column_pages = list(_column_pages(sheet, form))
    blocks = [_block(sheet, columns, len(column_pages), form) for columns in column_pages]
    of = sum(len(block.pages) for block in blocks)
    numbered = ((block, rows) for block in blocks for rows in block.pages)
    return tuple(
        _page(sheet, block, Part(number, of, block.columns, rows), form)
        for number, (block, rows) in enumerate(numbered, 1)
    )


def _column_pages(sheet: SlateSheet, form: Form) -> Iterator[tuple[int, int]]:
    """Yield the columns of each page, as even as can be; the tries of one student stay together."""
    tries = sheet.slate.tries
    most = int((form.width - 2 * MARGIN - form.least_text) // form.least_column) // tries
    students = len(sheet.columns) // tries
    pages = ceil(students / max(1, most))
    start = 0
    for page in range(pages):
        count = students // pages + (page < students % pages)
        yield start * tries, (start + count) * tries
        start += count


def _grid(columns: tuple[SlateColumn, ...], pitch: float, form: Form) -> Grid:
    left = form.width - MARGIN - len(columns) * pitch
    return Grid(columns, pitch, left - MARGIN - 2 * mm, left)


def _block(sheet: SlateSheet, columns: tuple[int, int], of: int, form: Form) -> _Block:
    """Choose the largest type, and then the widest columns, that take the fewest pages."""
    own = sheet.columns[slice(*columns)]
    widest = min(form.most_column, (form.width - 2 * MARGIN - form.least_text) / len(own))
    found: _Block | None = None
    for types, pitch in product(form.types, dict.fromkeys((widest, form.least_column))):
        grid = _grid(own, pitch, form)
        rows = tuple(measure(sheet, grid, types, form))
        pages = _row_pages(sheet, columns, of, grid, rows, form)
        if pages and (found is None or len(pages) < len(found.pages)):
            found = _Block(columns, grid, rows, pages)
            if len(pages) == 1:
                break
    if found is None:
        raise PaperError(
            f"A step of {sheet.title}, with its errors, is too long for a slate of this size. "
            "Take a larger one: a5 or a4. Nothing was printed."
        )
    return found


def _row_pages(
    sheet: SlateSheet, columns: tuple[int, int], of: int, grid: Grid, rows: tuple[Measured, ...], form: Form
) -> tuple[tuple[int, int], ...]:
    """Return the rows of each page; nothing where one of them fits none. The whole attempt's row is on the last."""
    steps = len(rows) - 1
    heights = [row.height for row in rows]
    pages: list[tuple[int, int]] = []
    start = 0
    while True:
        part = Part(_MANY, _MANY, columns, (start, steps)) if start else Part(of, of, columns, (0, steps))
        if sum(heights[start:]) <= _room(sheet, part, grid, form):
            return (*pages, (start, steps))
        part = Part(_MANY, _MANY, columns, (start, steps - 1))
        room = _room(sheet, part, grid, form) - leading(_ONWARD)
        end = start
        while end < steps - 1 and sum(heights[start : end + 1]) <= room:
            end += 1
        if end == start:
            return ()
        pages.append((start, end))
        start = end


def _room(sheet: SlateSheet, part: Part, grid: Grid, form: Form) -> float:
    """Return the height that is left for rows on a page."""
    low, _ = _top(sheet, part, grid, form)
    return float(low - MARGIN - foot_height(sheet, form) - GAP)


def _top(sheet: SlateSheet, part: Part, grid: Grid, form: Form) -> tuple[float, list[Item]]:
    low, items = head(sheet, part, form)
    low, more = strip(low, form)
    items += more
    low, more = column_heads(sheet, grid.columns, grid.pitch, low, form)
    return low, [*items, *more]


def _page(sheet: SlateSheet, block: _Block, part: Part, form: Form) -> SlatePage:
    y, items = _top(sheet, part, block.grid, form)
    last = part.rows[1] == len(sheet.rows)
    rows = [*block.rows[slice(*part.rows)], *([block.rows[-1]] if last else [])]
    floor = MARGIN + foot_height(sheet, form) + GAP
    room = y - floor - (0 if last else leading(_ONWARD))
    for measured, height in zip(rows, spread(rows, room, form.most_row), strict=True):
        items += place_row(sheet, measured, block.grid, form, y, height)
        y -= height
    items += _after_rows(block.grid, part, Area(MARGIN, floor, form.width - 2 * MARGIN, y - floor), goes_on=not last)
    items += foot(sheet, form)
    return SlatePage(
        form.width, form.height, tuple(items), part_code(sheet, part), sheet.title, part.number, part.of
    )  # fmt: skip


def _after_rows(grid: Grid, part: Part, room: Area, *, goes_on: bool) -> Iterator[Item]:
    """Yield the word that the sheet goes on, the initials once more, and room for notes where some is left."""
    y = room.top
    if goes_on:
        y -= leading(_ONWARD)
        told = f"goes on: sheet {part.number + 1} of {part.of}"
        yield from place(
            wrap([(told, BOLD)], _ONWARD, room.width), _ONWARD, Area(room.x, y, room.width, leading(_ONWARD))
        )
    tall = leading(SMALLEST)
    if y - room.y >= tall and not goes_on:
        y -= tall
        for turn, column in enumerate(grid.columns):
            area = Area(grid.left + turn * grid.pitch, y, grid.pitch, tall).inset(GAP / 2, 0)
            told = f"{column.initials} {column.tag}".strip()
            if not fits(told, BOLD, SMALLEST, area.width, "The name"):
                told = column.tag or column.initials
            yield from place([shorten(told, BOLD, SMALLEST, area.width, "The name")], SMALLEST, area, "centre")
    if y - room.y >= _LEAST_NOTES:
        area = Area(room.x, room.y + GAP, room.width, y - room.y - 2 * GAP)
        yield Box(area, "notes", area)
        yield from place(wrap([("notes", REGULAR)], SMALLEST, 20 * mm), SMALLEST, area.inset(1 * mm, 0.5 * mm))
