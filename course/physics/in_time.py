"""The loop by the clock: a diluent flush at a steady flow, and the mouthpiece open breath by breath.

Flows and metabolism are litres a minute at 0 degC, 1 atm and dry, so that they are amounts; volumes are litres as they
are there. Source of every equation: mole balance of a well mixed loop; each is held against a mole-by-mole integration
in the tests.
"""

from __future__ import annotations

import numpy as np

from course.physics.constants import LOOP_CELSIUS
from course.physics.loop import fall_bar_min, loop_bar_l
from course.physics.pressure import Real


def old_gas_left(
    minutes: Real, flow: Real, pressure: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return the share of the inert gas of before that is still there, the full loop venting what comes in too much.

    Args:
        minutes: since the flush began.
        flow: of diluent, litres a minute; more than metabolism, or nothing would vent.
        pressure: of the dry gas, bar.
        vo2: litres a minute.
        volume: litres.
        celsius: of the gas.
    """
    return np.exp(-fall_bar_min(flow - vo2, volume, celsius) * minutes / pressure)


def po2_flushed(
    po2: Real,
    minutes: Real,
    flow: Real,
    diluent_oxygen: Real,
    pressure: Real,
    vo2: Real,
    volume: Real,
    celsius: Real = LOOP_CELSIUS,
) -> Real:
    """Return the PO2 in bar after minutes of flushing; it ends below the diluent's own, since metabolism goes on.

    Args:
        po2: at the start, bar.
        minutes: since the flush began.
        flow: of diluent, litres a minute; more than metabolism.
        diluent_oxygen: its dry share.
        pressure: of the dry gas, bar.
        vo2: litres a minute.
        volume: litres.
        celsius: of the gas.
    """
    last = pressure * (flow * diluent_oxygen - vo2) / (flow - vo2)
    return last + (po2 - last) * old_gas_left(minutes, flow, pressure, vo2, volume, celsius)


def inert_flushed(
    inert: tuple[Real, Real],
    minutes: Real,
    flow: Real,
    diluent: tuple[Real, Real],
    pressure: Real,
    vo2: Real,
    volume: Real,
    celsius: Real = LOOP_CELSIUS,
) -> tuple[Real, Real]:
    """Return the partial pressures in bar of nitrogen and helium after minutes of flushing.

    Args:
        inert: of nitrogen and helium at the start, bar.
        minutes: since the flush began.
        flow: of diluent, litres a minute; more than metabolism.
        diluent: its dry shares of oxygen and helium.
        pressure: of the dry gas, bar.
        vo2: litres a minute.
        volume: litres.
        celsius: of the gas.
    """
    left = old_gas_left(minutes, flow, pressure, vo2, volume, celsius)
    fresh = pressure * flow / (flow - vo2) * (1 - left)
    return inert[0] * left + (1 - diluent[0] - diluent[1]) * fresh, inert[1] * left + diluent[1] * fresh


def exchanged_by_breaths(minutes: Real, breath: Real, breathed: Real, volume: Real) -> Real:
    """Return the share of the loop that room air took, a breath's litres at a time.

    Args:
        minutes: open at the surface.
        breath: litres of one breath.
        breathed: litres a minute.
        volume: litres of the whole loop with the lungs.
    """
    return 1 - (1 - breath / volume) ** (breathed * minutes / breath)


def volume_left(minutes: Real, pressure: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS) -> Real:
    """Return the litres left in the loop after minutes in which nothing was added; negative where none would be."""
    return volume - loop_bar_l(vo2, celsius) * minutes / pressure
