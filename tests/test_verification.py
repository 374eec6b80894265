"""The table of what was verified names files and tests that are there, and each row says how it stands."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

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
