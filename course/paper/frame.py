"""The frame of every paper: page, margins, grid, type, head and foot; and the writing of the file.

A4 or Letter with 18 mm margins and 12 columns. Four type sizes. Rules, no boxes. Head and foot stand inside the
margins. How many pages there are is written once all of them are set. The same data gives the same bytes: no time of
printing is in it, and nothing personal is in its metadata.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from threading import Lock
from typing import Any, BinaryIO, Literal, cast

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate, Paragraph, Spacer

from course.errors import PaperError
from course.paper.fonts import FIGURES, REGULAR, register_fonts, set_text
from course.paper.kept import ended, height_of
from course.paper.marks import TONES
from course.paper.plain_text import plain_part
from course.paper.proof import QR_SIDE, Proof, draw_square_code, proof_lines, proof_note, prove
from course.paper.writing import write_paper
from course.storage.centre_key import SigningKey

PaperSize = Literal["A4", "Letter"]
TableHead = Callable[[Any, float, float, float], None]
"""Draws the head of a long table at x, y (lower edge) over a width, in points."""
Beside = Callable[[Any, float, float], None]
"""Draws on a canvas beside a row, given the first baseline's y and the row's width, in points."""

PAGES: dict[PaperSize, tuple[float, float]] = {"A4": A4, "Letter": LETTER}
MARGIN = 18 * mm
GUTTER = 4 * mm
SMALL, BODY, LEAD, TITLE = 8.0, 9.5, 12.0, 18.0
INK, WARM = HexColor(TONES["ink"]), HexColor(TONES["warm"])
QUIET = HexColor("#4d4a47")
"""Grey for second words: 8.8:1 on white (WCAG 2.2, 1.4.6 asks 7:1)."""
RULE = HexColor("#b9b5b0")
BAR_WIDTH = 1.3 * mm
PROOF_GAP = 3.5 * mm
PROOF_ROOM = 35 * mm
"""The most that the end of a paper with its code takes."""

_HEAD_HEIGHT = 9 * mm
_FOOT_HEIGHT = 15 * mm
_FOOT_GAP = 2 * mm
_SMALL_LEADING = 10.5
_TABLE_HEAD_HEIGHT = 7 * mm
_LONGEST_HEAD = 200
_NUMBER_HERE = "% which page of how many"  # a comment in the page's drawing; text on it can hold no such line
one_at_a_time = Lock()  # ReportLab's fonts and settings belong to the whole process


def style(size: float, leading: float, font: str = REGULAR, **more: Any) -> Any:
    """Return a paragraph style in one of the four sizes."""
    settings = {"textColor": INK, "splitLongWords": 1, "allowWidows": 0, "allowOrphans": 0, **more}
    return ParagraphStyle(f"{font}-{size}", fontName=font, fontSize=size, leading=leading, **settings)


def column_x(columns: int, width: float) -> float:
    """Return where the column after so many of the 12 begins, in points from the left margin."""
    return float(columns * (width + GUTTER) / 12)


@dataclass(frozen=True)
class Sheet:
    """What stands on every page of one paper."""

    title: str
    centre: str
    about: str
    """Whom or what it is about; stands in the head, never in the file's metadata."""
    code: str
    caution: str
    table_head: TableHead | None = None
    """The head of a long table, on pages of the template `rows`."""
    answer: Any = None
    """The frozen answer that it prints, or several: with it the paper carries its code and its data."""
    asked: Mapping[str, str] = field(default_factory=dict)
    """What the answer was asked about: ids, and `as_of`."""
    other_heads: Mapping[str, TableHead] = field(default_factory=dict)
    """Heads of further long tables, each on pages of the template of its name."""

    @property
    def heads(self) -> dict[str, TableHead]:
        """Every head by its template."""
        return {**({"rows": self.table_head} if self.table_head else {}), **self.other_heads}


