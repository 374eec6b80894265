"""Oxygen off, on the way up and on the way down."""

from __future__ import annotations

from typing import Any

from course.physics import loop
from course.physics.gas import SLACK
from course.physics.pressure import depth_m
from course.physics.quantity import Input, Quantity, Rule
from course.physics.registry.inputs import (
    CELSIUS,
    DEPTH,
    DESCENT_RATE,
    DILUENT_NOT_OXYGEN,
    DILUENT_OXYGEN,
    FALLS,
    FEEL,
    LOOP_SOURCE,
    MINUTES,
    MIXED,
    NEVER_SAFE,
    NO_PLAN,
    OXYGEN_LIMITS,
    PO2_FROM,
    PO2_TO,
    SITE,
    SITE_RULES,
    VO2,
    VOLUME,
    WHOLE_LOOP,
    ambient,
    below_ambient,
    inert_left,
    site_of,
    surface,
)
from course.physics.result import Side, rounded

CAUTIONS = (NEVER_SAFE, FEEL, OXYGEN_LIMITS, WHOLE_LOOP, MIXED)
RATE = Input("rate", "of going up, as a gauge shows it; usual value: common practice and no plan", "m/min", 1, 30, 9.0)
UP_TO = Input("depth_to", "where the way up ends", "m", 0, 150, 0.0)
DOWN_TO = Input("depth_to", "where the way down ends", "m", 0, 150)
GONE = "The oxygen is gone before then: the PO2 would be below none."


def _not_gone(found: Any, **_: Any) -> Any:
    """Whether there is still oxygen: a PO2 is not below none."""
    return found >= 0


def _oxygen_left(po2: Any, minutes: Any, vo2: Any, volume: Any, temperature: Any, **_: Any) -> Any:
    """Whether not all of the oxygen that was there is used."""
    return loop.loop_bar_l(vo2, temperature) * minutes < po2 * volume


def _up(depth: Any, depth_to: Any, rate: Any, po2: Any, vo2: Any, volume: Any, temperature: Any, **site: Any) -> Any:
    return loop.po2_rising(
        po2, ambient(depth, **site), ambient(depth_to, **site), rate / 10, vo2, volume, temperature
    )  # fmt: skip


def _gone_depth(depth: Any, rate: Any, po2: Any, vo2: Any, volume: Any, temperature: Any, **site: Any) -> Any:
    start = ambient(depth, **site)
    gone = loop.pressure_oxygen_gone(po2, start, rate / 10, vo2, volume, temperature)
    return depth_m(gone, surface(**site))


def _gone_on_the_way(depth_to: Any, **known: Any) -> str:
    gone = float(_gone_depth(**known))
    minutes = rounded((known["depth"] - gone) / known["rate"], Side.DOWN, 1)
    return f"Oxygen is gone before: at {rounded(gone, Side.UP, 0):.0f} m, {minutes:.1f} min after the start."


def _depth_at(depth: Any, rate: Any, po2: Any, vo2: Any, volume: Any, temperature: Any, limit: Any, **site: Any) -> Any:
    pressure = loop.pressure_at_po2(limit, po2, ambient(depth, **site), rate / 10, vo2, volume, temperature)
    return depth_m(pressure, surface(**site))


def _passed(depth: Any, limit: Any, **known: Any) -> Any:
    """Whether PO2 is at the limit or under it at the surface."""
    return _up(depth=depth, depth_to=0.0, **known) <= limit + SLACK


def _down(po2: Any, depth: Any, depth_to: Any, descent_rate: Any, diluent_oxygen: Any, **known: Any) -> Any:
    site = site_of(known)
    start, end = ambient(depth, **site), ambient(depth_to, **site)
    minutes = (depth_to - depth) / descent_rate
    return loop.po2_going_down(
        po2, start, end, minutes, diluent_oxygen, known["vo2"], known["volume"], known["temperature"]
    )


