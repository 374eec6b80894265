"""What follows from an error or a failure: mouthpiece open, oxygen valve open, carbon dioxide coming back."""

from __future__ import annotations

from typing import Any

from course.physics import canister, loop, mouthpiece
from course.physics.gas import SLACK, Narcotic
from course.physics.pressure import Mode
from course.physics.quantity import Choice, Input, Quantity, Rule
from course.physics.registry.inputs import (
    CELSIUS,
    CONVENTION,
    DEPTH,
    DILUENT_HELIUM,
    DILUENT_NOT_OXYGEN,
    DILUENT_OXYGEN,
    FALLS,
    INERT_LEFT,
    LOOP_SOURCE,
    MINUTES,
    MIXED,
    MOLES,
    NARCOTIC_AT_ALL,
    NEVER_SAFE,
    PO2_FROM,
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
)
from course.physics.result import Side, rounded

PLACE = Choice("place", "where the mouthpiece was open", ("surface", "underwater"), "surface")
EXCHANGED = Input("exchanged", "share of the whole volume that room air took, once", "", 0, 1, (0.3, 1.0), banded=True)
TIMES = Input("times", "how many times", "", 1, 50, 1.0)
SURFACE_PO2 = Input("po2", "in the loop at the surface, before; below 0.16 it is hypoxic", "bar", 0.16, 1.2)
_MOUTH = (SURFACE_PO2, DILUENT_OXYGEN, DILUENT_HELIUM, EXCHANGED, TIMES, PLACE, *SITE)
_MOUTH_DEPTH = (*_MOUTH, DEPTH, SET_POINT)
_MOUTH_RULES = (
    Rule(lambda place, **_: place == "surface", mouthpiece.FLOODED),
    *SITE_RULES,
    SHARES_SUM,
    DILUENT_NOT_OXYGEN,
    below_ambient("po2", "surface"),
)
_DEPTH_RULES = (*_MOUTH_RULES, INERT_LEFT)
MOUTH_SOURCE = (
    f"{MOLES}; exchanged share: an instructor's estimate, a breath of 2 L in 7 L is about 0.3 (common practice)"
)
_MOUTH_VALID = "at the surface, in air; the loop's inert part was the diluent's before"
_MOUTH_WORDS = "room air's share + (share before - room air's share) x (1 - exchanged) to the power of times"
MOUTH_CAUTIONS = (
    "The controller adds oxygen and hides it; what lasts is the inert gas.",
    "Helium does not come back by breathing, only by a diluent flush.",
    "Volume may be lost too, and with it buoyancy.",
    MIXED,
)


def _shares(po2: Any, diluent_oxygen: Any, diluent_helium: Any, exchanged: Any, times: Any, **known: Any) -> Any:
    before = mouthpiece.surface_shares(po2, surface(**site_of(known)), diluent_oxygen, diluent_helium)
    return mouthpiece.opened(before, exchanged, times)


def _inert(diluent_oxygen: Any, diluent_helium: Any, depth: Any, set_point: Any, **known: Any) -> Any:
    site = site_of(known)
    shares = _shares(diluent_oxygen=diluent_oxygen, diluent_helium=diluent_helium, **known)
    diluent = (diluent_oxygen, diluent_helium)
    return mouthpiece.inert_at_depth(shares, surface(**site), ambient(depth, **site), set_point, diluent)


def _narcotic(convention: Narcotic, mode: Mode, **known: Any) -> Any:
    site = site_of({**known, "mode": mode})
    shares = _shares(**{k: v for k, v in known.items() if k not in {"depth", "set_point"}}, mode=mode)
    diluent = (known["diluent_oxygen"], known["diluent_helium"])
    return mouthpiece.narcotic_depth_reached(
        shares, surface(**site), ambient(known["depth"], **site), known["set_point"], diluent, convention, mode
    )


def _before(equation: Any, side: Side, decimals: int, unit: str) -> Any:
    """Tell a number with what it was before the mouthpiece was open."""

    def told(_value: float, **known: Any) -> str:
        before = rounded(float(equation(**{**known, "exchanged": 0.0})), side, decimals)
        if before < 0:
            return "Had it stayed closed: less than air at the surface."
        return f"Had it stayed closed: {before:.{decimals}f} {unit}".rstrip() + "."

    return told


