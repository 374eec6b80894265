"""Pressure and gas, as far as loop and checks need them."""

from __future__ import annotations

from typing import Any

from course.physics import gas, pressure
from course.physics.constants import ATMOSPHERE_BAR
from course.physics.exposure import HIGHEST_ATA
from course.physics.gas import SLACK
from course.physics.pressure import DENSITY, Mode, Water, depth_m
from course.physics.quantity import Choice, Input, Quantity, Rule
from course.physics.registry.inputs import (
    ALTITUDE,
    CELSIUS,
    CONVENTION,
    DEPTH,
    DILUENT_HELIUM,
    DILUENT_NOT_OXYGEN,
    DILUENT_OXYGEN,
    HYPOXIC_BAR,
    INERT_LEFT,
    NARCOTIC_AT_ALL,
    SET_POINT,
    SHARES_SUM,
    SITE,
    SITE_RULES,
    ambient,
    not_hypoxic_at_the_surface,
    site_of,
    surface,
    vapour,
)
from course.physics.result import Side

OXYGEN = Input("oxygen", "dry share of oxygen", "", 0, 1)
HELIUM = Input("helium", "dry share of helium", "", 0, 1, 0.0)
_NITROGEN_NAMED = "Both conventions are in use and differ by metres; the agency says which."
_MIX_SUM = Rule(
    lambda oxygen, helium=0.0, **_: oxygen + helium <= 1 + SLACK, "The shares of oxygen and helium sum to more than 1."
)
_DENSITY_NOTE = (
    "5.2 g/L as an advised ceiling and 6.2 g/L as one not to exceed are said of gas at 0 degC (from memory, Anthony "
    "and Mitchell 2016); at another temperature the same number means another depth."
)


def _wet(oxygen: Any, depth: Any, mode: Mode, humid: str, **site: Any) -> Any:
    wet = vapour(mode) if humid == "wet" else 0.0
    return gas.partial_bar(oxygen, ambient(depth, mode=mode, **site), wet)


def _po2_told(exact: float, mode: Mode, **_known: Any) -> str:
    if exact < HYPOXIC_BAR - SLACK:
        return "Below 0.16 bar, the usual limit: this gas is hypoxic there."
    highest = HIGHEST_ATA * (1 if mode is Mode.TRADE else ATMOSPHERE_BAR)  # the trade does not tell bar and ata apart
    return "Above 1.6 ata: no oxygen limit is known there." if exact > highest + SLACK else ""


def _of_the_mix(oxygen: Any, depth: Any, **known: Any) -> Any:
    return gas.partial_bar(oxygen, ambient(depth, **site_of(known)))


_TRADE_IS_DRY = "The trade leaves water vapour out. Ask with mode=physical."
_DRY_IN_TRADE = Rule(lambda humid, mode, **_: not (humid == "wet" and mode is Mode.TRADE), _TRADE_IS_DRY)


def _loop_inert(set_point: Any, depth: Any, diluent_oxygen: Any, diluent_helium: Any, **known: Any) -> Any:
    """Nitrogen and helium in bar: what the set point leaves, split as in the diluent."""
    inert = ambient(depth, **site_of(known)) - set_point
    helium = inert * diluent_helium / (1 - diluent_oxygen)
    return inert - helium, helium


def _loop_narcotic(convention: Any, mode: Mode, set_point: Any, depth: Any, **known: Any) -> Any:
    site = {**site_of(known), "mode": mode}
    _, helium = _loop_inert(set_point=set_point, depth=depth, mode=mode, **known)
    return gas.narcotic_depth(set_point, helium, ambient(depth, **site), surface(**site), convention, mode)


def _mix_narcotic(oxygen: Any, helium: Any, depth: Any, convention: Any, mode: Mode, **known: Any) -> Any:
    site = {**site_of(known), "mode": mode}
    there = ambient(depth, **site)
    return gas.narcotic_depth(oxygen * there, helium * there, there, surface(**site), convention, mode)


def _loop_density(temperature: Any, set_point: Any, **known: Any) -> Any:
    nitrogen, helium = _loop_inert(set_point=set_point, **known)
    return gas.density_g_l(set_point, nitrogen, helium, temperature)


