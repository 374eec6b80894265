"""What stands around the rows of a slate sheet: whose sheet it is, who is in which column, what the marks mean.

Each part is measured first (its height), then placed below what came before it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from operator import attrgetter

from reportlab.lib.units import mm

from course.answers.slate_sheet import SlateColumn, SlateSheet, group_words
from course.paper.fonts import BOLD, MEDIUM, REGULAR
from course.paper.shapes import mark_shape
from course.paper.slate_page import GAP, MARGIN, STRONG, Box, Code, Form, Item, Ruled
from course.paper.slate_text import DESCENT, Area, Line, Span, fits, leading, place, shorten, width_of, wrap
from course.words import MARK_WORDS, Mark

SMALLEST = 8.0
RULES_NOTE = "Agency standards, maker's manual and local law rule."
EXAMPLES_NOTE = "Limits here are examples."
_NUMBER, _PART, _SMALL_PART = 18.0, 12.0, 9.5
_MOST_TIME = 26 * mm


@dataclass(frozen=True)
class Part:
    """Which of a sheet's pages this is: its columns and rows, from the first (counted from 0) to before the last."""

    number: int
    of: int
    columns: tuple[int, int]
    rows: tuple[int, int]


def part_code(sheet: SlateSheet, part: Part) -> str:
    """Return what the square code of one page says: the sheet's own, and which page where there are several."""
    return sheet.square_code if part.of == 1 else f"{sheet.square_code}|{part.number}/{part.of}"


def part_words(sheet: SlateSheet, part: Part) -> str:
    """Return which page this is, in words: "sheet 2 of 2, goes on from step 4"."""
    told = [f"sheet {part.number} of {part.of}"]
    if part.rows[0]:
        told.append(f"goes on from step {sheet.rows[part.rows[0]].number}")
    if part.rows[1] < len(sheet.rows):
        told.append("goes on")
    students = list(dict.fromkeys(column.student for column in sheet.columns))
    here = list(dict.fromkeys(column.student for column in sheet.columns[slice(*part.columns)]))
    if len(here) < len(students):
        first, last = students.index(here[0]) + 1, students.index(here[-1]) + 1
        told.append(f"students {first} to {last} of {len(students)}" if last > first else f"student {first}")
    return ", ".join(told)


def head(sheet: SlateSheet, part: Part, form: Form) -> tuple[float, list[Item]]:
    """Return the lower edge of the head, and what is in it: number, square code, whose and when."""
    inner, top = form.width - 2 * MARGIN, form.height - MARGIN
    room = inner - form.code_side - GAP
    items: list[Item] = [
        Code(Area(form.width - MARGIN - form.code_side, top - form.code_side, form.code_side, form.code_side),
             part_code(sheet, part))
    ]  # fmt: skip
    number = wrap([(sheet.slate.code, BOLD)], _NUMBER, room)
    y = top - leading(_NUMBER)
    items += place(number, _NUMBER, Area(MARGIN, y, room, leading(_NUMBER)))
    words, x = part_words(sheet, part), number[0].width + 3 * mm
    if x + width_of(words, BOLD, _PART) <= room:  # on the number's own baseline
        low = y + DESCENT * (_NUMBER - _PART)
        items += place(wrap([(words, BOLD)], _PART, room - x), _PART, Area(MARGIN + x, low, room - x, leading(_PART)))
    else:
        size = _PART if fits(words, BOLD, _PART, room) else _SMALL_PART
        lines = wrap([(words, BOLD)], size, room)
        y -= len(lines) * leading(size)
        items += place(lines, size, Area(MARGIN, y, room, len(lines) * leading(size)))
    for text, face, what in _whose(sheet):
        y -= leading(form.small)
        line = shorten(text, face, form.small, room, what)
        items += place([line], form.small, Area(MARGIN, y, room, leading(form.small)))
    return min(y, top - form.code_side), items


def _whose(sheet: SlateSheet) -> Iterator[tuple[str, str, str]]:
    yield f"{sheet.day} \u00b7 {sheet.session}", MEDIUM, "The session"
    staff = " with ".join(part for part in (group_words(sheet.group), ", ".join(sheet.staff)) if part)
    yield " \u00b7 ".join(part for part in (staff, sheet.where) if part), REGULAR, "The session's place or group"
    yield f"{sheet.centre} \u00b7 {sheet.course}", REGULAR, "The centre or course"


