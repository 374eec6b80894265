"""Checks of a unit: diluent flush, pressure tests, minutes on the scrubber."""

from __future__ import annotations

from typing import Any

from course.physics import canister, unit_checks
from course.physics.gas import SLACK
from course.physics.pressure import Mode, surface_bar
from course.physics.quantity import Input, Quantity, Rule
from course.physics.registry.inputs import (
    ALTITUDE,
    BAROMETER,
    DEPTH,
    DILUENT_OXYGEN,
    MINUTES,
    MIXED,
    ONE_SURFACE,
    OXYGEN_LIMITS,
    PO2_FROM,
    SITE,
    SITE_RULES,
    VO2,
    VOLUME,
    WHOLE_LOOP,
    ambient,
    below_ambient,
    not_hypoxic_at_the_surface,
    site_of,
    vapour,
)
from course.physics.result import Side

_MANUAL = "How long it is watched and what may be lost are the manual's figures."
_TEMPERATURE = (
    Input("temperature", "of the loop gas at the start", "degC", -5, 60, optional=True),
    Input("temperature_end", "of the loop gas at the end", "degC", -5, 60, optional=True),
    Input("temperature_doubt", "how wrong the difference of both may be", "K", 0.05, 10, 1.0),
)
_WATCHED = (
    Input("gauge_doubt", "how wrong the difference of both readings may be", "mbar", 0, 20, 1.0),
    Input("allowed", "loss that the manual allows", "mbar", 0, 100),
    Input("watched", "for how long", "s", 0, 3600),
    Input("watch", "for how long the manual says", "s", 1, 3600),
    ALTITUDE,
    BAROMETER,
)


def _loss(
    start: Any, end: Any, sign: int, temperature: Any, temperature_end: Any, altitude: Any, barometer: Any = None,
    **_: Any,
) -> Any:  # fmt: skip
    outside = surface_bar(Mode.PHYSICAL, altitude, barometer)
    return sign * unit_checks.unexplained_mbar(start, end, temperature, temperature_end, outside)


def _doubt(
    start: Any, temperature: Any, temperature_doubt: Any, gauge_doubt: Any, altitude: Any, barometer: Any = None,
    **_: Any,
) -> Any:  # fmt: skip
    outside = surface_bar(Mode.PHYSICAL, altitude, barometer)
    return unit_checks.doubt_mbar(start, outside, temperature, temperature_doubt, gauge_doubt)


def _pressure_test(name: str, what: str, sign: int, lowest: float, highest: float) -> Quantity:
    """One of both tests; `sign` is the direction in which a leak changes the pressure, turned to be a loss."""

    def loss(**known: Any) -> Any:
        return _loss(sign=sign, **known)

    def cannot_tell(allowed: Any, **known: Any) -> str:
        found, doubt = float(loss(**known)), float(_doubt(**known))
        return (
            f"Cannot tell: {found:.1f} mbar are not explained by temperature, and thermometer and gauge may be "
            f"wrong by {doubt:.1f}, so that it may be within the {allowed:g} that the manual allows or not."
        )

    def told(exact: float, allowed: Any, **_known: Any) -> str:
        return "A leak: more than the manual allows." if exact > allowed else "No more than the manual allows."

    start = Input("start", "over the pressure outside, at the start", "mbar", lowest, highest)
    end = Input("end", "the same, at the end", "mbar", lowest - 100, highest + 100)
    return Quantity(
        name=name,
        what=what,
        unit="mbar",
        inputs=(start, end, *_TEMPERATURE, *_WATCHED),
        words="change of pressure less what the ideal gas law gives for the change of temperature, counted as a loss",
        equation=loss,
        source="ideal gas law: 1 K is 3.4 mbar; doubts of thermometer and gauge as given",
        validity="a loop of fixed volume; the gas's own temperature, not the room's",
        side=Side.UP,
        decimals=1,
        cautions=(
            _MANUAL,
            "A unit in the sun can rise while it leaks.",
            "That no leak is seen proves no more than that.",
        ),
        rules=(
            Rule(
                lambda temperature=None, temperature_end=None, **_: (
                    temperature is not None and temperature_end is not None
                ),
                "Cannot tell: no temperature was noted at both ends, and 1 K is 3.4 mbar.",
            ),
            Rule(lambda watched, watch, **_: watched >= watch - SLACK, "Watched for less than the manual says."),
            ONE_SURFACE,
            Rule(
                lambda **known: loss(**known) >= -_doubt(**known),
                "Cannot tell: the pressure went the other way by more than temperature and doubt explain.",
            ),
            Rule(
                lambda allowed, **known: abs(loss(**known) - allowed) > _doubt(**known) - SLACK,
                cannot_tell,
            ),
        ),
        meaning=told,
    )


