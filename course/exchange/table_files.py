"""The tables of an audit file on their way to a folder, all of them at once and line by line; and their comparison."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from itertools import zip_longest
from pathlib import Path
from typing import TextIO

from course.answers.audit_tables import Row
from course.answers.csv_text import csv_head, csv_line
from course.exchange.archive import Archive
from course.exchange.bundle import Fault

FOLDER = "tables"
_LONGEST_ROW = 1_000_000
_MOST_TOLD = 3


class TableFiles:
    """One CSV file for each table, in a folder; a table without rows is its head alone.

    Args:
        folder: where; it is there.
        columns: every table with its columns.
    """

    def __init__(self, folder: Path, columns: Mapping[str, Sequence[str]]) -> None:
        self._held = ExitStack()
        self.files = {name: folder / f"{name}.csv" for name in columns}
        self._out: dict[str, TextIO] = {}
        for name, file in self.files.items():
            self._out[name] = self._held.enter_context(file.open("w", encoding="utf-8", newline=""))
            self._out[name].write(csv_head(columns[name]))

    def write(self, rows: Iterable[Row]) -> None:
        """Add rows, each to its table."""
        for name, row in rows:
            self._out[name].write(csv_line(row))

    def close(self) -> None:
        """Have everything in the files."""
        self._held.close()


def member_of(table: str) -> str:
    """Return a table's name in the zip."""
    return f"{FOLDER}/{table}.csv"


def compare(archive: Archive, table: str, derived: Path) -> Iterator[Fault]:
    """Compare a table in a file with the one that its events tell; name the first lines that differ."""
    name = member_of(table)
    with derived.open("rb") as own:
        told = 0
        for number, (there, ours) in enumerate(
            zip_longest((line for _, line in archive.lines(name, _LONGEST_ROW)), own), 1
        ):
            ours_line = None if ours is None else ours.rstrip(b"\n")
            if there == ours_line:
                continue
            told += 1
            if told > _MOST_TOLD:
                yield Fault(name, number, "there are more lines that differ")
                return
            yield Fault(name, number, _difference(there, ours_line))


def _difference(there: bytes | None, ours: bytes | None) -> str:
    if there is None:
        return f"it ends here, and the events tell one more: {_shown(ours)}"
    if ours is None:
        return f"the events tell nothing of this line: {_shown(there)}"
    return f"it says {_shown(there, ours)} where the events tell {_shown(ours, there)}"


def _shown(line: bytes | None, other: bytes | None = None) -> str:
    """The cells that differ, or the first few of a whole line."""
    cells = (line or b"").decode("utf-8", "replace").strip("\r").split(",")
    others = (other or b"").decode("utf-8", "replace").strip("\r").split(",")
    if other is not None and len(cells) == len(others):
        cells = [cell for cell, another in zip(cells, others, strict=True) if cell != another]
    return ", ".join(cells[:3])[:120]