def strip(top: float, form: Form) -> tuple[float, list[Item]]:
    """Return the lower edge of the line for times and the observer's initials, and what is in it."""
    labels = ("seen from", "to", "observer's initials")
    widths = [width_of(label, REGULAR, form.small) + 1.2 * mm for label in labels]
    free = form.width - 2 * MARGIN - sum(widths) - 2 * 2 * mm
    wide = min(free / 3, _MOST_TIME)
    items: list[Item] = []
    x, low = MARGIN, top - 1 * mm - form.mark
    for label, room, what in zip(labels, widths, ("from", "to", "initials"), strict=True):
        line = wrap([(label, REGULAR)], form.small, room)
        tall = leading(form.small)
        items += place(line, form.small, Area(x, low + (form.mark - tall) / 2, room, tall))
        area = Area(x + room, low, wide, form.mark)
        items.append(Box(area, what, area))  # type: ignore[arg-type]
        if what != "initials":
            colon = wrap([(":", BOLD)], 12, wide)
            items += place(colon, 12, Area(area.x, low + (form.mark - leading(12)) / 2, wide, leading(12)), "centre")
        x += room + wide + 2 * mm
    return low - 1 * mm, [*items, Ruled(MARGIN, low - 1 * mm, form.width - 2 * MARGIN, STRONG)]


@dataclass(frozen=True)
class Name:
    """One student's head over their columns: first name, initials and tag as lines, with the type of each."""

    first: tuple[Line, float]
    others: tuple[tuple[Line, float], ...]


def column_heads(
    sheet: SlateSheet, columns: Sequence[SlateColumn], pitch: float, top: float, form: Form
) -> tuple[float, list[Item]]:
    """Return the lower edge of the heads, and what is in them: the skill at the left, a name over each column."""
    groups = [list(own) for _, own in groupby(columns, attrgetter("student"))]
    wide = [len(own) * pitch - GAP / 2 for own in groups]
    names = _names([own[0] for own in groups], wide, form)
    left = form.width - 2 * MARGIN - len(columns) * pitch - 2 * mm
    title = wrap([(sheet.title, BOLD)], form.lead, left, "The skill's title")
    label = wrap([("attempt no.", MEDIUM), ("(in small: next as known)", REGULAR)], SMALLEST, left)
    first_tall = max(leading(name.first[1]) for name in names)  # so that all initials stand level
    names_tall = first_tall + max(sum(leading(size) for _, size in name.others) for name in names)
    tall = max(names_tall + 0.5 * mm + form.mark, len(title) * leading(form.lead) + len(label) * leading(SMALLEST))
    low = top - 1 * mm - tall
    items: list[Item] = [*place(title, form.lead, Area(MARGIN, low, left, tall))]
    label_tall = len(label) * leading(SMALLEST)
    items += place(label, SMALLEST, Area(MARGIN, low, left, label_tall), "right")
    x = form.width - MARGIN - len(columns) * pitch
    for own, name, room in zip(groups, names, wide, strict=True):
        y = low + tall - first_tall
        line, size = name.first
        items += place([line], size, Area(x + GAP / 4, y, room, leading(size)), "centre")
        for line, size in name.others:
            y -= leading(size)
            items += place([line], size, Area(x + GAP / 4, y, room, leading(size)), "centre")
        for turn, column in enumerate(own):
            items += _attempt(column, Area(x + turn * pitch + GAP / 2, low, pitch - GAP, form.mark))
        x += len(own) * pitch
    return low - 1 * mm, [*items, Ruled(MARGIN, low - 1 * mm, form.width - 2 * MARGIN, STRONG)]


def _attempt(column: SlateColumn, area: Area) -> list[Item]:
    """The box for the attempt's number, with the next one as known in small at its lower left."""
    hint = wrap([(str(column.next_number), REGULAR)], SMALLEST, area.width)
    small = Area(area.x + 0.8 * mm, area.y + 0.3 * mm, hint[0].width, leading(SMALLEST))
    room = Area(small.right, area.y, area.right - small.right, area.height)
    box = Box(area, "attempt", room, (column.student, column.attempt_try))
    return [box, *place(hint, SMALLEST, small)]