class Row(Paragraph):  # type: ignore[misc]  # ReportLab is not typed
    """A paragraph with drawings beside its first line, and a bar at the left of all its lines if it is critical.

    Everything on a paper is such rows, so any text, however long, can go over to the next page. `label` is own words
    and where they begin; `beside` draws to the right; `entry` is a bookmark's key, title and level, and
    `folded` keeps those under it out of sight until they are asked for.
    """

    def __init__(
        self,
        *args: Any,
        label: tuple[str, float] | None = None,
        beside: Beside | None = None,
        bar: bool = False,
        entry: tuple[str, str, int] | None = None,
        folded: bool = False,
        **named: Any,
    ) -> None:
        if args and isinstance(args[0], str) and "frags" not in named:
            named["frags"] = plain_part(args[0], args[1])
        super().__init__(*args, **named)
        self.label, self.beside, self.bar, self.entry, self.folded = label, beside, bar, entry, folded
        self._wrapped: tuple[float, tuple[float, float]] | None = None

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: N803  # ReportLab's own names
        """Break the text into lines, once for a width: blocks are measured before they are put on a page."""
        if self._wrapped is None or self._wrapped[0] != availWidth or not hasattr(self, "blPara"):
            self._wrapped = (availWidth, super().wrap(availWidth, availHeight))
        return self._wrapped[1]

    def split(self, availWidth: float, availHeight: float) -> list[Any]:  # noqa: N803  # ReportLab's own names
        """Split as a paragraph does; what stands beside stays with the first part."""
        parts: list[Any] = super().split(availWidth, availHeight)
        if len(parts) > 1:
            first = parts[0]
            first.label, first.beside, first.entry, first.folded = self.label, self.beside, self.entry, self.folded
            for part in parts:
                part.bar = self.bar
        return parts

    def draw(self) -> None:
        """Draw the text and what stands beside it, from left to right, so that it also reads back in that order."""
        canvas = self.canv
        if self.entry:
            key, title, level = self.entry
            canvas.bookmarkHorizontal(key, 0, self.height + 6)
            canvas.addOutlineEntry(title, key, level, closed=self.folded)
        if self.bar:
            canvas.setFillColor(WARM)
            canvas.rect(self.style.leftIndent - 3 * mm, 0, BAR_WIDTH, self.height, stroke=0, fill=1)
        if self.label:
            draw_words(canvas, self.label[1], self._baseline(), self.label[0], colour=QUIET)
        super().draw()
        if self.beside:
            canvas.saveState()
            self.beside(canvas, self._baseline(), self.width)
            canvas.restoreState()

    def _baseline(self) -> float:
        """The first line's baseline, where ReportLab puts it: lines of one font and of several differ."""
        lines = self.blPara
        first = lines.lines[0] if lines.kind and lines.lines else lines
        return float(self.height - getattr(first, "ascent", self.style.fontSize))


def draw_rule(canvas: Any, x: float, y: float, width: float, *, strong: bool = False) -> None:
    """Draw a level rule."""
    canvas.setStrokeColor(INK if strong else RULE)
    canvas.setLineWidth(0.8 if strong else 0.4)
    canvas.line(x, y, x + width, y)


def draw_words(canvas: Any, x: float, y: float, words: str, font: str = REGULAR, colour: Any = INK) -> None:
    """Draw own words (never a person's text) at the small size."""
    canvas.setFillColor(colour)
    canvas.setFont(font, SMALL)
    canvas.drawString(x, y, words)


def draw_share(
    canvas: Any, middle: float, y: float, shares: tuple[int, int], *, size: float = SMALL, beyond: str = "asked",
    room: float = float("inf"),
) -> None:  # fmt: skip
    """Draw "3 of 5" with its "of" centred, so that the numbers of a column stand under each other.

    What is more than the whole is no share of it: "6, 5 asked", the 6 under the other numbers. Whatever would go on
    further than `room` to the right of the middle stands that much further left.
    """
    done, asked = shares
    before = stringWidth(f"{done} ", FIGURES, size) + stringWidth("of", FIGURES, size) / 2
    canvas.setFont(FIGURES, size)
    canvas.setFillColor(INK)
    words = f"{done} of {asked}" if done <= asked else f"{done}, {asked} {beyond}"
    canvas.drawString(middle - max(before, stringWidth(words, FIGURES, size) - room), y, words)


