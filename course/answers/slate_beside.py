"""A copied column beside what is in the ledger from the same column of the same paper: equal, or where they differ."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from course.answers.slate_copy import CopiedColumn
from course.answers.slate_faults import Copying
from course.answers.slate_sheet import SlateRow
from course.record.events import MarkGiven
from course.record.facts import Attempt, MarkLine, Sheet
from course.standards.rubric import OTHER_ERROR
from course.words import UNIT_WORDS, Closing, Mark

_WORDS = {Mark.DONE: "done", Mark.PROMPTED: "prompted", Mark.NOT_SEEN: "not seen", Mark.LEFT_OUT: "left out"}
_CLOSED = {Closing.COMPLETED: "completed", Closing.STOPPED: "stopped", Closing.VOID: "void"}
EMPTY = "empty"


@dataclass(frozen=True)
class BesideRow:
    """One line of the two: what it is of, what is in the ledger, what was typed now."""

    step: str
    """Empty for what is of the whole column."""
    label: str
    ledger: str
    typed: str

    @property
    def same(self) -> bool:
        """Whether both say the same."""
        return self.ledger == self.typed


@dataclass(frozen=True)
class Beside:
    """One column that was entered before."""

    student: str
    attempt_try: int
    name: str
    attempt: str
    sheet: str
    observer: str
    identical: bool
    may_amend: bool
    """The same observer wrote both, and marks or values that stand on the copy differ."""
    sentence: str
    rows: tuple[BesideRow, ...]


def beside(into: Copying, column: CopiedColumn, entered: Attempt) -> Beside:
    """Lay a copied column beside the attempt that came of the same column before."""
    sheet = next(sheet for sheet in entered.sheets if sheet.slate == into.sheet.slate.id)
    rows = (*(_row(row, sheet, column) for row in into.sheet.rows), *_whole_rows(sheet, column, entered))
    differing = [row for row in rows if not row.same]
    own = sheet.observer == into.copy.observer
    written = [row for row in differing if row.step and row.typed != EMPTY]
    may_amend = own and bool(written)
    name, who = into.words(column), into.seen.name(sheet.observer)
    head = f"{name}: is in the ledger already, as attempt {entered.number}, seen by {who}."
    if not differing:
        told = f"{head} Both say the same: nothing is to be added."
    elif may_amend:
        rest = "" if len(written) == len(differing) else f" Amending brings {_counted(written)}; the others stay."
        told = f"{head} They differ in {_counted(differing)}. Leave it as it is, or amend it with a reason.{rest}"
    else:
        other = "" if own else f" Only {who} amends that sheet."
        told = f"{head} They differ in {_counted(differing)}.{other} Leave it as it is, or amend it on the Course page."
    return Beside(
        student=column.student, attempt_try=column.attempt_try, name=name, attempt=entered.id, sheet=sheet.id,
        observer=who, identical=not differing, may_amend=may_amend, sentence=told, rows=rows,
    )  # fmt: skip


def mark_words(row: SlateRow, line: MarkLine | MarkGiven | None, values: Mapping[str, str] | None = None) -> str:
    """What stands in one box, in words: "error a b, F", "done · 41 s", "unreadable", "empty"."""
    told = [_line_words(row, line)] if line else []
    value = (values or {}).get(row.step)
    if value is not None and row.limit is not None:
        told.append(f"{value} {UNIT_WORDS.get(row.limit.unit, row.limit.unit)}".strip())
    return " · ".join(told) or EMPTY


def _line_words(row: SlateRow, line: MarkLine | MarkGiven) -> str:
    if line.unreadable:
        return "unreadable"
    if line.mark != Mark.ERROR:
        return _WORDS[line.mark]
    letters = {error.id: error.letter for error in row.errors} | {OTHER_ERROR: OTHER_ERROR}
    flags = [word for word, holds in (("prompted too", line.prompted), ("F", line.fixed_self)) if holds]
    return ", ".join([f"error {' '.join(sorted(letters.get(error, error) for error in line.errors))}", *flags])


def _row(row: SlateRow, sheet: Sheet, column: CopiedColumn) -> BesideRow:
    lines = [line for line in sheet.marks if line.step == row.step]
    values = {value.step: value.value for value in sheet.values}
    ledger = " / ".join(dict.fromkeys(mark_words(row, line, values) for line in lines)) or mark_words(row, None, values)
    return BesideRow(row.step, f"{row.number}. {row.do}", ledger, mark_words(row, column.mark(row.step), column.values))


def _whole_rows(sheet: Sheet, column: CopiedColumn, entered: Attempt) -> tuple[BesideRow, ...]:
    ended = entered.ending.how if entered.ending else None
    orders = {(line.first_done, line.should_come_first) for line in sheet.orders if line.seen_so}
    return (
        BesideRow("", "Whole attempt clean", _yes(sheet.whole_clean is not None), _yes(column.whole_clean)),
        BesideRow("", "How it ended", _CLOSED[ended] if ended else "open", _CLOSED[column.how]),
        BesideRow("", "Steps out of order", _pairs(orders), _pairs(set(column.out_of_order))),
    )


def _yes(holds: bool) -> str:  # noqa: FBT001 - the flag is what the word says
    return "yes" if holds else "no"


def _pairs(pairs: set[tuple[str, str]]) -> str:
    return ", ".join(f"{first} before {second}" for first, second in sorted(pairs)) or "none"


def _counted(rows: list[BesideRow]) -> str:
    return "1 line" if len(rows) == 1 else f"{len(rows)} lines"
