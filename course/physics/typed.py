"""What people type for a quantity: numbers with units, from-to, words; and a question back where it is not clear.

Units are pint's. What has no unit is in the input's own. A depth in feet is what a gauge shows: a pressure, or 10/33 m
of the trade's.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from functools import cache
from typing import Any

from pint import PintError, UnitRegistry

from course.errors import RefusedError
from course.physics.pressure import Mode, shown_m
from course.physics.quantity import Choice, Input, Quantity, Text

_NUMBER = r"[+-]?(?:\d+(?:\.(?!\.)\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_TYPED = re.compile(rf"(?P<low>{_NUMBER})(?:\s*\.\.\s*(?P<high>{_NUMBER}))?\s*(?P<unit>(?:\S.*)?)")
_LONGEST = 200
_UNIT = re.compile(r"%|°?[^\W\d_]\w*(?:\s*/\s*[^\W\d_]\w*)*")
"""Names, and by what they are divided: a power of a number in it could take longer to work out than anybody lives."""
_COMMA = re.compile(r"(?<=\d),(?=\d)")
_DEPTH_UNITS = ("m", "ft", "fsw", "msw")
_NOTHING = "Nothing was computed."
_PINT_NAMES = {"L": "liter", "ata": "atm", "%": "percent", "C": "degC", "F": "degF"}


@cache
def _units() -> UnitRegistry[Any]:
    """Pint's registry; it takes a third of a second to make, so that only what reads units pays for it."""
    return UnitRegistry(autoconvert_offset_to_baseunit=True)


def read(quantity: Quantity, typed: Mapping[str, str]) -> dict[str, Any]:
    """Return what was typed as the quantity's inputs take it, in their units.

    Raises:
        RefusedError: an input that is not known or cannot be read, a unit that does not fit, or a number that may mean
            two things; it says which, and asks.
    """
    known = {one.key: one for one in quantity.inputs}
    for key in typed:
        if key not in known:
            raise RefusedError(f"{quantity.name} takes no {key}. It takes: {', '.join(known)}. {_NOTHING}")
    default = next((i.default for i in quantity.inputs if isinstance(i, Choice) and i.key == "mode"), Mode.PHYSICAL)
    mode = Mode.TRADE if typed.get("mode", default) == Mode.TRADE else Mode.PHYSICAL
    return {key: _value(known[key], text, mode) for key, text in typed.items()}


def _value(one: Input | Choice | Text, text: str, mode: Mode) -> Any:
    if isinstance(one, Text):
        return one.read(text)
    if isinstance(one, Choice):
        if text not in one.options:
            raise RefusedError(f"{one.key} ({one.what}) is one of: {', '.join(one.options)}; not {text!r}. {_NOTHING}")
        return text
    if _COMMA.search(text):
        raise RefusedError(
            f"{one.key} ({one.what}) is {text!r}: write a decimal point, {_COMMA.sub('.', text)}; no number here has a "
            f"comma. {_NOTHING}"
        )
    found = _TYPED.fullmatch(text.strip()) if len(text) <= _LONGEST else None
    if found is None:
        raise RefusedError(f"{one.key} ({one.what}) is {text!r}, which is no number. {_NOTHING}")
    ends = [_number(one, float(part), found["unit"], mode) for part in (found["low"], found["high"]) if part]
    return ends[0] if len(ends) == 1 else tuple(ends)


def _number(one: Input, number: float, unit: str, mode: Mode) -> float:
    """One number in the input's unit."""
    if one.key.startswith("depth") and unit in _DEPTH_UNITS:
        return shown_m(number, unit, mode)
    if not unit:
        _ask(one, number)
        return number
    if one.unit == "K" and _pint_unit(unit) in {"degC", "°C"}:
        return number  # the input is a difference, and a kelvin is as big as a degree
    return _converted(one, number, unit)


def _converted(one: Input, number: float, unit: str) -> float:
    own = _PINT_NAMES.get(one.unit, one.unit)
    takes = one.unit or "no unit, or %"
    refused = RefusedError(f"{one.key} ({one.what}) cannot be in {unit!r}; it takes {takes}. {_NOTHING}")
    if not _UNIT.fullmatch(unit):
        raise refused
    try:
        units = _units()
        value = units.Quantity(number, _pint_unit(unit)).to(_pint_unit(own) or "dimensionless")
    except (PintError, ValueError, TypeError, AttributeError, AssertionError):
        raise refused from None
    found = float(value.magnitude)
    return found if math.isfinite(found) else number


def _pint_unit(unit: str) -> str:
    return "/".join(_PINT_NAMES.get(part, part) for part in unit.split("/"))


def _ask(one: Input, number: float) -> None:
    """Ask back where a bare number is likely to be meant otherwise: 21 for 0.21, 13 for 1.3.

    Raises:
        RefusedError: it is; the question is its text.
    """
    if one.unit == "" and one.highest <= 1 < number <= 100:
        raise RefusedError(
            f"{one.key}={number:g}: is that {number:g} % or a share of {number:g}? A share is at most {one.highest:g}. "
            f"Write {one.key}={number:g}% or {one.key}={number / 100:g}. {_NOTHING}"
        )
    if one.unit in {"bar", "ata"} and "po2" in f"{one.key} {one.what}".lower() and one.highest < number <= 200:
        meant = number / 10 if number < 30 else number / 100
        raise RefusedError(
            f"{one.key}={number:g}: a PO2 in {one.unit} is not above {one.highest:g}. Is {meant:g} meant, or another "
            f"unit? Write it with its unit, such as {one.key}={meant:g}{one.unit}. {_NOTHING}"
        )
