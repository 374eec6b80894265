"""Every attack at every kind of place: a row of `hostile_input.csv`, or a reason why it cannot occur there."""

from __future__ import annotations

import pytest
from hostile_matrix import LINES, PLACES, kind_of, matrix, why_not
from test_hostile_input import rows


@pytest.mark.parametrize("line", LINES)
def test_each_attack_is_tried_at_each_kind_of_place_or_cannot_occur_there(line: str) -> None:
    found = matrix(rows())
    assert [place for place in PLACES if not found[line, place] and not why_not(line, place)] == []
    assert [place for place in PLACES if found[line, place] and why_not(line, place)] == []


def test_the_matrix_is_read_out_of_the_table() -> None:
    """It has every kind of place of the table; and where the last row of a cell is taken out, the cell is missed."""
    found = rows()
    assert {kind_of(row) for row in found} == set(PLACES)
    whole = matrix(found)
    cell, ids = min(((cell, ids) for cell, ids in whole.items() if ids), key=lambda one: len(one[1]))
    assert matrix([row for row in found if row.id not in ids])[cell] == []
    assert not why_not(*cell)