def _mouth(name: str, what: str, gas: int, side: Side) -> Quantity:
    def equation(**known: Any) -> Any:
        return _shares(**known)[gas]

    return Quantity(
        name=name,
        what=what,
        unit="",
        inputs=_MOUTH,
        words=_MOUTH_WORDS,
        equation=equation,
        source=MOUTH_SOURCE,
        validity=_MOUTH_VALID,
        side=side,
        decimals=3,
        cautions=MOUTH_CAUTIONS,
        rules=_MOUTH_RULES,
        meaning=_before(equation, side, 3, ""),
    )


def _nitrogen(**known: Any) -> Any:
    return _inert(**known)[0]


def _helium_flushed(flush: Any, **known: Any) -> Any:
    there = ambient(known["depth"], **site_of(known))
    diluent = (known["diluent_oxygen"], known["diluent_helium"])
    return mouthpiece.flushed(_inert(**known), known["set_point"], there, diluent, flush)


_VALVE_CAUTIONS = (
    NEVER_SAFE,
    "High oxygen may show as a convulsion without warning.",
    "An orifice fed by a regulator gives a steady amount only while the pressure before it is far above that behind.",
    MIXED,
)
INFLOW = Input("inflow", "oxygen through the open valve, litres at 0 degC, 1 atm, dry", "L/min", 0, 100)
HIGH = Input("limit", "PO2 that is looked for", "bar", 0.16, 3, 1.6)
_VALVE = (PO2_FROM, HIGH, INFLOW, DEPTH, VO2, VOLUME, CELSIUS, *SITE)
_RISES = (
    *SITE_RULES,
    below_ambient(),
    Rule(
        lambda inflow, vo2, **_: inflow > vo2, "Less oxygen flows in than is used: PO2 falls. See valve-short-minutes."
    ),
    Rule(lambda po2, limit, **_: limit >= po2 - SLACK, "PO2 rises here: the limit is below where it starts."),
    Rule(
        lambda limit, depth, **known: limit < ambient(depth, **site_of(known)) - SLACK,
        "PO2 does not get there at this depth: it would be the whole pressure or more.",
    ),
)
_FALLS_SHORT = Rule(
    lambda inflow, vo2, **_: inflow < vo2 - SLACK, "As much flows in as is used, or more: PO2 does not fall."
)

