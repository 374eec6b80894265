"""Pressure with depth and altitude, in two modes that never meet in one calculation.

Trade: one bar at the surface and one more every 10 m shown. Physical: the real surface pressure, and what a gauge shows
taken as the pressure it measured. A gauge's metres are a pressure already; the water's density only tells how far down
that is by a tape.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from course.physics.constants import (
    ATMOSPHERE_BAR,
    BAR_PER_FSW,
    BAR_PER_MSW,
    FSW_PER_ATMOSPHERE,
    GAUGE_DENSITY,
    GRAVITY,
)

Real: TypeAlias = "float | NDArray[np.float64]"
"""A number, or as many as an array holds; equations take and give either."""


class Mode(StrEnum):
    """How pressures are reckoned; kept with every answer."""

    TRADE = "trade"
    PHYSICAL = "physical"


class Water(StrEnum):
    """Kinds of water, by their density."""

    POOL_28 = "pool 28 C"
    POOL_20 = "pool 20 C"
    LAKE_10 = "lake 10 C"
    SEA = "sea"


DENSITY = {Water.POOL_28: 996.2, Water.POOL_20: 998.2, Water.LAKE_10: 999.7, Water.SEA: 1025.0}
"""kg/m3. Pools and lake: IAPWS-95; sea: 64 lb/ft3 is 1025.2 (US Navy Diving Manual)."""
LOWEST_M, HIGHEST_M = -5000.0, 11000.0
"""Where the standard atmosphere's first layer holds, in geopotential metres."""
_EARTH_M = 6356766.0


def altitude_bar(altitude_m: Real, *, geometric: bool = True) -> Real:
    """Return the standard pressure at an altitude in metres, in bar.

    Args:
        altitude_m: above sea level, as a map gives it; geopotential metres with `geometric=False`.
        geometric: see above.

    Source: US Standard Atmosphere 1976 and ISO 2533, the first layer.
    """
    height = _EARTH_M * altitude_m / (_EARTH_M + altitude_m) if geometric else altitude_m
    return ATMOSPHERE_BAR * (1 - 0.0065 * height / 288.15) ** 5.25588


def surface_bar(mode: Mode, altitude_m: Real = 0.0, barometer_hpa: Real | None = None) -> Real:
    """Return the surface pressure in bar: 1 in the trade; else the barometer's, or the standard one at an altitude."""
    if mode is Mode.TRADE:
        return 1.0
    return altitude_bar(altitude_m) if barometer_hpa is None else barometer_hpa / 1000


def ambient_bar(depth_m: Real, surface: Real) -> Real:
    """Return the pressure in bar at a depth that a gauge shows in metres. Source: EN 13319 (as summarised)."""
    return surface + depth_m * BAR_PER_MSW


def depth_m(ambient: Real, surface: Real) -> Real:
    """Return the depth in metres that a gauge shows at a pressure in bar."""
    return (ambient - surface) / BAR_PER_MSW


def column_bar(tape_m: Real, density: float) -> Real:
    """Return the pressure in bar of a column of water measured by a tape, in metres, of a density in kg/m3."""
    return density * GRAVITY * tape_m / 1e5


def tape_m(shown_m: Real, density: float) -> Real:
    """Return how deep it is by a tape where a gauge shows so many metres."""
    return shown_m * GAUGE_DENSITY / density


def trade_ata(fsw: Real) -> Real:
    """Return the pressure in atmospheres at a depth in feet of salt water, 33 of them to the atmosphere."""
    return fsw / FSW_PER_ATMOSPHERE + 1


def fsw_bar(fsw: Real) -> Real:
    """Return the gauge pressure in bar of feet of salt water. Source: US Navy Diving Manual, 64 lb/ft3."""
    return fsw * BAR_PER_FSW


def shown_m(depth: float, unit: str, mode: Mode) -> float:
    """Return a depth in metres as a gauge shows them; a foot is 10/33 m in the trade and a pressure otherwise."""
    if unit in {"ft", "fsw"}:
        return depth * (10 / FSW_PER_ATMOSPHERE if mode is Mode.TRADE else BAR_PER_FSW / BAR_PER_MSW)
    return depth


def shown_at(tape: Real, density: float) -> Real:
    """Return the depth in metres that a gauge shows where it is so deep by a tape."""
    return tape * density / GAUGE_DENSITY


def sea_level_depth(depth: Real, surface_at_sea: Real, surface_here: Real) -> Real:
    """Return the depth at sea level at which the ambient pressure is as many times that of the surface.

    Both pressures in one unit; the depth keeps its own. Source: US Navy Diving Manual (1999, change A), p. 9-38.
    """
    return depth * surface_at_sea / surface_here
