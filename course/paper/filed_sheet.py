"""A paper for the file: facts on top, then sections of lines with what stands left and right of them on the grid."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any, BinaryIO

from reportlab.lib.units import mm
from reportlab.platypus import Spacer

from course.answers.filed_paper import FiledLine, FiledPaper, FiledSection
from course.paper.fonts import FIGURES, MEDIUM, set_text
from course.paper.frame import (
    BODY,
    INK,
    LEAD,
    QUIET,
    SMALL,
    TITLE,
    PaperSize,
    Row,
    Sheet,
    TableHead,
    draw_rule,
    draw_words,
    print_paper,
    style,
    text_width,
)
from course.paper.table import table_rows
from course.storage.centre_key import SigningKey

_TITLE = style(TITLE, 23, MEDIUM)
_LEAD = style(LEAD, 15.5)
_FACT = style(BODY, 12.5, leftIndent=30 * mm)
_HEADING = style(LEAD, 15, MEDIUM, spaceBefore=5 * mm, spaceAfter=1 * mm, keepWithNext=1)
_NOTE = style(SMALL, 10.5, textColor=QUIET, spaceAfter=1.2 * mm, keepWithNext=1)
_CAPTION = style(SMALL, 12, textColor=QUIET, keepWithNext=1)
_NOTHING = style(BODY, 12.5, textColor=QUIET)
_LABEL_WIDTH = 30 * mm
_FIGURE_WIDTH = 17 * mm


def print_filed(answer: FiledPaper, out: Path | BinaryIO, size: PaperSize = "A4", key: SigningKey | None = None) -> int:
    """Print a paper for the file as PDF and return its pages; a file is written whole or not at all.

    Raises:
        PaperError: a text has a letter that no font here has, or the file cannot be written.
    """
    head = answer.head
    code = f"chain {head.chain[:8]} · event {head.seq} · hash {head.hash[:16]}"
    asked = dict(answer.asked)
    heads: dict[str, TableHead] = {
        _key(number): partial(_draw_head, section) for number, section in enumerate(answer.sections) if section.lines
    }
    sheet = Sheet(
        answer.kind, answer.centre, answer.about, code, answer.caution, answer=answer, asked=asked, other_heads=heads
    )
    return print_paper(sheet, partial(_story, answer, text_width(size)), out, size, key)


def _key(number: int) -> str:
    """Of a section: its bookmark, and the template whose pages repeat its captions."""
    return f"section-{number}"


def _story(answer: FiledPaper, width: float) -> list[Any]:
    rows: list[Any] = [
        Row(set_text(f"{answer.kind}: {answer.about}", "What it is about"), _TITLE, entry=("top", answer.about, 0)),
        Spacer(0, 1.5 * mm),
        Row(set_text(answer.sentence), _LEAD),
        Spacer(0, 3 * mm),
        *[Row(set_text(value, name), _FACT, label=(name, 0)) for name, value in answer.facts],
    ]
    for number, section in enumerate(answer.sections):
        rows += _section(section, _key(number), width)
    return rows


def _section(section: FiledSection, key: str, width: float) -> list[Any]:
    rows: list[Any] = [Row(set_text(section.title, "The heading"), _HEADING, entry=(key, section.title, 1))]
    if section.note:
        rows.append(Row(set_text(section.note), _NOTE))
    if not section.lines:
        return [*rows, Row(set_text(section.nothing or "Nothing."), _NOTHING)]
    if section.captions:
        rows.append(Row("&nbsp;", _CAPTION, beside=partial(_draw_captions, section.captions)))
    lines = [[_line(line, len(section.captions))] for line in section.lines]
    return table_rows(rows, lines, width, key)


def _line(line: FiledLine, columns: int) -> Row:
    strong = f"{_strong(line.strong)} " if line.strong else ""
    told = style(
        BODY,
        12.5,
        leftIndent=_LABEL_WIDTH if line.label else 0,
        rightIndent=columns * _FIGURE_WIDTH,
        spaceAfter=1 * mm,
    )
    if line.critical and not line.label:
        told.leftIndent = 3 * mm
    label = (line.label, 0.0) if line.label.strip() else None
    beside = partial(_draw_figures, line.figures) if line.figures else None
    return Row(f"{strong}{set_text(line.text, 'The line')}", told, label=label, beside=beside, bar=line.critical)


def _strong(text: str) -> str:
    """What begins a line, with a comma after it unless it has its own mark: it is told apart without its weight."""
    mark = "" if text.endswith((".", ":", "!", "?")) else ","
    return f'<font name="{MEDIUM}">{set_text(text, "The name")}</font>{mark}'


def _draw_head(section: FiledSection, canvas: Any, x: float, y: float, width: float) -> None:
    """Draw the captions once more where a section goes on, under its own name: a page may be read by itself."""
    draw_words(canvas, x, y, section.title, colour=QUIET)
    canvas.saveState()
    canvas.translate(x, 0)
    _draw_captions(section.captions, canvas, y, width)
    canvas.restoreState()


def _draw_captions(captions: tuple[str, ...], canvas: Any, y: float, width: float) -> None:
    _draw_right(canvas, captions, (y, width), QUIET)
    draw_rule(canvas, 0, y - 3, width)


def _draw_figures(figures: tuple[str, ...], canvas: Any, y: float, width: float) -> None:
    _draw_right(canvas, figures, (y, width), INK)


def _draw_right(canvas: Any, texts: tuple[str, ...], place: tuple[float, float], colour: Any) -> None:
    y, width = place
    canvas.setFont(FIGURES, SMALL)
    canvas.setFillColor(colour)
    for number, text in enumerate(reversed(texts)):
        canvas.drawRightString(width - number * _FIGURE_WIDTH, y, text)
