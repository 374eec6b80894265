"""A table that a phone shows as one block a row, each value behind its column's word; nothing of it is Markdown."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from html import escape
from itertools import groupby

import streamlit as st

_SHORT = 24
"""Letters of a value that stands beside others on a phone; a longer one has lines of its own."""


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    right: Collection[int] = (),
    *,
    groups: Sequence[str] = (),
) -> None:
    """Show a table without vertical lines.

    Args:
        head: the columns' words.
        rows: what stands in them, as text.
        right: columns of numbers, which stand at the right.
        groups: for each row what it belongs to; rows of one group follow each other under its name.
    """
    st.html(_whole(head, rows, right, groups or [""] * len(rows)))


def _whole(head: Sequence[str], rows: Sequence[Sequence[str]], right: Collection[int], groups: Sequence[str]) -> str:
    heads = "".join(f'<th scope="col"{_side(place, right)}>{escape(name)}</th>' for place, name in enumerate(head))
    bodies = []
    for group, own in groupby(zip(groups, rows, strict=True), lambda pair: pair[0]):
        name = (
            f'<tr class="group"><th scope="rowgroup" colspan="{len(head)}">{escape(group)}</th></tr>' if group else ""
        )
        lines = "".join(f"<tr>{_cells(head, row, right)}</tr>" for _, row in own)
        bodies.append(f"<tbody>{name}{lines}</tbody>")
    return f'<table class="course-table"><thead><tr>{heads}</tr></thead>{"".join(bodies)}</table>'


def _cells(head: Sequence[str], row: Sequence[str], right: Collection[int]) -> str:
    return "".join(
        f'<td data-head="{escape(name)}"{_side(place, right, text)}>{escape(text)}</td>'
        for place, (name, text) in enumerate(zip(head, row, strict=True))
    )


def _side(place: int, right: Collection[int], text: str = "") -> str:
    if place in right:
        return ' class="right"'
    return ' class="long"' if len(text) > _SHORT else ""
