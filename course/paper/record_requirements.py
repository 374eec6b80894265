"""On a competency record: hours and everything else that is asked, each met or short by how much."""

from __future__ import annotations

from functools import partial
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Spacer

from course.answers.record_answer import AskedLine, CompetencyRecord, HoursLine
from course.paper.fonts import FIGURES, MEDIUM, set_text
from course.paper.frame import (
    BODY,
    INK,
    LEAD,
    QUIET,
    SMALL,
    Row,
    column_x,
    draw_rule,
    draw_share,
    draw_words,
    style,
)
from course.paper.kept import keep_together
from course.paper.table import table_rows

ASKED = "asked"
"""The template whose pages repeat the head of what is asked beside hours."""

_HEADING = style(LEAD, 15, MEDIUM, spaceBefore=5 * mm, spaceAfter=1.5 * mm, keepWithNext=1)
_CAPTIONS = style(SMALL, 12)
_NOTE = style(SMALL, 10.5, textColor=QUIET)
_LET_BE = "What two instructors let be stands under Exceptions."
_LONGEST_BESIDE = 30
"""Letters of what stands at the right; longer words stand on a line of their own."""


def requirement_rows(record: CompetencyRecord, width: float) -> list[Any]:
    """Return minutes by kind, then whatever else is asked, each met or short by how much."""
    return [*_hours(record, width), *_asked(record, width)]


def _hours(record: CompetencyRecord, width: float) -> list[Any]:
    if not record.hours:
        return []
    short = [line for line in record.hours if _short_by(line)]
    title = f"Hours: short in {len(short)} of {len(record.hours)} kinds" if short else "Hours: nothing short"
    if len(short) == 1:
        title = f"Hours: short by {_short_by(short[0])} min ({short[0].kind})"
    rows = [
        Row(
            set_text(line.kind[:1].upper() + line.kind[1:], "The kind of hours"),
            _row_style(width),
            beside=partial(_draw_hours, line),
        )
        for line in record.hours
    ]
    captions = Row("&nbsp;", _CAPTIONS, beside=_draw_hours_head)
    told = " ".join(filter(None, (record.hours_note, _LET_BE if short and record.exceptions else "")))
    note = [Spacer(0, 1 * mm), Row(set_text(told), _NOTE)] if told else []
    return keep_together([Row(set_text(title), _HEADING, entry=("hours", title, 0)), captions, *rows, *note], width)


def _short_by(line: HoursLine) -> int:
    return max(0, (line.required_minutes or 0) - line.total)


def _draw_hours_head(canvas: Any, y: float, width: float) -> None:
    draw_words(canvas, 0, y, "Kind", colour=QUIET)
    canvas.drawCentredString(column_x(9, width) + 4 * mm, y, "minutes")
    canvas.drawString(column_x(5, width), y, "of what is asked for")


def _draw_hours(line: HoursLine, canvas: Any, y: float, width: float) -> None:
    draw_rule(canvas, 0, y + 11, width)
    canvas.setFillColor(INK)
    canvas.setFont(FIGURES, BODY)
    if line.required_minutes is None:
        canvas.drawCentredString(column_x(9, width) + 4 * mm, y, str(line.total))
        words = "nothing asked"
    else:
        _draw_bar(canvas, column_x(5, width), y, column_x(8, width) - column_x(5, width) - 4 * mm, line)
        draw_share(canvas, column_x(9, width) + 4 * mm, y, (line.total, line.required_minutes), size=BODY)
        words = f"short by {_short_by(line)} min" if _short_by(line) else "met"
    words = f"{words}, {line.elsewhere} from elsewhere" if line.elsewhere else words
    canvas.setFillColor(INK)
    canvas.setFont(MEDIUM if _short_by(line) else FIGURES, SMALL)
    canvas.drawRightString(width, y, words)


def _draw_bar(canvas: Any, x: float, y: float, length: float, line: HoursLine) -> None:
    """Draw minutes as a thick line up to a tick that stands for what is asked; more than that looks the same."""
    share = min(1.0, line.total / line.required_minutes) if line.required_minutes else 1.0
    draw_rule(canvas, x, y + 2.6, length)
    canvas.setFillColor(INK)
    canvas.rect(x, y + 1.2, length * share, 2.8, stroke=0, fill=1)
    canvas.rect(x + length - 0.4, y - 1, 0.8, 7.2, stroke=0, fill=1)


def _asked(record: CompetencyRecord, width: float) -> list[Any]:
    """What is asked beside minutes: a line each, and under it why it is short where that is a sentence."""
    if not record.asked:
        return []
    lacking = [one for one in record.asked if not one.met]
    title = (
        f"Asked beside hours: short in {len(lacking)} of {len(record.asked)}"
        if lacking
        else "Asked beside hours: nothing short"
    )
    heading = Row(set_text(title), _HEADING, entry=("asked", title, 0))
    captions = Row("&nbsp;", _CAPTIONS, beside=lambda canvas, y, room: draw_asked_head(canvas, 0, y, room))
    return table_rows([heading, captions], [_asked_line(one, width) for one in record.asked], width, ASKED)


def draw_asked_head(canvas: Any, x: float, y: float, width: float) -> None:
    """Draw the head of what is asked beside hours with its captions at y."""
    draw_words(canvas, x, y, "What is asked", colour=QUIET)
    canvas.drawCentredString(x + column_x(9, width) + 4 * mm, y, "have")
    canvas.drawRightString(x + width, y, "met, or short by")


def _asked_line(line: AskedLine, width: float) -> list[Any]:
    told = style(BODY, 14, rightIndent=width - column_x(8, width))
    is_long = len(line.words) > _LONGEST_BESIDE
    beside = "" if is_long else line.words
    rows = [Row(set_text(line.name, "What is asked"), told, beside=partial(_draw_asked, line.have, beside, line.met))]
    if is_long:
        why = f'<font name="{MEDIUM}">{set_text(_stopped(line.words), "What is short")}</font>'
        rows.append(Row(why, style(SMALL, 10.5, leftIndent=4 * mm, spaceAfter=1 * mm)))
    return rows


def _draw_asked(have: str, words: str, met: bool, canvas: Any, y: float, width: float) -> None:  # noqa: FBT001
    draw_rule(canvas, 0, y + 11, width)
    canvas.setFillColor(INK)
    canvas.setFont(FIGURES, BODY)
    canvas.drawCentredString(column_x(9, width) + 4 * mm, y, have)
    canvas.setFont(FIGURES if met else MEDIUM, SMALL)
    canvas.drawRightString(width, y, words)


def _stopped(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".") + "."


def _row_style(width: float) -> Any:
    return style(BODY, 14, rightIndent=width - column_x(5, width))
