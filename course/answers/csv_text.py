"""Tables as CSV text that a spreadsheet opens as it stands (RFC 4180): quoted, CRLF, with a byte order mark.

A text cell that a spreadsheet could take for a formula begins with an apostrophe.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

_SKIPPED = " \u00a0\u200b\ufeff"
_FORMULA = "=+-@'\t\r\n\uff1d\uff0b\uff0d\uff20"

Cell = str | int | float | None


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Return a table as CSV; None is an empty cell, numbers with a fraction have four places."""
    return csv_head(columns) + "".join(csv_line(row) for row in rows)


def csv_head(columns: Sequence[str]) -> str:
    """Return the mark and the line that a table begins with."""
    return "\ufeff" + csv_line(columns)


def csv_line(row: Sequence[Cell]) -> str:
    """Return one line of a table, with its end."""
    out = io.StringIO()
    csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n").writerow([_cell(cell) for cell in row])
    return out.getvalue()


def _cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        return f"{cell:.4f}"
    text = str(cell)
    first = text.lstrip(_SKIPPED)[:1]
    return f"'{text}" if isinstance(cell, str) and first and first in _FORMULA else text
