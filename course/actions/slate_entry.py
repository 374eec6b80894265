"""Save a whole copied sheet: every column's attempt in one append, all of them or none; amend what was saved before.

Every event takes its id from the one that its column was given where it was copied, so that a sheet sent twice, by a
second tap or after a lost answer, is in the ledger once. A lead may copy in what another wrote: then the sheet stays
its observer's, and the entries name the lead as who made them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from threading import Lock
from typing import Any

from course.access import Act
from course.actions.amending import correction
from course.actions.drafting import allow_for, body, draft, living, told
from course.actions.sheet_checks import check_mark, check_order, measured
from course.answers.slate_check import check_slate, next_numbers
from course.answers.slate_copy import CopiedColumn, CopiedSheet, column_of, seen_between
from course.answers.slate_faults import Copying, copying, part_of, session_fault
from course.answers.slate_sheet import entered_from
from course.asker import writer_for
from course.errors import NotFoundError, RefusedError
from course.moments import Observed, derived_id, training_day
from course.record.events import (
    AttemptClosed,
    AttemptOpened,
    Draft,
    MarkGiven,
    MarksGiven,
    OrderAnswered,
    SheetStarted,
    WholeAttemptClean,
)
from course.record.facts import Attempt, Sheet
from course.storage.ledger import Ledger
from course.words import Capacity, Role, SheetSource, plural

_ONE_AT_A_TIME = Lock()
"""Between the look at what is in the ledger and the append nobody else copies a sheet in."""


@dataclass(frozen=True)
class Entered:
    """What came of a copied sheet."""

    attempts: tuple[str, ...]
    """Ids of its attempts, in the order of its columns; also where they were saved before by the same copy."""
    sentence: str


def enter_slate(ledger: Ledger, copy: CopiedSheet, at: datetime) -> Entered:
    """Save everything that is written on a copied sheet, in one append; the same copy again adds nothing.

    Columns on which nothing is written make no attempt. Columns that were entered before are never doubled.

    Args:
        ledger: open for writing.
        copy: what was copied.
        at: the moment of asking, as for `check_slate`.

    Raises:
        NotFoundError: this centre gave out no such sheet.
        RefusedError: something does not fit; each fault names its column. Nothing was saved.
        StorageError: NOT saved.
    """
    enters = writer_for(copy.observer)
    with _ONE_AT_A_TIME:
        into = copying(ledger, copy)
        if not is_saved(ledger, copy):
            _refuse_faults(check_slate(ledger, copy, at).faults)
        before = entered_from(ledger, into.session.id, copy.slate)
        columns = [c for c in copy.written if c.key not in before or before[c.key].id == c.id]
        if not columns:
            raise RefusedError("Nothing is written on this copy that is not in the ledger already. Nothing was saved.")
        numbers = next_numbers(into, columns)
        placed = list(zip(columns, numbers, strict=True))
        drafts = [made for column, number in placed for made in _drafts(ledger, into, column, number, enters)]
        ledger.append(drafts)
    count = plural(len(columns), "attempt")
    return Entered(tuple(c.id for c in columns), f"Sheet {into.sheet.slate.code}: {count} saved.")


def is_saved(ledger: Ledger, copy: CopiedSheet) -> bool:
    """Whether this very copy was saved before: what comes again is a second sending, not a second entry."""
    ids = [derived_id(column.id, "closed") for column in copy.written if not column.leave]
    return bool(ids) and all(ledger.event(one) is not None for one in ids)


def amend_from_slate(ledger: Ledger, copy: CopiedSheet, student: str, attempt_try: int, why: str) -> str:
    """Bring what was entered before from a column to what stands on the copy now, with a reason; return the attempt.

    Marks are given anew over the old ones and values are corrected; the old lines stay to be read.

    Raises:
        NotFoundError: there is no such sheet, or nothing was entered from this column.
        RefusedError: another observer wrote it, nothing differs, or no reason is given. Nothing was changed.
    """
    into = copying(ledger, copy)
    enters = writer_for(copy.observer)
    allow_for(ledger, copy.observer, Act.PRACTISE)
    if sentence := session_fault(into.session):
        raise RefusedError(f"{sentence} Nothing was changed.")
    attempt = entered_from(ledger, into.session.id, copy.slate).get((student, attempt_try))
    column = next((c for c in copy.written if c.key == (student, attempt_try)), None)
    if attempt is None or column is None:
        raise NotFoundError("Nothing was entered from this column yet. Save it instead. Nothing was changed.")
    sheet = next(sheet for sheet in attempt.sheets if sheet.slate == copy.slate)
    if sheet.observer != copy.observer:
        raise RefusedError(
            f"{into.words(column)}: only {into.seen.name(sheet.observer)} amends this sheet. Nothing was changed."
        )
    drafts = list(_amendments(ledger, into, column, attempt, sheet, told(why), enters))
    if not drafts:
        raise RefusedError(f"{into.words(column)}: both say the same. Nothing was changed.")
    ledger.append(drafts)
    return attempt.id


def _refuse_faults(faults: tuple[str, ...]) -> None:
    if faults:
        raise RefusedError(f"{' '.join(faults)} Nothing was saved.")


def _drafts(ledger: Ledger, into: Copying, column: CopiedColumn, number: int, enters: str) -> Iterator[Draft]:
    observer, part = into.copy.observer, part_of(into.seen, into.copy.observer)
    before = ledger.event(derived_id(column.id, "opened"))
    enters = before.actor if before else enters  # the same copy sent again says the same, whoever sends it
    if part is None:
        raise RefusedError("The observer does not teach on this course. Nothing was saved.")
    start, end = seen_between(into.session, column.seen or into.copy.seen)

    def made(name: str, content: Any, *, private: bool = False) -> Draft:
        own = column.student if private else None
        who = observer if name == "closed" else enters  # the end is the observer's word, as written
        return draft(who, content, private_of=own, event_id=derived_id(column.id, name))

    yield made("opened", _opening(ledger, into, column, number, start), private=True)
    yield made("started", _started(into, column, part, start))
    common: dict[str, Any] = {"attempt": column.id, "sheet": column.sheet_id, "observed": start}
    if column.whole_clean:
        yield made("clean", body(WholeAttemptClean, **common))
    if column.marks:
        for line in column.marks:
            check_mark(into.skill, line, column.notes)
        yield made("marks", body(MarksGiven, marks=column.marks, notes=column.notes or None, **common), private=True)
    for step, value in column.values.items():
        yield made(f"value {step}", measured(into.skill, step, value, **common))
    for first, should in column.out_of_order:
        check_order(into.skill, first, should)
        answer = body(OrderAnswered, first_done=first, should_come_first=should, seen_so=True, **common)
        yield made(f"order {first} {should}", answer)
    closing = body(
        AttemptClosed, attempt=column.id, how=column.how, stopped_by=column.stopped_by, reason=column.reason or None,
        second=column.second or None, observed=end,
    )  # fmt: skip
    yield made("closed", closing, private=True)


def _opening(ledger: Ledger, into: Copying, column: CopiedColumn, number: int, start: Observed) -> AttemptOpened:
    """The opening as it is in the ledger where the same copy was saved before, since numbers have gone on."""
    stored = ledger.event(derived_id(column.id, "opened"))
    if stored is not None:
        return body(AttemptOpened, **json.loads(stored.body))
    living(ledger, column.student)
    known = column_of(into.sheet, *column.key)
    assigned = into.seen.course.assignment(column.student, training_day(into.session.start).isoformat())
    return body(
        AttemptOpened, attempt=column.id, course=into.sheet.course_id, session=into.session.id, student=column.student,
        skill=into.skill.id, rubric=into.sheet.slate.rubric, unit=assigned.unit if assigned else None,
        unit_type=known.unit_type if known else None, setting=into.session.setting, number=number, observed=start,
    )  # fmt: skip


def _started(into: Copying, column: CopiedColumn, part: tuple[Role, Capacity], start: Observed) -> SheetStarted:
    return body(
        SheetStarted, attempt=column.id, sheet=column.sheet_id, observer=into.copy.observer, role=part[0],
        capacity=part[1], source=SheetSource.SLATE, slate=into.copy.slate, slate_try=column.attempt_try,
        observed=start,
    )  # fmt: skip


def _amendments(
    ledger: Ledger, into: Copying, column: CopiedColumn, attempt: Attempt, sheet: Sheet, why: str, enters: str
) -> Iterator[Draft]:
    (start, _) = seen_between(into.session, column.seen or into.copy.seen)
    common: dict[str, Any] = {"attempt": attempt.id, "sheet": sheet.id, "observed": start}
    lines = tuple(_line_over(line, sheet) for line in column.marks if _differs(line, sheet))
    if lines:
        for line in lines:
            check_mark(into.skill, line, column.notes)
        notes = {line.step: column.notes[line.step] for line in lines if line.step in column.notes}
        content = body(MarksGiven, marks=lines, why=why, notes=notes or None, **common)
        yield draft(enters, content, private_of=attempt.student)
    for step, value in column.values.items():
        old = [known for known in sheet.values if known.step == step]
        new = measured(into.skill, step, value, **common)
        if not old:
            yield draft(enters, new)
        for known in old:
            if known.value != value:
                yield correction(ledger, enters, known.event, why, change={"value": value})


def _line_over(line: MarkGiven, sheet: Sheet) -> MarkGiven:
    live = tuple(dict.fromkeys(mark.event for mark in sheet.marks if mark.step == line.step))
    return line.model_copy(update={"replaces": live})


def _differs(line: MarkGiven, sheet: Sheet) -> bool:
    stored = [m.model_dump(exclude={"event", "utc", "late"}) for m in sheet.marks if m.step == line.step]
    return stored != [line.model_dump(exclude={"replaces"})]
