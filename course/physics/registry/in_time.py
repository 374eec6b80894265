"""Errors by the clock: litres left, a flush at a steady flow, the mouthpiece open and then down with it closed."""

from __future__ import annotations

from typing import Any

import numpy as np

from course.physics import in_time, loop, mouthpiece
from course.physics.constants import DRY_AIR_OXYGEN
from course.physics.gas import SLACK
from course.physics.quantity import Input, Quantity, Rule
from course.physics.registry.error import (
    EXCHANGED,
    MOUTH_CAUTIONS,
    MOUTH_SOURCE,
    PLACE,
    SURFACE_PO2,
    TIMES,
)
from course.physics.registry.inputs import (
    CELSIUS,
    CONVENTION,
    DEPTH,
    DESCENT_RATE,
    DILUENT_HELIUM,
    DILUENT_NOT_OXYGEN,
    DILUENT_OXYGEN,
    INERT_LEFT,
    LOOP_SOURCE,
    METABOLISM,
    MINUTES,
    MIXED,
    MOLES,
    NEVER_SAFE,
    NO_PLAN,
    PO2_FROM,
    SET_POINT,
    SHARES_SUM,
    SITE,
    SITE_RULES,
    VO2,
    VOLUME,
    VOLUMES,
    WHOLE_LOOP,
    ambient,
    below_ambient,
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
_FLOW_CAUTIONS = (
    "The flow is the unit's own: a manual or a measurement says it, and it falls as the cylinder empties.",
    "A flush by the clock proves nothing: the cells that are read do.",
    MIXED,
)
_FLOW_RULES = (
    *SITE_RULES,
    Rule(
        lambda flow, vo2, **_: flow > vo2 + SLACK,
        "Less diluent flows in than is used: nothing vents and it is no flush.",
    ),
)
_FLOW_SOURCE = f"{LOOP_SOURCE}; the usual flow: an example (common practice)"
_FLOW_VALID = "one depth held, a steady flow that is more than metabolism, the full loop venting, no oxygen added"
_BREATHS_SOURCE = f"{MOLES}; {METABOLISM}; {VOLUMES}; a breath of 2 L, 25 L breathed for one of oxygen: common practice"
_OPEN_RULE = Rule(lambda place, **_: place == "surface", mouthpiece.FLOODED)
_NO_LESS_THAN_AIR = Rule(
    lambda po2, **known: po2 >= DRY_AIR_OXYGEN * surface(**site_of(known)) - SLACK,
    "The loop held less oxygen than air does: it was hypoxic or nearly so before, and opening it would hide that.",
)


def _dry(depth: Any, **known: Any) -> Any:
    site = site_of(known)
    return ambient(depth, **site) - vapour(**site)


def _flushed(po2: Any, seconds: Any, flow: Any, diluent_oxygen: Any, depth: Any, **known: Any) -> Any:
    return in_time.po2_flushed(
        po2, seconds / 60, flow, diluent_oxygen, _dry(depth, **known), known["vo2"], known["volume"],
        known["temperature"],
    )  # fmt: skip


def _replaced(seconds: Any, flow: Any, depth: Any, vo2: Any, volume: Any, temperature: Any, **site: Any) -> Any:
    return 1 - in_time.old_gas_left(seconds / 60, flow, _dry(depth, **site), vo2, volume, temperature)


def _exchanged(seconds: Any, breath: Any, ventilation: Any, vo2: Any, volume: Any, **_: Any) -> Any:
    return in_time.exchanged_by_breaths(seconds / 60, breath, ventilation * vo2, volume)


def _depth_by(minutes: Any, descent_rate: Any, depth: Any) -> Any:
    """How deep somebody is who goes down steadily and then stays."""
    return np.minimum(descent_rate * minutes, depth)


def _opened_then_down(po2: Any, seconds: Any, minutes: Any, depth: Any, descent_rate: Any, **known: Any) -> Any:
    """PO2 by the clock: open at the surface first, then closed and down, diluent making up the volume."""
    site = site_of(known)
    start, opened = surface(**site), seconds / 60
    exchanged = _exchanged(seconds=np.minimum(minutes, opened) * 60, **known)
    after = loop.diluted(po2, DRY_AIR_OXYGEN * start, exchanged)
    closed = np.maximum(minutes - opened, 0.0)
    there = ambient(_depth_by(closed, descent_rate, depth), **site)
    return loop.po2_going_down(
        after, start, there, closed, known["diluent_oxygen"], known["vo2"], known["volume"], known["temperature"]
    )


def _narcotic_down(minutes: Any, descent_rate: Any, depth: Any, convention: Any, mode: Any, **known: Any) -> Any:
    site = site_of({**known, "mode": mode})
    diluent = (known["diluent_oxygen"], known["diluent_helium"])
    before = mouthpiece.surface_shares(known["po2"], surface(**site), *diluent)
    shares = mouthpiece.opened(before, known["exchanged"], known["times"])
    there = ambient(_depth_by(minutes, descent_rate, depth), **site)
    return mouthpiece.narcotic_depth_reached(
        shares, surface(**site), there, known["set_point"], diluent, convention, mode
    )  # fmt: skip


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
        side=Side.NEAREST,
        decimals=2,
        cautions=_FLOW_CAUTIONS,
        rules=(
            *_FLOW_RULES,
            Rule(lambda po2, **known: po2 <= _dry(**known) + SLACK, "po2 is above the pressure of the dry gas there."),
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
        cautions=_FLOW_CAUTIONS,
        rules=_FLOW_RULES,
    ),
    Quantity(
        name="mouthpiece-exchanged",
        what="share of the loop that room air took while the mouthpiece was open at the surface for seconds",
        unit="",
        inputs=(SECONDS, BREATH, BREATHED, VO2, VOLUME, PLACE),
        words="1 - (1 - breath / volume) to the power of (litres breathed in those seconds / breath)",
        equation=_exchanged,
        source=_BREATHS_SOURCE,
        validity="at the surface, in air; each breath puts its own volume of room air in the place of the loop's gas",
        side=Side.UP,
        decimals=2,
        cautions=(NEVER_SAFE, *MOUTH_CAUTIONS),
        rules=(_OPEN_RULE,),
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
        source=_BREATHS_SOURCE,
        validity=(
            "in air at the surface, where metabolism takes nothing from the open loop; then a steady way down, volume "
            "made up by diluent, the depth held after it; until the oxygen is gone"
        ),
        side=Side.DOWN,
        decimals=2,
        cautions=(NEVER_SAFE, NO_PLAN, *MOUTH_CAUTIONS),
        rules=(
            _OPEN_RULE,
            *SITE_RULES,
            below_ambient("po2", "surface"),
            _NO_LESS_THAN_AIR,
        ),
        found_rules=(Rule(lambda found, **_: found >= 0, "The oxygen is gone before then."),),
    ),
    Quantity(
        name="mouthpiece-narcotic-in-time",
        what="narcotic depth by the clock on the way down, the mouthpiece having been open at the surface",
        unit="m",
        inputs=(
            SURFACE_PO2,
            DILUENT_OXYGEN,
            DILUENT_HELIUM,
            EXCHANGED,
            TIMES,
            PLACE,
            *SITE,
            DEPTH,
            SET_POINT,
            Input("minutes", "since it was closed and the way down began", "min", 0, 120, 1.0),
            DESCENT_RATE,
            CONVENTION,
        ),
        words=(
            "as mouthpiece-narcotic-depth, at the depth that is reached by then: rate x minutes, and no deeper than "
            "the depth dived to"
        ),
        equation=_narcotic_down,
        source=f"{MOUTH_SOURCE}; conventions: common practice",
        validity=(
            "a steady way down with oxygen held at the set point, so that metabolism and volume count in the share "
            "exchanged alone (mouthpiece-exchanged); from where the pressure is above the set point"
        ),
        side=Side.UP,
        decimals=1,
        cautions=(NO_PLAN, *MOUTH_CAUTIONS),
        rules=(
            _OPEN_RULE,
            *SITE_RULES,
            SHARES_SUM,
            DILUENT_NOT_OXYGEN,
            below_ambient("po2", "surface"),
            INERT_LEFT,
            Rule(
                lambda set_point, minutes, descent_rate, depth, **known: (
                    set_point < ambient(_depth_by(minutes, descent_rate, depth), **site_of(known)) - SLACK
                ),
                "So early on the way down the pressure is below the set point: no gas has that PO2 there.",
            ),
        ),
    ),
)