def _of_the_diluent(diluent_oxygen: Any, depth: Any, **known: Any) -> Any:
    site = site_of(known)
    return diluent_oxygen * (ambient(depth, **site) - vapour(**site))


def _scrubber_told(exact: float, figure: Any = None, **_: Any) -> str:
    over = exact - figure
    if over > SLACK:
        return f"Over the centre's own figure of {figure:g} min by {over:g}."
    return f"Within the centre's own figure of {figure:g} min; what is left is not told."


QUANTITIES = (
    Quantity(
        name="flush-po2",
        what="PO2 that cells ought to show after a diluent flush at depth",
        unit="bar",
        inputs=(
            PO2_FROM,
            DILUENT_OXYGEN,
            DEPTH,
            Input("exchanged", "share of the whole volume that the flush exchanged", "", 0, 1, (0.8, 1.0), banded=True),
            *SITE,
        ),
        words=(
            "diluent's PO2 + (PO2 before - diluent's PO2) x (1 - exchanged); diluent's PO2 = share x "
            "(pressure - vapour)"
        ),
        equation=lambda po2, diluent_oxygen, depth, exchanged, **site: unit_checks.po2_after_flush(
            po2, diluent_oxygen, ambient(depth, **site), vapour(**site), exchanged
        ),
        source="Dalton; exchanged share: an estimate (common practice)",
        validity="a known diluent, a held depth, no oxygen added during the flush",
        side=Side.NEAREST,
        decimals=2,
        cautions=("Cells that agree with it may still be limited above it: see cell-limit.", OXYGEN_LIMITS, MIXED),
        rules=(*SITE_RULES, below_ambient(), not_hypoxic_at_the_surface(_of_the_diluent)),
    ),
    _pressure_test(
        "positive-test", "loss of pressure in a positive test that temperature does not explain", -1, 0, 200
    ),
    _pressure_test("negative-test", "loss of vacuum in a negative test that temperature does not explain", 1, -400, 0),
    Quantity(
        name="leak-litres",
        what="litres of gas that an unexplained change of pressure stands for",
        unit="L",
        inputs=(Input("loss", "unexplained, from a pressure test", "mbar", 0, 400), VOLUME),
        words="volume x loss / 1013",
        equation=unit_checks.litres_through_leak,
        source="ideal gas law",
        validity="a rigid loop; a bag that gives way hides more",
        side=Side.UP,
        decimals=2,
        cautions=(_MANUAL, WHOLE_LOOP),
    ),
    Quantity(
        name="scrubber-minutes",
        what="loop minutes on a filling, against the centre's own figure",
        unit="min",
        inputs=(
            Input(
                "minutes",
                "all time on the loop since the filling: prebreathe, surface and water, whoever dived",
                "min",
                0,
                6000,
            ),
            Input("figure", "the centre's own, from the manual", "min", 1, 1000, optional=True),
        ),
        words="minutes on the loop, as recorded",
        equation=lambda minutes, **_: minutes,
        source="the centre's own record and figure",
        validity="minutes that were used; minutes left are never told",
        side=Side.UP,
        decimals=0,
        cautions=(
            "A test's minutes hold at its cold, depth, work and packing; stored open, a filling lasts shorter.",
            "Opening the canister does not start it anew; only a new filling does.",
            "A prebreathe does not prove a scrubber.",
        ),
        rules=(
            Rule(
                lambda figure=None, **_: figure is not None,
                "The centre has entered no figure of its own for this canister.",
            ),
        ),
        meaning=_scrubber_told,
    ),
    Quantity(
        name="co2-given-off",
        what="carbon dioxide breathed out in those minutes, at 0 degC, 1 atm and dry",
        unit="L",
        inputs=(
            MINUTES,
            VO2,
            Input("quotient", "litres of carbon dioxide for one of oxygen", "", 0.7, 1.0, (0.85, 0.95), banded=True),
        ),
        words="metabolism x quotient x minutes",
        equation=lambda minutes, vo2, quotient: canister.co2_given_off(vo2 * quotient, minutes),
        source="quotient 0.85 to 0.95: common practice; EN 14143 pairs 1.6 with 1.78 L/min (from memory)",
        validity="says nothing about what a canister binds: measured ones bound half of what pure lime could, or less",
        side=Side.UP,
        decimals=0,
        cautions=("Never a plan, and never a filling's life.",),
    ),
)
