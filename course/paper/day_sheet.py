"""The day sheet: one page a session. Emergency contact and site plan stand large at the top; boxes for a pencil.

A session with more people or longer texts than a page holds goes on to the next page; nothing is cut off.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any, BinaryIO

from reportlab.lib.units import mm
from reportlab.platypus import PageBreak, Spacer

from course.answers.day_paper import DayPaper, SessionSheet, SheetGroup, SheetPerson
from course.paper.fonts import MEDIUM, set_text
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
    column_x,
    draw_rule,
    draw_words,
    one_line,
    print_paper,
    style,
    text_width,
)
from course.paper.kept import keep_together
from course.paper.marks import TONES
from course.paper.table import table_rows
from course.storage.centre_key import SigningKey
from course.words import RECORD_NOTE

PAPER_NAME = "Day sheet"
BOXES = ("in", "out", "in", "out")
BOX = 5 * mm

_TITLE = style(TITLE, 22, MEDIUM)
_WHEN = style(LEAD, 15.5)
_LARGE = style(TITLE, 22, MEDIUM)
_LONG = style(LEAD, 15.5, MEDIUM)
_PLAN = style(LEAD, 15.5)
_HEADING = style(LEAD, 15, MEDIUM, spaceBefore=4 * mm, spaceAfter=1 * mm, keepWithNext=1)
_GROUP = style(BODY, 13, MEDIUM, spaceBefore=2.4 * mm, spaceAfter=1.6 * mm, keepWithNext=1)
_PLAIN = style(BODY, 12.5)
_CAUTION = style(SMALL, 10.5)
_LARGE_UP_TO = 160
_PENCIL_LINE = 9 * mm


def print_day_sheet(
    paper: DayPaper, out: Path | BinaryIO, size: PaperSize = "A4", key: SigningKey | None = None
) -> int:
    """Print the day sheet as PDF and return its pages; a file is written whole or not at all.

    Raises:
        PaperError: a text has a letter that no font here has, or the file cannot be written.
    """
    head = paper.head
    code = f"chain {head.chain[:8]} · event {head.seq} · hash {head.hash[:16]}"
    heads: dict[str, TableHead] = {
        _key(session, number): partial(_draw_head, group)
        for session in paper.sessions
        for number, group in enumerate(session.groups)
    }
    sheet = Sheet(
        PAPER_NAME, paper.centre, paper.about, code, RECORD_NOTE, answer=paper, asked=paper.asked, other_heads=heads
    )
    return print_paper(sheet, partial(_story, paper, text_width(size)), out, size, key)


def _story(paper: DayPaper, width: float) -> list[Any]:
    rows: list[Any] = []
    for number, session in enumerate(paper.sessions):
        rows += [PageBreak()] if number else []
        rows += _session(session, paper.cautions, width)
    return rows or [Row("No session on this day.", _WHEN)]


def _session(session: SessionSheet, cautions: tuple[str, ...], width: float) -> list[Any]:
    return [
        Row(set_text(session.title, "The session"), _TITLE, entry=(session.code, session.title, 0)),
        Row(set_text(f"{session.when} · {session.where}", "Time and place"), _WHEN),
        *_emergency(session, width),
        *_holds(session),
        *[row for place, group in enumerate(session.groups) for row in _group(group, _key(session, place), width)],
        Spacer(0, 4 * mm),
        *keep_together([Row(set_text(caution), _CAUTION) for caution in cautions], width),
    ]


def _emergency(session: SessionSheet, width: float) -> list[Any]:
    """Whom to call, then the plan of the site; where nothing was entered, lines to write it on."""
    short = sum(map(len, session.emergency)) <= _LARGE_UP_TO
    rows = [_ruled_heading("Emergency contact")]
    rows += [Row(set_text(text, "The emergency contact"), _LARGE if short else _LONG) for text in session.emergency]
    rows += [] if session.emergency else _to_write("Not entered. Write it here before anybody goes in.", width)
    rows.append(_ruled_heading("Site plan"))
    rows += [Row(set_text(text, "The site plan"), _PLAN) for text in session.plans]
    rows += [] if session.plans else _to_write("Not entered. Way in and out, oxygen and first aid, limits.", width)
    return rows


def _ruled_heading(words: str) -> Row:
    return Row(words, _HEADING, beside=lambda canvas, y, room: draw_rule(canvas, 0, y + 15, room, strong=True))


def _to_write(words: str, width: float) -> list[Any]:
    def draw(canvas: Any, y: float, _room: float) -> None:
        for line in (1, 2):
            draw_rule(canvas, 0, y - line * _PENCIL_LINE, width)

    return [Row(words, style(SMALL, 10.5, textColor=QUIET), beside=draw), Spacer(0, 2 * _PENCIL_LINE)]


def _holds(session: SessionSheet) -> list[Any]:
    if not session.holds:
        return []
    return [_ruled_heading("Units on hold"), *[Row(set_text(text, "The unit"), _PLAIN) for text in session.holds]]


def _key(session: SessionSheet, group: int) -> str:
    """The template whose pages repeat a group's name and the captions of its boxes."""
    return f"{session.code}-{group}"


def _group(group: SheetGroup, key: str, width: float) -> list[Any]:
    head = Row(set_text(group.title, "The group"), _group_style(_GROUP, width), beside=_draw_captions)
    people = [[_person(person, width)] for person in group.people] or [[Row("Nobody yet.", _PLAIN)]]
    return table_rows([head], people, width, key)


def _draw_head(group: SheetGroup, canvas: Any, x: float, y: float, width: float) -> None:
    line, tall = one_line(group.title, column_x(8, width) - 3 * mm, "left")
    line.drawOn(canvas, x, y - tall + SMALL)
    canvas.saveState()
    canvas.translate(x, 0)
    _draw_captions(canvas, y, width)
    canvas.restoreState()


def _group_style(base: Any, width: float) -> Any:
    return style(
        base.fontSize, base.leading, base.fontName, rightIndent=width - column_x(8, width),
        spaceBefore=base.spaceBefore, spaceAfter=base.spaceAfter, keepWithNext=base.keepWithNext,
    )  # fmt: skip


def _person(person: SheetPerson, width: float) -> Row:
    parts = [part for part in (person.role, person.unit) if part]
    text = f'<font name="{MEDIUM}">{set_text(person.name, "The name")}</font>'
    text += f" {set_text(', '.join(parts), 'The unit')}" if parts else ""
    if person.held:
        text += f' <font name="{MEDIUM}" color="{TONES["ink"]}">ON HOLD</font>'
    named = style(BODY, 13, rightIndent=width - column_x(8, width), spaceAfter=2.2 * mm)
    return Row(text, named, beside=_draw_boxes)


def _box_x(number: int, width: float) -> float:
    return column_x(8, width) + number * (width - column_x(8, width)) / len(BOXES)


def _draw_captions(canvas: Any, y: float, width: float) -> None:
    for number, word in enumerate(BOXES):
        draw_words(canvas, _box_x(number, width), y, word, colour=QUIET)


def _draw_boxes(canvas: Any, y: float, width: float) -> None:
    """Draw a square to tick and a short line for the time, in and out, twice."""
    draw_rule(canvas, 0, y + 11.6, column_x(8, width) - 3 * mm)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.8)
    for number in range(len(BOXES)):
        x = _box_x(number, width)
        canvas.rect(x, y - 3.5, BOX, BOX, stroke=1, fill=0)
        draw_rule(canvas, x + BOX + 1 * mm, y - 3.5, 5 * mm)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.8)
