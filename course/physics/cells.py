"""What oxygen cells read, and what a healthy-looking reading does not prove.

A cell's millivolts follow the partial pressure of oxygen at its face: of dry gas, less the water vapour in moist air.
The manual rules on every limit; numbers named as common practice are examples.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from course.errors import RefusedError
from course.physics.constants import ATMOSPHERE_BAR, DRY_AIR_OXYGEN
from course.physics.gas import saturation_kpa
from course.physics.pressure import Real

FEWEST_READINGS = 3
FEWEST_DAYS = 14
READING_MONTH = timedelta(days=30)


def po2_in_air(surface: Real, humidity: Real = 0.0, celsius: Real = 20.0) -> Real:
    """Return the partial pressure of oxygen in air in bar.

    Args:
        surface: bar.
        humidity: relative, 0 to 1.
        celsius: of the air at the cell's face.
    """
    return DRY_AIR_OXYGEN * (surface - humidity * saturation_kpa(celsius) / 100)


def expected_mv(mv_air: Real, po2_air: Real, po2: Real) -> Real:
    """Return the millivolts that a straight cell shows at another PO2; in dry air and oxygen 4.773 times as many."""
    return mv_air * po2 / po2_air


def sea_level_mv(mv_air: Real, po2_air: Real) -> Real:
    """Return the millivolts that the same cell would show in dry air at 1.01325 bar."""
    return expected_mv(mv_air, po2_air, DRY_AIR_OXYGEN * ATMOSPHERE_BAR)


def straightness(mv: Real, expected: Real) -> Real:
    """Return what a cell shows as a share of what a straight one would."""
    return mv / expected


def po2_meant(shown: Real, assumed: Real, real: Real) -> Real:
    """Return the real PO2 behind a shown one, where calibration assumed one PO2 and the gas had another; all in bar."""
    return shown * real / assumed


def voted(readings: Sequence[Real]) -> Real:
    """Return what three cells are voted to show: the mean of the two that are nearest each other.

    Where both pairs are as near, the middle one. Common practice; units differ, and the manual says how this one does.
    """
    low, middle, high = np.sort(np.stack(np.broadcast_arrays(*readings)), axis=0)
    below, above = middle - low, high - middle
    pair = np.where(below < above, (low + middle) / 2, (middle + high) / 2)
    found: Real = np.where(np.abs(below - above) < 1e-12, middle, pair)[()]
    return found


def shown_by(po2: Real, gain: Real, limit: Real) -> Real:
    """Return what a cell shows that reads a share of the PO2 and never more than its current limit."""
    return np.minimum(po2 * gain, limit)


@dataclass(frozen=True)
class CellReading:
    """One reading in air, as millivolts in dry air at 1.01325 bar, and its day."""

    day: date
    mv: float

    def __str__(self) -> str:
        return f"{self.day} {self.mv:g}"


def drift_percent(readings: Sequence[CellReading]) -> float:
    """Return by how many percent a cell's reading in air changes in 30 days, by the median slope (Theil and Sen).

    One odd reading does not turn a median.

    Raises:
        RefusedError: fewer than three readings, less than two weeks apart, or a reading that is none.
    """
    from scipy.stats import theilslopes  # noqa: PLC0415 - takes more than a second, and only drift needs it

    if any(not (np.isfinite(one.mv) and one.mv > 0) for one in readings):
        raise RefusedError("A reading in air is more than no millivolts.")
    days = np.array([one.day.toordinal() for one in readings], dtype=np.float64)
    if len(readings) < FEWEST_READINGS or np.ptp(days) < FEWEST_DAYS:
        raise RefusedError(f"Too few readings to say: it takes {FEWEST_READINGS} over at least {FEWEST_DAYS} days.")
    slope, level = theilslopes([one.mv for one in readings], days - days.min())[:2]
    return float(100 * slope * READING_MONTH.days / level)


def age_days(made: date, on: date) -> int:
    """Return how old a cell is, counted from the day it was made and not from when it was fitted.

    Raises:
        RefusedError: it would not be made yet.
    """
    if made > on:
        raise RefusedError(f"A cell made on {made} is not there on {on}.")
    return (on - made).days


def read_day(text: str) -> date:
    """Read a day.

    Raises:
        RefusedError: it is none.
    """
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise RefusedError(f"{text!r} is no day like 2026-10-25.") from None


def read_readings(text: str) -> tuple[CellReading, ...]:
    """Read readings as they are typed: day and millivolts, parted by semicolons.

    Raises:
        RefusedError: a piece cannot be read.

    >>> len(read_readings("2026-01-10 10.4; 2026-03-01 10.2"))
    2
    """
    found = []
    for piece in filter(None, map(str.strip, text.split(";"))):
        try:
            day, mv = piece.split()
            found.append(CellReading(date.fromisoformat(day), float(mv)))
        except ValueError:
            raise RefusedError(f"{piece!r} is no reading. Write day and millivolts, such as 2026-01-10 10.4.") from None
    return tuple(sorted(found, key=lambda one: one.day))
