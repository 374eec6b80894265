"""A quantity's inputs as a file writes them: each a text with the input's own unit beside it.

A file is read again in ten years by somebody who cannot be asked, so nothing is converted and nothing guessed here:
another unit than the input's own is a fault.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from course.physics.gas import SLACK
from course.physics.quantity import Choice, Input, Quantity, Text
from course.physics.result import NoResult
from course.physics.telling import is_flood

_NUMBER = r"-?\d+(?:\.(?!\.)\d+)?"
_WRITTEN = re.compile(rf"(?P<low>{_NUMBER})(?:\.\.(?P<high>{_NUMBER}))?(?: (?P<unit>\S+))?")


@dataclass(frozen=True)
class Fault:
    """What is wrong with one input, or with all of them together where `key` is empty, and what to do."""

    key: str
    wrong: str
    remedy: str
    unknown: bool = False
    """The key itself is what is wrong."""


def values_of(quantity: Quantity, written: Mapping[str, str]) -> dict[str, Any]:
    """Return what was written as the quantity takes it; only what `faults` finds nothing in can be read."""
    known = {one.key: one for one in quantity.inputs}
    return {key: _value(known[key], text) for key, text in written.items()}


def faults(quantity: Quantity, written: Mapping[str, str]) -> Iterator[Fault]:
    """Yield what is wrong with written inputs: unknown or missing ones, units, ranges, and what gives no number.

    A flood gives none and may be written all the same: it is told, and puts the unit on hold.
    """
    found = [fault for key, text in written.items() for fault in _input_faults(quantity, key, text)]
    found += _missing(quantity, written)
    yield from found
    if not found:
        answer = quantity.answer(**values_of(quantity, written))
        if is_flood(answer):
            return
        if isinstance(answer, NoResult):
            yield Fault("", f"There is no number for this: {answer.reason}", "Write inputs that have one.")
        elif not answer.has_number:
            reasons = " ".join(getattr(answer, "reasons", ()))
            yield Fault("", f"There is no number for this: {reasons}", "Write inputs that have one.")


def _missing(quantity: Quantity, written: Mapping[str, str]) -> Iterator[Fault]:
    for one in quantity.inputs:
        needed = isinstance(one, Text) or (one.default is None and not (isinstance(one, Input) and one.optional))
        if needed and one.key not in written:
            yield Fault("", f"{quantity.name} needs {one.key}: {one.what}.", f"Add {one.key}: {_example(one)}.")


def _input_faults(quantity: Quantity, key: str, text: str) -> Iterator[Fault]:
    known = {one.key: one for one in quantity.inputs}
    one = known.get(key)
    if one is None:
        near = get_close_matches(key, known, 1)
        remedy = f'Did you mean "{near[0]}"?' if near else f"Write one of: {', '.join(known)}."
        yield Fault(key, f'{quantity.name} takes no "{key}".', remedy, unknown=True)
    elif isinstance(one, Choice):
        if text not in one.options:
            yield Fault(key, f'"{text}" is none of its words.', f"Write one of: {', '.join(one.options)}.")
    elif isinstance(one, Text):
        yield Fault(key, f"{quantity.name} is of somebody's days, not of an error.", "Name another quantity.")
    else:
        yield from _number_faults(one, text)


def _number_faults(one: Input, text: str) -> Iterator[Fault]:
    found = _WRITTEN.fullmatch(text)
    if found is None:
        yield Fault(one.key, f'"{text}" is no number with its unit.', f"Write {_example(one)}.")
        return
    if (found["unit"] or "") != one.unit:
        was = f'"{found["unit"]}" is another unit.' if found["unit"] else "The unit is missing."
        way = f"Write the number in {one.unit}, with {one.unit} behind it." if one.unit else "Write the number alone."
        yield Fault(one.key, was if one.unit else "This has no unit.", way)
    ends = [float(part) for part in (found["low"], found["high"]) if part]
    if one.banded and not (len(ends) == 2 and ends[0] < ends[1]):
        yield Fault(one.key, "Nobody knows this while it happens: it is given from-to.", f"Write {_example(one)}.")
    if not one.banded and len(ends) == 2:
        yield Fault(one.key, "This is one number, not from-to.", f"Write {_example(one)}.")
    for end in ends:
        if not one.lowest - SLACK <= end <= one.highest + SLACK:
            held = f"{one.lowest:g} to {one.highest:g} {one.unit}".rstrip()
            yield Fault(one.key, f"{end:g} is outside of what this holds for: {held}.", "Write one that lies inside.")


def _value(one: Input | Choice | Text, text: str) -> Any:
    if not isinstance(one, Input):
        return text
    found = _WRITTEN.fullmatch(text)
    if found is None:
        raise ValueError(f"{text!r} is no number with its unit")
    ends = [float(part) for part in (found["low"], found["high"]) if part]
    return ends[0] if len(ends) == 1 else tuple(ends)


def _example(one: Input | Choice | Text) -> str:
    """How it is written, with its usual value where it has one."""
    if isinstance(one, Choice):
        return f'"{one.options[0]}"'
    if isinstance(one, Text):
        return "it"
    if one.default is None:
        return f"a number in {one.unit}, with {one.unit} behind it" if one.unit else "a number alone"
    usual = one.default
    number = f"{usual[0]:g}..{usual[1]:g}" if isinstance(usual, tuple) else f"{usual:g}"
    return f'"{number} {one.unit}"' if one.unit else f'"{number}"'
