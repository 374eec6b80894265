"""What an asked quantity answers: a number rounded once to the safe side, a band of them, or a reason for none."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any, TypeAlias

from course.physics.gas import SLACK
from course.physics.pressure import Mode

Value: TypeAlias = float | str
DEFERS = (
    "Teaching support. The certifying agency, the unit's manual, local codes and licensed medical and gas practice "
    "decide."
)


class Side(StrEnum):
    """Where rounding may go without looking safer than it is."""

    UP = "up"
    DOWN = "down"
    NEAREST = "nearest"
    """Neither side is the safer one."""
    FROM_NONE = "away from 0"
    FROM_ONE = "away from 1"
    FROM_AIR = "away from 0.21"
    """Both sides harm, too little and too much: the farther from where nothing is wrong, the safer to tell."""


_NOTHING_WRONG = {Side.FROM_NONE: 0.0, Side.FROM_ONE: 1.0, Side.FROM_AIR: 0.21}


def rounded(value: float, side: Side, decimals: int) -> float:
    """Return a value rounded to a side; what differs from a whole step only as floats do counts as whole.

    >>> rounded(10 * (1.4 / 0.28 - 1), Side.DOWN, 0)
    40.0
    >>> rounded(0.155, Side.FROM_AIR, 2), rounded(1.404, Side.FROM_AIR, 2)
    (0.15, 1.41)
    """
    if side in _NOTHING_WRONG:
        side = Side.UP if value >= _NOTHING_WRONG[side] else Side.DOWN
    steps = value * 10**decimals
    match side:
        case Side.UP:
            whole = math.ceil(steps - SLACK)
        case Side.DOWN:
            whole = math.floor(steps + SLACK)
        case _:
            whole = round(steps)
    return float(whole / 10**decimals)


@dataclass(frozen=True)
class Given:
    """One thing that went in."""

    key: str
    value: Value
    unit: str = ""

    def __str__(self) -> str:
        told = self.value if isinstance(self.value, str) else f"{self.value:.6g}"
        return f"{self.key}={told}{' ' if self.unit else ''}{self.unit}"


@dataclass(frozen=True)
class Result:
    """A number with all it needs to be read; `exact` is for computing on, `value` for people."""

    quantity: str
    value: float
    unit: str
    exact: float
    side: Side
    decimals: int
    mode: Mode | None
    inputs: tuple[Given, ...]
    source: str
    validity: str
    cautions: tuple[str, ...]
    meaning: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and math.isfinite(self.exact)):
            raise ValueError("a result is a number; where there is none, say why (NoResult)")

    @property
    def has_number(self) -> bool:
        """Always."""
        return True

    @property
    def told(self) -> str:
        """The number with its unit."""
        return f"{self.value:.{self.decimals}f} {self.unit}".rstrip()

    def plain(self) -> dict[str, Any]:
        """Return it as JSON takes it."""
        return {"kind": "result", **asdict(self), "mode": mode_words(self.mode), "told": self.told}

    def text(self) -> str:
        """Return it as lines to read."""
        return _lines(self, [f"{self.quantity}: {self.told}", self.meaning])


@dataclass(frozen=True)
class NoResult:
    """No number, and why."""

    quantity: str
    reason: str
    mode: Mode | None
    inputs: tuple[Given, ...]
    source: str
    validity: str
    cautions: tuple[str, ...]

    @property
    def has_number(self) -> bool:
        """Never."""
        return False

    def plain(self) -> dict[str, Any]:
        """Return it as JSON takes it."""
        return {"kind": "no result", **asdict(self), "mode": mode_words(self.mode)}

    def text(self) -> str:
        """Return it as lines to read."""
        return _lines(self, [f"{self.quantity}: no number. {self.reason}"])


@dataclass(frozen=True)
class Band:
    """What a quantity is between the ends of what is not known: metabolism, volume, somebody's estimate.

    Where some ends give no number `reasons` says why; where none does, there is neither a lowest nor a highest.
    """

    quantity: str
    lowest: Result | None
    highest: Result | None
    reasons: tuple[str, ...]
    mode: Mode | None
    inputs: tuple[Given, ...]
    source: str
    validity: str
    cautions: tuple[str, ...]

    @property
    def has_number(self) -> bool:
        """Whether any end gives one."""
        return self.lowest is not None

    @property
    def told(self) -> str:
        """Both ends with their unit, or that there is no number; never one number where there are two."""
        if self.lowest is None or self.highest is None:
            return "no number"
        ends = f"{self.lowest.value:.{self.lowest.decimals}f} to {self.highest.told}"
        return f"{ends}; at other ends no number" if self.reasons else ends

    def plain(self) -> dict[str, Any]:
        """Return it as JSON takes it."""
        lowest, highest = (end.plain() if end else None for end in (self.lowest, self.highest))
        own = {"lowest": lowest, "highest": highest, "unit": self.lowest.unit if self.lowest else None}
        return {"kind": "band", **asdict(self), **own, "mode": mode_words(self.mode), "told": self.told}

    def text(self) -> str:
        """Return it as lines to read."""
        ends = [end for end in (self.lowest, self.highest) if end is not None]
        same = set(self.inputs)
        where = [f"{end.told} at {', '.join(str(one) for one in end.inputs if one not in same)}" for end in ends]
        meanings = [end.meaning for end in ends]
        return _lines(self, [f"{self.quantity}: {self.told}", *self.reasons, *where, *dict.fromkeys(meanings)])


Answer: TypeAlias = Result | NoResult | Band


def mode_words(mode: Mode | None) -> str:
    """Return how pressures were reckoned; where no surface pressure is in it both modes give the same."""
    return mode.value if mode else "either, both give the same"


def _lines(answer: Answer, head: list[str]) -> str:
    given = f"{'over' if isinstance(answer, Band) else 'from'}: {', '.join(map(str, answer.inputs))}"
    mode = [f"mode: {mode_words(answer.mode)}"]
    body = [given, *mode, f"source: {answer.source}", f"valid: {answer.validity}"]
    return "\n".join([*filter(None, head), *("  " + line for line in (*body, *answer.cautions, DEFERS))])
