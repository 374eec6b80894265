"""A registered quantity along one of its inputs, for a picture: one curve for each end of what is not known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from course.errors import RefusedError
from course.physics.canister import breaths
from course.physics.quantity import Input, Quantity, Range
from course.physics.result import Given, NoResult

MOST_STOPS = 2000


@dataclass(frozen=True)
class Curve:
    """One curve: its places along the input and the values there, exact; `ended` says why it stops before the rest."""

    over: tuple[Given, ...]
    places: tuple[float, ...]
    values: tuple[float, ...]
    ended: str = ""


@dataclass(frozen=True)
class Series:
    """Curves of one quantity in one unit along one input in its own."""

    quantity: str
    along: str
    along_unit: str
    unit: str
    curves: tuple[Curve, ...]
    source: str
    validity: str
    cautions: tuple[str, ...]


def series(quantity: Quantity, along: str, places: Sequence[float], **given: Any) -> Series:
    """Return a quantity along one input; a curve stops where it stops being valid, and says why.

    Args:
        quantity: any registered one.
        along: the key of one of its inputs that is no band.
        places: its values there, rising or falling, in its unit.
        given: the other inputs; banded ones as (from, to), their defaults otherwise.

    Raises:
        RefusedError: the input is none of the quantity's, there are too many places, or a band is one number.
    """
    line = next((one for one in quantity.inputs if isinstance(one, Input) and one.key == along), None)
    if line is None or line.banded:
        raise RefusedError(f"{quantity.name} has no input {along!r} that a curve can run along.")
    if not 0 < len(places) <= MOST_STOPS:
        raise RefusedError(f"A curve has 1 to {MOST_STOPS} places, not {len(places)}.")
    curves = [_curve(quantity, along, places, given, corner) for corner in quantity.corners(given)]
    return Series(
        quantity.name, along, line.unit, quantity.unit, tuple(curves), quantity.source, quantity.validity,
        quantity.cautions,
    )  # fmt: skip


def _curve(
    quantity: Quantity, along: str, places: Sequence[float], given: dict[str, Any], corner: dict[str, float]
) -> Curve:
    points = quantity.over(**{**given, **corner, along: np.asarray(places, dtype=np.float64)})
    valid = np.broadcast_to(points.valid, (len(places),))
    values = np.broadcast_to(points.values, (len(places),))
    many = len(places) if valid.all() else int(np.argmin(valid))
    over = tuple(Given(one.key, corner[one.key], one.unit) for one in quantity.banded)
    ended = ""
    if many < len(places):
        after = quantity.point(**{**given, **corner, along: float(places[many])})
        ended = after.reason if isinstance(after, NoResult) else ""
    return Curve(over, tuple(map(float, places[:many])), tuple(map(float, values[:many])), ended)


def co2_breath_by_breath(
    count: int, *, beside: float, back: float, vo2: Range, quotient: float = 0.9, ventilation: Range = (20.0, 30.0)
) -> tuple[Curve, ...]:
    """Return carbon dioxide breathed in, in kPa, over minutes from a clean loop, for both ends of the work.

    Args:
        count: how many breaths.
        beside: share of the breath out that passes the canister untouched.
        back: share of the breath in that a leaking one-way valve lets back.
        vo2: litres a minute, from and to.
        quotient: litres of carbon dioxide for one of oxygen.
        ventilation: breathed litres a litre of oxygen, from and to.

    Raises:
        RefusedError: a share is outside 0 to 0.5, or there are too many breaths.
    """
    if not (0 <= beside <= 0.5 and 0 <= back <= 0.5):
        raise RefusedError("The shares of gas that comes back lie between 0 and 0.5. Nothing was computed.")
    if not 0 < count <= MOST_STOPS:
        raise RefusedError(f"A curve has 1 to {MOST_STOPS} breaths, not {count}.")
    tidal, curves = 2.0, []
    for used, breathed in product(vo2, ventilation):
        litres = breathed * used
        values = breaths(count, vco2=used * quotient, ventilation=litres, beside=beside, back=back, tidal=tidal)
        places = tuple(breath * tidal / litres for breath in range(1, count + 1))
        over = (Given("vo2", used, "L/min"), Given("ventilation", breathed, "L/L"))
        curves.append(Curve(over, places, values))
    return tuple(curves)
