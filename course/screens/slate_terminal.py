"""Copying a sheet in at a terminal: the same keys as on the grid, a column a line, and the same questions before."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from course.actions.slate_entry import enter_slate
from course.answers.course_view import CourseView, view
from course.answers.marking import observers
from course.answers.slate_check import SlateCheck, check_slate
from course.answers.slate_copy import CopiedColumn, CopiedSheet, SeenTime, column_words, read_copy
from course.answers.slate_sheet import SlateSheet, find_slate, slate_sheet
from course.answers.slate_typing import read_line, rows_asked
from course.errors import NotFoundError, RefusedError
from course.moments import new_id, now
from course.standards.rubric import OTHER_ERROR, Limit
from course.storage.ledger import Ledger
from course.words import UNIT_WORDS, plural

KEYS = (
    "Keys: . done   a b c error by letter, x another   p prompted   - not seen   ? unreadable   o left out   _ empty   "
    "f after a letter: put right unasked   41 a value, 41a with its error   w first: whole attempt clean   "
    "s:student s:instructor v:REASON at the end. An empty line makes no attempt; u takes the line before back."
)


def copy_in(ledger: Ledger, typed: str, by: str | None, at: str | None, content: Path | None) -> str:
    """Ask for the columns of a sheet, or read them from a file; say what saving would do; save once that is agreed to.

    Raises:
        NotFoundError: there is no such sheet, person or file.
        RefusedError: something does not fit, or the person said no. Nothing was saved.
    """
    session, slate = find_slate(ledger, typed)
    sheet = slate_sheet(ledger, session, slate)
    seen = view(ledger, sheet.course_id)
    observer = _observer(seen, by)
    times = _times(at)
    if content is not None:
        copy = _from_file(content, sheet, observer, times)
    else:
        click.echo("\n".join(_paper_lines(sheet)))
        columns = _ask_columns(sheet)
        copy = CopiedSheet(slate=slate, session=session, observer=observer, seen=times, columns=columns)
    copy = _chosen_hours(ledger, copy, ask=content is None)
    check = check_slate(ledger, copy, now())
    click.echo("\n".join(_check_lines(check)))
    if check.faults:
        raise RefusedError("Nothing was saved. Correct what is said above and copy the sheet in again.")
    if not check.may_save:
        return "Nothing is to be added. Nothing was saved."
    if content is None and not click.confirm(f"Save {plural(check.attempts, 'attempt')}?"):
        raise RefusedError("Nothing was saved.")
    return enter_slate(ledger, copy, now()).sentence


def _observer(seen: CourseView, by: str | None) -> str:
    known = observers(seen)
    if by is None and len(known) == 1:
        return next(iter(known))
    fits = [p for p, name in known.items() if by and (by == p or by.casefold() in name.casefold())]
    if len(fits) != 1:
        names = ", ".join(known.values())
        raise NotFoundError(f"Who wrote the sheet? Write --by with one of: {names}. Nothing was saved.")
    return fits[0]


def _times(at: str | None) -> SeenTime | None:
    if at is None:
        return None
    start, _, end = at.partition("-")
    try:
        return SeenTime(start=start.strip(), end=(end or start).strip())
    except ValueError:
        raise RefusedError(f"{at!r} is no time such as 14:05 or 14:05-15:10. Nothing was saved.") from None


def _paper_lines(sheet: SlateSheet) -> list[str]:
    lines = [f"{sheet.title} · {sheet.slate.code} · {sheet.session}, {sheet.day}", ""]
    for row in sheet.rows:
        lines.append(f"{row.number:>3}{'!' if row.own_box else ' '} {row.do}")
        lines += [f"       value: {_limit_words(row.limit)}"] if row.limit else []
        lines += [f"       {e.letter} {e.label}{' (critical)' if e.critical else ''}" for e in row.errors]
    return [*lines, "", "! something critical can happen here: its box is marked by itself, also with w.", KEYS, ""]


def _limit_words(limit: Limit) -> str:
    bounds = {"at least": limit.at_least, "at most": limit.at_most}
    told = ", ".join(f"{word} {bound}" for word, bound in bounds.items() if bound)
    return f"{told} {UNIT_WORDS.get(limit.unit, limit.unit)}".rstrip()


def _ask_columns(sheet: SlateSheet) -> tuple[CopiedColumn, ...]:
    """One line a column; a line that does not fit is told and asked again, so that nothing typed before is lost."""
    read: list[CopiedColumn] = []
    while len(read) < len(sheet.columns):
        column, number = sheet.columns[len(read)], len(read) + 1
        boxes = f"{rows_asked(sheet, column, clean=False)}; after w: {rows_asked(sheet, column, clean=True) or 'none'}"
        text = click.prompt(f"{column_words(sheet, column)} ({boxes})", default="", show_default=False)
        if text.strip() == "u":
            read[-1:] = []
            continue
        try:
            read.append(_with_notes(sheet, read_line(sheet, column, text, number)))
        except RefusedError as fault:
            click.echo(fault.sentence.replace(" Nothing was saved.", " Type this line again."), err=True)
    return tuple(read)


def _with_notes(sheet: SlateSheet, column: CopiedColumn) -> CopiedColumn:
    """What is not among the listed errors is said in words."""
    numbers = {row.step: row.number for row in sheet.rows}
    other = [line.step for line in column.marks if OTHER_ERROR in line.errors]
    notes = {step: click.prompt(f"Step {numbers[step]}: what went wrong, in a few words?") for step in other}
    return column.model_copy(update={"notes": notes})


def _from_file(file: Path, sheet: SlateSheet, observer: str, times: SeenTime | None) -> CopiedSheet:
    """A copied sheet as JSON: `{"columns": [...]}`; what it does not say is the sheet's own, or the options'."""
    try:
        plain: Any = json.loads(file.read_text("utf-8"))
    except OSError as error:
        raise NotFoundError(f"{file} cannot be read: {error.strerror}. Nothing was saved.") from None
    except ValueError as error:
        raise RefusedError(f"{file} holds no JSON: {error}. Nothing was saved.") from None
    if not isinstance(plain, dict) or not isinstance(plain.get("columns"), list):
        raise RefusedError(f'{file} is no copied sheet: it has to be {{"columns": [...]}}. Nothing was saved.')
    own = {"slate": sheet.slate.id, "session": sheet.session_id, "observer": observer}
    seen = {"seen": times.model_dump()} if times else {}
    columns = [{"id": new_id(), **one} if isinstance(one, dict) else one for one in plain["columns"]]
    return read_copy({**own, **seen, **plain, "columns": columns})


def _chosen_hours(ledger: Ledger, copy: CopiedSheet, *, ask: bool) -> CopiedSheet:
    """An hour that the clocks showed twice is chosen by the person, never guessed."""
    for side in check_slate(ledger, copy, now()).twice if ask else ():
        if copy.seen is None:
            continue
        second = click.confirm(f"{getattr(copy.seen, side)} came twice that night. Is the second time meant?")
        copy = copy.model_copy(update={"seen": copy.seen.model_copy(update={f"{side}_second": second})})
    return copy


def _check_lines(check: SlateCheck) -> list[str]:
    lines = [check.sentence, *(f"! {fault}" for fault in check.faults)]
    lines += [f"{'! ' if one.serious else '  '}{one.sentence}" for one in check.consequences]
    lines += [f"? {gap.sentence}" for gap in check.gaps]
    for one in check.entered:
        lines.append(f"= {one.sentence}")
        lines += [f"    {row.label}: in the ledger {row.ledger}; typed {row.typed}" for row in one.rows if not row.same]
    return [*lines, *(f"  {one.sentence}" for one in check.outcomes)]
