"""A column of a paper sheet typed as one line of keys, the same letters as on the grid; faults name line and column.

One word a box, in the order of the steps: `.` done, a letter or several for errors (`x` another), `p` prompted, `-` not
seen, `?` unreadable, `o` left out, `_` for a box that is empty on the paper. A word may end with `f` (put right
unasked), and hold a value as digits: `41a` is 41 with error a. Without any blank each character is a box of its own.
`w` first means whole attempt clean: only the boxes that are still to be marked follow. `s:student`, `s:instructor`
and `v:REASON` at the end say how the attempt ended. Nothing on the line is an empty column.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from course.answers.slate_copy import CopiedColumn
from course.answers.slate_sheet import SlateColumn, SlateRow, SlateSheet
from course.errors import RefusedError
from course.moments import new_id
from course.record.events import MarkGiven
from course.standards.rubric import OTHER_ERROR
from course.words import Closing, Mark

_PLAIN = {
    ".": Mark.DONE,
    "d": Mark.DONE,
    "p": Mark.PROMPTED,
    "-": Mark.NOT_SEEN,
    "?": Mark.NOT_SEEN,
    "o": Mark.LEFT_OUT,
}
_WORD = re.compile(r"^(?P<value>\d+(?:[.,]\d+)?)?(?P<keys>[^\d]*)$")
EMPTY = "_"


@dataclass
class _Read:
    marks: list[MarkGiven] = field(default_factory=list)
    values: dict[str, str] = field(default_factory=dict)


def read_line(sheet: SlateSheet, column: SlateColumn, text: str, line: int) -> CopiedColumn:
    """Read what was typed for one column.

    Args:
        sheet: the paper.
        column: whose column it is.
        text: the keys, as this module's first lines say.
        line: the number of the line, for faults.

    Raises:
        RefusedError: a key does not fit; the sentence names line and column of it. Nothing was saved.
    """
    words, ending = _split(text, line)
    clean = bool(words) and words[0][1] == "w"
    rows = _rows(sheet, column, clean=clean)
    words = words[1:] if clean else words
    if words and len(words) != len(rows):
        raise _fault(line, 1, f"{len(words)} boxes are typed, and {len(rows)} are to be marked: {_numbers(rows)}.")
    read = _Read()
    for row, (at, word) in zip(rows, words, strict=False):
        _box(read, row, word, line, at)
    return CopiedColumn(
        id=new_id(), student=column.student, attempt_try=column.attempt_try, marks=tuple(read.marks),
        values=read.values, whole_clean=clean, **ending,
    )  # fmt: skip


def rows_asked(sheet: SlateSheet, column: SlateColumn, *, clean: bool) -> str:
    """The numbers of the boxes that a line has to have, in their order."""
    return _numbers(_rows(sheet, column, clean=clean))


def _rows(sheet: SlateSheet, column: SlateColumn, *, clean: bool) -> list[SlateRow]:
    """Boxes of the paper that are no grey ones; with the whole stroke those where something critical can happen."""
    here = [row for row in sheet.rows if row.step not in column.not_here]
    return [row for row in here if row.own_box or row.limit is not None] if clean else here


def _numbers(rows: Sequence[SlateRow]) -> str:
    return " ".join(str(row.number) for row in rows)


def _split(text: str, line: int) -> tuple[list[tuple[int, str]], dict[str, Any]]:
    """Words with the column at which each begins, and how the attempt ended."""
    ending: dict[str, Any] = {}
    found = re.search(r"(?:^|\s)(?P<how>[sv]):(?P<more>.*)$", text)
    if found:
        more, at = found["more"].strip(), found.start("how") + 1
        if found["how"] == "s" and more not in ("student", "instructor"):
            raise _fault(line, at, "write s:student or s:instructor for a stopped attempt.")
        if not more:
            raise _fault(line, at, "a void attempt needs its reason, such as v:lane closed.")
        ending = (
            {"how": Closing.STOPPED, "stopped_by": more}
            if found["how"] == "s"
            else {"how": Closing.VOID, "reason": more}
        )
        text = text[: found.start()]
    words = [(one.start() + 1, one[0]) for one in re.finditer(r"\S+", text)]
    if len(words) == 1 and not any(letter.isdigit() for letter in words[0][1]):
        begin, word = words[0]
        words = [(begin + place, letter) for place, letter in enumerate(word)]
    return words, ending


def _box(read: _Read, row: SlateRow, word: str, line: int, at: int) -> None:
    parts = _WORD.match(word)
    if parts is None:
        raise _fault(line, at, f"{word!r} cannot be read. A value comes first, then the mark, such as 41a.")
    if parts["value"] is not None:
        if row.limit is None:
            raise _fault(line, at, f"step {row.number} has no value to write down.")
        read.values[row.step] = parts["value"].replace(",", ".")
    keys = parts["keys"] or ("." if parts["value"] else EMPTY)
    if keys != EMPTY:
        read.marks.append(_mark(row, keys, line, at + len(parts["value"] or "")))


def _mark(row: SlateRow, keys: str, line: int, at: int) -> MarkGiven:
    if keys in _PLAIN:
        return MarkGiven(step=row.step, mark=_PLAIN[keys], unreadable=keys == "?")
    known = {error.letter: error.id for error in row.errors} | {OTHER_ERROR: OTHER_ERROR}
    flags = "".join(key for key in "fp" if key in keys)
    errors = []
    for place, key in enumerate(keys):
        if key in flags:
            continue
        if key not in known:
            has = ", ".join(sorted(known)) or "none"
            raise _fault(line, at + place, f"step {row.number} has no error {key!r}; its letters are {has}.")
        errors.append(known[key])
    if not errors:
        raise _fault(line, at, f"{keys!r} goes with an error: write its letter first, such as af.")
    return MarkGiven(
        step=row.step,
        mark=Mark.ERROR,
        errors=tuple(dict.fromkeys(errors)),
        prompted="p" in flags,
        fixed_self="f" in flags,
    )


def _fault(line: int, at: int, sentence: str) -> RefusedError:
    return RefusedError(f"Line {line}, column {at}: {sentence} Nothing was saved.")
