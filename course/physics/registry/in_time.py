"""Errors by the clock: litres left, a flush at a steady flow, the mouthpiece open and then down with it closed."""

from __future__ import annotations

from typing import Any

import numpy as np

from course.physics import in_time, loop, mouthpiece
from course.physics.constants import DRY_AIR_OXYGEN
from course.physics.gas import SLACK
from course.physics.quantity import Input, Quantity, Rule
from course.physics.registry.error import (
    MOUTH_CAUTIONS,
    PLACE,
    SURFACE_PO2,
)
from course.physics.registry.inputs import (
    CELSIUS,
    DEPTH,
    DESCENT_RATE,
    DILUENT_OXYGEN,
    LOOP_SOURCE,
    METABOLISM,
    MINUTES,
    MIXED,
    MOLES,
    NEVER_SAFE,
    NO_PLAN,
    PO2_FROM,
    SITE,
    SITE_RULES,
    VO2,
    VOLUME,
    VOLUMES,
    WHOLE_LOOP,
    ambient,
    below_ambient,
    not_hypoxic_at_the_surface,
    site_of,
    surface,
    vapour,
)
from course.physics.result import Side

SECONDS = Input("seconds", "since the start", "s", 0, 600)
FLOW = Input(
    "flow", "diluent through the valve, litres at 0 degC, 1 atm, dry; usual value: no unit's", "L/min", 5, 200, 40.0
)
BREATH = Input("breath", "room air that one breath puts in the place of the loop's gas", "L", 0.3, 2, 2.0)
BREATHED = Input("ventilation", "litres breathed for one of oxygen used", "L/L", 15, 40, 25.0)
FLOW_CAUTIONS = (
    "The flow is the unit's own: a manual or a measurement says it, and it falls as the cylinder empties.",
    "A flush by the clock proves nothing: the cells that are read do.",
    MIXED,
)
FLOW_RULES = (
    *SITE_RULES,
    Rule(
        lambda flow, vo2, **_: flow > vo2 + SLACK,
        "Less diluent flows in than is used: nothing vents and it is no flush.",
    ),
)
_FLOW_SOURCE = f"{LOOP_SOURCE}; the usual flow: an example (common practice)"
_FLOW_VALID = "one depth held, a steady flow that is more than metabolism, the full loop venting, no oxygen added"
BREATHS_SOURCE = f"{MOLES}; {METABOLISM}; {VOLUMES}; a breath of 2 L, 25 L breathed for one of oxygen: common practice"
OPEN_RULE = Rule(lambda place, **_: place == "surface", mouthpiece.FLOODED)
_NO_LESS_THAN_AIR = Rule(
    lambda po2, **known: po2 >= DRY_AIR_OXYGEN * surface(**site_of(known)) - SLACK,
    "The loop held less oxygen than air does: it was hypoxic or nearly so before, and opening it would hide that.",
)


def _dry(depth: Any, **known: Any) -> Any:
    site = site_of(known)
    return ambient(depth, **site) - vapour(**site)


def _of_the_diluent(diluent_oxygen: Any, depth: Any, **known: Any) -> Any:
    return diluent_oxygen * _dry(depth, **known)


def _flushed(po2: Any, seconds: Any, flow: Any, diluent_oxygen: Any, depth: Any, **known: Any) -> Any:
    return in_time.po2_flushed(
        po2, seconds / 60, flow, diluent_oxygen, _dry(depth, **known), known["vo2"], known["volume"],
        known["temperature"],
    )  # fmt: skip


def _replaced(seconds: Any, flow: Any, depth: Any, vo2: Any, volume: Any, temperature: Any, **site: Any) -> Any:
    """Return the share of the loop's inert gas that seconds of a flush replaced."""
    return 1 - in_time.old_gas_left(seconds / 60, flow, _dry(depth, **site), vo2, volume, temperature)


def exchanged(seconds: Any, breath: Any, ventilation: Any, vo2: Any, volume: Any, **_: Any) -> Any:
    """Return the share of the loop that room air took in seconds of an open mouthpiece."""
    return in_time.exchanged_by_breaths(seconds / 60, breath, ventilation * vo2, volume)


def depth_by(minutes: Any, descent_rate: Any, depth: Any) -> Any:
    """Return how deep somebody is who goes down steadily and then stays, in metres."""
    return np.minimum(descent_rate * minutes, depth)


def _opened_then_down(po2: Any, seconds: Any, minutes: Any, depth: Any, descent_rate: Any, **known: Any) -> Any:
    """PO2 by the clock: open at the surface first, then closed and down, diluent making up the volume."""
    site = site_of(known)
    start, opened = surface(**site), seconds / 60
    taken = exchanged(seconds=np.minimum(minutes, opened) * 60, **known)
    after = loop.diluted(po2, DRY_AIR_OXYGEN * start, taken)
    closed = np.maximum(minutes - opened, 0.0)
    there = ambient(depth_by(closed, descent_rate, depth), **site)
    return loop.po2_going_down(
        after, start, there, closed, known["diluent_oxygen"], known["vo2"], known["volume"], known["temperature"]
    )


