"""The audit file on paper: what an auditor reads first, course by course, and how the ledger itself stands.

It prints one frozen answer. The tables beside it hold every line; this is the part that people read.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any, BinaryIO

from reportlab.lib.units import mm
from reportlab.platypus import PageBreak, Spacer

from course.answers.audit import AuditAnswer, CourseAudit, FindingsPart, LearnerLine, LedgerAudit
from course.answers.corrections import Correction
from course.answers.presence import SessionTime
from course.hours.requirements import Hours
from course.paper.fonts import FIGURES, FIGURES_MEDIUM, MEDIUM, REGULAR, set_text
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
    print_paper,
    style,
    text_width,
)
from course.paper.kept import keep_together
from course.paper.presence_picture import group_pictures
from course.paper.table import table_rows
from course.storage.centre_key import SigningKey
from course.words import RECORD_NOTE

PAPER_NAME = "Audit file"

_TITLE = style(TITLE, 23, MEDIUM)
_LEAD = style(LEAD, 15.5)
_HEADING = style(LEAD, 15, MEDIUM, spaceBefore=6 * mm, spaceAfter=1.5 * mm, keepWithNext=1)
_SECOND = style(BODY, 13, MEDIUM, spaceBefore=3 * mm, spaceAfter=0.6 * mm, keepWithNext=1)
_PLAIN = style(BODY, 12.5, spaceAfter=1 * mm)
_STRONG = style(BODY, 12.5, MEDIUM, spaceAfter=1 * mm)
_NOTE = style(SMALL, 10.5, textColor=QUIET, spaceAfter=1 * mm)
_LEGEND = style(SMALL, 10.5, textColor=QUIET, spaceAfter=1 * mm, keepWithNext=1)
_FACT = style(BODY, 12.5, leftIndent=30 * mm)
_DIGITS = style(SMALL, 10.5, FIGURES, leftIndent=30 * mm)
_SHOWN_HASH = 16


def print_audit_file(
    answer: AuditAnswer, out: Path | BinaryIO, size: PaperSize = "A4", key: SigningKey | None = None
) -> int:
    """Print the paper of an audit file as PDF and return its pages; a file is written whole or not at all.

    Raises:
        PaperError: a text has a letter that no font here has, or the file cannot be written.
    """
    head = answer.head
    code = f"chain {head.chain[:8]} · event {head.seq} · hash {head.hash[:_SHOWN_HASH]}"
    about = f"given to {answer.given_to}" if answer.given_to else "without names"
    heads: dict[str, TableHead] = {_hours_key(one): partial(_draw_hours_head, one.kinds) for one in answer.courses}
    sheet = Sheet(
        PAPER_NAME, answer.centre, about, code, RECORD_NOTE, answer=answer, asked=dict(answer.asked), other_heads=heads
    )
    return print_paper(sheet, partial(_story, answer, text_width(size)), out, size, key)


def _story(answer: AuditAnswer, width: float) -> list[Any]:
    rows = [
        Row(f"Audit file of {set_text(answer.centre, 'The centre')}", _TITLE, entry=("summary", "Summary", 0)),
        Spacer(0, 1.5 * mm),
        Row(set_text(answer.sentence), _LEAD),
        Spacer(0, 3 * mm),
        Row(set_text(answer.caution, "Whom it is given to"), _STRONG),
        *[Row(set_text(note), _NOTE) for note in answer.notes],
    ]
    for number, course in enumerate(answer.courses):
        rows += [PageBreak()] if number else []
        rows += _course(course, width)
    return [*rows, *_ledger(answer.ledger, width)]


def _heading(title: str, key: str, level: int = 1) -> Row:
    return Row(set_text(title), _HEADING, entry=(key, title, level))


def _course(course: CourseAudit, width: float) -> list[Any]:
    staff = "; ".join(course.staff) or "nobody"
    told = {
        "Days": course.days,
        "As of": course.as_of,
        "Requirements": course.requirements,
        "Staff": staff,
    }
    return [
        Row(set_text(course.title, "The course"), _HEADING, entry=(course.course, course.title, 0)),
        Row(set_text(course.sentence), _LEAD),
        Spacer(0, 2 * mm),
        *[Row(set_text(text, label), _FACT, label=(label, 0)) for label, text in told.items()],
        *_hours(course, width),
        *_findings(course.findings, course.course, width),
        *_presence(course.sessions, course.course, width),
        *_corrections(course.corrections, course.course, width),
        *_lines("Entered more than a day late", f"late-{course.course}", course.late, width),
        *_decisions(course, width),
    ]


# --- hours -----------------------------------------------------------------------------------------------------------


def _hours(course: CourseAudit, width: float) -> list[Any]:
    """Skills, then minutes by kind in columns: those of what is asked for, and what is short."""
    if not course.learners:
        return [_heading("Nobody is enrolled", f"hours-{course.course}")]
    short = sum(any(hours.short_by for hours in one.hours) for one in course.learners)
    title = f"Hours: short for {short} of {len(course.learners)}" if short else "Hours: nothing short"
    captions = Row("&nbsp;", style(SMALL, 11, keepWithNext=1), beside=partial(_draw_captions, course.kinds))
    named = style(BODY, 12.5, rightIndent=width - column_x(3, width))
    lines = [
        [
            Row(set_text(one.name, "The name"), named, beside=partial(_draw_hours, one, course.kinds)),
            Row(set_text(one.skills), style(SMALL, 10.5, textColor=QUIET, spaceAfter=1 * mm)),
        ]
        for one in course.learners
    ]
    note = "Minutes of what is asked for. Each is a union over the person's own time, never a sum of overlapping times."
    top = [_heading(title, f"hours-{course.course}"), captions]
    return [*table_rows(top, lines, width, _hours_key(course)), Row(note, _NOTE)]


def _hours_key(course: CourseAudit) -> str:
    """The template whose pages repeat the captions of a course's hours."""
    return f"hours-{course.course}"


