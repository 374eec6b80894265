"""What the copying grid shows of one sheet, and which sheets are still out: plain data, all text as it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from course.access import Sight
from course.answers.course_view import CourseView, view
from course.answers.marking import observers, session_words
from course.answers.slate_faults import session_fault
from course.answers.slate_sheet import (
    SlateColumn,
    SlateRow,
    SlateSheet,
    columns_out,
    entered_from,
    short_name,
    slate_sheet,
)
from course.asker import may_enter_for, question
from course.record.day_facts import Slate
from course.record.facts import Attempt, Session
from course.storage.ledger import Ledger
from course.storage.lookup import needed
from course.words import EVALUATORS, QUANTITY_WORDS, UNIT_WORDS


@dataclass(frozen=True)
class SheetOut:
    """A sheet that was given out, and of which some column is not entered yet."""

    slate: str
    code: str
    session: str
    session_words: str
    title: str
    names: str
    """Whose columns are not in yet; a try is named where there are several."""
    columns_in: int = 0
    columns: int = 0

    @property
    def words(self) -> str:
        """As read: "2 of 6 columns in; not yet: Ravi Solvei"; of a sheet that nobody began only the names."""
        return (
            f"{self.columns_in} of {self.columns} columns in; not yet: {self.names}" if self.columns_in else self.names
        )


@question(Sight.SLATE)
def sheets_out(seen: CourseView) -> tuple[SheetOut, ...]:
    """Sheets of a course that nobody set aside and of which a column was not entered; newest session first.

    Students who did not dive leave their columns empty: such a sheet is set aside once the rest is in.
    """
    entered: dict[str, set[tuple[str, int]]] = {}
    for attempt in seen.attempts:
        for sheet in attempt.sheets:
            if sheet.slate:
                column = (attempt.first_student or attempt.student, sheet.slate_try or 1)
                entered.setdefault(sheet.slate, set()).add(column)
    found: list[SheetOut] = []
    for session in sorted(seen.sessions.values(), key=lambda one: one.start.utc, reverse=True):
        out = ((slate, columns_out(slate, entered.get(slate.id, ()))) for slate in session.slates)
        found += [_sheet_out(seen, session, slate, columns) for slate, columns in out if columns]
    return tuple(found)


def _sheet_out(seen: CourseView, session: Session, slate: Slate, out: Sequence[tuple[str, int]]) -> SheetOut:
    columns = len(slate.students) * slate.tries
    began = len(out) < columns
    names = [seen.name(one) + (f" (try {turn})" if began and slate.tries > 1 else "") for one, turn in out]
    return SheetOut(
        slate=slate.id,
        code=slate.code,
        session=session.id,
        session_words=session_words(session),
        title=seen.title_of(slate.skill),
        names=", ".join(dict.fromkeys(names)),
        columns_in=columns - len(out),
        columns=columns,
    )


@question(Sight.SLATE)
def grid(ledger: Ledger, session_id: str, slate_id: str) -> dict[str, Any]:
    """Return what the grid draws of one sheet.

    Raises:
        NotFoundError: there is no such session or sheet.
    """
    sheet = slate_sheet(ledger, session_id, slate_id)
    session = needed(ledger, Session, session_id, "session")
    seen = view(ledger, session.course)
    entered = entered_from(ledger, session_id, slate_id)
    return {
        "slate": slate_id,
        "session": session_id,
        "code": sheet.slate.code,
        "title": sheet.title,
        "caution": sheet.caution,
        "about": " · ".join(part for part in (session_words(session), sheet.group) if part),
        "start": f"{session.start.local:%H:%M}",
        "end": f"{session.end.local:%H:%M}",
        "shut": session_fault(session),
        "older_form": seen.adopted.hashes.get(sheet.skill) != sheet.slate.rubric,
        "observers": [{"id": person, "name": name} for person, name in _writers(seen).items()],
        "observer": _likely_observer(seen, session, sheet),
        "seconds": [{"id": person, "name": seen.name(person)} for person in seen.course.people(*EVALUATORS)],
        "rows": [_row(row) for row in sheet.rows],
        "columns": [
            _column(column, sheet.slate, entered.get((column.student, column.attempt_try))) for column in sheet.columns
        ],
    }


def _writers(seen: CourseView) -> dict[str, str]:
    """Who may have written a sheet that is copied in: whoever is signed in; for a lead anybody who holds sheets."""
    people = observers(seen)
    return {one: name for one, name in people.items() if may_enter_for(one)}


def _likely_observer(seen: CourseView, session: Session, sheet: SlateSheet) -> str:
    """The instructor of the sheet's group, or the only one on the course; else nobody, and the person chooses."""
    group = next((one for one in session.groups if one.id == sheet.slate.group), None)
    likely = [person for person in (group.staff if group else ()) if person in seen.course.people(*EVALUATORS)]
    writers = _writers(seen)
    likely = [person for person in likely if person in writers] or list(writers)
    return likely[0] if len(likely) == 1 else ""


def _column(column: SlateColumn, slate: Slate, attempt: Attempt | None) -> dict[str, Any]:
    return {
        "student": column.student,
        "attempt_try": column.attempt_try,
        "name": short_name(column),
        "initials": column.initials,
        "full": column.name,
        "unit": column.unit,
        "number": attempt.number if attempt else column.next_number,
        "tries": slate.tries,
        "not_here": sorted(column.not_here),
        "entered": attempt is not None,
        "saved": _saved(attempt, slate, column.attempt_try) if attempt else None,
    }


def _saved(attempt: Attempt, slate: Slate, turn: int) -> dict[str, Any]:
    """What the ledger has of a column that was copied in, in the words of the copy."""
    sheet = next(one for one in attempt.sheets if one.slate == slate.id and (one.slate_try or 1) == turn)
    flags = ("mark", "prompted", "fixed_self", "unreadable")
    return {
        "marks": {
            line.step: {name: getattr(line, name) for name in flags} | {"errors": list(line.errors)}
            for line in sheet.marks
        },
        "values": {line.step: line.value for line in sheet.values},
        "whole_clean": sheet.whole_clean is not None,
        "how": attempt.ending.how if attempt.ending else "completed",
        "stopped_by": attempt.ending.stopped_by if attempt.ending else None,
    }


def _row(row: SlateRow) -> dict[str, Any]:
    limit = row.limit
    return {
        "step": row.step,
        "number": row.number,
        "do": row.do,
        "own_box": row.own_box,
        "left_out_critical": row.left_out_critical,
        "errors": [vars(error) for error in row.errors],
        "limit": limit
        and {
            "word": QUANTITY_WORDS[limit.quantity],
            "unit": UNIT_WORDS.get(limit.unit, limit.unit),
            "at_least": limit.at_least,
            "at_most": limit.at_most,
        },
    }
