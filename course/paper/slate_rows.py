"""The rows of a slate sheet: steps with their errors at the left, a box for each student at the right.

Rows are measured for a type size before they are spread over pages, so that nothing overflows; what room is left on a
page makes the boxes taller.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm

from course.answers.slate_sheet import SlateColumn, SlateRow, SlateSheet
from course.paper.fonts import BOLD, MEDIUM, REGULAR
from course.paper.slate_page import BAR, GAP, HAIR, MARGIN, Box, Filled, Form, Grey, Item, Ruled, TypeSizes
from course.paper.slate_text import Area, Line, Span, leading, place, width_of, wrap
from course.standards.rubric import Limit
from course.words import QUANTITY_WORDS, UNIT_WORDS, listed

UNIT_SIZE = 8.0
_UNIT_ROOM = 0.3 * mm + leading(UNIT_SIZE)
VALUE_HEIGHT = 7 * mm + _UNIT_ROOM
"""The least height of a value's box: 7 mm to write in, and its unit below."""
_AFTER_BAR, _AFTER_NUMBER = 1 * mm, 1.2 * mm
_ABOVE_CAPITALS = 0.246
"""From the top of a line to its capitals, in parts of its size (Fira Sans: ascent 0.935, capitals 0.689)."""
_WATCHED = {"s": "seconds watched", "min": "minutes watched"}
WHOLE = "whole attempt clean"
WHOLE_FILLS = "One tick: fills the thin boxes only, where nothing critical can happen."
WHOLE_FILLS_BRIEF = "One tick: thin boxes only."
WHOLE_FILLS_NONE = "Fills no step here."


@dataclass(frozen=True)
class Block:
    """Lines of one size; an error's letter stands before them and sets them in."""

    lines: tuple[Line, ...]
    size: float
    letter: tuple[Line, ...] = ()
    indent: float = 0.0

    @property
    def height(self) -> float:
        """How tall it is."""
        return len(self.lines) * leading(self.size)


@dataclass(frozen=True)
class Measured:
    """A row as measured: its text, its least height, the type of its number; `row` is None for the whole attempt."""

    row: SlateRow | None
    blocks: tuple[Block, ...]
    height: float
    number: float


@dataclass(frozen=True)
class Grid:
    """Where the columns of boxes stand, and how wide the text beside them is."""

    columns: tuple[SlateColumn, ...]
    pitch: float
    text_width: float
    left: float
    """Where the first column begins."""


def measure(sheet: SlateSheet, grid: Grid, types: TypeSizes, form: Form) -> list[Measured]:
    """Return every step's row, and the whole attempt's as the last, measured in a type."""
    number = min(form.number, 12.0 if types[0] < 12 else 18.0)
    width = grid.text_width - number_width(sheet, number)
    return [*(_step(row, width, types, form, number) for row in sheet.rows), _whole(sheet, width, types, form, number)]


def number_width(sheet: SlateSheet, size: float) -> float:
    """Return the room for bar and number at the left of every row."""
    return float(BAR + _AFTER_BAR + max(width_of(str(row.number), BOLD, size) for row in sheet.rows) + _AFTER_NUMBER)


def _step(row: SlateRow, width: float, types: TypeSizes, form: Form, number: float) -> Measured:
    size = types[1]
    blocks = _said(row, width, types)
    indent = max((width_of(error.letter, BOLD, size) for error in row.errors), default=0.0) + 1.5 * mm
    for error in row.errors:
        label: list[Span] = [("critical:", BOLD)] if error.critical else []
        lines = wrap([*label, (error.label, REGULAR)], size, width - indent, "The error")
        blocks.append(Block(lines, size, wrap([(error.letter, BOLD)], size, indent), indent))
    if row.limit:
        blocks.append(Block(wrap(_limit_spans(row.limit, row.clock_from), size, width), size))
    boxes = form.mark + (GAP + VALUE_HEIGHT if row.limit else 0.0)
    tall = max(sum(block.height for block in blocks), leading(number), boxes) + 2 * form.pad
    return Measured(row, tuple(blocks), tall, number)


def _said(row: SlateRow, width: float, types: TypeSizes) -> list[Block]:
    """The step itself, and what of it is critical: on a line of its own, or behind it where that saves a line."""
    step_size, size = types
    plain = Block(wrap([(row.do, MEDIUM)], step_size, width, "The step"), step_size)
    told = _critical_words(row)
    if not told:
        return [plain]
    critical: list[Span] = [("critical", BOLD), (told, REGULAR)]
    apart = Block(wrap(critical, size, width), size)
    behind = Block(wrap([(row.do, MEDIUM), *critical], step_size, width, "The step"), step_size)
    return [behind] if behind.height < plain.height + apart.height else [plain, apart]


def _critical_words(row: SlateRow) -> str:
    """What of the step itself is critical; of its errors each says so by itself."""
    told = ["if left out"] if row.left_out_critical else []
    if row.not_before:
        steps = listed([str(number) for number in row.not_before], "or")
        told.append(f"if before step {steps}")
    return ", ".join(told)