def _draw_hours_head(kinds: Sequence[tuple[str, str]], canvas: Any, x: float, y: float, width: float) -> None:
    canvas.saveState()
    canvas.translate(x, 0)
    _draw_captions(kinds, canvas, y, width)
    canvas.restoreState()


def _columns(kinds: Sequence[tuple[str, str]], width: float) -> list[float]:
    left = column_x(4, width)
    return [left + (width - left) * (place + 1) / max(1, len(kinds)) for place in range(len(kinds))]


def _draw_captions(kinds: Sequence[tuple[str, str]], canvas: Any, y: float, width: float) -> None:
    canvas.setFillColor(QUIET)
    canvas.setFont(REGULAR, SMALL)
    for (_, word), x in zip(kinds, _columns(kinds, width), strict=True):
        canvas.drawRightString(x, y, word.replace("in water on the loop", "on the loop"))


def _draw_hours(one: LearnerLine, kinds: Sequence[tuple[str, str]], canvas: Any, y: float, width: float) -> None:
    draw_rule(canvas, 0, y + 11, width)
    found = {hours.kind: hours for hours in one.hours}
    for (kind, _), x in zip(kinds, _columns(kinds, width), strict=True):
        hours = found.get(kind)
        if hours:
            canvas.setFillColor(INK)
            canvas.setFont(FIGURES_MEDIUM if hours.short_by else FIGURES, SMALL)
            canvas.drawRightString(x, y, _hours_words(hours))


def _hours_words(hours: Hours) -> str:
    have = f"{hours.minutes} + {hours.elsewhere}" if hours.elsewhere else f"{hours.minutes}"
    return have if hours.required is None else f"{have} of {hours.required}"


# --- the parts of a course -------------------------------------------------------------------------------------------


def _findings(part: FindingsPart, key: str, width: float) -> list[Any]:
    lines = []
    for line in part.lines:
        weight = f"{line.weight.capitalize()}. " if line.weight else ""
        told = f"{set_text(weight)}{set_text(line.sentence)}"
        rows = [Row(told, _STRONG if line.serious else _PLAIN, bar=False)]
        rows += [Row(set_text(f"Follows from it: {other}"), _NOTE) for other in line.follow]
        rows += [Row(set_text(f"Answer: {answer}"), _NOTE) for answer in line.answers]
        lines.append(rows)
    top = [_heading(part.title, f"findings-{key}")]
    return [*table_rows(top, lines, width), *(Row(set_text(note), _NOTE) for note in part.notes)]