VENTS = Rule(
    lambda rate, vo2, volume, temperature, **_: rate / 10 >= loop.fall_bar_min(vo2, volume, temperature),
    "So slow an ascent does not vent: metabolism takes gas out as fast as it expands. See oxygen-off-shrinking-po2.",
)
_ASCENT = (PO2_FROM, DEPTH, RATE, VO2, VOLUME, CELSIUS, *SITE)
_ASCENT_WORDS = (
    "inert share at the end = inert share at the start x (pressure at the start / pressure at the end) to the power of "
    "(fall by metabolism / rate of ascent); PO2 = (1 - inert share) x pressure at the end"
)

QUANTITIES = (
    Quantity(
        name="oxygen-off-minutes",
        what="minutes until PO2 has fallen to a limit: no oxygen added, volume kept by diluent",
        unit="min",
        inputs=(PO2_FROM, PO2_TO, DILUENT_OXYGEN, VO2, VOLUME, CELSIUS),
        words=(
            "(PO2 - limit) x volume / (metabolism in bar litres at loop temperature x (1 - oxygen share "
            "of the diluent))"
        ),
        equation=lambda po2, limit, diluent_oxygen, vo2, volume, temperature: loop.minutes_kept(
            po2, limit, vo2, volume, diluent_oxygen, temperature
        ),
        source=LOOP_SOURCE,
        validity="any depth held; PO2 falls through the diluent's own PO2 and on, since volume on demand is no flush",
        side=Side.DOWN,
        decimals=1,
        cautions=CAUTIONS,
        rules=(FALLS, DILUENT_NOT_OXYGEN),
    ),
    Quantity(
        name="oxygen-off-po2",
        what="PO2 after minutes: no oxygen added, volume kept by diluent",
        unit="bar",
        inputs=(PO2_FROM, MINUTES, DILUENT_OXYGEN, VO2, VOLUME, CELSIUS),
        words=(
            "PO2 - metabolism in bar litres at loop temperature / volume x (1 - oxygen share of the diluent) x minutes"
        ),
        equation=lambda po2, minutes, diluent_oxygen, vo2, volume, temperature: loop.po2_kept(
            po2, minutes, vo2, volume, diluent_oxygen, temperature
        ),
        source=LOOP_SOURCE,
        validity="any depth held, until the oxygen is gone",
        side=Side.DOWN,
        decimals=2,
        cautions=CAUTIONS,
        found_rules=(Rule(_not_gone, GONE),),
    ),
    Quantity(
        name="oxygen-off-shrinking-minutes",
        what="minutes until PO2 has fallen to a limit: nothing added at all, the loop shrinks",
        unit="min",
        inputs=(PO2_FROM, PO2_TO, DEPTH, VO2, VOLUME, CELSIUS, *SITE),
        words=(
            "(PO2 x volume - inert gas x limit / (pressure - limit)) / metabolism in bar litres, the "
            "inert count unchanged"
        ),
        equation=lambda po2, limit, depth, vo2, volume, temperature, **site: loop.minutes_shrinking(
            po2, limit, ambient(depth, **site), vo2, volume, temperature
        ),
        source=LOOP_SOURCE,
        validity="one depth held; there has to be inert gas in the loop, or volume falls and PO2 does not",
        side=Side.DOWN,
        decimals=1,
        cautions=(
            *CAUTIONS,
            "The bag is likely to be empty before: see oxygen-off-shrinking-volume. That is no safeguard.",
        ),
        rules=(
            FALLS,
            *SITE_RULES,
            inert_left("po2", "There is no inert gas in the loop: its volume falls and PO2 stays."),
        ),
    ),
    Quantity(
        name="oxygen-off-shrinking-po2",
        what="PO2 after minutes: nothing added at all, the loop shrinks",
        unit="bar",
        inputs=(PO2_FROM, MINUTES, DEPTH, VO2, VOLUME, CELSIUS, *SITE),
        words="pressure x oxygen left / (oxygen left + inert gas), the inert count unchanged",
        equation=lambda po2, minutes, depth, vo2, volume, temperature, **site: loop.po2_shrinking(
            po2, minutes, ambient(depth, **site), vo2, volume, temperature
        ),
        source=LOOP_SOURCE,
        validity="one depth held, until the oxygen is gone",
        side=Side.DOWN,
        decimals=2,
        cautions=CAUTIONS,
        rules=(
            *SITE_RULES,
            below_ambient(),
            Rule(_oxygen_left, GONE),
        ),
    ),
    Quantity(
        name="oxygen-off-shrinking-volume",
        what="litres left in the loop when PO2 has fallen to a limit with nothing added",
        unit="L",
        inputs=(PO2_FROM, PO2_TO, DEPTH, VOLUME, *SITE),
        words="volume x (pressure - PO2) / (pressure - limit)",
        equation=lambda po2, limit, depth, volume, **site: loop.volume_shrunk(
            po2, limit, ambient(depth, **site), volume
        ),
        source=LOOP_SOURCE,
        validity="one depth held; a full breath may need more than is left",
        side=Side.DOWN,
        decimals=1,
        cautions=(WHOLE_LOOP, MIXED, "That a diver would notice a flat loop is no safeguard."),
        rules=(FALLS, *SITE_RULES, below_ambient()),
    ),
    Quantity(
        name="ascent-po2",
        what="PO2 at the end of an ascent with no oxygen added, metabolism counted",
        unit="bar",
        inputs=(PO2_FROM, DEPTH, UP_TO, RATE, VO2, VOLUME, CELSIUS, *SITE),
        words=_ASCENT_WORDS,
        equation=_up,
        source=LOOP_SOURCE,
        validity="a steady ascent that vents all the way, nothing added; where oxygen would be gone before, no number",
        side=Side.DOWN,
        decimals=2,
        cautions=(*CAUTIONS, NO_PLAN),
        rules=(
            *SITE_RULES,
            below_ambient(),
            Rule(lambda depth, depth_to, **_: depth_to <= depth, "An ascent ends above where it starts."),
            VENTS,
        ),
        found_rules=(Rule(_not_gone, _gone_on_the_way),),
    ),
    Quantity(
        name="ascent-depth-at-po2",
        what="depth at which PO2 falls to a limit on the way up, with no oxygen added",
        unit="m",
        inputs=(*_ASCENT, PO2_TO),
        words=f"{_ASCENT_WORDS}; solved for the depth",
        equation=_depth_at,
        source=LOOP_SOURCE,
        validity="a steady ascent that vents all the way, nothing added",
        side=Side.UP,
        decimals=0,
        cautions=(*CAUTIONS, NO_PLAN),
        rules=(
            *SITE_RULES,
            below_ambient(),
            FALLS,
            VENTS,
            Rule(_passed, "PO2 is still above the limit at the surface."),
        ),
    ),
    Quantity(
        name="descent-po2",
        what="PO2 at the end of a descent with diluent making up the volume and no oxygen added",
        unit="bar",
        inputs=(
            PO2_FROM,
            Input("depth", "where the way down starts", "m", 0, 150, 0.0),
            DOWN_TO,
            DESCENT_RATE,
            DILUENT_OXYGEN,
            VO2,
            VOLUME,
            CELSIUS,
            *SITE,
        ),
        words="PO2 + oxygen share of the diluent x rise of pressure - fall by metabolism x (1 - that share) x minutes",
        equation=_down,
        source=LOOP_SOURCE,
        validity="a steady descent, nothing vented; a spike is highest where metabolism is low",
        side=Side.FROM_AIR,
        decimals=2,
        cautions=("Oxygen that a controller or a hand adds on the way comes on top.", NO_PLAN, WHOLE_LOOP, MIXED),
        rules=(
            *SITE_RULES,
            below_ambient(),
            Rule(lambda depth, depth_to, **_: depth_to >= depth, "A descent ends below where it starts."),
        ),
        found_rules=(Rule(_not_gone, GONE),),
    ),
)