QUANTITIES = (
    Quantity(
        name="oxygen-off-volume",
        what="litres left in the loop after minutes: nothing added at all",
        unit="L",
        inputs=(PO2_FROM, MINUTES, DEPTH, VO2, VOLUME, CELSIUS, *SITE),
        words="volume - metabolism in bar litres at loop temperature x minutes / pressure",
        equation=lambda po2, minutes, depth, vo2, volume, temperature, **site: in_time.volume_left(
            minutes, ambient(depth, **site), vo2, volume, temperature
        ),
        source=LOOP_SOURCE,
        validity="one depth held, until the oxygen is gone; a full breath may need more than is left",
        side=Side.DOWN,
        decimals=1,
        cautions=(NEVER_SAFE, WHOLE_LOOP, MIXED, "That a diver would notice a flat loop is no safeguard."),
        rules=(
            *SITE_RULES,
            below_ambient(),
            Rule(
                lambda po2, minutes, vo2, volume, temperature, **_: (
                    loop.loop_bar_l(vo2, temperature) * minutes <= po2 * volume + SLACK
                ),
                "The oxygen is gone before then.",
            ),
        ),
    ),
    Quantity(
        name="flush-po2-in-time",
        what="PO2 after seconds of a diluent flush at a steady flow, metabolism counted",
        unit="bar",
        inputs=(PO2_FROM, SECONDS, FLOW, DILUENT_OXYGEN, DEPTH, VO2, VOLUME, CELSIUS, *SITE),
        words=(
            "last + (PO2 - last) x e to the power of - (flow - metabolism) in bar litres x minutes / (volume x dry "
            "pressure), with last = dry pressure x (flow x oxygen share of the diluent - metabolism) / "
            "(flow - metabolism)"
        ),
        equation=_flushed,
        source=_FLOW_SOURCE,
        validity=_FLOW_VALID,
        side=Side.FROM_AIR,
        decimals=2,
        cautions=FLOW_CAUTIONS,
        rules=(
            *FLOW_RULES,
            Rule(lambda po2, **known: po2 <= _dry(**known) + SLACK, "po2 is above the pressure of the dry gas there."),
            not_hypoxic_at_the_surface(_of_the_diluent),
        ),
        found_rules=(Rule(lambda found, **_: found >= 0, "The oxygen is gone before then."),),
    ),
    Quantity(
        name="flush-share-in-time",
        what="share of the loop's inert gas that seconds of a diluent flush at a steady flow replaced",
        unit="",
        inputs=(SECONDS, FLOW, DEPTH, VO2, VOLUME, CELSIUS, *SITE),
        words="1 - e to the power of - (flow - metabolism) in bar litres x minutes / (volume x dry pressure)",
        equation=_replaced,
        source=_FLOW_SOURCE,
        validity=_FLOW_VALID,
        side=Side.DOWN,
        decimals=2,
        cautions=FLOW_CAUTIONS,
        rules=FLOW_RULES,
    ),
    Quantity(
        name="mouthpiece-exchanged",
        what="share of the loop that room air took while the mouthpiece was open at the surface for seconds",
        unit="",
        inputs=(SECONDS, BREATH, BREATHED, VO2, VOLUME, PLACE),
        words="1 - (1 - breath / volume) to the power of (litres breathed in those seconds / breath)",
        equation=exchanged,
        source=BREATHS_SOURCE,
        validity="at the surface, in air; each breath puts its own volume of room air in the place of the loop's gas",
        side=Side.UP,
        decimals=2,
        cautions=(NEVER_SAFE, *MOUTH_CAUTIONS),
        rules=(OPEN_RULE,),
    ),
    Quantity(
        name="mouthpiece-po2-in-time",
        what="PO2 by the clock: mouthpiece open at the surface for seconds, then closed and down with no oxygen added",
        unit="bar",
        inputs=(
            SURFACE_PO2,
            Input("seconds", "that it was open at the surface", "s", 0, 600, 20.0),
            Input("minutes", "since it was opened", "min", 0, 120, 1.0),
            DEPTH,
            DESCENT_RATE,
            DILUENT_OXYGEN,
            BREATH,
            BREATHED,
            VO2,
            VOLUME,
            CELSIUS,
            PLACE,
            *SITE,
        ),
        words=(
            "open: air's PO2 + (PO2 - air's PO2) x (1 - share exchanged by then); closed: that PO2 + oxygen share of "
            "the diluent x rise of pressure - fall by metabolism x (1 - that share) x minutes closed"
        ),
        equation=_opened_then_down,
        source=BREATHS_SOURCE,
        validity=(
            "in air at the surface, where metabolism takes nothing from the open loop; then a steady way down, volume "
            "made up by diluent, the depth held after it; until the oxygen is gone"
        ),
        side=Side.FROM_AIR,
        decimals=2,
        cautions=(NEVER_SAFE, NO_PLAN, *MOUTH_CAUTIONS),
        rules=(
            OPEN_RULE,
            *SITE_RULES,
            below_ambient("po2", "surface"),
            _NO_LESS_THAN_AIR,
        ),
        found_rules=(Rule(lambda found, **_: found >= 0, "The oxygen is gone before then."),),
    ),
)
