"""The mouthpiece left open at the surface: what was in the loop before and after, and at the depth dived to.

A part of the whole volume is exchanged for room air, some times. The controller then adds oxygen and hides it; helium
does not come back until a diluent flush, and air's nitrogen is still there at depth. Underwater water comes in instead,
and nothing is computed.
"""

from __future__ import annotations

import numpy as np

from course.physics.constants import DRY_AIR_INERT, DRY_AIR_OXYGEN
from course.physics.gas import Narcotic, narcotic_depth
from course.physics.loop import diluted
from course.physics.pressure import Mode, Real

FLOOD_SENTENCES = (
    "Underwater gas goes out and water comes in: no air enters and nothing is computed.",
    "Record the unit as flooded; it goes on hold, and the manual says what a wet scrubber means.",
)
FLOODED = " ".join(FLOOD_SENTENCES)


def surface_shares(po2: Real, surface: Real, diluent_oxygen: Real, diluent_helium: Real) -> tuple[Real, Real, Real]:
    """Return the loop's shares of oxygen, nitrogen and helium at the surface, its inert part split as the diluent's."""
    oxygen = po2 / surface
    helium = (1 - oxygen) * diluent_helium / (1 - diluent_oxygen)
    return oxygen, 1 - oxygen - helium, helium


def opened(shares: tuple[Real, Real, Real], exchanged: Real, times: Real = 1.0) -> tuple[Real, Real, Real]:
    """Return the shares of oxygen, nitrogen and helium after room air took the place of a part, some times."""
    air = (DRY_AIR_OXYGEN, DRY_AIR_INERT, 0.0)
    oxygen, nitrogen, helium = (diluted(one, fresh, exchanged, times) for one, fresh in zip(shares, air, strict=True))
    return oxygen, nitrogen, helium


def inert_at_depth(
    shares: tuple[Real, Real, Real], surface: Real, ambient: Real, set_point: Real, diluent: tuple[Real, Real]
) -> tuple[Real, Real]:
    """Return the partial pressures in bar of nitrogen and helium at depth.

    The loop that was at the surface is compressed, diluent makes up the volume, and oxygen is held at the set point;
    the rest is split as the nitrogen and helium that are in the loop, not as the cylinder's label.

    Args:
        shares: of oxygen, nitrogen and helium in the loop as it left the surface.
        surface: bar.
        ambient: bar, at depth.
        set_point: bar.
        diluent: its shares of oxygen and helium.
    """
    added = ambient - surface
    nitrogen = shares[1] * surface + (1 - diluent[0] - diluent[1]) * added
    helium = shares[2] * surface + diluent[1] * added
    inert = ambient - set_point
    return inert * nitrogen / (nitrogen + helium), inert * helium / (nitrogen + helium)


def flushed(inert: tuple[Real, Real], set_point: Real, ambient: Real, diluent: tuple[Real, Real], share: Real) -> Real:
    """Return the pressure in bar of helium at the set point, after a diluent flush at depth exchanged a share."""
    nitrogen, helium = inert
    after = [diluted(helium, diluent[1] * ambient, share)]
    after.append(diluted(nitrogen, (1 - diluent[0] - diluent[1]) * ambient, share))
    return (ambient - set_point) * after[0] / (after[0] + after[1])


def narcotic_depth_reached(
    shares: tuple[Real, Real, Real],
    surface: Real,
    ambient: Real,
    set_point: Real,
    diluent: tuple[Real, Real],
    convention: Narcotic,
    mode: Mode,
) -> Real:
    """Return the narcotic depth in metres at the depth dived to, of a loop that left the surface with these shares."""
    _, helium = inert_at_depth(shares, surface, ambient, set_point, diluent)
    return narcotic_depth(np.asarray(set_point), helium, ambient, surface, convention, mode)
