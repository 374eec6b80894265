"""The mouthpiece open at the surface, by the clock: what is in the loop while it is, on the way down, and in a flush.

How much of the loop room air takes follows from seconds, metabolism and volume, breath by breath, and is no estimate of
somebody's; the quantities without a clock take the share that an instructor says.
"""

from __future__ import annotations

from typing import Any

from course.physics import in_time, mouthpiece
from course.physics.gas import SLACK
from course.physics.quantity import Input, Quantity, Rule
from course.physics.registry.error import MOUTH_CAUTIONS, PLACE, SURFACE_PO2
from course.physics.registry.in_time import (
    BREATH,
    BREATHED,
    BREATHS_SOURCE,
    FLOW,
    FLOW_CAUTIONS,
    FLOW_RULES,
    OPEN_RULE,
    SECONDS,
    depth_by,
    exchanged,
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
    NARCOTIC_AT_ALL,
    NO_PLAN,
    SET_POINT,
    SHARES_SUM,
    SITE,
    SITE_RULES,
    VO2,
    VOLUME,
    ambient,
    below_ambient,
    site_of,
    surface,
    vapour,
)
from course.physics.result import Side

_WAS_OPEN = Input("seconds", "that it was open at the surface", "s", 0, 600, 20.0)
_LOOP = (SURFACE_PO2, DILUENT_OXYGEN, DILUENT_HELIUM)
_BREATHING = (BREATH, BREATHED, VO2, VOLUME, PLACE, *SITE)
_DOWN = (*_LOOP, _WAS_OPEN, *_BREATHING, DEPTH, SET_POINT)
_MINUTES_DOWN = Input("minutes", "since it was closed and the way down began", "min", 0, 120, 1.0)
_RULES = (OPEN_RULE, *SITE_RULES, SHARES_SUM, DILUENT_NOT_OXYGEN, below_ambient("po2", "surface"))
_DOWN_RULES = (
    *_RULES,
    INERT_LEFT,
    Rule(
        lambda set_point, minutes, descent_rate, depth, **known: (
            set_point < ambient(depth_by(minutes, descent_rate, depth), **site_of(known)) - SLACK
        ),
        "So early on the way down the pressure is below the set point: no gas has that PO2 there.",
    ),
)
_WORDS = (
    "room air's share + (share before - room air's share) x (1 - breath / volume) to the power of (litres breathed in "
    "those seconds / breath)"
)
_VALID = "in air at the surface, each breath putting its own volume of room air in the place of the loop's gas"
_VALID_DOWN = (
    f"{_VALID}; then a steady way down, diluent making up the volume and oxygen held at the set point, from where the "
    "pressure is above it"
)


def _diluent(**known: Any) -> tuple[Any, Any]:
    return known["diluent_oxygen"], known["diluent_helium"]


def _shares(**known: Any) -> Any:
    """Shares of oxygen, nitrogen and helium after it was open for `seconds`."""
    before = mouthpiece.surface_shares(known["po2"], surface(**site_of(known)), *_diluent(**known))
    return mouthpiece.opened(before, exchanged(**known))


def _inert_down(minutes: Any, descent_rate: Any, depth: Any, set_point: Any, **known: Any) -> Any:
    """Nitrogen and helium in bar where somebody is after minutes of going down."""
    site = site_of(known)
    there = ambient(depth_by(minutes, descent_rate, depth), **site)
    return mouthpiece.inert_at_depth(_shares(**known), surface(**site), there, set_point, _diluent(**known))


def _narcotic_down(minutes: Any, descent_rate: Any, depth: Any, set_point: Any, convention: Any, **known: Any) -> Any:
    site = site_of(known)
    there = ambient(depth_by(minutes, descent_rate, depth), **site)
    return mouthpiece.narcotic_depth_reached(
        _shares(**known), surface(**site), there, set_point, _diluent(**known), convention, known["mode"]
    )


def _helium_flushed(flush_seconds: Any, flow: Any, depth: Any, set_point: Any, temperature: Any, **known: Any) -> Any:
    site = site_of(known)
    there = ambient(depth, **site)
    inert = mouthpiece.inert_at_depth(_shares(**known), surface(**site), there, set_point, _diluent(**known))
    nitrogen, helium = in_time.inert_flushed(
        inert, flush_seconds / 60, flow, _diluent(**known), there - vapour(**site), known["vo2"], known["volume"],
        temperature,
    )  # fmt: skip
    return (there - set_point) * helium / (nitrogen + helium)


def _while_open(gas: int, name: str, side: Side) -> Quantity:
    def equation(**known: Any) -> Any:
        return _shares(**known)[gas]

    return Quantity(
        name=f"mouthpiece-{name}-in-time",
        what=f"{name} share by the clock while the mouthpiece is open at the surface",
        unit="",
        inputs=(*_LOOP, SECONDS, *_BREATHING),
        words=_WORDS,
        equation=equation,
        source=BREATHS_SOURCE,
        validity=f"{_VALID}; metabolism sets how much is breathed, and nothing is taken from the open loop",
        side=side,
        decimals=3,
        cautions=MOUTH_CAUTIONS,
        rules=_RULES,
    )


QUANTITIES = (
    _while_open(0, "oxygen", Side.DOWN),
    _while_open(1, "nitrogen", Side.UP),
    _while_open(2, "helium", Side.DOWN),
    Quantity(
        name="mouthpiece-nitrogen-down-in-time",
        what="nitrogen pressure by the clock on the way down, the mouthpiece having been open at the surface",
        unit="bar",
        inputs=(*_DOWN, _MINUTES_DOWN, DESCENT_RATE),
        words=f"{_WORDS}; then as mouthpiece-nitrogen-at-depth, at the depth that is reached by then",
        equation=lambda **known: _inert_down(**known)[0],
        source=BREATHS_SOURCE,
        validity=_VALID_DOWN,
        side=Side.UP,
        decimals=2,
        cautions=(NO_PLAN, *MOUTH_CAUTIONS),
        rules=_DOWN_RULES,
    ),
    Quantity(
        name="mouthpiece-narcotic-in-time",
        what="narcotic depth by the clock on the way down, the mouthpiece having been open at the surface",
        unit="m",
        inputs=(*_DOWN, _MINUTES_DOWN, DESCENT_RATE, CONVENTION),
        words=f"{_WORDS}; then as mouthpiece-narcotic-depth, at the depth that is reached by then",
        equation=_narcotic_down,
        source=f"{BREATHS_SOURCE}; conventions: common practice",
        validity=_VALID_DOWN,
        side=Side.UP,
        decimals=1,
        cautions=(NO_PLAN, *MOUTH_CAUTIONS),
        rules=_DOWN_RULES,
        found_rules=(NARCOTIC_AT_ALL,),
    ),
    Quantity(
        name="mouthpiece-helium-flush-in-time",
        what="helium pressure by the clock of a diluent flush at depth, the mouthpiece having been open at the surface",
        unit="bar",
        inputs=(*_DOWN, Input("flush_seconds", "since the flush began", "s", 0, 600), FLOW, CELSIUS),
        words=(
            f"{_WORDS}; each inert gas x share left (flush-share-in-time) + diluent's share of it x what came in; "
            "oxygen then held at the set point"
        ),
        equation=_helium_flushed,
        source=BREATHS_SOURCE,
        validity=f"{_VALID}; then one depth held, a steady flow that is more than metabolism, the full loop venting",
        side=Side.DOWN,
        decimals=2,
        cautions=(*FLOW_CAUTIONS, *MOUTH_CAUTIONS[:-1]),
        rules=(*_RULES, INERT_LEFT, FLOW_RULES[-1]),
    ),
)