def _limit_spans(limit: Limit, clock_from: int | None) -> list[Span]:
    bounds = [f"{word} {bound}" for word, bound in (("at least", limit.at_least), ("at most", limit.at_most)) if bound]
    told, unit = ", ".join(bounds), UNIT_WORDS.get(limit.unit, limit.unit)
    if limit.quantity == "time":
        clock = f"from step {clock_from}" if clock_from else "from your sign"
        return [("write", REGULAR), (_WATCHED[limit.unit], MEDIUM), (f"{clock}: {told}", REGULAR)]
    what = QUANTITY_WORDS[limit.quantity] + (f" in {unit}" if unit else "")
    return [("write", REGULAR), (f"{what}:", MEDIUM), (told, REGULAR)]


def _whole(sheet: SlateSheet, width: float, types: TypeSizes, form: Form, number: float) -> Measured:
    fills = WHOLE_FILLS if types[0] > UNIT_SIZE else WHOLE_FILLS_BRIEF
    note = WHOLE_FILLS_NONE if all(row.own_box for row in sheet.rows) else fills
    blocks = (
        Block(wrap([(WHOLE, BOLD)], types[0], width), types[0]),
        Block(wrap([(note, REGULAR)], types[1], width), types[1]),
    )
    return Measured(None, blocks, max(sum(block.height for block in blocks), form.mark) + 2 * form.pad, number)


def spread(rows: Sequence[Measured], room: float, most: float) -> list[float]:
    """Return the rows' heights when what room is left goes to the lowest ones first, none of them above `most`."""
    heights = [row.height for row in rows]
    low, high = 0.0, max(most, *heights)
    for _ in range(40):  # the level to which they are filled up, by halves
        level = (low + high) / 2
        if sum(max(height, level) for height in heights) <= room:
            low = level
        else:
            high = level
    level = min(low, most)
    return [max(height, level) for height in heights]


def place_row(
    sheet: SlateSheet, measured: Measured, grid: Grid, form: Form, top: float, height: float
) -> Iterator[Item]:
    """Yield what stands in one row, the row's upper edge at `top`."""
    area = Area(MARGIN, top - height, grid.left + len(grid.columns) * grid.pitch - MARGIN, height)
    row = measured.row
    if row and all(row.step in column.not_here for column in grid.columns):
        yield Grey(Area(area.x, area.y, grid.text_width, height), hatched=False, step=row.step)
    if row and row.own_box:
        yield Filled(Area(MARGIN, area.y + 0.5 * mm, BAR, height - 1 * mm), row.step)
    x = MARGIN + BAR + _AFTER_BAR
    number_room = number_width(sheet, measured.number) - BAR - _AFTER_BAR
    if row:
        number = wrap([(str(row.number), BOLD)], measured.number, number_room)
        tall = leading(measured.number)
        higher = _ABOVE_CAPITALS * (measured.number - measured.blocks[0].size)  # level with the first line's capitals
        yield from place(number, measured.number, Area(x, area.top - form.pad + higher - tall, number_room, tall))
    x += number_room
    y = area.top - form.pad
    for block in measured.blocks:
        inside = Area(x, y - block.height, MARGIN + grid.text_width - x, block.height)
        yield from place(block.letter, block.size, Area(x, y - leading(block.size), block.indent, leading(block.size)))
        moved = Area(inside.x + block.indent, inside.y, inside.width - block.indent, inside.height)
        yield from place(block.lines, block.size, moved)
        y -= block.height
    for turn, column in enumerate(grid.columns):
        cell = Area(grid.left + turn * grid.pitch, area.y, grid.pitch, height).inset(GAP / 2, form.pad)
        if all(each.step in column.not_here for each in sheet.rows):  # the whole skill is not for this unit
            yield Grey(cell, hatched=True, whom=(column.student, column.attempt_try), step=row.step if row else "")
        else:
            yield from _cell(row, column, cell)
    if row:
        yield Ruled(MARGIN, area.y, area.width, HAIR)


def _cell(row: SlateRow | None, column: SlateColumn, cell: Area) -> Iterator[Item]:
    whom = (column.student, column.attempt_try)
    if row is None:
        yield Box(cell, "whole", cell, whom)
        return
    if row.step in column.not_here:
        yield Grey(cell, hatched=True, whom=whom, step=row.step)
        return
    mark = cell
    if row.limit:
        value = Area(cell.x, cell.y, cell.width, max(VALUE_HEIGHT, (cell.height - GAP) / 2))
        mark = Area(cell.x, value.top + GAP, cell.width, cell.height - value.height - GAP)
        yield from _value(row.limit, value, whom, row.step)
    yield Box(mark, "own mark" if row.own_box else "mark", mark, whom, row.step)


def _value(limit: Limit, area: Area, whom: tuple[str, int], step: str) -> Iterator[Item]:
    room = Area(area.x, area.y + _UNIT_ROOM, area.width, area.height - _UNIT_ROOM)
    yield Box(area, "value", room, whom, step)
    if unit := UNIT_WORDS.get(limit.unit, limit.unit):
        low = Area(area.x + 0.5 * mm, area.y + 0.3 * mm, area.width - 1 * mm, leading(UNIT_SIZE))
        yield from place(wrap([(unit, REGULAR)], UNIT_SIZE, low.width), UNIT_SIZE, low, "right")