def _presence(sessions: Sequence[SessionTime], key: str, width: float) -> list[Any]:
    if not sessions:
        return [_heading("Nobody was signed in to a session", f"presence-{key}")]
    broken = sum(group.broken and not group.folded for time in sessions for group in time.groups)
    title = "Who was there, and the ratio"
    title += f": over its limit in {broken} groups" if broken > 1 else ": over its limit once" if broken else ""
    legend = (
        "Filled bars are students, open ones instructors, half-high ones assistants, lines others. An arrow: nobody "
        "wrote down when they left, so the session's end counts. A thick bar over the ratio: over the limit."
    )
    rows: list[Any] = [_heading(title, f"presence-{key}"), Row(legend, _LEGEND)]
    for time in sessions:
        first = True
        for group in time.groups:
            head = [Row(set_text(f"{time.title} · {time.when}", "The session"), _SECOND)] if first else []
            named = group.title if first else f"{time.title}, {group.title}"  # its head may be on the page before
            finding = Row(set_text(f"{named}: {group.finding}."), _STRONG if group.broken else _PLAIN)
            rows += keep_together([*head, finding, *group_pictures(time, group), Spacer(0, 2 * mm)], width)
            first = False
    return rows


def _corrections(corrections: Sequence[Correction], key: str, width: float) -> list[Any]:
    title = "Corrections" if corrections else "Nothing was corrected"
    lines = [
        [
            Row(set_text(one.about, "What it is about"), style(SMALL, 10.5, textColor=QUIET, keepWithNext=1)),
            Row(set_text(one.words, "The correction"), _corrected(), label=(one.recorded, 0)),
        ]
        for one in corrections
    ]
    return table_rows([_heading(title, f"corrections-{key}")], lines, width)


def _corrected() -> Any:
    return style(BODY, 12.5, leftIndent=30 * mm, spaceAfter=1.4 * mm)


def _lines(title: str, key: str, lines: Sequence[str], width: float) -> list[Any]:
    told = [[Row(set_text(line), _PLAIN)] for line in lines]
    return table_rows([_heading(title, key)], told, width) if lines else []


def _decisions(course: CourseAudit, width: float) -> list[Any]:
    changed = sum(one.changed_since for one in course.decisions)
    title = "Decisions" if course.decisions else "Nothing was signed"
    title += f": the record of {changed} has changed since" if changed else ""
    digits = style(SMALL, 10.5, FIGURES, textColor=QUIET, spaceAfter=1 * mm)
    lines = [
        [
            Row(set_text(f"{one.about}. {one.sentence}", "The decision"), _STRONG if one.changed_since else _PLAIN),
            Row(f"rests on {one.rests_on}", digits),
        ]
        for one in course.decisions
    ]
    return table_rows([_heading(title, f"decisions-{course.course}")], lines, width)


# --- the ledger ------------------------------------------------------------------------------------------------------


def _ledger(part: LedgerAudit, width: float) -> list[Any]:
    rows = [_heading("The ledger", "ledger", 0), Row(set_text(part.sentence), _LEAD), Spacer(0, 2 * mm)]
    rows += [Row(set_text(text), _STRONG) for text in part.findings]
    rows += [Row(set_text(text), _PLAIN) for text in part.notices]
    for chain in part.chains:
        told = {"Chain": chain.chain, "Last event": str(chain.events), "Its hash": _grouped(chain.hash)}
        block = [Row(set_text(text), _DIGITS, label=(label, 0)) for label, text in told.items()]
        rows += keep_together([Spacer(0, 2 * mm), *block, Row(set_text(chain.began), _NOTE)], width)
    rows += _lines("Checkpoints", "checkpoints", part.checkpoints, width)
    limits = [_heading("What the hashes do not show", "limits"), *[Row(set_text(text), _PLAIN) for text in part.limits]]
    return [*rows, *keep_together(limits, width)]


def _grouped(digits: str) -> str:
    """Return hex digits in groups of eight, to be read aloud and compared."""
    return " ".join(digits[start : start + 8] for start in range(0, len(digits), 8))