QUANTITIES = (
    _mouth("mouthpiece-oxygen", "oxygen share after the mouthpiece was open at the surface", 0, Side.DOWN),
    _mouth(
        "mouthpiece-nitrogen", "nitrogen share (with argon) after the mouthpiece was open at the surface", 1, Side.UP
    ),
    _mouth("mouthpiece-helium", "helium share after the mouthpiece was open at the surface", 2, Side.DOWN),
    Quantity(
        name="mouthpiece-nitrogen-at-depth",
        what="nitrogen pressure at the depth dived to after the mouthpiece was open at the surface",
        unit="bar",
        inputs=_MOUTH_DEPTH,
        words=f"{_MOUTH_WORDS}; then diluent makes up the volume on the way down and oxygen is held at the set point",
        equation=_nitrogen,
        source=MOUTH_SOURCE,
        validity=_MOUTH_VALID,
        side=Side.UP,
        decimals=2,
        cautions=MOUTH_CAUTIONS,
        rules=_DEPTH_RULES,
        meaning=_before(_nitrogen, Side.UP, 2, "bar"),
    ),
    Quantity(
        name="mouthpiece-narcotic-depth",
        what="narcotic depth at the depth dived to after the mouthpiece was open at the surface",
        unit="m",
        inputs=(*_MOUTH_DEPTH, CONVENTION),
        words=f"{_MOUTH_WORDS}; at depth the loop's own nitrogen and helium count, by the convention that is named",
        equation=_narcotic,
        source=f"{MOUTH_SOURCE}; conventions: common practice",
        validity=_MOUTH_VALID,
        side=Side.UP,
        decimals=1,
        cautions=MOUTH_CAUTIONS,
        rules=_DEPTH_RULES,
        found_rules=(NARCOTIC_AT_ALL,),
        meaning=_before(_narcotic, Side.UP, 1, "m"),
    ),
    Quantity(
        name="mouthpiece-helium-after-flush",
        what="helium pressure after a diluent flush at depth, the mouthpiece having been open at the surface",
        unit="bar",
        inputs=(*_MOUTH_DEPTH, Input("flush", "share of the volume that the flush exchanged", "", 0, 1)),
        words="diluent's helium + (loop's helium - diluent's helium) x (1 - flush), oxygen then held at the set point",
        equation=_helium_flushed,
        source=MOUTH_SOURCE,
        validity=_MOUTH_VALID,
        side=Side.DOWN,
        decimals=2,
        cautions=MOUTH_CAUTIONS,
        rules=_DEPTH_RULES,
    ),
    Quantity(
        name="valve-open-minutes",
        what="minutes until PO2 has risen to a limit: oxygen valve stuck open, the full loop vents",
        unit="min",
        inputs=_VALVE,
        words="pressure / surplus inflow x logarithm of (pressure - PO2) / (pressure - limit)",
        equation=lambda po2, limit, inflow, depth, vo2, volume, temperature, **site: loop.minutes_valve_vented(
            po2, limit, ambient(depth, **site), inflow, vo2, volume, temperature
        ),
        source=LOOP_SOURCE,
        validity="one depth held, steady inflow above metabolism, volume kept by venting",
        side=Side.DOWN,
        decimals=1,
        cautions=_VALVE_CAUTIONS,
        rules=_RISES,
    ),
    Quantity(
        name="valve-open-filling-minutes",
        what="minutes until PO2 has risen to a limit: oxygen valve stuck open, nothing vents and the loop fills",
        unit="min",
        inputs=_VALVE,
        words="(inert gas x limit / (pressure - limit) - PO2 x volume) / surplus inflow, the inert count unchanged",
        equation=lambda po2, limit, inflow, depth, vo2, volume, temperature, **site: loop.minutes_valve_filling(
            po2, limit, ambient(depth, **site), inflow, vo2, volume, temperature
        ),
        source=LOOP_SOURCE,
        validity=(
            "one depth held, steady inflow above metabolism, the loop not yet full; it lifts the diver as it fills"
        ),
        side=Side.DOWN,
        decimals=1,
        cautions=_VALVE_CAUTIONS,
        rules=_RISES,
    ),
    Quantity(
        name="valve-open-po2",
        what="PO2 after minutes: oxygen valve stuck open, the full loop vents",
        unit="bar",
        inputs=(PO2_FROM, MINUTES, INFLOW, DEPTH, VO2, VOLUME, CELSIUS, *SITE),
        words="pressure - (pressure - PO2) x e to the power of - surplus inflow x minutes / pressure",
        equation=lambda po2, minutes, inflow, depth, vo2, volume, temperature, **site: loop.po2_valve_vented(
            po2, minutes, ambient(depth, **site), inflow, vo2, volume, temperature
        ),
        source=LOOP_SOURCE,
        validity="one depth held, steady inflow above metabolism, volume kept by venting",
        side=Side.UP,
        decimals=2,
        cautions=_VALVE_CAUTIONS,
        rules=_RISES[:4],
    ),
    Quantity(
        name="valve-open-filling-po2",
        what="PO2 after minutes: oxygen valve stuck open, nothing vents and the loop fills",
        unit="bar",
        inputs=(PO2_FROM, MINUTES, INFLOW, DEPTH, VO2, VOLUME, CELSIUS, *SITE),
        words="pressure x oxygen / (oxygen + inert gas), the inert count unchanged",
        equation=lambda po2, minutes, inflow, depth, vo2, volume, temperature, **site: loop.po2_valve_filling(
            po2, minutes, ambient(depth, **site), inflow, vo2, volume, temperature
        ),
        source=LOOP_SOURCE,
        validity=(
            "one depth held, steady inflow above metabolism, the loop not yet full; it lifts the diver as it fills"
        ),
        side=Side.UP,
        decimals=2,
        cautions=_VALVE_CAUTIONS,
        rules=_RISES[:4],
    ),
    Quantity(
        name="valve-short-po2",
        what="PO2 after minutes: oxygen flows in steadily, but less than is used",
        unit="bar",
        inputs=(PO2_FROM, MINUTES, INFLOW, DILUENT_OXYGEN, VO2, VOLUME, CELSIUS),
        words="PO2 - shortfall in bar litres / volume x (1 - oxygen share of the diluent) x minutes",
        equation=lambda po2, minutes, inflow, diluent_oxygen, vo2, volume, temperature: loop.po2_valve_short(
            po2, minutes, inflow, vo2, volume, diluent_oxygen, temperature
        ),
        source=LOOP_SOURCE,
        validity="any depth held, volume kept by diluent, until the oxygen is gone",
        side=Side.DOWN,
        decimals=2,
        cautions=(NEVER_SAFE, MIXED),
        rules=(DILUENT_NOT_OXYGEN, _FALLS_SHORT),
        found_rules=(
            Rule(lambda found, **_: found >= 0, "The oxygen is gone before then: the PO2 would be below none."),
        ),
    ),
    Quantity(
        name="valve-short-minutes",
        what="minutes until PO2 has fallen to a limit: oxygen flows in steadily, but less than is used",
        unit="min",
        inputs=(
            PO2_FROM,
            Input("limit", "PO2 that is looked for", "bar", 0, 3, 0.16),
            INFLOW,
            DILUENT_OXYGEN,
            VO2,
            VOLUME,
            CELSIUS,
        ),
        words="(PO2 - limit) x volume / (shortfall in bar litres x (1 - oxygen share of the diluent))",
        equation=lambda po2, limit, inflow, diluent_oxygen, vo2, volume, temperature: loop.minutes_valve_short(
            po2, limit, inflow, vo2, volume, diluent_oxygen, temperature
        ),
        source=LOOP_SOURCE,
        validity="any depth held, volume kept by diluent",
        side=Side.DOWN,
        decimals=1,
        cautions=(NEVER_SAFE, MIXED),
        rules=(FALLS, DILUENT_NOT_OXYGEN, _FALLS_SHORT),
    ),
    Quantity(
        name="co2-inspired",
        what="carbon dioxide breathed in when gas passes beside the canister or a one-way valve leaks",
        unit="kPa",
        inputs=(
            Input("beside", "share of the breath out that passes the canister untouched", "", 0, 0.5, 0.0),
            Input("back", "share of the breath in that a leaking one-way valve lets back", "", 0, 0.5, 0.0),
            Input("quotient", "litres of carbon dioxide for one of oxygen", "", 0.7, 1.0, (0.85, 0.95), banded=True),
            Input(
                "ventilation",
                "litres breathed for one of oxygen used (0 degC, 1 atm, dry)",
                "L/L",
                15,
                40,
                (20.0, 30.0),
                banded=True,
            ),
            CELSIUS,
        ),
        words=(
            "m / (1 - m) x carbon dioxide given off in bar litres / ventilation, with m = back + (1 - back) x beside"
        ),
        equation=lambda beside, back, quotient, ventilation, temperature: canister.inspired_co2_kpa(
            quotient, ventilation, beside, back, temperature
        ),
        source=(
            "own steady model, held against a breath-by-breath simulation; 45 L/min at 2 L/min of carbon dioxide: "
            "Harvey et al. 2016 (abstract); ranges: common practice"
        ),
        validity=(
            "steady breathing, little coming back; neither depth nor work is in it while breathing keeps up with work"
        ),
        side=Side.UP,
        decimals=1,
        cautions=(
            "Tests of canisters end at 0.5 kPa (from memory) or 1 kPa (Harvey et al. 2016, abstract); neither is safe.",
            "Breathing in carbon dioxide may make a diver unable to go off the loop; the manual and the agency rule.",
            MIXED,
        ),
        rules=(
            Rule(
                lambda beside, back, **_: canister.rebreathed(beside, back) <= 0.5,
                "With more than half coming back the body does not give off a steady amount any more.",
            ),
        ),
    ),
)
