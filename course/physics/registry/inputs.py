"""Inputs, rules and cautions that several quantities share."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from course.physics.constants import LOOP_CELSIUS, WATER_VAPOUR_KPA
from course.physics.gas import SLACK, Narcotic
from course.physics.pressure import HIGHEST_M, LOWEST_M, Mode, Real, ambient_bar, surface_bar
from course.physics.quantity import Choice, Input, Rule

ALWAYS = np.True_
MODE = Choice(
    "mode", "how pressures are reckoned: 10 m is 1 bar on 1 bar, or the real surface", tuple(Mode), Mode.PHYSICAL
)
ALTITUDE = Input("altitude", "above sea level", "m", LOWEST_M, HIGHEST_M, 0.0)
BAROMETER = Input("barometer", "pressure read at the place, instead of an altitude", "hPa", 300, 1100, optional=True)
SITE = (MODE, ALTITUDE, BAROMETER)
DEPTH = Input("depth", "as a gauge shows it", "m", 0, 150)
DILUENT_OXYGEN = Input("diluent_oxygen", "dry share of oxygen in the diluent", "", 0, 1, 0.21)
DILUENT_HELIUM = Input("diluent_helium", "dry share of helium in the diluent", "", 0, 1, 0.0)
CELSIUS = Input("temperature", "of the gas in loop and lungs", "degC", 0, 45, LOOP_CELSIUS)
VO2 = Input("vo2", "metabolism: oxygen used, litres at 0 degC, 1 atm, dry", "L/min", 0.2, 4, (0.5, 3.0), banded=True)
VOLUME = Input("volume", "of the whole loop with the lungs in it", "L", 2, 15, (5.0, 8.0), banded=True)
PO2_FROM = Input("po2", "in the loop at the start", "bar", 0.01, 3)
PO2_TO = Input("limit", "PO2 that is looked for; 0.16 is the usual limit of hypoxia", "bar", 0, 3, 0.16)
MINUTES = Input("minutes", "since the start", "min", 0, 600)
SET_POINT = Input("set_point", "PO2 that is held", "bar", 0.16, 1.6)
DESCENT_RATE = Input(
    "descent_rate", "of going down, as a gauge shows it; usual value: common practice and no plan", "m/min", 1, 40, 18.0
)
CONVENTION = Choice("convention", "which gases narcotise", tuple(Narcotic), Narcotic.OXYGEN_COUNTS)

NEVER_SAFE = "A range over what nobody knows while it happens, and never a time that is safe."
NO_PLAN = "The rate is common practice, no plan and no advice; the agency's own holds."
MIXED = "Gas is taken as well mixed, dry and ideal; a real loop is none of these."
FEEL = "Low oxygen gives no warning: many do not notice before they cannot act."
WHOLE_LOOP = "The volume counts the lungs; bags alone would halve a time."
OXYGEN_LIMITS = (
    "0.16 bar is the usual limit of hypoxia, 0.10 where consciousness may go without warning (common practice)."
)
MOLES = "mole balance of a well mixed loop; own derivation, held against a mole-by-mole integration"
METABOLISM = (
    "metabolism 0.5 to 3 L/min: resting diver 0.64, own pace 1.5 (NEDU 1-89, abstract), hard work common practice"
)
VOLUMES = "loop with lungs 5 to 8 L: common practice"
LOOP_SOURCE = f"{MOLES}; {METABOLISM}; {VOLUMES}"

TRADE_AT_SEA = Rule(
    lambda mode, altitude=0.0, barometer=None, **_: (
        barometer is None and np.asarray(altitude) == 0 if mode is Mode.TRADE else ALWAYS
    ),
    "Trade mode takes the surface as 1 bar and knows no altitude and no barometer. Ask with mode=physical.",
)
ONE_SURFACE = Rule(
    lambda altitude=0.0, barometer=None, **_: barometer is None or np.asarray(altitude) == 0,
    "The barometer has the altitude in it. Give one of them.",
)
SITE_RULES = (TRADE_AT_SEA, ONE_SURFACE)
SHARES_SUM = Rule(
    lambda diluent_oxygen, diluent_helium=0.0, **_: diluent_oxygen + diluent_helium <= 1 + SLACK,
    "The shares of oxygen and helium in the diluent sum to more than 1.",
)
FALLS = Rule(lambda po2, limit, **_: limit <= po2 + SLACK, "PO2 falls here: the limit is above where it starts.")
DILUENT_NOT_OXYGEN = Rule(
    lambda diluent_oxygen, **_: diluent_oxygen < 1 - SLACK, "With pure oxygen as diluent PO2 does not fall."
)


_NO_GAS = "{} is above the whole pressure there: no gas has that."


def site_of(known: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was said of the place, out of all inputs."""
    return {key: known[key] for key in ("mode", "altitude", "barometer") if key in known}


def surface(mode: Mode, altitude: Real = 0.0, barometer: Real | None = None, **_: Any) -> Real:
    """Return the pressure at the surface in bar."""
    return surface_bar(mode, altitude, barometer)


def ambient(depth: Real, **site: Any) -> Real:
    """Return the pressure in bar at a depth."""
    return ambient_bar(depth, surface(**site))


def vapour(mode: Mode, **_: Any) -> Real:
    """Return the water vapour of loop gas in bar: 62.8 mbar at any depth; the trade leaves it out."""
    return 0.0 if mode is Mode.TRADE else WATER_VAPOUR_KPA / 100


def inert_left(key: str, none_left: str) -> Rule:
    """Return the rule that a PO2 is below the pressure at `depth`, with inert gas for the rest."""

    def holds(**known: Any) -> Any:
        return known[key] < ambient(known["depth"], **site_of(known)) - SLACK

    def why(**known: Any) -> str:
        there = float(ambient(known["depth"], **site_of(known)))
        return _NO_GAS.format(key) if known[key] > there + SLACK else none_left

    return Rule(holds, why)


HYPOXIC_BAR = 0.16
"""The usual limit (common practice)."""


def hypoxic_there(po2: float) -> str:
    """Say of a gas that its PO2 at the surface, in bar, is too low for it to be breathed there."""
    return (
        f"Hypoxic at the surface: a PO2 of {po2:.3f} bar there is below {HYPOXIC_BAR}, the usual limit. "
        "Nobody breathes it there; ask at the depth where it is breathed."
    )


def not_hypoxic_at_the_surface(po2_of: Callable[..., Real]) -> Rule:
    """Return the rule that a gas, by its PO2 out of all inputs, is not hypoxic where `depth` is the surface."""

    def holds(**known: Any) -> Any:
        return (po2_of(**known) >= HYPOXIC_BAR - SLACK) | (np.asarray(known["depth"]) > SLACK)

    return Rule(holds, lambda **known: hypoxic_there(float(po2_of(**known))))


NARCOTIC_AT_ALL = Rule(
    lambda found, **_: found >= -SLACK,
    "It narcotises less than air does at the surface: no depth has that.",
)
INERT_LEFT = inert_left("set_point", "At that set point and depth the loop is all oxygen.")


def below_ambient(key: str = "po2", depth: str = "depth") -> Rule:
    """Return the rule that a PO2 is not above the pressure at a depth; `depth` may be "surface"."""

    def holds(**known: Any) -> Any:
        site = site_of(known)
        there = surface(**site) if depth == "surface" else ambient(known[depth], **site)
        return known[key] <= there + SLACK

    return Rule(holds, _NO_GAS.format(key))
