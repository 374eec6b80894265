"""A quantity that can be asked: what goes in with units and ranges, what comes out, and where that is known from.

Each is registered once. `answer` is what pages and commands ask; `over` answers for a million points at once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from course.errors import RefusedError
from course.physics.gas import SLACK
from course.physics.pressure import Mode
from course.physics.result import Answer, Band, Given, NoResult, Result, Side, rounded

_REAL_PRESSURES = frozenset({"altitude", "barometer", "pressure"})
_NOT_FINITE = "The equation has no finite value here."
_STEPS_BETWEEN = 9
Range: TypeAlias = tuple[float, float]
Equation: TypeAlias = Callable[..., Any]


@dataclass(frozen=True)
class Input:
    """A number that goes in; a `banded` one is never known and is given from-to."""

    key: str
    what: str
    unit: str
    lowest: float
    highest: float
    default: float | Range | None = None
    banded: bool = False
    optional: bool = False


@dataclass(frozen=True)
class Choice:
    """One of a few words that goes in."""

    key: str
    what: str
    options: tuple[str, ...]
    default: str | None = None


@dataclass(frozen=True)
class Text:
    """Something written in a form of its own, such as the exposures of a day."""

    key: str
    what: str
    read: Callable[[str], Any]


@dataclass(frozen=True)
class Rule:
    """What must hold of the inputs together, over floats or arrays, and what is said where it does not."""

    holds: Equation
    otherwise: str | Callable[..., str]

    def why(self, **known: Any) -> str:
        """Say it for single values."""
        return self.otherwise if isinstance(self.otherwise, str) else self.otherwise(**known)


@dataclass(frozen=True)
class Points:
    """A quantity over arrays: values in its unit, exact, and where they are valid; elsewhere there is no number."""

    values: NDArray[np.float64]
    valid: NDArray[np.bool_]
    unit: str

    def numbers(self) -> NDArray[np.float64]:
        """Return the valid values, in order."""
        return self.values if self.valid.all() else self.values[self.valid]


@dataclass(frozen=True)
class Quantity:
    """One registered quantity; `side` is where its number may be rounded to.

    `rules` hold of the inputs; `found_rules` of the number, which they take as `found`, and the inputs.
    """

    name: str
    what: str
    unit: str
    inputs: tuple[Input | Choice | Text, ...]
    words: str
    equation: Equation
    source: str
    validity: str
    side: Side
    decimals: int
    cautions: tuple[str, ...] = ()
    rules: tuple[Rule, ...] = ()
    found_rules: tuple[Rule, ...] = ()
    meaning: Callable[..., str] | None = None

    @property
    def banded(self) -> tuple[Input, ...]:
        """The inputs that are given from-to."""
        return tuple(i for i in self.inputs if isinstance(i, Input) and i.banded)

    def answer(self, **given: Any) -> Answer:
        """Return the number, the band over what is not known, or the reason for none.

        Args:
            given: by the inputs' keys, in their units; banded ones as (from, to).

        Raises:
            RefusedError: a key is unknown or missing, or a banded input is a single number.
        """
        values = self.filled(given)
        if not self.banded:
            return self.point(**values)
        return self._band(values, [self.point(**{**values, **corner}) for corner in self.corners(values)])

    def corners(self, given: Mapping[str, Any]) -> list[dict[str, float]]:
        """Return every combination of the ends of the banded inputs, their usual ends where none are given.

        Raises:
            RefusedError: one is a single number, or not from-to.
        """
        bands = []
        for one in self.banded:
            ends = given.get(one.key, one.default)
            if not (isinstance(ends, tuple) and len(ends) == 2 and not ends[0] >= ends[1]):
                raise RefusedError(
                    f"{self.name}: {one.key} ({one.what}) is never one number. Give it from-to, such as "
                    f"{one.key}={_range(one)}. Nothing was computed."
                )
            bands.append([(one.key, end) for end in ends])
        return [dict(corner) for corner in product(*bands)]

    def point(self, **given: Any) -> Result | NoResult:
        """Return the answer at one value of each input, also of the banded ones."""
        values = self.filled(given)
        known = self._known(values)
        reason = self._why_not(values)
        if reason is None:
            try:
                exact = float(self.equation(**known))
            except RefusedError as refusal:
                reason = str(refusal)
            except ArithmeticError:
                reason = _NOT_FINITE
            else:
                if not math.isfinite(exact):
                    reason = _NOT_FINITE
                elif broken := next((r for r in self.found_rules if not r.holds(found=exact, **known)), None):
                    reason = broken.why(**known)
                else:
                    return self._result(values, exact)
        return NoResult(
            self.name, reason, _mode(values), self._given(values), self.source, self.validity, self.cautions
        )

    def over(self, **given: Any) -> Points:
        """Return the quantity over arrays that fit each other; choices are single words.

        Raises:
            RefusedError: a key is unknown or missing.
        """
        values = self.filled(given)
        known = {
            key: value if isinstance(value, str) else np.asarray(value, dtype=np.float64)
            for key, value in self._known(values).items()
        }
        inside: Any = True
        for one in self.inputs:
            if isinstance(one, Input) and one.key in known:
                inside = inside & _within(one, np.asarray(known[one.key]))
        with np.errstate(all="ignore"):  # points outside are told by the mask
            for rule in self.rules:
                held = np.asarray(rule.holds(**known))
                if held.ndim == 0 and not held:  # for none of the points, such as an input that is left out
                    shape = np.broadcast_shapes(*(v.shape for v in known.values() if isinstance(v, np.ndarray)))
                    return Points(np.full(shape, np.nan), np.zeros(shape, dtype=np.bool_), self.unit)
                inside = inside if held.all() else inside & held
            found = np.asarray(self.equation(**known), dtype=np.float64)
            for rule in self.found_rules:
                held = np.asarray(rule.holds(found=found, **known))
                inside = inside if held.all() else inside & held
            if not np.isfinite(found.sum()):  # one look instead of one for each point, where all are
                inside = inside & np.isfinite(found)
        return Points(found, np.broadcast_to(np.asarray(inside), found.shape), self.unit)

    def filled(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """Return what was given, with the defaults of the rest.

        Raises:
            RefusedError: a key is unknown or missing.
        """
        keys = [one.key for one in self.inputs]
        if unknown := sorted(set(given) - set(keys)):
            raise RefusedError(f"{self.name} takes no {unknown[0]}. It takes: {', '.join(keys)}. Nothing was computed.")
        values: dict[str, Any] = {}
        for one in self.inputs:
            default = None if isinstance(one, Text) else one.default
            values[one.key] = _chosen(one, given.get(one.key, default))
            if values[one.key] is None and not (isinstance(one, Input) and one.optional):
                raise RefusedError(f"{self.name} needs {one.key}: {one.what}. Nothing was computed.")
        return values

    def _known(self, values: Mapping[str, Any]) -> dict[str, Any]:
        return {key: value for key, value in values.items() if value is not None}

    def _why_not(self, values: Mapping[str, Any]) -> str | None:
        """Why there is no number for these single values."""
        for one in self.inputs:
            value = values[one.key]
            if value is not None and (reason := _input_fault(one, value)):
                return reason
        known = self._known(values)
        for rule in self.rules:
            if not rule.holds(**known):
                return rule.why(**known)
        return None

    def _result(self, values: Mapping[str, Any], exact: float) -> Result:
        meaning = self.meaning(exact, **self._known(values)) if self.meaning else ""
        return Result(
            self.name, rounded(exact, self.side, self.decimals), self.unit, exact, self.side, self.decimals,
            _mode(values), self._given(values), self.source, self.validity, self.cautions, meaning,
        )  # fmt: skip

    def _band(self, values: Mapping[str, Any], corners: list[Result | NoResult]) -> Band:
        numbers = sorted(
            (one for one in (*corners, *self._between(values, corners)) if isinstance(one, Result)),
            key=lambda one: one.exact,
        )
        reasons = tuple(dict.fromkeys(c.reason for c in corners if isinstance(c, NoResult)))
        return Band(
            self.name, numbers[0] if numbers else None, numbers[-1] if numbers else None, reasons, _mode(values),
            self._given(values), self.source, self.validity, self.cautions,
        )  # fmt: skip

    def _between(self, values: Mapping[str, Any], corners: list[Result | NoResult]) -> list[Result | NoResult]:
        """The lowest and the highest in between, where every end has a number: some quantities bend there."""
        if not all(isinstance(one, Result) for one in corners):
            return []
        axes = [np.linspace(values[one.key][0], values[one.key][1], _STEPS_BETWEEN) for one in self.banded]
        grid = dict(zip((one.key for one in self.banded), map(np.ravel, np.meshgrid(*axes)), strict=True))
        points = self.over(**{**values, **grid})
        if not points.valid.all():
            return []
        places = (int(np.argmin(points.values)), int(np.argmax(points.values)))
        return [self.point(**{**values, **{key: float(at[place]) for key, at in grid.items()}}) for place in places]

    def _given(self, values: Mapping[str, Any]) -> tuple[Given, ...]:
        told = []
        for one in self.inputs:
            value: Any = values[one.key]
            if isinstance(one, Input) and isinstance(value, tuple):
                value = f"{value[0]:g}..{value[1]:g}"
            elif isinstance(value, tuple):
                value = "; ".join(map(str, value))
            if value is not None:
                number = isinstance(value, int | float)
                unit = one.unit if isinstance(one, Input) else ""
                told.append(Given(one.key, float(value) if number else str(value), unit))
        return tuple(told)


def _input_fault(one: Input | Choice | Text, value: Any) -> str | None:
    """What is wrong with one value."""
    if isinstance(one, Choice):
        return None if value in one.options else f"{one.key} is one of: {', '.join(one.options)}."
    if isinstance(one, Text):
        return None
    if isinstance(value, bool) or not isinstance(value, int | float | np.floating):
        return f"{one.key} ({one.what}) " + (
            "is one number, not from-to." if isinstance(value, tuple) else "has to be a number."
        )
    if math.isnan(value):
        return f"{one.key} ({one.what}) is not a number."
    if not one.lowest - SLACK <= value <= one.highest + SLACK:
        return (
            f"{one.key} ({one.what}) is {value:g} {one.unit}".rstrip()
            + f"; this holds from {one.lowest:g} to {one.highest:g}."
        )
    return None


def _chosen(one: Input | Choice | Text, value: Any) -> Any:
    """The word of a closed list that somebody wrote as plain text, as the list's own."""
    if isinstance(one, Choice):
        return next((option for option in one.options if option == value), value)
    return value


def _within(one: Input, values: NDArray[np.float64]) -> NDArray[np.bool_] | bool:
    """Where values are in an input's range; one look at both ends where all are (NaN is inside nothing)."""
    if values.size and values.min() >= one.lowest and values.max() <= one.highest:
        return True
    return (values >= one.lowest - SLACK) & (values <= one.highest + SLACK)


def _mode(values: Mapping[str, Any]) -> Mode | None:
    """The mode that was asked for; real pressures that go in are physical; None where no surface pressure does."""
    if values.get("mode") in set(Mode):
        return Mode(values["mode"])
    return Mode.PHYSICAL if _REAL_PRESSURES & values.keys() else None


def _range(one: Input) -> str:
    low, high = one.default if isinstance(one.default, tuple) else (one.lowest, one.highest)
    return f"{low:g}..{high:g}"
