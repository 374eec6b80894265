"""Gas, loop, exposure and unit checks against published numbers: published/trade.csv, each row with its source.

A row is read by the function in `READ` of its quantity's name; a row without one fails, and so does a reader without a
row. Quantities that are left out of the copied table stand with their reason in `physics_left_out.py`.
"""

# ruff: noqa: PLW0108 - the published rows name their inputs otherwise than our functions do

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from physics_left_out import QUANTITIES_LEFT_OUT

from course.physics import canister, cells, constants, exposure, gas, loop, pressure
from course.physics.exposure import Limit
from course.physics.gas import Narcotic
from course.physics.pressure import Mode
from course.physics.quantity import Input
from course.physics.registry import quantity
from course.physics.typed import _converted

with (Path(__file__).parent / "published" / "trade.csv").open(encoding="utf-8") as table:
    ROWS = {row["id"]: row for row in csv.DictReader(table)}


def converted(number: float, unit: str, to: str) -> float:
    """As what somebody types is converted."""
    return _converted(Input("x", "x", to, 0, 1e9), number, unit)


CONSTANTS: dict[str, Callable[[], float]] = {
    "molar_volume_L": lambda: constants.MOLAR_VOLUME_L,
    "atm_mmhg": lambda: converted(1, "atm", "mmHg"),
    "psi_pa": lambda: converted(1, "psi", "Pa"),
    "mmhg47_kpa": lambda: converted(47, "mmHg", "kPa"),
}


def altitude_hpa(h_m: float, kind: str = "geopotential") -> Any:
    return 1000 * pressure.altitude_bar(h_m, geometric=kind == "geometric")


def ambient(depth_m: float, surface_bar: float, density: float | None = None) -> Any:
    if density is None:
        return pressure.ambient_bar(depth_m, surface_bar)
    return surface_bar + pressure.column_bar(depth_m, density)


def oxygen_depth(f: float, limit: float, unit: str) -> Any:
    """Where a share has a PO2, in the trade's metres or feet."""
    there = pressure.depth_m(gas.ambient_of(limit, f), 1.0)
    return there if unit == "m" else there * constants.FSW_PER_ATMOSPHERE / 10


def density(p_bar: float, t_c: float, o2: float, n2: float, ar: float = 0.0, he: float = 0.0) -> Any:
    return gas.density_g_l(o2 * p_bar, (n2 + ar) * p_bar, he * p_bar, t_c)


def air_depth(rho: float) -> Any:
    of_one_bar = gas.density_g_l(constants.DRY_AIR_OXYGEN, constants.DRY_AIR_INERT, 0.0, 0.0)
    return pressure.depth_m(rho / of_one_bar, constants.ATMOSPHERE_BAR)


def narcotic(fhe: float, depth: float) -> Any:
    there = pressure.ambient_bar(depth, 1.0)
    return gas.narcotic_depth(0.15 * there, fhe * there, there, 1.0, Narcotic.OXYGEN_COUNTS, Mode.TRADE)


def kept(p_from: float, p_to: float, vo2: float, vol: float, t_c: float, fd: float = 0.0) -> Any:
    return loop.minutes_kept(p_from, p_to, vo2, vol, fd, t_c)


def quotient_within_what_is_assumed(vco2: float, vo2: float) -> float:
    """The ratio, held into the band that is assumed where nobody says another: outside of it the row would fail."""
    (quotient,) = (one for one in quantity("co2-inspired").inputs if one.key == "quotient")
    assert isinstance(quotient, Input)
    assert isinstance(quotient.default, tuple)
    low, high = quotient.default
    return min(max(vco2 / vo2, low), high)


