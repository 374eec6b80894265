"""Text of a slate sheet, measured before anything is drawn: areas, words in lines, and what fits into which width.

All in points from the lower left corner of the page. A line of a size is as tall as the typeface's ascent and descent
together (Fira Sans: 0.935 and 0.265 of the size), so that what is measured holds every letter, accents too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from reportlab.pdfbase import pdfmetrics

from course.paper.fonts import REGULAR, runs_of
from course.paper.shapes import Shape

ASCENT, DESCENT = 0.935, 0.265
ELLIPSIS = "\u2026"
_SHAPE_GAP = 3.0
_SHAPE = 1.2
"""The room of a shape and of the gap after it, in parts of the size."""

Align = Literal["left", "centre", "right"]
Span = tuple[str, str] | Shape
"""A text with its face, or the shape of a mark, which stays with the word after it."""


@dataclass(frozen=True)
class Area:
    """A rectangle: lower left corner, width and height, in points."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The right edge."""
        return self.x + self.width

    @property
    def top(self) -> float:
        """The upper edge."""
        return self.y + self.height

    def inset(self, across: float, up: float) -> Area:
        """The area less a border at the sides and one above and below."""
        return Area(self.x + across, self.y + up, self.width - 2 * across, self.height - 2 * up)


@dataclass(frozen=True)
class Words:
    """One string in one font: where its baseline begins, and the area that it has to stay in."""

    area: Area
    x: float
    y: float
    font: str
    size: float
    text: str


@dataclass(frozen=True)
class Drawn:
    """The shape of a mark in a square area."""

    area: Area
    shape: Shape


@dataclass(frozen=True)
class Line:
    """A line as measured: (offset, font, text) of each string, (offset, shape) of each shape, its width."""

    strings: tuple[tuple[float, str, str], ...]
    shapes: tuple[tuple[float, Shape], ...]
    width: float


def leading(size: float) -> float:
    """The height of a line."""
    return size * (ASCENT + DESCENT)


def wrap(spans: Sequence[Span], size: float, width: float, what: str = "The text") -> tuple[Line, ...]:
    """Break spans into lines no wider than `width`; a word that is too wide for any line is broken inside.

    Raises:
        PaperError: a letter has no font here; the text is named by `what`.
    """
    return _wrapped(tuple(spans), size, width, what)


@lru_cache(maxsize=20_000)
def _wrapped(spans: tuple[Span, ...], size: float, width: float, what: str) -> tuple[Line, ...]:
    lines: list[list[_Piece]] = [[]]
    reached = 0.0
    for piece in _pieces(spans, size, width, what):
        gap = piece.gap(lines[-1][-1] if lines[-1] else None, size)
        if lines[-1] and reached + gap + piece.width > width:
            lines.append([])
            reached, gap = 0.0, 0.0
        lines[-1].append(piece)
        reached += gap + piece.width
    return tuple(_line(pieces, size) for pieces in lines if pieces)


def shorten(text: str, face: str, size: float, width: float, what: str = "The text") -> Line:
    """Return text on one line, its end given up for an ellipsis where it is too wide.

    Raises:
        PaperError: a letter has no font here.
    """
    spans = [(text, face)]
    lines = wrap(spans, size, width, what)
    if len(lines) <= 1:
        return lines[0] if lines else Line((), (), 0.0)
    kept = " ".join(word for word in text.split(" ") if word)
    low, high = 0, len(kept)
    while low < high:  # the longest beginning that fits with the ellipsis
        middle = (low + high + 1) // 2
        if len(wrap([(kept[:middle].rstrip() + ELLIPSIS, face)], size, width, what)) <= 1:
            low = middle
        else:
            high = middle - 1
    return wrap([(kept[:low].rstrip() + ELLIPSIS, face)], size, width, what)[0]


def fits(text: str, face: str, size: float, width: float, what: str = "The text") -> bool:
    """Whether a text stands on one line without being broken."""
    return len(wrap([(text, face)], size, width, what)) <= 1


def place(lines: Sequence[Line], size: float, area: Area, align: Align = "left") -> Iterator[Words | Drawn]:
    """Yield what is drawn for lines, from the top of an area downwards."""
    tall = leading(size)
    for number, line in enumerate(lines):
        free = area.width - line.width
        x = area.x + {"left": 0.0, "centre": free / 2, "right": free}[align]
        low = area.top - (number + 1) * tall
        held = Area(area.x, low, area.width, tall)
        for offset, shape in line.shapes:
            yield Drawn(Area(x + offset, low + tall * 0.14, size, size), shape)
        for offset, font, text in line.strings:
            yield Words(held, x + offset, low + DESCENT * size, font, size, text)


@lru_cache(maxsize=50_000)
def width_of(text: str, font: str, size: float) -> float:
    """The width of a string."""
    return float(pdfmetrics.stringWidth(text, font, size))


@dataclass(frozen=True)
class _Piece:
    """A word, with the shape before it if there is one."""

    runs: tuple[tuple[str, str], ...]
    width: float
    shape: Shape | None = None

    def gap(self, before: _Piece | None, size: float) -> float:
        """The space before it."""
        if before is None:
            return 0.0
        return width_of(" ", before.runs[-1][0], size) + (_SHAPE_GAP if self.shape else 0.0)


def _pieces(spans: Sequence[Span], size: float, width: float, what: str) -> Iterator[_Piece]:
    shape: Shape | None = None
    for span in spans:
        if isinstance(span, Shape):
            shape = span
            continue
        for word in span[0].replace("\n", " ").split(" "):
            if word:
                yield from _word(word, span[1], size, width, what, shape)
                shape = None


def _word(word: str, face: str, size: float, width: float, what: str, shape: Shape | None) -> Iterator[_Piece]:
    runs = _faced(word, face, what)
    before = size * _SHAPE if shape else 0.0
    wide = sum(width_of(text, font, size) for font, text in runs)
    if before + wide <= width:
        yield _Piece(runs, before + wide, shape)
        return
    for font, text in runs:
        while text:
            take = _most(text, font, size, width - before)
            yield _Piece(((font, text[:take]),), before + width_of(text[:take], font, size), shape)
            text, shape, before = text[take:], None, 0.0  # noqa: PLW2901 - what is left of this run


def _most(text: str, font: str, size: float, width: float) -> int:
    """How many letters fit, at least one."""
    wide = 0.0
    for count, letter in enumerate(text):
        wide += width_of(letter, font, size)
        if wide > width:
            return max(1, count)
    return len(text)


@lru_cache(maxsize=10_000)
def _faced(word: str, face: str, what: str) -> tuple[tuple[str, str], ...]:
    """Return runs in the face that is asked for; letters that only another font has keep that one."""
    return tuple((face if font == REGULAR else font, text) for font, text in runs_of(word, what))


def _line(pieces: list[_Piece], size: float) -> Line:
    strings: list[tuple[float, str, str]] = []
    shapes: list[tuple[float, Shape]] = []
    x = 0.0
    for number, piece in enumerate(pieces):
        x += piece.gap(pieces[number - 1] if number else None, size)
        if piece.shape:
            shapes.append((x, piece.shape))
            x += size * _SHAPE
        for place_in_word, (font, text) in enumerate(piece.runs):
            joins = bool(strings) and not piece.shape and not place_in_word and strings[-1][1] == font
            if joins:  # one string for words of one font: fewer, and read back as written
                start, _, before = strings[-1]
                strings[-1] = (start, font, f"{before} {text}")
            else:
                strings.append((x, font, text))
            x += width_of(text, font, size)
    return Line(tuple(strings), tuple(shapes), x)
