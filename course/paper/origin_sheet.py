"""Show why, on paper: what something rests on, line by line: both times, who, and where in the ledger it stands."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any, BinaryIO

from reportlab.lib.units import mm
from reportlab.platypus import NextPageTemplate, Spacer

from course.answers.origin import Origin, OriginLine, OriginPart
from course.paper.fonts import FIGURES, MEDIUM, set_text
from course.paper.frame import (
    BODY,
    LEAD,
    QUIET,
    SMALL,
    TITLE,
    PaperSize,
    Row,
    Sheet,
    column_x,
    draw_rule,
    draw_words,
    print_paper,
    style,
    text_width,
)
from course.paper.table import table_rows
from course.storage.centre_key import SigningKey

PAPER_NAME = "Show why"

_TITLE = style(TITLE, 23, MEDIUM)
_LEAD = style(LEAD, 15.5)
_PART = style(BODY, 13, MEDIUM, spaceBefore=4 * mm, spaceAfter=0.8 * mm, keepWithNext=1)
_NOTE = style(SMALL, 10.5, textColor=QUIET, keepWithNext=1)
_FACT = style(BODY, 12.5, leftIndent=34 * mm)
_LONGEST_FACT = 4000


def print_origin(answer: Origin, out: Path | BinaryIO, size: PaperSize = "A4", key: SigningKey | None = None) -> int:
    """Print what something rests on as PDF and return its pages; a file is written whole or not at all.

    Raises:
        PaperError: a text has a letter that no font here has, or the file cannot be written.
    """
    head = answer.head
    code = f"chain {head.chain[:8]} · event {head.seq} · hash {head.hash[:16]}"
    sheet = Sheet(
        PAPER_NAME, answer.centre, answer.about, code, answer.note, _draw_head, answer, dict(answer.asked)
    )  # fmt: skip
    return print_paper(sheet, partial(_story, answer, text_width(size)), out, size, key)


def _story(answer: Origin, width: float) -> list[Any]:
    facts = [*answer.facts, ("Times", f"of {answer.zone}: when it was seen, then when it was recorded")]
    rows: list[Any] = [
        Row(set_text(answer.about, "What it is about"), _TITLE, entry=("why", answer.about, 0)),
        Spacer(0, 1.5 * mm),
        Row(set_text(answer.sentence), _LEAD),
        Spacer(0, 3 * mm),
        *[Row(set_text(_short(value), name), _FACT, label=(name, 0)) for name, value in facts],
        Spacer(0, 3 * mm),
    ]
    top = [Row("&nbsp;", style(SMALL, 12), beside=lambda canvas, y, room: _draw_head(canvas, 0, y, room))]
    for part in answer.parts:
        rows += [*_part(part, width, top), NextPageTemplate("rows")]
        top = []
    return rows


def _short(value: str) -> str:
    """A canonical line of adopted rubrics is longer than any page is worth; the file of events has it whole."""
    return value if len(value) <= _LONGEST_FACT else f"{value[:_LONGEST_FACT]}… ({len(value)} signs in all)"


def _part(part: OriginPart, width: float, top: list[Any]) -> list[Any]:
    """One part with its lines; the first one also has the captions over it."""
    rows = [Row(set_text(part.title, "The heading"), _PART)]
    rows += [Row(set_text(note), _NOTE) for note in part.notes if note]
    return table_rows([*top, *rows], [[_line(line, width)] for line in part.lines], width)


def _line(line: OriginLine, width: float) -> Row:
    struck = "" if line.holds else f' <font name="{MEDIUM}">(taken back)</font>'
    text = f"{set_text(line.words, 'The entry')}{struck} · {set_text(line.who, 'The name')}"
    left = column_x(5, width)
    told = style(SMALL, 11, leftIndent=left, rightIndent=width - column_x(10, width) + 3 * mm, spaceAfter=0.6 * mm)
    return Row(text, told, beside=partial(_draw_times, line), bar=line.critical)


def _draw_times(line: OriginLine, canvas: Any, y: float, width: float) -> None:
    draw_words(canvas, 0, y, line.observed, FIGURES)
    draw_words(canvas, column_x(2, width), y, line.recorded, FIGURES)
    canvas.drawRightString(width, y, line.place)


def _draw_head(canvas: Any, x: float, y: float, width: float) -> None:
    for column, caption in ((0, "seen"), (2, "recorded"), (5, "what, and by whom")):
        draw_words(canvas, x + column_x(column, width), y, caption, colour=QUIET)
    canvas.drawRightString(x + width, y, "chain · event")
    draw_rule(canvas, x, y - 3, width)
