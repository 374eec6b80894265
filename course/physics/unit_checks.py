"""Checks of a unit out of the water, as far as numbers say something: flush, pressure tests, minutes on the scrubber.

What may be lost, for how long it is watched and how long a filling lasts are the manual's and the centre's figures;
none is given here.
"""

from __future__ import annotations

from course.physics.constants import ATMOSPHERE_BAR, ZERO_CELSIUS_K
from course.physics.loop import diluted
from course.physics.pressure import Real


def po2_after_flush(po2: Real, diluent_oxygen: Real, ambient: Real, vapour: Real, exchanged: Real) -> Real:
    """Return the PO2 in bar that cells ought to show after a diluent flush at depth.

    Args:
        po2: before, bar.
        diluent_oxygen: its dry share.
        ambient: bar.
        vapour: of water in the loop, bar.
        exchanged: what share of the whole volume the flush exchanged; an estimate.
    """
    return diluted(po2, diluent_oxygen * (ambient - vapour), exchanged)


def unexplained_mbar(start: Real, end: Real, celsius_start: Real, celsius_end: Real, outside: Real) -> Real:
    """Return the change of pressure in mbar that temperature does not explain, in a loop of fixed volume.

    Args:
        start: mbar over (negative: under) the pressure outside.
        end: the same, at the end.
        celsius_start: of the gas.
        celsius_end: the same, at the end.
        outside: bar.

    Source: the ideal gas law; 1 K is 3.4 mbar.
    """
    absolute = outside * 1000 + start
    warm = (ZERO_CELSIUS_K + celsius_end) / (ZERO_CELSIUS_K + celsius_start)
    return outside * 1000 + end - absolute * warm


def doubt_mbar(start: Real, outside: Real, celsius: Real, kelvin_doubt: Real, gauge_doubt: Real) -> Real:
    """Return by how many mbar the unexplained change may be wrong: by the thermometer and by the gauge.

    The thermometer's part is that of the gas in the loop, which is at `start` mbar over the pressure outside in bar.
    """
    return (outside * 1000 + start) * kelvin_doubt / (ZERO_CELSIUS_K + celsius) + gauge_doubt


def litres_through_leak(loss: Real, volume: Real) -> Real:
    """Return the litres at 1 atm that a loss in mbar stands for; a rigid loop of so many litres."""
    return volume * loss / (ATMOSPHERE_BAR * 1000)
