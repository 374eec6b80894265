"""Who saw what: one incident on paper. Facts with both times, names in full, and where the ledger stood."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any, BinaryIO

from reportlab.lib.units import mm
from reportlab.platypus import NextPageTemplate, PageBreak, Spacer

from course.answers.event_lines import EventLine
from course.answers.incident_paper import IncidentPaper, NoteLine, PersonIn, UnderWay
from course.answers.record_answer import LedgerHead
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
    draw_words,
    print_paper,
    style,
    text_width,
)
from course.paper.kept import keep_together
from course.paper.table import table_rows
from course.storage.centre_key import SigningKey
from course.words import listed

PAPER_NAME = "Incident sheet"

_TITLE = style(TITLE, 23, MEDIUM)
_LEAD = style(LEAD, 15.5)
_HEADING = style(LEAD, 15, MEDIUM, spaceBefore=5 * mm, spaceAfter=1.5 * mm, keepWithNext=1)
_ATTEMPT = style(BODY, 13, MEDIUM, spaceBefore=4 * mm, spaceAfter=1 * mm, keepWithNext=1)
_AFTER = style(SMALL, 10.5, spaceBefore=2 * mm, textColor=QUIET, keepWithNext=1)
_PLAIN = style(BODY, 12.5)
_FACT = style(BODY, 12.5, leftIndent=36 * mm)
_DIGITS = style(SMALL, 10.5, FIGURES, leftIndent=36 * mm)


def print_incident_sheet(
    papers: Sequence[IncidentPaper], out: Path | BinaryIO, size: PaperSize = "A4", key: SigningKey | None = None
) -> int:
    """Print incidents as one PDF, each from a new page on, and return its pages; the file is whole or not there.

    Args:
        papers: one or more incidents of one centre.

    Raises:
        PaperError: a text has a letter that no font here has, or the file cannot be written.
    """
    head = papers[0].head
    code = f"chain {head.chain[:8]} · event {head.seq} · hash {head.hash[:16]}"
    about = listed(list(dict.fromkeys(paper.session for paper in papers)))
    asked = {
        "course": papers[0].course_id,
        "sessions": " ".join(paper.session_id for paper in papers),
        "incidents": " ".join(paper.incident for paper in papers),
    }
    sheet = Sheet(PAPER_NAME, papers[0].centre, about, code, papers[0].caution, _draw_table_head, papers, asked)
    return print_paper(sheet, partial(_story, papers, text_width(size)), out, size, key)


def _story(papers: Sequence[IncidentPaper], width: float) -> list[Any]:
    rows: list[Any] = []
    for number, paper in enumerate(papers):
        rows += [PageBreak()] if number else []
        rows += _incident(paper, width)
    return rows


def _incident(paper: IncidentPaper, width: float) -> list[Any]:
    return [
        Row("Who saw what", _TITLE, entry=(paper.incident, f"{paper.session}, {paper.frozen}", 0)),
        Row(set_text(f"{paper.session} was frozen on {paper.frozen}.", "The session"), _LEAD),
        Spacer(0, 3 * mm),
        *_facts(paper),
        *_people(paper.people, width),
        *_rolls(paper, width),
        *_notes(paper.notes, width),
        *_attempts(paper.attempts, width),
        *_provenance(paper, width),
    ]


def _facts(paper: IncidentPaper) -> list[Any]:
    told = {
        "Course": paper.course,
        "Planned": paper.planned,
        "Frozen by": paper.frozen_by,
        "Units in use": listed(list(paper.units)) or "none known",
        "Tablets": paper.tablets,
        "Since then": paper.outcome,
        "Times": f"of {paper.zone}; where two stand together, the first is when it was seen, then when it was recorded",
    }
    return [Row(set_text(text, label), _FACT, label=(label, 0)) for label, text in told.items()]


def _people(people: tuple[PersonIn, ...], width: float) -> list[Any]:
    title = "Who was in" if people else "Nobody was signed in"
    lines = []
    for person in people:
        told = [person.role, f"since {person.since}", f"unit {person.unit}" if person.unit else ""]
        lines.append([Row(set_text(f"{person.name}: {', '.join(filter(None, told))}", "The name"), _PLAIN)])
    return table_rows([Row(title, _HEADING)], lines, width)


def _rolls(paper: IncidentPaper, width: float) -> list[Any]:
    lines = []
    for roll in paper.rolls:
        present = listed(list(roll.present)) or "nobody"
        missing = listed(list(roll.missing)) or "nobody"
        lines.append([Row(set_text(f"{roll.head}. Answered: {present}. Did not answer: {missing}."), _PLAIN)])
    return table_rows([Row("Roll calls" if lines else "No roll was called", _HEADING)], lines, width)


def _notes(notes: tuple[NoteLine, ...], width: float) -> list[Any]:
    rows: list[Any] = [Row("Notes, in the words of whoever wrote them" if notes else "No note was written", _HEADING)]
    for note in notes:
        head = Row(
            set_text(f"{note.who}: seen {note.observed}, recorded {note.recorded}"), style(SMALL, 10.5, textColor=QUIET)
        )
        rows += [*keep_together([head, Row(set_text(note.text, "The note"), _PLAIN)], width), Spacer(0, 2 * mm)]
    return rows


def _draw_table_head(canvas: Any, x: float, y: float, width: float) -> None:
    for column, caption in ((0, "seen"), (2, "recorded"), (5, "by whom, and what")):
        draw_words(canvas, x + column_x(column, width), y, caption, colour=QUIET)


def _attempts(attempts: tuple[UnderWay, ...], width: float) -> list[Any]:
    """Every event about the attempts that were under way; what came after the freezing stands apart."""
    if not attempts:
        return [Row("No attempt was under way", _HEADING)]
    top: list[Any] = [
        Row("Attempts under way, and every entry about them", _HEADING),
        Row("&nbsp;", style(SMALL, 12), beside=lambda canvas, y, room: _draw_table_head(canvas, 0, y, room)),
    ]
    rows: list[Any] = []
    for attempt in attempts:
        rows += table_rows(
            [*top, Row(set_text(attempt.head, "The attempt"), _ATTEMPT)], _entries(attempt, width), width
        )
        rows += [NextPageTemplate("rows")] if top else []
        top = []
    return [*rows, NextPageTemplate("plain")]


def _entries(attempt: UnderWay, width: float) -> list[list[Any]]:
    """Every entry of an attempt; what came with the freezing or after it is led by a line that says so."""
    before = [[_line(line, width)] for line in attempt.lines if not line.later]
    later = [_line(line, width) for line in attempt.lines if line.later]
    led = [[Row("Entered with the freezing, or after it", _AFTER), later[0]]] if later else []
    return [*before, *led, *([row] for row in later[1:])]


class _Entry(Row):
    """An entry with its two times before it, drawn first so that they also read back first."""

    times = ("", "")

    def split(self, availWidth: float, availHeight: float) -> list[Any]:  # noqa: N803  # ReportLab's own names
        """Split as a row does; the times stay with the first part."""
        parts = super().split(availWidth, availHeight)
        if len(parts) > 1:
            parts[0].times = self.times
        return parts

    def draw(self) -> None:
        """Draw the times, then the entry."""
        for column, words in zip((0, 2), self.times, strict=True):
            draw_words(self.canv, column_x(column, self.width), self._baseline(), words, FIGURES, QUIET)
        super().draw()


def _line(line: EventLine, width: float) -> Row:
    told = style(SMALL, 11, leftIndent=column_x(5, width), spaceAfter=0.6 * mm)
    text = f'<font name="{MEDIUM}">{set_text(line.who, "The name")}</font> {set_text(line.words, "The entry")}'
    entry = _Entry(text, told, bar=line.critical)
    entry.times = (line.observed, line.recorded)
    return entry


def _provenance(paper: IncidentPaper, width: float) -> list[Any]:
    told = (
        "Whoever holds the centre's ledger can look up these two events and compare the digits: a change to the ledger "
        "shows there."
    )
    rows = [Row("Where this comes from", _HEADING), Row(told, _PLAIN), Spacer(0, 1.5 * mm)]
    rows += _place("The freezing", paper.event) + _place("The ledger's head", paper.head)
    return keep_together(rows, width)


def _place(label: str, head: LedgerHead) -> list[Any]:
    digits = " ".join(head.hash[start : start + 8] for start in range(0, len(head.hash), 8))
    return [
        Row(set_text(f"chain {head.chain}, event {head.seq}"), _DIGITS, label=(label, 0)),
        Row(digits, _DIGITS, label=("hash", 0)),
    ]