_LOOP_GAS = (SET_POINT, DEPTH, DILUENT_OXYGEN, DILUENT_HELIUM, *SITE)
_LOOP_RULES = (*SITE_RULES, SHARES_SUM, DILUENT_NOT_OXYGEN, INERT_LEFT)

QUANTITIES = (
    Quantity(
        name="ambient-pressure",
        what="pressure at a depth that a gauge shows",
        unit="bar",
        inputs=(DEPTH, *SITE),
        words="surface pressure + depth shown x 0.1 bar",
        equation=ambient,
        source="EN 13319:2000, +1 bar for 10 m shown (seen in a laboratory's summary)",
        validity="a gauge's metres are a pressure in every water; they are not corrected again by density",
        side=Side.NEAREST,
        decimals=3,
        cautions=(),
        rules=SITE_RULES,
    ),
    Quantity(
        name="depth-at-pressure",
        what="depth that a gauge shows at a pressure",
        unit="m",
        inputs=(Input("pressure", "absolute", "bar", 0.2, 20), *SITE),
        words="(pressure - surface pressure) / 0.1 bar",
        equation=lambda pressure, **site: depth_m(pressure, surface(**site)),
        source="EN 13319:2000, +1 bar for 10 m shown (seen in a laboratory's summary)",
        validity="from the surface down; in every water, as a gauge shows it",
        side=Side.NEAREST,
        decimals=2,
        rules=(
            *SITE_RULES,
            Rule(
                lambda pressure, **site: pressure >= surface(**site) - SLACK,
                "That is less than the pressure at the surface there: no depth has it.",
            ),
        ),
    ),
    Quantity(
        name="altitude-pressure",
        what="standard pressure of the air at an altitude",
        unit="hPa",
        inputs=(ALTITUDE,),
        words="1013.25 x (1 - 0.0065 x geopotential height / 288.15) to the power of 5.25588",
        equation=lambda altitude: pressure.altitude_bar(altitude) * 1000,
        source="US Standard Atmosphere 1976, ISO 2533",
        validity="-5000 to 11000 m; weather swings by about 30 hPa either way at one place",
        side=Side.NEAREST,
        decimals=1,
        cautions=("A barometer at the place is better.",),
    ),
    Quantity(
        name="depth-by-tape",
        what="how deep it is by a tape where a gauge shows a depth",
        unit="m",
        inputs=(DEPTH, Choice("water", "kind of water", tuple(Water), Water.POOL_28)),
        words="depth shown x 1019.7 / density of the water in kg/m3",
        equation=lambda depth, water: pressure.tape_m(depth, DENSITY[water]),
        source="EN 13319:2000 (as summarised); densities: IAPWS-95 for fresh water, US Navy Diving Manual for the sea",
        validity="one density from top to bottom",
        side=Side.NEAREST,
        decimals=2,
    ),
    Quantity(
        name="depth-by-gauge",
        what="depth that a gauge shows where it is so deep by a tape, such as in a pool",
        unit="m",
        inputs=(
            Input("tape", "measured by a tape", "m", 0, 150),
            Choice("water", "kind of water", tuple(Water), Water.POOL_28),
        ),
        words="depth by tape x density of the water in kg/m3 / 1019.7",
        equation=lambda tape, water: pressure.shown_at(tape, DENSITY[water]),
        source="EN 13319:2000 (as summarised); densities: IAPWS-95 for fresh water, US Navy Diving Manual for the sea",
        validity="one density from top to bottom",
        side=Side.NEAREST,
        decimals=2,
    ),
    Quantity(
        name="sea-level-depth",
        what="depth at sea level at which the pressure is as many times that of the surface",
        unit="m",
        inputs=(DEPTH, ALTITUDE),
        words="depth x standard pressure at sea level / standard pressure at the altitude",
        equation=lambda depth, altitude: pressure.sea_level_depth(
            depth, ATMOSPHERE_BAR, pressure.altitude_bar(altitude)
        ),
        source="US Navy Diving Manual (1999, change A), p. 9-38",
        validity="for reading a record against a requirement's depth; tables and procedures of the agency rule",
        side=Side.UP,
        decimals=1,
        cautions=("No table is to be entered with it.",),
    ),
    Quantity(
        name="oxygen-pressure",
        what="partial pressure of oxygen in gas of a dry share at a depth",
        unit="bar",
        inputs=(OXYGEN, DEPTH, Choice("humid", "dry, or wet at 37 degC as in a loop", ("dry", "wet"), "dry"), *SITE),
        words="dry share x (pressure - water vapour)",
        equation=_wet,
        source="Dalton; water vapour 6.28 kPa at 37 degC at any depth (respiratory tables; IAPWS-95)",
        validity="gas of a known share, at the surface one that is not hypoxic; on a loop the PO2 is the set point's",
        side=Side.FROM_AIR,
        decimals=3,
        cautions=("Says nothing about whether a gas may be breathed.",),
        rules=(*SITE_RULES, _DRY_IN_TRADE, not_hypoxic_at_the_surface(_wet)),
        meaning=_po2_told,
    ),
    Quantity(
        name="vapour-pressure",
        what="pressure of water vapour that air at a temperature can hold",
        unit="kPa",
        inputs=(Input("temperature", "of the air", "degC", 0, 50),),
        words="0.61121 x e to the power of (18.678 - t / 234.5) x t / (257.14 + t)",
        equation=gas.saturation_kpa,
        source="Buck 1981, coefficients from memory; within 0.1 % of IAPWS-95 from 0 to 40 degC",
        validity="0 to 50 degC",
        side=Side.NEAREST,
        decimals=2,
    ),
    Quantity(
        name="dry-litres",
        what="litres at 0 degC, 1 atm and dry in one litre of wet loop gas",
        unit="L",
        inputs=(DEPTH, CELSIUS, *SITE),
        words="(pressure - 6.28 kPa) / 101.325 kPa x 273.15 / (273.15 + t)",
        equation=lambda depth, temperature, **site: gas.stpd_ratio(ambient(depth, **site), temperature),
        source="respiratory physiology: 0.826 at 1 atm and 37 degC",
        validity="loop gas near 37 degC; 0.826 holds at 1 atm only",
        side=Side.NEAREST,
        decimals=3,
        cautions=(),
        rules=(*SITE_RULES, Rule(lambda mode, **_: mode is not Mode.TRADE, _TRADE_IS_DRY)),
    ),
    Quantity(
        name="loop-narcotic-depth",
        what="narcotic depth of a loop at its set point",
        unit="m",
        inputs=(*_LOOP_GAS, CONVENTION),
        words=(
            "oxygen counts: (pressure - helium - surface) x 10; nitrogen only: (nitrogen / its part of "
            "air - surface) x 10"
        ),
        equation=_loop_narcotic,
        source="conventions: common practice",
        validity="a loop whose inert part is the diluent's",
        side=Side.UP,
        decimals=1,
        cautions=(_NITROGEN_NAMED,),
        rules=_LOOP_RULES,
        found_rules=(NARCOTIC_AT_ALL,),
    ),
    Quantity(
        name="mix-narcotic-depth",
        what="narcotic depth of a gas of known shares, such as a bailout gas",
        unit="m",
        inputs=(OXYGEN, HELIUM, DEPTH, CONVENTION, *SITE),
        words=(
            "oxygen counts: (pressure - helium - surface) x 10; nitrogen only: (nitrogen / its part of "
            "air - surface) x 10"
        ),
        equation=_mix_narcotic,
        source="conventions: common practice",
        validity="open circuit; on a loop ask loop-narcotic-depth",
        side=Side.UP,
        decimals=1,
        cautions=(_NITROGEN_NAMED,),
        rules=(*SITE_RULES, _MIX_SUM, not_hypoxic_at_the_surface(_of_the_mix)),
        found_rules=(NARCOTIC_AT_ALL,),
    ),
    Quantity(
        name="loop-density",
        what="density of loop gas at its set point",
        unit="g/L",
        inputs=(*_LOOP_GAS, Input("temperature", "at which density is told", "degC", -5, 45, 0.0)),
        words="sum of partial pressures x molar masses / (gas constant x absolute temperature)",
        equation=_loop_density,
        source="ideal gas law, SI 2019; ideal is 0.6 % low at 11 bar and 0 degC (CoolProp 8.0.0)",
        validity="a loop whose inert part is the diluent's, to about 12 bar",
        side=Side.UP,
        decimals=1,
        cautions=(_DENSITY_NOTE, "Loop gas is not the gas on the cylinder's label."),
        rules=_LOOP_RULES,
    ),
)
