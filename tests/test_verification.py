"""The table of what was verified names files and tests that are there, and each row says how it stands."""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Iterator
from functools import cache
from html import escape
from io import BytesIO
from pathlib import Path

from pydantic import TypeAdapter
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, SimpleDocTemplate, Table

from course.paper.fonts import BOLD, REGULAR, register_fonts
from course.places import ROOT

GUIDE = ROOT / "course" / "guide" / "verification.md"
STATES = {"met", "not met", "not met yet", "not applicable"}
PATH = re.compile(r"`((?:course|tests)/[\w./-]+|[A-Z]+\.md)(?:::(\w+))?`")


@cache
def items() -> list[tuple[str, str, str]]:
    """Every row's item, state and what shows it."""
    cells = [line.strip("|").split(" | ") for line in GUIDE.read_text("utf-8").splitlines() if line.startswith("| ")]
    return [
        (row[0].strip(), re.sub(r" *<!-- access -->", "", row[3]).strip(), row[4].strip())
        for row in cells
        if len(row) == 5 and row[0].strip() != "Item"
    ]


@cache
def names_in(path: Path) -> frozenset[str]:
    """The names of the tests of a file."""
    tree = ast.parse(path.read_text("utf-8"))
    return frozenset(
        node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    )


def test_every_file_and_every_test_that_the_table_names_is_there() -> None:
    named = PATH.findall(GUIDE.read_text("utf-8"))
    assert len(named) > 100
    for file, test in named:
        assert (ROOT / file).is_file(), file
        assert not test or test in names_in(ROOT / file), f"{file}::{test}"


def test_each_item_stands_once_with_a_state_and_what_shows_it_or_why() -> None:
    found = items()
    assert len({item for item, _, _ in found}) == len(found) > 150
    assert {state for _, state, _ in found} <= STATES
    assert [item for item, _, why in found if not why] == []


def test_what_is_met_names_a_file_or_a_known_construction() -> None:
    """Two rows rest on what others made: the system's source of chance, and the length of keys."""
    bare = [item for item, stands, why in items() if stands == "met" and not PATH.search(why)]
    assert bare == ["11.2.3", "11.5.2"]


def test_each_limit_in_the_list_is_the_one_in_the_code() -> None:
    text = GUIDE.read_text("utf-8").partition("## What else has a limit")[2]
    found = re.findall(r"\| (\d+) \w+ \| `course/([\w/]+)\.py`: `(\w+)` \|", text)
    assert len(found) == text.count("`course/") > 10
    for number, file, name in found:
        limit = getattr(importlib.import_module(f"course.{file.replace('/', '.')}"), name)
        schema = limit if isinstance(limit, int) else TypeAdapter(limit).json_schema()["maxLength"]
        assert schema == int(number), name


# --- one page of threats ------------------------------------------------------------------------------------------

SIZE, LEADING, MARGIN = 9, 10.8, 14 * mm
WIDTH = A4[0] - 2 * MARGIN
BODY = ParagraphStyle("body", fontName=REGULAR, fontSize=SIZE, leading=LEADING)
HEAD = ParagraphStyle("head", BODY, fontName=BOLD)


def set_plainly(text: str) -> Iterator[Flowable]:
    """A page of the guide as a printer would set it: heads, paragraphs, points and tables at one size."""
    for block in re.split(r"\n\n+|\n(?=- )", text.strip()):
        if block.startswith("|"):
            rows = [line.strip("| ").split(" | ") for line in block.splitlines() if not line.startswith("|---")]
            shares = {2: (0.5, 0.5), 3: (0.22, 0.18, 0.6)}[len(rows[0])]
            cells = [[Paragraph(escape(cell), BODY) for cell in row] for row in rows]
            bare = [(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("TOP", "BOTTOM", "LEFT")]
            yield Table(cells, [WIDTH * share for share in shares], style=[*bare, ("VALIGN", (0, 0), (-1, -1), "TOP")])
        else:
            yield Paragraph(escape(block.lstrip("# ")), HEAD if block.startswith("#") else BODY)


def pages_of(text: str) -> int:
    """How many pages of A4 it takes."""
    register_fonts()
    sheet = SimpleDocTemplate(
        BytesIO(), pagesize=A4, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN, bottomMargin=MARGIN
    )
    sheet.build(list(set_plainly(text)))
    return int(sheet.page)


def test_the_threats_are_one_page_of_a4_in_nine_points() -> None:
    """Counted in the typeface of the papers."""
    text = (ROOT / "course" / "guide" / "threats.md").read_text("utf-8")
    assert pages_of(text) == 1
    assert pages_of(text + "\n\nOne more line." * 25) == 2