def _names(columns: Sequence[SlateColumn], wide: Sequence[float], form: Form) -> list[Name]:
    """Return first name, initials and tag of each; names and initials each in one size where they fit."""
    own = list(zip(columns, wide, strict=True))
    sizes = [size for size in (18.0, 12.0, 9.5) if size <= form.lead]
    name_size = next((s for s in sizes if all(fits(c.first_name, BOLD, s, w, "The name") for c, w in own)), 9.5)
    short_size = next((s for s in (*sizes, 8.0) if all(fits(c.initials, BOLD, s, w, "The name") for c, w in own)), 8.0)
    tagged = any(column.tag for column in columns)
    made = []
    for column, room in own:
        lines = [(line, short_size) for line in wrap([(column.initials, BOLD)], short_size, room, "The name")]
        if tagged:
            lines += [(line, SMALLEST) for line in wrap([(column.tag, REGULAR)], SMALLEST, room, "The tag")]
        made.append(Name(_first_name(column.first_name, room, name_size), tuple(lines)))
    return made


def _first_name(name: str, room: float, size: float) -> tuple[Line, float]:
    """Return a first name whole on one line, else smaller, else shortened."""
    for tried in (size, 9.5, 8.0):
        if tried <= size and fits(name, BOLD, tried, room, "The name"):
            return shorten(name, BOLD, tried, room, "The name"), tried
    return shorten(name, BOLD, SMALLEST, room, "The name"), SMALLEST


def foot_height(sheet: SlateSheet, form: Form) -> float:
    """Return how tall the foot is."""
    return float(sum(len(lines) for lines in _foot_lines(sheet, form)) * leading(form.small) + 1.5 * mm)


def foot(sheet: SlateSheet, form: Form) -> list[Item]:
    """Return what stands at the foot: adjustments, the caution, the marks explained, whose rules hold."""
    inner, top = form.width - 2 * MARGIN, MARGIN + foot_height(sheet, form)
    items: list[Item] = [Ruled(MARGIN, top, inner, STRONG)]
    y = top - 1.5 * mm
    for lines in _foot_lines(sheet, form):
        tall = len(lines) * leading(form.small)
        items += place(lines, form.small, Area(MARGIN, y - tall, inner, tall))
        y -= tall
    return items


def _foot_lines(sheet: SlateSheet, form: Form) -> tuple[tuple[Line, ...], ...]:
    inner = form.width - 2 * MARGIN
    example = any(row.limit and row.limit.basis == "example" for row in sheet.rows)
    notes = [(RULES_NOTE, REGULAR), *([(EXAMPLES_NOTE, REGULAR)] if example else [])]
    caution = wrap([("Caution:", BOLD), (sheet.caution, REGULAR), *notes], form.small, inner, "The caution")
    adjusted = [
        wrap([(f"Another way, {name}:", BOLD), (how, REGULAR)], form.small, inner, "The adjustment")
        for name, how in sheet.adjustments
    ]
    return *adjusted, _legend(form.small, inner), caution


@lru_cache(maxsize=8)
def _legend(size: float, width: float) -> tuple[Line, ...]:
    """The strokes of the slate, each with its word."""
    strokes: list[Span] = [
        mark_shape(Mark.DONE), (MARK_WORDS[Mark.DONE], REGULAR),
        mark_shape(Mark.ERROR), ("a", BOLD), ("error + letter", REGULAR),
        mark_shape(Mark.PROMPTED), (MARK_WORDS[Mark.PROMPTED], REGULAR),
        mark_shape(Mark.NOT_SEEN), (MARK_WORDS[Mark.NOT_SEEN], REGULAR),
        mark_shape(Mark.LEFT_OUT), (MARK_WORDS[Mark.LEFT_OUT] + ".", REGULAR),
        ("Small F", BOLD), ("beside it: put right unasked before anything came of it.", REGULAR),
        ("Bold box:", BOLD), ("critical can happen, its own stroke.", REGULAR),
        ("Grey:", BOLD), ("not for this unit.", REGULAR), ("Empty:", BOLD), ("asked later.", REGULAR),
        ("?", BOLD), ("unreadable, in copying in only.", REGULAR),
    ]  # fmt: skip
    return wrap(strokes, size, width)
