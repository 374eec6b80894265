"""What oxygen cells read, and what that does not prove."""

from __future__ import annotations

from typing import Any

from course.physics import cells, gas, pressure
from course.physics.gas import SLACK
from course.physics.quantity import Input, Quantity, Rule, Text
from course.physics.registry.inputs import SITE, SITE_RULES, surface
from course.physics.result import Side

MV_AIR = Input("mv_air", "what the cell shows in air", "mV", 1, 100)
HUMIDITY = Input("humidity", "relative, of the air at the cell, 0 to 1", "", 0, 1)
AIR_CELSIUS = Input("temperature", "of the air at the cell", "degC", 0, 45)
GAS_SHARE = Input("gas_oxygen", "dry share of oxygen in the calibration gas", "", 0.9, 1)
PRESSURE_OF_GAS = Input("pressure", "of the calibration gas, absolute", "bar", 0.5, 7)
_MANUAL = "The manual says which readings are good and when a cell is replaced."
_CELL = "millivolts follow the partial pressure at the cell's face; water vapour: Buck 1981, coefficients from memory"
_VALID = "a cell at the temperature at which it was calibrated"


def _air(humidity: Any, temperature: Any, **site: Any) -> Any:
    return cells.po2_in_air(surface(**site), humidity, temperature)


def _expected(mv_air: Any, gas_oxygen: Any, pressure: Any, **known: Any) -> Any:
    return cells.expected_mv(mv_air, _air(**known), gas_oxygen * pressure)


def _limit_told(exact: float, **_known: Any) -> str:
    return "Below 0.95, which common practice calls suspect." if exact < 0.95 - SLACK else ""


def _straight_told(exact: float, **_known: Any) -> str:
    return "" if 0.95 - SLACK <= exact <= 1.05 + SLACK else "Outside 0.95 to 1.05, an example of common practice."


def _voted(po2: Any, **known: Any) -> Any:
    return cells.voted([cells.shown_by(po2, known[f"gain_{n}"], known[f"limit_{n}"]) for n in (1, 2, 3)])


def _hidden_told(_exact: float, **known: Any) -> str:
    shown = [float(cells.shown_by(known["po2"], known[f"gain_{n}"], known[f"limit_{n}"])) for n in (1, 2, 3)]
    vote = float(_voted(**known))
    told = " / ".join(f"{one:.2f}" for one in shown)
    truest = min(range(3), key=lambda n: abs(shown[n] - known["po2"]))
    odd = max(range(3), key=lambda n: abs(shown[n] - vote))
    outvoted = (
        f", and the cell nearest the truth, {truest + 1}, is outvoted" if truest == odd and vote != shown[odd] else ""
    )
    return f"The cells show {told} and are voted to {vote:.2f} bar{outvoted}."


def _cell(number: int) -> tuple[Input, Input]:
    return (
        Input(f"gain_{number}", f"what share of the PO2 cell {number} reads", "", 0.2, 1.5, 1.0),
        Input(f"limit_{number}", f"the most that cell {number} can show", "bar", 0.1, 10, 10.0),
    )


