"""Oxygen in the loop: nothing added, on the way up and down, after a flush, and with the oxygen valve stuck open.

Volume is that of the whole loop with the lungs in it, in litres as they are there; metabolism is in litres of oxygen a
minute at 0 degC, 1 atm and dry, so that it is an amount: the same at every depth. Temperature turns one into the other
and is never left out. Source of every equation: mole balance of a well mixed loop; each is held against a mole-by-mole
integration in the tests.
"""

from __future__ import annotations

import numpy as np

from course.physics.constants import ATMOSPHERE_BAR, LOOP_CELSIUS, ZERO_CELSIUS_K
from course.physics.pressure import Real


def loop_bar_l(litres: Real, celsius: Real = LOOP_CELSIUS) -> Real:
    """Return bar times loop litres of an amount in litres at 0 degC, 1 atm and dry."""
    return litres * (ATMOSPHERE_BAR / ZERO_CELSIUS_K) * (ZERO_CELSIUS_K + celsius)


def fall_bar_min(vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS) -> Real:
    """Return by how many bar a minute metabolism takes oxygen out of the loop. Depth is not in it."""
    return loop_bar_l(vo2, celsius) / volume


def minutes_kept(
    po2_from: Real, po2_to: Real, vo2: Real, volume: Real, diluent_oxygen: Real = 0.0, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return minutes until PO2 has fallen, while diluent on demand keeps the volume; both PO2 in bar.

    It falls through the diluent's own PO2 and on. With no oxygen in the diluent it is the naive constant volume: the
    fastest, a lower bound.
    """
    return (po2_from - po2_to) / (fall_bar_min(vo2, volume, celsius) * (1 - diluent_oxygen))


def po2_kept(
    po2: Real, minutes: Real, vo2: Real, volume: Real, diluent_oxygen: Real = 0.0, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return the PO2 in bar after minutes of `minutes_kept`; negative where oxygen is gone before."""
    return po2 - fall_bar_min(vo2, volume, celsius) * (1 - diluent_oxygen) * minutes


def minutes_shrinking(
    po2_from: Real, po2_to: Real, ambient: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return minutes until PO2 has fallen while nothing is added: the count of inert gas stays, the volume shrinks."""
    inert = (ambient - po2_from) * volume
    left = inert * po2_to / (ambient - po2_to)
    return (po2_from * volume - left) / loop_bar_l(vo2, celsius)


def volume_shrunk(po2_from: Real, po2_to: Real, ambient: Real, volume: Real) -> Real:
    """Return the litres that are left in the loop when PO2 has fallen so far with nothing added."""
    return (ambient - po2_from) * volume / (ambient - po2_to)


def po2_shrinking(
    po2: Real, minutes: Real, ambient: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return the PO2 in bar after minutes of `minutes_shrinking`; negative where oxygen is gone before.

    Less oxygen than none takes no room: counted in the whole it would turn the sign once it is more than the inert gas.
    """
    oxygen = po2 * volume - loop_bar_l(vo2, celsius) * minutes
    return ambient * oxygen / (np.maximum(oxygen, 0.0) + (ambient - po2) * volume)


def po2_rising(
    po2: Real, start: Real, end: Real, rate: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return the PO2 in bar at the end of an ascent at a steady rate, venting all the way, nothing added.

    Args:
        po2: at the start, bar.
        start: ambient pressure below, bar.
        end: ambient pressure above, bar.
        rate: of ascent, bar/min; at least as fast as metabolism takes gas out, or nothing would vent.
        vo2: litres a minute.
        volume: litres.
        celsius: of the gas.

    Returns:
        The PO2; negative where oxygen is gone on the way.
    """
    share = fall_bar_min(vo2, volume, celsius) / rate
    return end * (1 - (1 - po2 / start) * (start / end) ** share)


def pressure_oxygen_gone(
    po2: Real, start: Real, rate: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return the ambient pressure in bar at which the oxygen of `po2_rising` is gone."""
    return start * (1 - po2 / start) ** (rate / fall_bar_min(vo2, volume, celsius))


def pressure_at_po2(
    limit: Real, po2: Real, start: Real, rate: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return the ambient pressure in bar at which the PO2 of `po2_rising` falls to a limit.

    PO2 only falls on the way up. Not a number where the limit is not below the PO2 at the start, or is never reached.
    """
    from scipy.optimize import brentq  # noqa: PLC0415 - a third of a second that whoever reads rubrics need not wait

    def one(limit: float, po2: float, start: float, rate: float, vo2: float, volume: float, celsius: float) -> float:
        if not limit <= po2 <= start:
            return float("nan")
        least = max(float(pressure_oxygen_gone(po2, start, rate, vo2, volume, celsius)), 1e-9)

        def over(pressure: float) -> float:
            return float(po2_rising(po2, start, pressure, rate, vo2, volume, celsius)) - limit

        return float(brentq(over, least, start, xtol=1e-12)) if over(least) <= 0 <= over(start) else float("nan")

    found: Real = np.vectorize(one, otypes=[np.float64])(limit, po2, start, rate, vo2, volume, celsius)[()]
    return found


def po2_going_down(
    po2: Real,
    start: Real,
    end: Real,
    minutes: Real,
    diluent_oxygen: Real,
    vo2: Real,
    volume: Real,
    celsius: Real = LOOP_CELSIUS,
) -> Real:
    """Return the PO2 in bar after a descent that took minutes, the volume made up with diluent, no oxygen added."""
    made_up = diluent_oxygen * (end - start)
    return po2_kept(po2, minutes, vo2, volume, diluent_oxygen, celsius) + made_up


def diluted(share: Real, fresh: Real, exchanged: Real, times: Real = 1.0) -> Real:
    """Return a share (or partial pressure) after a part of the whole volume was exchanged for fresh gas some times."""
    return fresh + (share - fresh) * (1 - exchanged) ** times


def po2_valve_vented(
    po2: Real, minutes: Real, ambient: Real, inflow: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return the PO2 in bar while more oxygen flows in than is used and a full loop vents the rest.

    Args:
        po2: at the start, bar.
        minutes: since.
        ambient: bar.
        inflow: litres a minute at 0 degC, 1 atm and dry, as metabolism.
        vo2: litres a minute.
        volume: litres.
        celsius: of the gas.
    """
    return ambient - (ambient - po2) * np.exp(-fall_bar_min(inflow - vo2, volume, celsius) * minutes / ambient)


def minutes_valve_vented(
    po2_from: Real, po2_to: Real, ambient: Real, inflow: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return minutes until the PO2 of `po2_valve_vented` has risen; it never reaches ambient."""
    surplus = fall_bar_min(inflow - vo2, volume, celsius)
    return ambient / surplus * np.log((ambient - po2_from) / (ambient - po2_to))


def minutes_valve_filling(
    po2_from: Real, po2_to: Real, ambient: Real, inflow: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return minutes until PO2 has risen while nothing vents: the count of inert gas stays, the loop fills."""
    return minutes_shrinking(po2_from, po2_to, ambient, vo2 - inflow, volume, celsius)


def po2_valve_filling(
    po2: Real, minutes: Real, ambient: Real, inflow: Real, vo2: Real, volume: Real, celsius: Real = LOOP_CELSIUS
) -> Real:
    """Return the PO2 in bar after minutes in which nothing vents: as `minutes_valve_filling`."""
    return po2_shrinking(po2, minutes, ambient, vo2 - inflow, volume, celsius)


def po2_valve_short(
    po2: Real,
    minutes: Real,
    inflow: Real,
    vo2: Real,
    volume: Real,
    diluent_oxygen: Real = 0.0,
    celsius: Real = LOOP_CELSIUS,
) -> Real:
    """Return the PO2 in bar after minutes of `minutes_valve_short`; negative where oxygen is gone before."""
    return po2_kept(po2, minutes, vo2 - inflow, volume, diluent_oxygen, celsius)


def minutes_valve_short(
    po2_from: Real,
    po2_to: Real,
    inflow: Real,
    vo2: Real,
    volume: Real,
    diluent_oxygen: Real = 0.0,
    celsius: Real = LOOP_CELSIUS,
) -> Real:
    """Return minutes until PO2 has fallen where less oxygen flows in than is used and diluent keeps the volume."""
    return minutes_kept(po2_from, po2_to, vo2 - inflow, volume, diluent_oxygen, celsius)
