"""A page of a slate sheet as measured, before it is drawn: what stands where, and the three sizes of paper.

A4 and A5 are those of ISO 216; the small one for the water is A6 of the same row.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reportlab.lib.units import mm

from course.errors import PaperError
from course.paper.slate_text import Area, Drawn, Words

SlateSize = Literal["a4", "a5", "small"]
MARGIN = 6 * mm
GAP = 1 * mm
BAR = 1.4 * mm
THIN, BOLD_LINE = 0.6, 2.0
"""Strokes of boxes."""
HAIR, STRONG = 0.4, 1.2
"""Strokes of rules."""

TypeSizes = tuple[float, float]
"""Points of a step's text, and of its errors."""


@dataclass(frozen=True)
class Form:
    """How a size of paper is set; lengths in points."""

    width: float
    height: float
    code_side: float
    lead: float
    """Type of the skill's title, and the largest of names and initials."""
    small: float
    """Type of head, foot and labels."""
    number: float
    least_text: float
    """The narrowest column for steps and errors; more students than leave this room go on to another page."""
    least_column: float
    """With 1 mm between them a box is then 9.5 mm wide on the small sheet and 11 on the others: a cross and its
    letter in 5 mm gloves. Narrow columns are taken only where they save a page."""
    most_column: float
    types: tuple[TypeSizes, ...]
    """From large to small: the largest that takes the fewest pages is used."""
    mark: float
    """The least height of a box for a stroke."""
    most_row: float
    """Rows grow up to this where there is room."""
    pad: float
    """Above and below what stands in a row."""


FORMS: dict[str, Form] = {
    "a4": Form(
        210 * mm, 297 * mm, 24 * mm, 18, 9.5, 18, 80 * mm, 12 * mm, 18 * mm, ((18, 12), (12, 9.5), (9.5, 8)),
        9 * mm, 20 * mm, 1.2 * mm,
    ),
    "a5": Form(
        148 * mm, 210 * mm, 21 * mm, 12, 8, 18, 55 * mm, 12 * mm, 16 * mm, ((12, 9.5), (9.5, 8), (8, 8)),
        8 * mm, 17 * mm, 1.2 * mm,
    ),
    "small": Form(
        105 * mm, 148 * mm, 18 * mm, 12, 8, 12, 46 * mm, 10.5 * mm, 12.5 * mm, ((9.5, 8), (8, 8)),
        7 * mm, 14 * mm, 0.8 * mm,
    ),
}  # fmt: skip
"""ISO 216: A4 is 210 by 297 mm, A5 148 by 210 mm, A6 105 by 148 mm."""


def form_of(size: str) -> Form:
    """Return how a size is set.

    Raises:
        PaperError: there is no such size.
    """
    if size not in FORMS:
        raise PaperError(f'There is no slate of size "{size}". Take a4, a5 or small. Nothing was printed.')
    return FORMS[size]


@dataclass(frozen=True)
class Box:
    """A box for a pencil. `whom` is student and try, where it is theirs alone; `room` is the part left to write in."""

    area: Area
    what: Literal["mark", "own mark", "value", "whole", "attempt", "from", "to", "initials", "notes"]
    room: Area
    whom: tuple[str, int] | None = None
    step: str = ""


@dataclass(frozen=True)
class Grey:
    """An area that the unit has nothing for: grey, and hatched where a stroke would otherwise go."""

    area: Area
    hatched: bool
    whom: tuple[str, int] | None = None
    step: str = ""


@dataclass(frozen=True)
class Filled:
    """A black area: the bold bar."""

    area: Area
    step: str


@dataclass(frozen=True)
class Ruled:
    """A level line."""

    x: float
    y: float
    width: float
    stroke: float


@dataclass(frozen=True)
class Code:
    """The square code with its quiet zone inside the area."""

    area: Area
    text: str


Item = Words | Drawn | Box | Grey | Filled | Ruled | Code


@dataclass(frozen=True)
class SlatePage:
    """One page: its size in points, what stands on it from back to front, and where it begins in the sheet."""

    width: float
    height: float
    items: tuple[Item, ...]
    code: str
    title: str
    part: int
    parts: int
