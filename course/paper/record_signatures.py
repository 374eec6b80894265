"""At the end of a competency record: who signs by hand, and initials of whoever marked or decided."""

from __future__ import annotations

from functools import partial
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer

from course.answers.record_answer import CompetencyRecord
from course.paper.fonts import MEDIUM, set_text
from course.paper.frame import BODY, LEAD, QUIET, SMALL, Row, column_x, draw_rule, draw_words, style
from course.paper.kept import keep_together
from course.paper.table import table_rows
from course.words import RECORD_NOTE

_HEADING = style(LEAD, 15, MEDIUM, spaceBefore=5 * mm, spaceAfter=1.5 * mm, keepWithNext=1)
_PLAIN = style(BODY, 12.5)
_NOTE = style(SMALL, 10.5, textColor=QUIET, spaceBefore=1.5 * mm)
_SIGNED_NOTE = (
    "By signing, the instructor says that this record was checked against the marks, the student that it was read. A "
    "second instructor signs where the requirements ask for one or where an exception was made. No photo of anybody is "
    "kept here: before you sign, compare the name with a document of the person."
)
_SECOND = "second instructor"
_LINE = 18 * mm
_ROOM_TO_SIGN = 18
"""From one name to the next, in points."""
_PLACES = ((0, 5, "signature"), (5, 9, "name in print"), (9, 10, "initials"), (10, 12, "day"))


def signature_rows(record: CompetencyRecord, width: float) -> list[Any]:
    """Return the lines to sign on, for everybody whom the requirements name, and for initials."""
    heading = Row(set_text("Signatures"), _HEADING, entry=("signatures", "Signatures", 0))
    notes = Row(set_text(f"{_SIGNED_NOTE} {RECORD_NOTE}"), _PLAIN)
    named = record.signers if _SECOND in record.signers else (*record.signers, f"{_SECOND}, where one signs too")
    lines = _SignatureLines(tuple(name[:1].upper() + name[1:] for name in named))
    people = table_rows(
        [], [*_initials("Marked by", record.assessors, width), *_initials("Decided by", record.deciders, width)], width
    )
    known = [Row(set_text(record.confirmed), _NOTE)] if record.confirmed else []
    return [*keep_together([heading, notes, lines], width), *people, *known]


def _initials(caption: str, names: tuple[str, ...], width: float) -> list[list[Any]]:
    """A line for each name with room for the initials in that person's own hand."""
    if not names:
        return [[Row(set_text(f"{caption}: nobody yet."), _NOTE)]]
    told = style(BODY, 12.5, leftIndent=column_x(2, width), rightIndent=width - column_x(7, width))
    lines: list[list[Any]] = []
    for place, name in enumerate(names):
        label = (caption, 0.0) if not place else None
        row = Row(set_text(name, "The name"), told, label=label, beside=partial(_draw_initials, not place))
        lines.append([*([] if place else [Spacer(0, 2 * mm)]), row, Spacer(0, _ROOM_TO_SIGN - told.leading)])
    return lines


def _draw_initials(first: bool, canvas: Any, y: float, width: float) -> None:  # noqa: FBT001 - the first has a caption
    x, end = column_x(9, width), column_x(10, width) - 4 * mm
    draw_rule(canvas, x, y - 2, end - x, strong=True)
    draw_rule(canvas, column_x(10, width), y - 2, width - column_x(10, width), strong=True)
    if first:
        draw_words(canvas, column_x(7, width), y, "initials and day", colour=QUIET)


class _SignatureLines(Flowable):  # type: ignore[misc]  # ReportLab is not typed
    """Empty lines for everybody who signs: signature, name, initials, day."""

    def __init__(self, signers: tuple[str, ...]) -> None:
        super().__init__()
        self.signers = signers

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """Return the room it takes."""
        self.width = width
        return width, len(self.signers) * _LINE + 4 * mm

    def draw(self) -> None:
        """Draw a line above each caption."""
        for row, who in enumerate(self.signers, 1):
            y = (len(self.signers) - row) * _LINE + 6 * mm
            for start, end, caption in _PLACES:
                x = column_x(start, self.width)
                draw_rule(self.canv, x, y, column_x(end, self.width) - x - 4 * mm, strong=True)
                draw_words(self.canv, x, y - 10, f"{who}: {caption}" if not start else caption, colour=QUIET)
