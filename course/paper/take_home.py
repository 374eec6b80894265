"""The sheet to take home: one student's own record on one page, with what to repeat next and where.

It stays on one page, measured before it is printed: long lists end with how many more there are and where to see
them. It prints the same frozen answer that the student's own page shows.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any, BinaryIO

from reportlab.lib.units import mm
from reportlab.platypus import Spacer

from course.answers.practice import Repeat, WeakSkillLine, WeakStepLine
from course.answers.student_page import StudentPage
from course.errors import PaperError
from course.paper.curve_picture import CurvePicture
from course.paper.fonts import MEDIUM, set_text
from course.paper.frame import (
    BODY,
    LEAD,
    PROOF_ROOM,
    QUIET,
    SMALL,
    TITLE,
    PaperSize,
    Row,
    Sheet,
    draw_rule,
    print_paper,
    style,
    text_height,
    text_width,
)
from course.paper.kept import height_of
from course.storage.centre_key import SigningKey
from course.words import RECORD_NOTE, begun, plural

PAPER_NAME = "Sheet to take home"
_WHO_DECIDES = "This sheet proposes; your instructor decides."
_MOST, _LONGEST_TEXT = 40, 160
_NAME = style(TITLE, 23, MEDIUM)
_LEAD = style(LEAD, 15.5)
_HEADING = style(LEAD, 15, MEDIUM, spaceBefore=3.6 * mm, spaceAfter=0.8 * mm)
_PLAIN = style(BODY, 12.5)
_POINT = style(BODY, 12.5, leftIndent=7 * mm)
_NOTE = style(SMALL, 10.5, textColor=QUIET)


def print_take_home(
    page: StudentPage, out: Path | BinaryIO, size: PaperSize = "A4", key: SigningKey | None = None
) -> int:
    """Print a student's sheet as PDF and return its pages, which are one; a file is written whole or not at all.

    Raises:
        PaperError: a text has a letter that no font here has or does not fit on a page, or the file cannot be written.
    """
    head = page.head
    code = f"chain {head.chain[:8]} · event {head.seq} · hash {head.hash[:16]}"
    sheet = Sheet(PAPER_NAME, page.centre, page.student, code, RECORD_NOTE, answer=page, asked=page.asked)
    most, drawn = _most_that_fits(page, size)
    return print_paper(sheet, partial(_story, page, most, drawn=drawn), out, size, key)


def _most_that_fits(page: StudentPage, size: PaperSize) -> tuple[int, bool]:
    """The longest lists with which everything stays on one page, and whether there is room for figures."""
    width, room = text_width(size), text_height(size) - PROOF_ROOM

    def height(most: int, *, drawn: bool = True) -> float:
        return float(height_of(_story(page, most, drawn=drawn), width))

    fitting = bisect_right(range(1, _MOST + 1), room, key=height)  # the longer the lists, the taller
    if fitting:
        return fitting, True
    if height(1, drawn=False) <= room:
        return 1, False
    raise PaperError("The sheet does not fit on one page: a name or title is too long. Nothing was printed.")


def _story(page: StudentPage, most: int, *, drawn: bool) -> list[Any]:
    return [
        Row(set_text(_shortened(page.student), "The name"), _NAME, entry=("summary", "Summary", 0)),
        Row(set_text(_shortened(page.sentence), "The sentence"), _LEAD),
        Spacer(0, 1 * mm),
        Row(set_text(f"{_shortened(page.course)}, as of {page.as_of}."), _NOTE),
        *_missing(page, most),
        *_adjusted(page, most),
        *_repeat(page.repeat, most),
        *_weak(page.weak, most, drawn=drawn),
        *_held(page, most),
        *_seen_by(page, most),
        *_section("Keep in mind", [Row(set_text(" ".join((_WHO_DECIDES, *page.cautions[1:]))), _NOTE)]),
    ]


def _section(title: str, rows: Sequence[Any]) -> list[Any]:
    name = title.partition(":")[0]
    return [Row(set_text(title), _HEADING, beside=_draw_line, entry=(name.casefold(), name, 0)), *rows]


def _draw_line(canvas: Any, y: float, width: float) -> None:
    draw_rule(canvas, 0, y + 13, width)


def _more(count: int, most: int) -> list[Any]:
    """Say how many are not on the sheet, and where they are."""
    return [Row(set_text(f"and {count - most} more, see Course"), _POINT)] if count > most else []


def _missing(page: StudentPage, most: int) -> list[Any]:
    lines = [f"{_strong(_shortened(one.title))}: {set_text(one.line, 'What is missing')}." for one in page.missing]
    for word, told in (("Hours and counts", page.hours), ("Missed in the exam", page.gaps), ("Paper", page.papers)):
        lines += [f"{_strong(word)}: {set_text(one.rstrip('.'))}." for one in told]
    if not lines:
        return _section("What is missing", [Row(set_text("Nothing that the course asks for."), _PLAIN)])
    rows = [Row(line, _POINT, label=("-", 2 * mm)) for line in lines[:most]]
    return _section(f"What is missing: {len(lines)}", [*rows, *_more(len(lines), most)])


def _adjusted(page: StudentPage, most: int) -> list[Any]:
    if not page.adjustments:
        return []
    rows = [Row(set_text(one), _POINT, label=("-", 2 * mm)) for one in page.adjustments[:most]]
    return _section("What I do another way", [*rows, *_more(len(page.adjustments), most)])


def _repeat(repeat: Sequence[Repeat], most: int) -> list[Any]:
    if not repeat:
        return []
    rows = [
        Row(
            f"{_strong(_shortened(one.title))}: {set_text(f'{one.place}. {begun(one.line)}.')}",
            _POINT,
            label=(f"{number}", 2 * mm),
        )
        for number, one in enumerate(repeat[:most], 1)
    ]
    return _section("What to repeat next, in order, and where", [*rows, *_more(len(repeat), most)])


def _weak(weak: Sequence[WeakSkillLine], most: int, *, drawn: bool) -> list[Any]:
    """Weak steps of what is not held, and steps with critical errors; the rest is on the page."""
    steps = [(skill, step) for skill in weak for step in skill.steps if not skill.held or step.critical]
    if not steps:
        return []
    rows = [_weak_row(skill, step, numbers=drawn) for skill, step in steps[:most]]
    place = next((place for place, (_, step) in enumerate(steps[:most]) if step.in_numbers), None)
    if drawn and place is not None and (numbers := steps[place][1].in_numbers) and numbers.picture:
        rows.insert(place + 1, CurvePicture(numbers.picture))
    return _section("My weak steps, and why they matter", [*rows, *_more(len(steps), most)])


def _weak_row(skill: WeakSkillLine, step: WeakStepLine, *, numbers: bool) -> Any:
    since = " Held since." if skill.held else ""
    figures = f" In numbers: {step.in_numbers.told} {step.in_numbers.assumed}" if step.in_numbers and numbers else ""
    text = f"{step.sentence} {step.why}{since}{figures}"
    return Row(f"{_strong(_shortened(skill.title))}: {set_text(text, 'The step')}", _POINT, bar=step.critical > 0)


def _held(page: StudentPage, most: int) -> list[Any]:
    if not page.held:
        return _section("What I hold", [Row(set_text("Nothing yet: this is where it will stand."), _PLAIN)])
    shown = [_shortened(one.title) for one in page.held[: 2 * most]]
    left = len(page.held) - len(shown)
    return _section(f"What I hold: {page.held_words}", [_in_one(shown, left, "; ")])


def _seen_by(page: StudentPage, most: int) -> list[Any]:
    if not page.seen_by:
        return []
    shown = [f"{_shortened(name)} ({plural(count, 'attempt')})" for name, count in page.seen_by[:most]]
    left = len(page.seen_by) - len(shown)
    return _section("Who saw my attempts", [_in_one(shown, left, ", ")])


def _in_one(shown: Sequence[str], left: int, between: str) -> Any:
    """A list as one paragraph, each part set by itself: together they may be longer than one text can be."""
    parts = [*(set_text(one, "The list") for one in shown), *([f"and {left} more, see Course"] if left > 0 else [])]
    return Row(f"{between.join(parts)}.", _PLAIN)


def _strong(text: str) -> str:
    return f'<font name="{MEDIUM}">{set_text(text, "The skill")}</font>'


def _shortened(text: str) -> str:
    return text if len(text) <= _LONGEST_TEXT else text[: _LONGEST_TEXT - 1].rstrip() + "…"
