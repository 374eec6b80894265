"""Carbon dioxide that comes back: gas beside the absorbent, and a one-way valve that leaks.

The steady model, as stated: of what is breathed out, a share `beside` passes the canister untouched; of each breath in,
a share `back` is drawn through the leaking valve from what was just breathed out. Everything else is scrubbed clean.
Then the breath in holds m times what the breath out holds, with m = back + (1 - back) beside, and the difference is
what the body gives off. Lungs and bags are taken as well mixed; the body is taken to give off the same amount
throughout, which holds only while little comes back. Own model; held against `breaths`, which knows none of its
algebra.
"""

from __future__ import annotations

from course.physics.constants import LIME_G_MOL, LOOP_CELSIUS, MOLAR_VOLUME_L
from course.physics.loop import loop_bar_l
from course.physics.pressure import Real

LIME_L_PER_KG = 1000 / LIME_G_MOL * MOLAR_VOLUME_L
"""Litres of carbon dioxide (0 degC, 1 atm) that a kilogram of pure lime could bind; measured canisters took half."""


def co2_given_off(vco2: Real, minutes: Real) -> Real:
    """Return litres at 0 degC, 1 atm and dry."""
    return vco2 * minutes


def breathed_out_more(vco2: Real, ventilation: Real, ambient: Real, celsius: Real = LOOP_CELSIUS) -> Real:
    """Return by what share of the gas a breath out holds more carbon dioxide than the breath in.

    Args:
        vco2: litres a minute at 0 degC, 1 atm and dry.
        ventilation: litres a minute as they are breathed.
        ambient: bar.
        celsius: of the gas.
    """
    return loop_bar_l(vco2, celsius) / ventilation / ambient


def rebreathed(beside: Real, back: Real) -> Real:
    """Return the share of a breath in that is as it was breathed out."""
    return back + (1 - back) * beside


def inspired_co2_kpa(vco2: Real, ventilation: Real, beside: Real, back: Real, celsius: Real = LOOP_CELSIUS) -> Real:
    """Return the partial pressure of carbon dioxide breathed in, in kPa, once steady. Depth is not in it.

    Args:
        vco2: litres a minute at 0 degC, 1 atm and dry.
        ventilation: litres a minute as they are breathed.
        beside: share of the breath out that passes the canister untouched, 0 to below 1.
        back: share of the breath in that comes through a leaking one-way valve, 0 to below 1.
        celsius: of the gas.
    """
    share = rebreathed(beside, back)
    return share / (1 - share) * breathed_out_more(vco2, ventilation, 1.0, celsius) * 100


def breaths(
    count: int,
    *,
    vco2: float,
    ventilation: float,
    beside: float,
    back: float,
    ambient: float = 1.0,
    tidal: float = 2.0,
    lungs: float = 2.5,
    bag: float = 4.0,
    celsius: float = LOOP_CELSIUS,
) -> tuple[float, ...]:
    """Return the partial pressure of carbon dioxide in kPa of each breath in, breath by breath, from a clean loop.

    Args:
        count: how many breaths.
        vco2: as in `inspired_co2_kpa`, with the next three.
        ventilation: see there.
        beside: see there.
        back: see there.
        ambient: bar.
        tidal: litres of one breath.
        lungs: litres left in the lungs after breathing out.
        bag: litres in the bag that is breathed from.
        celsius: of the gas.
    """
    made = float(loop_bar_l(vco2, celsius)) / ambient * tidal / ventilation
    in_lungs = in_bag = just_out = 0.0
    told = []
    for _breath in range(count):
        breath_in = back * just_out + (1 - back) * in_bag
        in_lungs = (in_lungs * lungs + breath_in * tidal + made) / (lungs + tidal)
        just_out = in_lungs
        scrubbed = (1 - back) * tidal
        in_bag = (in_bag * bag + beside * just_out * scrubbed) / (bag + scrubbed)
        told.append(breath_in * ambient * 100)
    return tuple(told)
