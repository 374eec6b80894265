"""Gas properties against CoolProp, a general reference library of equations of state (for tests alone).

Air: Lemmon et al. 2000; oxygen: Schmidt and Wagner 1985; nitrogen: Span et al. 2000; helium: Ortiz-Vega et al.; water:
IAPWS-95. Mixtures: its multi-fluid model.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from CoolProp.CoolProp import PT_INPUTS, AbstractState, PropsSI

from course.physics import gas, pressure
from course.physics.constants import DRY_AIR_INERT, DRY_AIR_OXYGEN, WATER_VAPOUR_KPA
from course.physics.pressure import DENSITY, Water
from course.physics.registry import quantity
from course.physics.result import Result


def density(fluid: str, bar: float, celsius: float) -> float:
    return float(PropsSI("D", "P", bar * 1e5, "T", celsius + 273.15, fluid))


def mixed_density(oxygen: float, nitrogen: float, helium: float, bar: float, celsius: float) -> float:
    state: Any = AbstractState("HEOS", "Oxygen&Nitrogen&Helium")
    state.set_mole_fractions([oxygen, nitrogen, helium])
    state.update(PT_INPUTS, bar * 1e5, celsius + 273.15)
    return float(state.rhomass())


@pytest.mark.parametrize("celsius", range(0, 41, 5))
def test_saturation_pressure_is_that_of_water(celsius: int) -> None:
    """Within 0.1 % from 0.01 to 40 degC (its triple point is where the reference begins)."""
    warm = max(celsius, 0.01)
    expected = PropsSI("P", "T", warm + 273.15, "Q", 1, "Water") / 1000
    assert gas.saturation_kpa(warm) == pytest.approx(expected, rel=1.1e-3)


def test_vapour_of_the_loop_is_that_of_water_at_37_degrees() -> None:
    assert pytest.approx(PropsSI("P", "T", 310.15, "Q", 1, "Water") / 1000, rel=1e-3) == WATER_VAPOUR_KPA


@pytest.mark.parametrize(("water", "celsius"), [(Water.POOL_28, 28), (Water.POOL_20, 20), (Water.LAKE_10, 10)])
def test_density_of_fresh_water(water: Water, celsius: float) -> None:
    assert DENSITY[water] == pytest.approx(density("Water", 1.01325, celsius), abs=0.1)


@pytest.mark.parametrize("celsius", [0, 20, 37])
@pytest.mark.parametrize("bar", [1.01325, 4.0, 7.0])
@pytest.mark.parametrize(
    ("fluid", "shares"),
    [
        ("Air", (DRY_AIR_OXYGEN, DRY_AIR_INERT, 0.0)),
        ("Oxygen", (1.0, 0.0, 0.0)),
        ("Helium", (0.0, 0.0, 1.0)),
    ],
)
def test_ideal_density_is_near_that_of_the_real_gas(
    fluid: str, shares: tuple[float, float, float], bar: float, celsius: float
) -> None:
    """Within 0.7 %: what the registered quantity says of itself."""
    ours = float(gas.density_g_l(*(share * bar for share in shares), celsius))
    assert ours == pytest.approx(density(fluid, bar, celsius), rel=7e-3)


@pytest.mark.parametrize(("bar", "low"), [(11.0, 0.0065)])
def test_ideal_air_is_low_by_as_much_as_is_told(bar: float, low: float) -> None:
    """0.6 % at 11 bar and 0 degC, the unsafe side, which the quantity says."""
    ours = float(gas.density_g_l(DRY_AIR_OXYGEN * bar, DRY_AIR_INERT * bar, 0.0, 0.0))
    real = density("Air", bar, 0)
    assert 0 < (real - ours) / real < low
    assert "0.6 % low at 11 bar" in quantity("loop-density").source


@pytest.mark.parametrize("set_point", [0.7, 1.0, 1.3])
@pytest.mark.parametrize(("oxygen", "helium", "depth"), [(0.21, 0.0, 30), (0.18, 0.45, 60), (0.1, 0.5, 80)])
def test_loop_density_is_that_of_its_mixture(set_point: float, oxygen: float, helium: float, depth: float) -> None:
    """The loop's own shares at the set point, by the library's mixture model; argon makes ours heavier by 0.4 %."""
    found = quantity("loop-density").answer(
        set_point=set_point, depth=depth, diluent_oxygen=oxygen, diluent_helium=helium, temperature=20.0
    )
    assert isinstance(found, Result)
    bar = float(pressure.ambient_bar(depth, 1.01325))
    inert = 1 - set_point / bar
    of_helium = inert * helium / (1 - oxygen)
    real = mixed_density(set_point / bar, inert - of_helium, of_helium, bar, 20)
    assert found.exact == pytest.approx(real, rel=0.01)
    assert found.value >= found.exact


def test_the_standard_atmosphere_keeps_the_density_it_is_known_for() -> None:
    """1.225 kg/m3 at sea level and 15 degC, the standard's own number (ISO 2533, from memory); by both."""
    bar = float(pressure.altitude_bar(0.0))
    assert density("Air", bar, 15) == pytest.approx(1.225, abs=1e-3)
    assert float(gas.density_g_l(DRY_AIR_OXYGEN * bar, DRY_AIR_INERT * bar, 0.0, 15)) == pytest.approx(1.225, abs=1e-3)


def test_cooling_in_a_closed_loop_is_the_3_4_mbar_a_kelvin_of_the_pressure_test() -> None:
    """Air of constant density, 21 to 20 degC, by the library."""
    rho = density("Air", 1.01325, 21)
    there = PropsSI("P", "D", rho, "T", 293.15, "Air") / 100
    assert 1013.25 - there == pytest.approx(3.44, abs=0.02)
    found = quantity("positive-test").point(
        start=0.0, end=there - 1013.25, temperature=21, temperature_end=20, temperature_doubt=0.05, gauge_doubt=0.1,
        allowed=1, watched=60, watch=60,
    )  # fmt: skip
    assert isinstance(found, Result)
    assert abs(found.exact) < 0.02
    assert np.isfinite(found.value)