def print_paper(
    sheet: Sheet,
    story: Callable[[], list[Any]],
    out: Path | BinaryIO,
    size: PaperSize,
    key: SigningKey | None = None,
) -> int:
    """Build a paper with its proof and write it whole or not at all; return its pages.

    Args:
        sheet: what stands on every page; with an answer the paper ends with its code and carries its data.
        story: makes its rows.
        out: where to.
        size: A4 or Letter.
        key: the centre's, to sign with; without one the paper says that it is not signed.

    Raises:
        PaperError: a letter has no font, or the file cannot be written; an older file of that name is kept.
    """
    register_fonts()
    proof = prove(sheet.title, sheet.answer, sheet.asked, key) if sheet.answer is not None else None

    whole = io.BytesIO()
    with one_at_a_time:
        rows = story()
        pages = _build(
            sheet, ended(rows, proof_rows(proof, text_width(size)), text_width(size)) if proof else rows, whole, size
        )
    pdf = whole.getvalue()
    write_paper(proof.put_into(pdf) if proof else pdf, out)
    return pages


def proof_rows(proof: Proof, width: float) -> list[Any]:
    """Return the rows that end a paper: its code drawn and in letters, and what that is; as tall as the code drawn."""
    indent = QR_SIDE + 6 * mm
    digits = style(SMALL, 8.8, FIGURES, leftIndent=indent)
    told = style(SMALL, 9.5, leftIndent=indent, textColor=QUIET, spaceBefore=0.8 * mm)
    rows = [Row(line, digits) for line in proof_lines(proof.code)]
    rows[0].beside = partial(_draw_proof, proof.code.text())
    rows.append(Row(proof_note(proof), told))
    below = Spacer(0, max(0.0, QR_SIDE - height_of(rows, width)))
    return [Spacer(0, PROOF_GAP), *rows, below]


def _draw_proof(text: str, canvas: Any, y: float, width: float) -> None:
    draw_rule(canvas, 0, y + PROOF_GAP / 2 + 6, width)
    canvas.setFillColor(INK)
    draw_square_code(canvas, text, 0, y + 6)


def text_width(size: PaperSize) -> float:
    """Return the width between the margins, in points.

    Raises:
        PaperError: there is no such size.
    """
    if size not in PAGES:
        raise PaperError(f'There is no paper size "{size}" here. Take A4 or Letter. Nothing was printed.')
    return float(PAGES[size][0] - 2 * MARGIN)


def text_height(size: PaperSize) -> float:
    """Return the height between head and foot of a page, in points.

    Raises:
        PaperError: there is no such size.
    """
    text_width(size)
    return float(PAGES[size][1] - 2 * MARGIN - _HEAD_HEIGHT - _FOOT_HEIGHT)


class _Counted(Canvas):  # type: ignore[misc]  # ReportLab is not typed
    """A canvas that writes on each page which of how many it is, once it is known how many there are."""

    _code: list[str]

    def leave_room_for_number(self) -> None:
        """Keep a place in this page's drawing; `save` fills it."""
        self._code.append(_NUMBER_HERE)

    def save(self) -> None:
        """Write every page's number at its place, then the file."""
        pages = self._doc.Pages.pages
        for number, page in enumerate(pages, 1):
            self.saveState()
            self.setFillColor(QUIET)
            self.setFont(FIGURES, SMALL)
            self.drawRightString(page.pagewidth - MARGIN, MARGIN + 2, f"page {number} of {len(pages)}")
            self.restoreState()
            page.stream = page.stream.replace(_NUMBER_HERE, "\n".join(self._code), 1)
            self._code = []
        super().save()