READ: dict[str, Callable[..., Any]] = {
    "cns_limit": lambda p, table="single": exposure.limit_minutes(p, Limit.DAY if table == "day" else Limit.SINGLE),
    "cns_percent": lambda p, minutes: exposure.cns_percent(p, p, minutes),
    "otu_rate": lambda p: exposure.otu_rate(p),
    "otu_ramp": lambda p1, p2, minutes: exposure.otu(p1, p2, minutes),
    "altitude_pressure_hpa": altitude_hpa,
    "altitude_equiv_depth": lambda depth, p_sea, p_alt: pressure.sea_level_depth(depth, p_sea, p_alt),
    "ata_from_fsw": lambda fsw: pressure.trade_ata(fsw),
    "fsw_to_bar": lambda fsw: pressure.fsw_bar(fsw),
    "ambient_bar": ambient,
    "gauge_depth_to_real": lambda shown_m, density: pressure.tape_m(shown_m, density),
    "const": lambda name: CONSTANTS[name](),
    "po2": lambda f, depth, unit: gas.partial_bar(f, {"ft": pressure.trade_ata}[unit](depth)),
    "mod": oxygen_depth,
    "end_o2_narcotic": narcotic,
    "density_gl": density,
    "air_depth_for_density": air_depth,
    "psat_kpa": lambda t_c: gas.saturation_kpa(t_c),
    "psat_kpa_buck": lambda t_c: gas.saturation_kpa(t_c),
    "btps_to_stpd": lambda: gas.stpd_ratio(constants.ATMOSPHERE_BAR),
    "po2_humid": lambda f, p_bar, ph2o_bar: gas.partial_bar(f, p_bar, ph2o_bar),
    "t_constant_volume": kept,
    "t_shrinking": lambda p_from, p_to, vo2, vol, p, t_c: loop.minutes_shrinking(p_from, p_to, p, vo2, vol, t_c),
    "dilute": lambda x, amb, share, times=1: loop.diluted(x, amb, share, times),
    "ascend_no_vo2": lambda p, p1, p2: loop.po2_rising(p, p1, p2, 1.0, 0.0, 7.0),
    "ascend_vo2": lambda p, p1, p2, rate, vo2, vol: loop.po2_rising(p, p1, p2, rate, vo2, vol),
    "rq": quotient_within_what_is_assumed,
    "co2_fraction": lambda vco2, rmv: canister.breathed_out_more(vco2, rmv, constants.ATMOSPHERE_BAR, 0.0),
    "co2_per_kg_lime_stpd": lambda: canister.LIME_L_PER_KG,
    "co2_absorbed": lambda vco2, minutes: canister.co2_given_off(vco2, minutes),
    "mv_in_o2": lambda mv_air: cells.expected_mv(mv_air, cells.po2_in_air(1.0), 1.0),
}


@pytest.mark.parametrize("row", ROWS)
def test_what_we_compute_is_the_published_number(row: str) -> None:
    """Within the row's own tolerance; an absolute one."""
    told = ROWS[row]
    given = {key.lower(): value for key, value in json.loads(told["inputs_json"]).items()}
    found = float(READ[told["quantity"]](**given))
    assert found == pytest.approx(float(told["expected"]), abs=max(float(told["tolerance"]), 1e-9), rel=0)


def test_every_row_has_a_reader_a_source_and_every_reader_a_row() -> None:
    """A reference row that nobody reads would only look like a check."""
    assert {told["quantity"] for told in ROWS.values()} == set(READ)
    assert not set(READ) & set(QUANTITIES_LEFT_OUT)
    assert [
        row for row, told in ROWS.items() if not (told["source"] and told["source_kind"] and told["tolerance"])
    ] == []


@pytest.mark.parametrize(
    ("oxygen", "depth", "told"),
    [(0.36, 27, 20.0), (0.32, 30, 24.4)],
)
def test_narcotic_depth_of_nitrox_is_the_trades_equivalent_air_depth(oxygen: float, depth: float, told: float) -> None:
    """27 m on 36 %: 20 m is the published worked example; the second is common practice, own arithmetic."""
    there = pressure.ambient_bar(depth, 1.0)
    found = gas.narcotic_depth(oxygen * there, 0.0, there, 1.0, Narcotic.NITROGEN_ONLY, Mode.TRADE)
    assert found == pytest.approx(told, abs=0.05)
