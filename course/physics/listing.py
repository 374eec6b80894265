"""The registered quantities as they are listed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from course.physics.quantity import Choice, Input, Quantity, Text
from course.physics.result import DEFERS


def names(quantities: Iterable[Quantity]) -> str:
    """Return one line for each: name, unit, what it is."""
    rows = [(one.name, one.unit or "-", one.what) for one in quantities]
    width, unit = (max(len(row[column]) for row in rows) for column in (0, 1))
    return "\n".join([f"{row[0]:<{width}}  {row[1]:<{unit}}  {row[2]}" for row in rows] + ["", DEFERS])


def about(one: Quantity) -> str:
    """Return all of one quantity: its inputs with units and ranges, its equation in words, source and cautions."""
    lines = [f"{one.name}: {one.what}{f', in {one.unit}' if one.unit else ''}", "takes:"]
    lines += [f"  {_input(each)}" for each in one.inputs]
    lines += [f"equation: {one.words}", f"rounded: {one.side}", f"source: {one.source}", f"valid: {one.validity}"]
    return "\n".join([*lines, *one.cautions, DEFERS])


def reference(groups: Mapping[str, Iterable[Quantity]]) -> str:
    """Return every quantity as the guide's tables (Markdown), group by group."""
    parts = [_REFERENCE_HEAD.format(defers=DEFERS)]
    for title, quantities in groups.items():
        rows = [f"| {' | '.join(map(_cell, reference_row(one)))} |" for one in quantities]
        parts.append("\n".join([f"## {title}", "", _line(REFERENCE), _line(["---"] * len(REFERENCE)), *rows]))
    return "\n\n".join(parts) + "\n"


REFERENCE = ("Name", "What", "Unit", "Takes", "Equation", "Rounded", "Source", "Valid", "Cautions")
_REFERENCE_HEAD = """# Every figure

Made from the registry that the Figures page and `course calc` read; nothing is written here by hand.
{defers}
Outside of what is valid there is a reason instead of a number; a number is rounded once, last, to the side that is
named."""


def reference_row(one: Quantity) -> tuple[str, ...]:
    """Return all of one quantity as the cells of a table."""
    return (
        one.name, one.what, one.unit or "-", "; ".join(_input(each).replace("; ", ", ") for each in one.inputs),
        one.words, str(one.side), one.source, one.validity, " ".join(one.cautions),
    )  # fmt: skip


def _line(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("*", "\\*").replace("<", "&lt;")


def entry(one: Quantity) -> dict[str, Any]:
    """Return all of one quantity as JSON takes it."""
    return {
        "name": one.name,
        "what": one.what,
        "unit": one.unit,
        "inputs": [_plain(each) for each in one.inputs],
        "equation": one.words,
        "rounded": one.side,
        "source": one.source,
        "validity": one.validity,
        "cautions": [*one.cautions, DEFERS],
    }


def _input(each: Input | Choice | Text) -> str:
    if isinstance(each, Text):
        return f"{each.key}: {each.what}"
    if isinstance(each, Choice):
        return f"{each.key}: {each.what}; one of {', '.join(each.options)}{_default(each.default)}"
    unit = f" {each.unit}" if each.unit else ""
    band = ", from-to" if each.banded else ""
    usual = ", may be left out" if each.optional else _default(each.default)
    return f"{each.key}: {each.what}; {each.lowest:g} to {each.highest:g}{unit}{band}{usual}"


def _default(default: object) -> str:
    if default is None:
        return ""
    if isinstance(default, tuple):
        return f", usually {default[0]:g}..{default[1]:g}"
    return f", usually {default:g}" if isinstance(default, int | float) else f", usually {default}"


def _plain(each: Input | Choice | Text) -> dict[str, Any]:
    if isinstance(each, Text):
        return {"key": each.key, "what": each.what, "kind": "text"}
    if isinstance(each, Choice):
        return {"key": each.key, "what": each.what, "kind": "choice", "options": each.options, "default": each.default}
    return {
        "key": each.key,
        "what": each.what,
        "kind": "band" if each.banded else "number",
        "unit": each.unit,
        "lowest": each.lowest,
        "highest": each.highest,
        "default": each.default,
        "optional": each.optional,
    }