QUANTITIES = (
    Quantity(
        name="cell-expected-mv",
        what="millivolts that a straight cell shows in the calibration gas, from its reading in air",
        unit="mV",
        inputs=(MV_AIR, GAS_SHARE, PRESSURE_OF_GAS, HUMIDITY, AIR_CELSIUS, *SITE),
        words="reading in air x oxygen share x pressure / (0.2095 x (air pressure - humidity x vapour pressure))",
        equation=_expected,
        source=_CELL,
        validity=f"{_VALID}; the calibration gas dry; 4.773 times the reading holds in dry air at one pressure only",
        side=Side.NEAREST,
        decimals=1,
        cautions=(_MANUAL,),
        rules=SITE_RULES,
    ),
    Quantity(
        name="cell-straightness",
        what="what a cell shows in the calibration gas, as a share of what a straight one would",
        unit="",
        inputs=(
            MV_AIR,
            Input("mv_gas", "what the cell shows in the calibration gas", "mV", 1, 500),
            GAS_SHARE,
            PRESSURE_OF_GAS,
            HUMIDITY,
            AIR_CELSIUS,
            *SITE,
        ),
        words="reading in the calibration gas / the reading that cell-expected-mv gives",
        equation=lambda mv_gas, **known: cells.straightness(mv_gas, _expected(**known)),
        source=_CELL,
        validity=f"{_VALID}; two points, and nothing above the higher one",
        side=Side.FROM_ONE,
        decimals=3,
        cautions=(_MANUAL, "Straight up to the calibration gas says nothing above it: see cell-limit."),
        rules=SITE_RULES,
        meaning=_straight_told,
    ),
    Quantity(
        name="cell-sea-level-mv",
        what="reading in air as it would be in dry air at 1.01325 bar, to compare over days and places",
        unit="mV",
        inputs=(MV_AIR, HUMIDITY, AIR_CELSIUS, *SITE),
        words="reading x 1.01325 / (air pressure - humidity x vapour pressure)",
        equation=lambda mv_air, **known: cells.sea_level_mv(mv_air, _air(**known)),
        source=_CELL,
        validity=_VALID,
        side=Side.NEAREST,
        decimals=2,
        cautions=(_MANUAL,),
        rules=SITE_RULES,
    ),
    Quantity(
        name="cell-po2-meant",
        what="real PO2 behind a shown one, where calibration took the gas for another than it was",
        unit="bar",
        inputs=(
            Input("shown", "PO2 on the display", "bar", 0, 3),
            Input("assumed", "PO2 that the unit took the calibration gas to have", "bar", 0.3, 3),
            GAS_SHARE,
            PRESSURE_OF_GAS,
            Input("wet", "water vapour in the calibration gas as relative humidity, 0 to 1", "", 0, 1, 0.0),
            Input("temperature", "of the calibration gas", "degC", 0, 45, 20.0),
        ),
        words="shown x oxygen share x (pressure - vapour) / assumed",
        equation=lambda shown, assumed, gas_oxygen, pressure, wet, temperature: cells.po2_meant(
            shown, assumed, gas.partial_bar(gas_oxygen, pressure, wet * gas.saturation_kpa(temperature) / 100)
        ),
        source=_CELL,
        validity=_VALID,
        side=Side.FROM_AIR,
        decimals=3,
        cautions=(_MANUAL, "A unit calibrated wrongly shows its set point and holds another PO2."),
    ),
    Quantity(
        name="cell-limit",
        what="what a cell shows above the set point, as a share of what its calibration leads to",
        unit="",
        inputs=(
            Input("mv_calibration", "what it showed in the calibration gas", "mV", 1, 500),
            Input("po2_calibration", "PO2 of the calibration gas", "bar", 0.5, 1.2),
            Input("mv_check", "what it shows now", "mV", 0, 1000),
            Input("po2_check", "PO2 now", "bar", 0.5, 3),
            Input("set_point", "the highest that is going to be used", "bar", 0.4, 1.6),
        ),
        words="reading now / (reading at calibration x PO2 now / PO2 at calibration)",
        equation=lambda mv_calibration, po2_calibration, mv_check, po2_check, **_: cells.straightness(
            mv_check, cells.expected_mv(mv_calibration, po2_calibration, po2_check)
        ),
        source="the cell's own line through its calibration; 0.95 as a limit is common practice",
        validity=(
            "a PO2 above the highest set point: one limited at 1.2 bar passes air, oxygen at the surface, straightness"
        ),
        side=Side.DOWN,
        decimals=3,
        cautions=(_MANUAL, "Two limited cells outvote the good one: voting is no proof."),
        rules=(
            Rule(
                lambda po2_check, set_point, **_: po2_check > set_point + SLACK,
                "Only a PO2 above the highest set point shows a current limit; this one proves nothing.",
            ),
        ),
        meaning=_limit_told,
    ),
    Quantity(
        name="cell-check-depth",
        what="depth that a gauge shows where oxygen has a PO2, for a check of cells above the set point",
        unit="m",
        inputs=(Input("po2", "PO2 of the check", "bar", 1.0, 1.6, 1.6), GAS_SHARE, *SITE),
        words="(PO2 / oxygen share - surface pressure) x 10",
        equation=lambda po2, gas_oxygen, **site: pressure.depth_m(gas.ambient_of(po2, gas_oxygen), surface(**site)),
        source="Dalton; the check at 6 m on oxygen is common practice",
        validity="oxygen of 90 % and more, to 1.6 bar",
        side=Side.DOWN,
        decimals=1,
        cautions=("Says where a number is read, not that anybody may go there or breathe it.",),
        rules=SITE_RULES,
        found_rules=(
            Rule(lambda found, **_: found >= -SLACK, "Oxygen has that PO2 at the surface already: no depth is needed."),
        ),
    ),
    Quantity(
        name="voting-hides",
        what="how far the real PO2 is above what three cells are voted to show",
        unit="bar",
        inputs=(Input("po2", "the real one", "bar", 0.05, 3), *_cell(1), *_cell(2), *_cell(3)),
        words=(
            "PO2 - mean of the two readings that are nearest each other; a reading is PO2 x gain, up to "
            "the cell's limit"
        ),
        equation=lambda po2, **known: po2 - _voted(po2, **known),
        source="voting by the nearest two: common practice; units differ, and the manual says how this one does",
        validity="three cells; below none the unit shows more than there is",
        side=Side.FROM_NONE,
        decimals=2,
        cautions=("Two cells may be wrong together: voting is no proof.",),
        rules=(),
        meaning=_hidden_told,
    ),
    Quantity(
        name="voted-po2",
        what="PO2 that the loop is really at while three cells are voted to show the set point",
        unit="bar",
        inputs=(
            Input("set_point", "PO2 that the unit holds by its vote", "bar", 0.16, 1.6),
            _cell(1)[0],
            _cell(2)[0],
            _cell(3)[0],
        ),
        words="set point / mean of the two gains that are nearest each other",
        equation=lambda set_point, **gains: set_point / cells.voted([gains[f"gain_{n}"] for n in (1, 2, 3)]),
        source="voting by the nearest two: common practice; units differ, and the manual says how this one does",
        validity=(
            "cells that read low or high by a share of what there is. Two that have stopped below the set point never "
            "show it: oxygen is added without end, up to the whole pressure, and there is no number"
        ),
        side=Side.FROM_AIR,
        decimals=2,
        cautions=("Two cells may be wrong together: voting is no proof.", _MANUAL),
    ),
    Quantity(
        name="cell-drift",
        what="change of a cell's reading in air in 30 days, over the unit's history",
        unit="%",
        inputs=(
            Text("readings", "day and millivolts (from cell-sea-level-mv), parted by semicolons", cells.read_readings),
        ),
        words="median of the slopes between all pairs of readings, for 30 days, against the reading at the start",
        equation=cells.drift_percent,
        source="Theil-Sen slope (Theil 1950, Sen 1968), as in scipy",
        validity="three readings or more over two weeks or more, each brought to dry air at 1.01325 bar",
        side=Side.FROM_NONE,
        decimals=1,
        cautions=(_MANUAL, "A steady reading in air says nothing about the current limit."),
    ),
    Quantity(
        name="cell-age",
        what="days since a cell was made",
        unit="days",
        inputs=(
            Text("made", "day on the cell", cells.read_day),
            Text("on", "day that is asked about", cells.read_day),
            Input("replace_after", "days after which the manual replaces it", "days", 1, 3650, optional=True),
        ),
        words="days from one day to the other",
        equation=lambda made, on, **_: cells.age_days(made, on),
        source="arithmetic; a cell ages from the day it was made, in its bag too (common practice)",
        validity="any two days, the first not after the second",
        side=Side.UP,
        decimals=0,
        cautions=(_MANUAL,),
        rules=(),
        meaning=lambda exact, replace_after=None, **_: (
            ""
            if replace_after is None
            else "Past the manual's age."
            if exact > replace_after
            else "Within the manual's age."
        ),
    ),
)