def _build(sheet: Sheet, story: list[Any], out: BinaryIO, size: PaperSize) -> int:
    document = BaseDocTemplate(
        out,
        pagesize=PAGES[size],
        title=sheet.title,
        author="Loopledger",
        subject="",
        creator="Loopledger",
        lang="en",
        invariant=1,
        initialFontName=REGULAR,
        displayDocTitle=True,
    )
    furniture = _head_and_foot(sheet, size)
    furnish, foot = partial(_furnish, sheet, furniture), max(_FOOT_HEIGHT, _foot_top(furniture.caution[1]) + _FOOT_GAP)
    tables = [_template(name, size, _TABLE_HEAD_HEIGHT, foot, furnish) for name in sheet.heads]
    document.addPageTemplates([_template("plain", size, 0, foot, furnish), *tables])
    document.build(story, canvasmaker=_Counted)
    return cast(int, document.page)


def _template(name: str, size: PaperSize, table_head: float, foot: float, furnish: Callable[..., None]) -> Any:
    width, height = PAGES[size]
    low = MARGIN + foot
    room = height - MARGIN - _HEAD_HEIGHT - table_head - low
    frame = Frame(MARGIN, low, width - 2 * MARGIN, room, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0)
    return PageTemplate(id=name, frames=[frame], onPage=furnish)


@dataclass(frozen=True)
class _Furniture:
    """Head and foot as set: once for all pages of a paper, each with its height."""

    centre: tuple[Any, float]
    about: tuple[Any, float]
    caution: tuple[Any, float]


def _head_and_foot(sheet: Sheet, size: PaperSize) -> _Furniture:
    room = text_width(size)
    caution = Paragraph(set_text(sheet.caution), style(SMALL, _SMALL_LEADING, textColor=QUIET))
    return _Furniture(
        one_line(sheet.centre, room * 0.42, "left"),
        one_line(f"{sheet.title}: {sheet.about}", room * 0.55, "right"),
        (caution, caution.wrap(room, _FOOT_HEIGHT)[1]),
    )


def _furnish(sheet: Sheet, furniture: _Furniture, canvas: Any, document: Any) -> None:
    """Draw head and foot, and the repeated head of a long table."""
    width, height = document.pagesize
    room = width - 2 * MARGIN
    canvas.saveState()
    canvas.setViewerPreference("DisplayDocTitle", "true")
    top = height - MARGIN
    for (line, tall), x in ((furniture.centre, MARGIN), (furniture.about, MARGIN + room * 0.45)):
        line.drawOn(canvas, x, top - tall)
    draw_rule(canvas, MARGIN, top - 4.6 * mm, room, strong=True)
    if head := sheet.heads.get(document.pageTemplate.id):
        head(canvas, MARGIN, top - _HEAD_HEIGHT - 4 * mm, room)
    _draw_foot(canvas, sheet.code, furniture.caution, room)
    canvas.restoreState()


def _foot_top(caution: float) -> float:
    """How high above the margin the rule over the foot stands, with cautions so tall."""
    return 2 + _SMALL_LEADING + caution + 3


def _draw_foot(canvas: Any, code: str, told: tuple[Any, float], room: float) -> None:
    (caution, tall), low = told, MARGIN + 2
    caution.drawOn(canvas, MARGIN, low + _SMALL_LEADING)
    draw_rule(canvas, MARGIN, MARGIN + _foot_top(tall), room)
    draw_words(canvas, MARGIN, low, code, FIGURES, QUIET)
    canvas.leave_room_for_number()


def one_line(text: str, width: float, align: str) -> tuple[Any, float]:
    """Return one line of text with its height, shortened with an ellipsis where it is too long for its place."""
    line_style = style(SMALL, _SMALL_LEADING, alignment={"left": 0, "right": 2}[align])
    shown = text[:_LONGEST_HEAD]
    while True:
        line = Paragraph(set_text(shown if shown == text else shown.rstrip() + "…"), line_style)
        _, tall = line.wrap(width, _HEAD_HEIGHT)
        if tall <= _SMALL_LEADING or len(shown) <= 1:
            return line, tall
        shown = shown[:-1]
