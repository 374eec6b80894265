"""Tables as a person writes them in a spreadsheet: lines, cells, and what is wrong where."""

from __future__ import annotations

import csv
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import TypeVar

from course.errors import Problem, RefusedError
from course.moments import Observed, from_wall_clock, observed_at
from course.standards.plain import did_you_mean
from course.words import plural

_E = TypeVar("_E", bound=StrEnum)


class Fault(Exception):  # noqa: N818 - noted as a problem with its place, never raised to a person
    """What is wrong in one cell of one line, and the way out."""

    def __init__(self, column: str, wrong: str, remedy: str) -> None:
        super().__init__(wrong)
        self.column, self.wrong, self.remedy = column, wrong, remedy


@dataclass(frozen=True)
class Row:
    """One line of one table, read cell by cell. `zone` is that of its wall-clock times."""

    file: str
    line: int
    cells: Mapping[str, str]
    zone: str

    def problem(self, fault: Fault) -> Problem:
        """Return a fault with its place; the column's number stands for a column of letters, counted from 1."""
        columns = list(self.cells)
        place = columns.index(fault.column) + 1 if fault.column in columns else 0
        return Problem(self.file, self.line, place, fault.column, fault.wrong, fault.remedy)

    def text(self, column: str) -> str:
        """Return what has to stand in a cell."""
        if not self.cells[column]:
            raise Fault(column, "The cell is empty.", "Fill it in.")
        return self.cells[column]

    def name(self, column: str, known: Collection[str], what: str) -> str:
        """Return the one known word of a cell."""
        return known_word(self.text(column), column, known, what)

    def names(self, column: str, known: Collection[str], what: str) -> tuple[str, ...]:
        """Return the known words of a cell, between blanks."""
        return tuple(known_word(word, column, known, what) for word in self.cells[column].split())

    def choice(self, column: str, of: type[_E]) -> _E:
        """Return an entry of a closed list."""
        return of(self.name(column, [word.value for word in of], column))

    def number(self, column: str) -> int:
        """Return a whole number."""
        text = self.text(column)
        if not (text.isascii() and text.isdigit() and len(text) <= 6):
            raise Fault(column, f'"{text}" is no whole number.', "Write digits only.")
        return int(text)

    def yes(self, column: str) -> bool:
        """Return whether yes stands in a cell; else it is empty."""
        if self.cells[column] not in ("", "yes"):
            raise Fault(column, f'"{self.cells[column]}" stands here.', "Write yes, or leave it empty.")
        return self.cells[column] == "yes"

    def day(self, column: str) -> str:
        """Return a day of the calendar."""
        return day_of(self.text(column), column)

    def moment(self, column: str) -> Observed:
        """Return a wall-clock time; the column's fold says which showing of an hour that the clocks show twice."""
        fold = self.cells[f"{column}_fold"]
        if fold not in ("", "0", "1"):
            raise Fault(f"{column}_fold", f'"{fold}" is no fold.', "Write 0 for the first showing, 1 for the second.")
        try:
            local = datetime.strptime(self.text(column), "%Y-%m-%d %H:%M")  # noqa: DTZ007 - a wall clock has no zone
        except ValueError:
            raise Fault(column, f'"{self.cells[column]}" is no time.', "Write it like 2026-10-24 23:10.") from None
        try:
            moment = from_wall_clock(local, self.zone, second_time=fold == "1" if fold else None)
        except RefusedError as error:
            raise Fault(column, error.sentence, f"Write 0 or 1 under {column}_fold, or another time.") from None
        return observed_at(moment, self.zone, "minute")

    def times(self, first: str, last: str) -> tuple[Observed, Observed]:
        """Return two times of which the first comes first."""
        start, end = self.moment(first), self.moment(last)
        if end.moment <= start.moment:
            raise Fault(last, "It ends before it begins.", "Put one of the two times right.")
        return start, end

    def parts(self, column: str) -> Iterator[str]:
        """Yield the parts of a cell, between semicolons."""
        yield from (part.strip() for part in self.cells[column].split(";") if part.strip())


def known_word(word: str, column: str, known: Collection[str], what: str) -> str:
    """Return a word that has to be one of those known."""
    if word not in known:
        raise Fault(column, f'There is no {what} "{word}".', did_you_mean(word, known))
    return word


def day_of(text: str, column: str) -> str:
    """Return a text that has to be a day of the calendar."""
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise Fault(column, f'"{text}" is no day.', "Write it like 2026-10-24.") from None


def text_of(folder: Path, name: str, problems: list[Problem]) -> str | None:
    """Return the text of a file; None, and a problem, where it cannot be read."""
    try:
        return (folder / name).read_text(encoding="utf-8-sig")
    except OSError as error:
        problems.append(Problem(name, 0, 0, "", f"The file cannot be read ({error.strerror}).", "Put it there."))
    except UnicodeDecodeError:
        problems.append(Problem(name, 0, 0, "", "The file is not UTF-8.", "Save it again as UTF-8."))
    return None


def read_table(name: str, text: str, columns: Sequence[str], zone: str, problems: list[Problem]) -> list[Row]:
    """Return the lines of a table; its head has to name these columns in this order."""
    table = csv.reader(text.splitlines(), strict=True)
    rows: list[Row] = []
    try:
        if next(table, []) != list(columns):
            remedy = f"Write: {','.join(columns)}"
            problems.append(Problem(name, 1, 0, "", "The first line does not name the columns.", remedy))
            return []
        for cells in table:
            if len(cells) != len(columns):
                wrong = f"{plural(len(cells), 'cell')} where {len(columns)} belong."
                problems.append(Problem(name, table.line_num, 0, "", wrong, "Look for a comma too many or too few."))
                continue
            stripped = dict(zip(columns, (cell.strip() for cell in cells), strict=True))
            rows.append(Row(name, table.line_num, stripped, zone))
    except csv.Error as error:
        wrong = f"The line cannot be read ({error})."
        problems.append(Problem(name, table.line_num, 0, "", wrong, "Look for a quote that is not closed."))
    return rows
