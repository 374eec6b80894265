"""What must hold of gas and numbers whatever goes in: amounts are conserved, answers finite, rounding never unsafe.

Each closed form is held against a mole-by-mole integration by scipy that knows nothing of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise, product
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from course.physics import canister, cells, exposure, gas, in_time, loop, mouthpiece, pressure
from course.physics.exposure import Between, Limit
from course.physics.quantity import Choice, Input, Quantity
from course.physics.registry import REGISTRY, quantity
from course.physics.result import Band, NoResult, Result, Side, rounded
from course.physics.series import co2_breath_by_breath, series

VO2, VOLUME, CELSIUS = st.floats(0.3, 3), st.floats(4, 9), st.floats(5, 40)
SHARE, AMBIENT = st.floats(0, 1), st.floats(1, 11)
OXYGEN = st.floats(0.05, 0.9)
BUSY = (HealthCheck.too_slow, HealthCheck.filter_too_much)
"""A busy machine draws slowly, and that is no fault."""
LAWS = settings(deadline=None, max_examples=40, suppress_health_check=BUSY)


def integrated(
    oxygen: float,
    inert: float,
    minutes: float,
    used: float,
    *,
    grows: float = 0.0,
    inflow: float = 0.0,
    diluent: float | None = None,
    vents: bool = True,
) -> tuple[float, float]:
    """Bar litres of oxygen and inert gas after minutes, mole by mole.

    `grows`: bar litres a minute by which the room for gas changes; what is missing comes as diluent of that oxygen
    share (none: the loop shrinks instead), what is too much is vented as it is (or not: the loop fills).
    """

    def change(_time: float, amounts: Any) -> list[float]:
        now = amounts[0] + amounts[1]
        of_oxygen, of_inert = inflow - used, 0.0
        missing = grows - of_oxygen
        if missing > 0 and diluent is not None:
            of_oxygen += diluent * missing
            of_inert += (1 - diluent) * missing
        elif missing < 0 and vents:
            of_oxygen += missing * amounts[0] / now
            of_inert += missing * amounts[1] / now
        return [of_oxygen, of_inert]

    done = solve_ivp(change, (0, minutes), [oxygen, inert], rtol=1e-10, atol=1e-12)
    return float(done.y[0, -1]), float(done.y[1, -1])


@LAWS
@given(OXYGEN, AMBIENT, VO2, VOLUME, CELSIUS, st.floats(0, 0.9), st.floats(0.05, 0.95))
def test_a_kept_volume_is_that_of_the_moles(
    share: float, ambient: float, vo2: float, volume: float, celsius: float, diluent: float, part: float
) -> None:
    po2 = share * ambient
    minutes = part * float(loop.minutes_kept(po2, 0.0, vo2, volume, diluent, celsius))
    used = float(loop.loop_bar_l(vo2, celsius))
    oxygen, inert = integrated(po2 * volume, (ambient - po2) * volume, minutes, used, diluent=diluent)
    assert oxygen + inert == pytest.approx(ambient * volume, rel=1e-8)
    assert loop.po2_kept(po2, minutes, vo2, volume, diluent, celsius) == pytest.approx(oxygen / volume, abs=1e-7)


@LAWS
@given(OXYGEN, AMBIENT, VO2, VOLUME, CELSIUS, st.floats(0.05, 0.95))
def test_a_shrinking_loop_is_that_of_the_moles(
    share: float, ambient: float, vo2: float, volume: float, celsius: float, part: float
) -> None:
    po2 = share * ambient
    minutes = part * float(loop.minutes_shrinking(po2, 0.0, ambient, vo2, volume, celsius))
    used = float(loop.loop_bar_l(vo2, celsius))
    oxygen, inert = integrated(po2 * volume, (ambient - po2) * volume, minutes, used)
    assert inert == pytest.approx((ambient - po2) * volume)
    there = ambient * oxygen / (oxygen + inert)
    assert loop.po2_shrinking(po2, minutes, ambient, vo2, volume, celsius) == pytest.approx(there, abs=1e-7)
    assert loop.minutes_shrinking(po2, there, ambient, vo2, volume, celsius) == pytest.approx(minutes, rel=1e-6)
    assert loop.volume_shrunk(po2, there, ambient, volume) == pytest.approx((oxygen + inert) / ambient, rel=1e-7)


@LAWS
@given(OXYGEN, st.floats(1.5, 11), st.floats(0.3, 0.95), st.floats(1.0, 3.0), VO2, VOLUME)
def test_an_ascent_is_that_of_the_moles(
    share: float, start: float, part: float, rate: float, vo2: float, volume: float
) -> None:
    end = start * part
    used = float(loop.loop_bar_l(vo2))
    assume(rate >= used / volume)
    minutes = (start - end) / rate
    found = float(loop.po2_rising(share * start, start, end, rate, vo2, volume))
    assume(found > 0)
    oxygen, inert = integrated(
        share * start * volume, (1 - share) * start * volume, minutes, used, grows=-rate * volume
    )
    assert oxygen + inert == pytest.approx(end * volume, rel=1e-8)
    assert found == pytest.approx(oxygen / volume, abs=1e-7)


@LAWS
@given(OXYGEN, st.floats(1, 3), st.floats(0.1, 8), st.floats(0.5, 4), SHARE, VO2, VOLUME)
def test_a_descent_is_that_of_the_moles(
    share: float, start: float, deeper: float, rate: float, diluent: float, vo2: float, volume: float
) -> None:
    minutes, used = deeper / rate, float(loop.loop_bar_l(vo2))
    found = float(loop.po2_going_down(share * start, start, start + deeper, minutes, diluent, vo2, volume))
    assume(found > 0)
    oxygen, inert = integrated(
        share * start * volume, (1 - share) * start * volume, minutes, used, grows=rate * volume, diluent=diluent
    )
    assert oxygen + inert == pytest.approx((start + deeper) * volume, rel=1e-8)
    assert found == pytest.approx(oxygen / volume, abs=1e-7)


@LAWS
@given(OXYGEN, AMBIENT, st.floats(0.1, 30), VO2, VOLUME, st.floats(0.1, 4))
def test_a_valve_stuck_open_is_that_of_the_moles_vented_and_filling(
    share: float, ambient: float, surplus: float, vo2: float, volume: float, minutes: float
) -> None:
    po2, inflow = share * ambient, vo2 + surplus
    amounts = (po2 * volume, (ambient - po2) * volume, minutes, float(loop.loop_bar_l(vo2)))
    oxygen, inert = integrated(*amounts, inflow=float(loop.loop_bar_l(inflow)))
    assert oxygen + inert == pytest.approx(ambient * volume, rel=1e-8)
    found = float(loop.po2_valve_vented(po2, minutes, ambient, inflow, vo2, volume))
    assert found == pytest.approx(oxygen / volume, abs=1e-7)
    assume(ambient - found > 1e-3)
    assert loop.minutes_valve_vented(po2, found, ambient, inflow, vo2, volume) == pytest.approx(minutes, rel=1e-6)
    oxygen, inert = integrated(*amounts, inflow=float(loop.loop_bar_l(inflow)), vents=False)
    there = ambient * oxygen / (oxygen + inert)
    assert loop.po2_valve_filling(po2, minutes, ambient, inflow, vo2, volume) == pytest.approx(there, abs=1e-7)
    assert loop.minutes_valve_filling(po2, there, ambient, inflow, vo2, volume) == pytest.approx(minutes, rel=1e-5)


@LAWS
@given(OXYGEN, AMBIENT, st.floats(0.01, 0.95), VO2, VOLUME, SHARE)
def test_a_valve_that_gives_too_little_is_that_of_the_moles(
    share: float, ambient: float, part: float, vo2: float, volume: float, diluent: float
) -> None:
    assume(diluent < 0.95)
    po2, inflow = share * ambient, part * vo2
    minutes = 0.5 * float(loop.minutes_valve_short(po2, 0.0, inflow, vo2, volume, diluent))
    oxygen, _ = integrated(
        po2 * volume, (ambient - po2) * volume, minutes, float(loop.loop_bar_l(vo2)),
        inflow=float(loop.loop_bar_l(inflow)), diluent=diluent,
    )  # fmt: skip
    assert oxygen / volume == pytest.approx(po2 / 2, rel=1e-6)
    assert loop.po2_valve_short(po2, minutes, inflow, vo2, volume, diluent) == pytest.approx(oxygen / volume, rel=1e-6)


@LAWS
@given(OXYGEN, st.floats(2, 11), st.floats(0.9, 3), VO2, VOLUME)
def test_the_pressure_at_a_po2_gives_that_po2(
    share: float, start: float, rate: float, vo2: float, volume: float
) -> None:
    assume(rate >= float(loop.fall_bar_min(vo2, volume)))
    po2 = share * start
    there = float(loop.pressure_at_po2(po2 / 2, po2, start, rate, vo2, volume))
    assert loop.po2_rising(po2, start, there, rate, vo2, volume) == pytest.approx(po2 / 2, abs=1e-9)
    gone = float(loop.pressure_oxygen_gone(po2, start, rate, vo2, volume))
    assert gone < there < start
    assert loop.po2_rising(po2, start, gone, rate, vo2, volume) == pytest.approx(0, abs=1e-9)


@LAWS
@given(st.floats(0.05, 0.9), st.floats(0, 0.9), SHARE, st.integers(1, 9), st.floats(2, 11), st.floats(0.1, 0.9))
def test_shares_sum_to_one_and_helium_only_falls_when_the_mouthpiece_is_open(
    oxygen: float, helium: float, exchanged: float, times: int, ambient: float, set_point: float
) -> None:
    assume(oxygen + helium <= 1)
    before = mouthpiece.surface_shares(0.7, 1.01325, oxygen, helium)
    after = mouthpiece.opened(before, exchanged, times)
    assert sum(before) == pytest.approx(1)
    assert sum(after) == pytest.approx(1)
    assert after[2] <= before[2] + 1e-12
    inert = mouthpiece.inert_at_depth(after, 1.01325, ambient, set_point, (oxygen, helium))
    assert sum(inert) + set_point == pytest.approx(ambient)


@LAWS
@given(st.floats(0.05, 0.9), st.floats(0.01, 0.9), SHARE, st.integers(1, 6), st.floats(2, 11), st.floats(4, 9))
def test_an_open_mouthpiece_and_the_way_down_are_that_of_the_moles(
    oxygen: float, helium: float, exchanged: float, times: int, ambient: float, volume: float
) -> None:
    """Bar litres of nitrogen and helium, exchange by exchange, then diluent as pressure rises, by scipy."""
    assume(oxygen + helium <= 0.95)
    surface = 1.01325
    shares = mouthpiece.surface_shares(0.7, surface, oxygen, helium)
    amounts = np.array(shares[1:]) * surface * volume
    for _ in range(times):
        amounts = amounts - exchanged * amounts + exchanged * volume * surface * np.array([0.7905, 0.0])
    added = volume * np.array([1 - oxygen - helium, helium])
    amounts = solve_ivp(lambda _bar, _now: added, (surface, ambient), amounts, rtol=1e-10, atol=1e-12).y[:, -1]
    after = mouthpiece.opened(shares, exchanged, times)
    found = mouthpiece.inert_at_depth(after, surface, ambient, 1.2, (oxygen, helium))
    assert found == pytest.approx(tuple((ambient - 1.2) * amounts / amounts.sum()), rel=1e-6, abs=1e-9)


@LAWS
@given(OXYGEN, AMBIENT, st.floats(1, 60), SHARE, VO2, VOLUME, st.floats(0.05, 3))
def test_a_flush_by_the_clock_is_that_of_the_moles(
    share: float, ambient: float, surplus: float, diluent: float, vo2: float, volume: float, minutes: float
) -> None:
    """Diluent in, metabolism out and the full loop venting, mole by mole; a gas that is only vented tells the share."""
    flow, used = vo2 + surplus, float(loop.loop_bar_l(vo2))
    comes = float(loop.loop_bar_l(flow))

    def change(_time: float, amounts: Any) -> list[float]:
        out = (comes - used) / (ambient * volume)
        return [comes * diluent - used - out * amounts[0], -out * amounts[1]]

    old = (1 - share) * ambient * volume
    done = solve_ivp(change, (0, minutes), [share * ambient * volume, old], rtol=1e-10, atol=1e-12)
    found = in_time.po2_flushed(share * ambient, minutes, flow, diluent, ambient, vo2, volume)
    assert found == pytest.approx(done.y[0, -1] / volume, abs=1e-7)
    left = in_time.old_gas_left(minutes, flow, ambient, vo2, volume)
    assert left == pytest.approx(done.y[1, -1] / old, abs=1e-7)


@LAWS
@given(st.floats(0.3, 2), st.integers(0, 40), st.floats(10, 80), VOLUME)
def test_an_open_mouthpiece_by_the_clock_is_breath_by_breath(
    breath: float, count: int, breathed: float, volume: float
) -> None:
    old = volume
    for _ in range(count):
        old -= breath * old / volume
    share = in_time.exchanged_by_breaths(count * breath / breathed, breath, breathed, volume)
    assert share == pytest.approx(1 - old / volume, abs=1e-9)


@LAWS
@given(st.floats(0.3, 0.9), st.floats(0, 60), st.floats(0.1, 2), SHARE, VO2, VOLUME)
def test_opened_at_the_surface_and_then_down_is_that_of_the_moles(
    po2: float, seconds: float, closed: float, diluent: float, vo2: float, volume: float
) -> None:
    """The share of room air first, then a descent mole by mole to 20 m at 18 m/min, and the depth held after it."""
    asked = REGISTRY["mouthpiece-po2-in-time"].point(
        po2=po2, seconds=seconds, minutes=seconds / 60 + closed, depth=20.0, diluent_oxygen=diluent, vo2=vo2,
        volume=volume,
    )  # fmt: skip
    assume(isinstance(asked, Result))
    assert isinstance(asked, Result)
    surface, used = 1.01325, float(loop.loop_bar_l(vo2))
    taken = float(in_time.exchanged_by_breaths(seconds / 60, 2.0, 25 * vo2, volume))
    oxygen = ((1 - taken) * po2 + taken * 0.2095 * surface) * volume
    down = min(closed, 20 / 18)
    amounts = integrated(oxygen, surface * volume - oxygen, down, used, grows=1.8 * volume, diluent=diluent)
    if closed > down:
        amounts = integrated(*amounts, closed - down, used, diluent=diluent)
    assert asked.exact == pytest.approx(amounts[0] / volume, abs=1e-4)


_SURFACE, _AIR = 1.01325, (0.2095, 0.7905, 0.0)


def _breathed_open(po2: float, oxygen: float, helium: float, breaths: int, volume: float) -> list[float]:
    """Bar litres of oxygen, nitrogen and helium after breaths of 2 L, each put in the place of the loop's gas."""
    inert = _SURFACE - po2
    start = (po2, inert * (1 - oxygen - helium) / (1 - oxygen), inert * helium / (1 - oxygen))
    amounts = [volume * one for one in start]
    for _ in range(breaths):
        amounts = [(1 - 2 / volume) * had + 2 * _SURFACE * air for had, air in zip(amounts, _AIR, strict=True)]
    return amounts


@LAWS
@given(
    st.floats(0.3, 0.9), st.floats(0.1, 0.4), st.floats(0, 0.6), st.integers(0, 30), VO2, VOLUME, st.floats(0.1, 4),
    st.floats(1, 90),
)  # fmt: skip
def test_open_then_down_then_flushed_is_that_of_the_moles_of_every_gas(
    po2: float, oxygen: float, helium: float, breaths: int, vo2: float, volume: float, minutes: float, flushed: float
) -> None:
    """Breath by breath, down in small steps to 30 m, then diluent in and the full loop venting by scipy's integrator.

    Narcotic depth from those amounts by both conventions, each as its words say it: all but helium against air, and
    nitrogen against air's own share of it (common practice).
    """
    gas_in = {"po2": po2, "diluent_oxygen": oxygen, "diluent_helium": helium, "vo2": vo2, "volume": volume}
    seconds = 60 * breaths * 2 / (25 * vo2)
    assume(seconds <= 600)
    amounts = _breathed_open(po2, oxygen, helium, breaths, volume)

    def asked(name: str, **more: Any) -> float:
        found = quantity(name).point(**gas_in, seconds=seconds, **more)
        assume(isinstance(found, Result))
        assert isinstance(found, Result)
        return found.exact

    for name, amount in zip(("oxygen", "nitrogen", "helium"), amounts, strict=True):
        share = amount / (volume * _SURFACE)
        assert asked(f"mouthpiece-{name}-in-time") == pytest.approx(share, rel=1e-9, abs=1e-12)

    depth = min(18 * minutes, 30.0)
    ambient, nitrogen, helium_there = _SURFACE + depth / 10, amounts[1], amounts[2]
    assume(ambient > 1.25)
    for _ in range(300):
        nitrogen += (1 - oxygen - helium) * volume * depth / 10 / 300
        helium_there += helium * volume * depth / 10 / 300
    inert = ambient - 1.2
    there = inert * nitrogen / (nitrogen + helium_there), inert * helium_there / (nitrogen + helium_there)
    down = {"depth": 30.0, "set_point": 1.2, "minutes": minutes}
    assert asked("mouthpiece-nitrogen-down-in-time", **down) == pytest.approx(there[0], rel=1e-6)
    all_but_helium = ((ambient - there[1]) - _SURFACE) * 10
    by_nitrogen = (there[0] / 0.7905 - _SURFACE) * 10
    told = [asked("mouthpiece-narcotic-in-time", **down, convention=one) for one in gas.Narcotic]
    assert told == pytest.approx([all_but_helium, by_nitrogen], abs=1e-5)

    if depth < 30:
        return
    used, comes = (float(loop.loop_bar_l(one)) for one in (vo2, 40.0))
    dry = ambient - 0.0628

    def change(_time: float, now: Any) -> list[float]:
        return [comes * share - (comes - used) * one / (dry * volume) for share, one in zip(fresh, now, strict=True)]

    fresh = (1 - oxygen - helium, helium)
    done = solve_ivp(change, (0, flushed / 60), [one * volume for one in there], rtol=1e-10, atol=1e-12).y[:, -1]
    helium_after = asked("mouthpiece-helium-flush-in-time", depth=30.0, set_point=1.2, flush_seconds=flushed)
    assert helium_after == pytest.approx(inert * done[1] / done.sum(), abs=1e-6)


@LAWS
@given(OXYGEN, AMBIENT, VO2, VOLUME, st.floats(0.05, 0.95))
def test_the_litres_left_are_those_of_the_moles(
    share: float, ambient: float, vo2: float, volume: float, part: float
) -> None:
    used = float(loop.loop_bar_l(vo2))
    minutes = part * share * ambient * volume / used
    oxygen, inert = integrated(share * ambient * volume, (1 - share) * ambient * volume, minutes, used)
    assert in_time.volume_left(minutes, ambient, vo2, volume) == pytest.approx((oxygen + inert) / ambient, rel=1e-7)


@LAWS
@given(st.floats(0.2, 3), st.floats(10, 100), st.floats(0, 0.5), st.floats(0, 0.5), AMBIENT)
def test_the_steady_model_of_carbon_dioxide_is_where_breath_by_breath_ends(
    vco2: float, ventilation: float, beside: float, back: float, ambient: float
) -> None:
    """Own model against own simulation, which mixes lungs and bag and knows none of its algebra."""
    told = canister.breaths(900, vco2=vco2, ventilation=ventilation, beside=beside, back=back, ambient=ambient)
    steady = float(canister.inspired_co2_kpa(vco2, ventilation, beside, back))
    assert told[-1] == pytest.approx(steady, rel=1e-6, abs=1e-9)
    assert all(one <= later + 1e-12 for one, later in pairwise(told))


@LAWS
@given(st.floats(0.4, 1.6), st.floats(0.4, 1.6), st.floats(0.1, 300), st.sampled_from(Limit), st.sampled_from(Between))
def test_a_ramp_is_the_integral_of_the_rate(
    start: float, end: float, minutes: float, limit: Limit, between: Between
) -> None:
    """scipy's quadrature, told where the table's lines are."""
    assume(abs(start - end) > 0.01)

    def po2(time: float) -> float:
        return start + (end - start) * time / minutes

    lines = [(line - start) / (end - start) * minutes for line in (0.5, *exposure.LINES_ATA)]
    inside = sorted(time for time in lines if 0 < time < minutes)

    def over(rate: Callable[[float], float]) -> float:
        edges = [0.0, *inside, minutes]
        return sum(quad(rate, a, b)[0] for a, b in pairwise(edges))

    share = over(lambda t: 100 / float(exposure.limit_minutes(po2(t), limit, between)))
    assert exposure.cns_percent(start, end, minutes, limit, between) == pytest.approx(share, rel=1e-5, abs=1e-9)
    units = over(lambda t: float(exposure.otu_rate(po2(t))))
    assert exposure.otu(start, end, minutes) == pytest.approx(units, rel=1e-5, abs=1e-9)
    assert exposure.otu(end, start, minutes) == pytest.approx(exposure.otu(start, end, minutes))


@LAWS
@given(st.floats(0, 1.6), st.floats(0, 1.6))
def test_more_oxygen_is_never_a_smaller_dose(one: float, other: float) -> None:
    low, high = sorted((one, other))
    for between in Between:
        for limit in Limit:
            assert exposure.limit_minutes(high, limit, between) <= exposure.limit_minutes(low, limit, between)
    assert exposure.otu_rate(low) <= exposure.otu_rate(high)
    assert exposure.limit_minutes(high) <= exposure.limit_minutes(high, between=Between.LINEAR) + 1e-5


@LAWS
@given(st.floats(-1e4, 1e4), st.sampled_from(Side), st.integers(0, 3))
def test_rounding_is_never_on_the_unsafe_side_and_never_done_twice(value: float, side: Side, decimals: int) -> None:
    """But for what floats differ by; rounding what is rounded changes nothing."""
    found = rounded(value, side, decimals)
    noise = 2e-9 / 10**decimals
    if side is Side.UP:
        assert found >= value - noise
    if side is Side.DOWN:
        assert found <= value + noise
    nothing_wrong = {Side.FROM_NONE: 0.0, Side.FROM_ONE: 1.0, Side.FROM_AIR: 0.21}.get(side)
    if nothing_wrong is not None:
        assert abs(found - nothing_wrong) >= abs(value - nothing_wrong) - noise
        assert (found - nothing_wrong) * (value - nothing_wrong) >= -noise
    assert abs(found - value) <= 1 / 10**decimals + noise
    assert rounded(found, side, decimals) == found


@LAWS
@given(st.floats(-4000, 10000), st.floats(-4000, 10000), st.floats(0, 150))
def test_higher_is_thinner_and_depth_and_pressure_are_one_round_trip(one: float, other: float, depth: float) -> None:
    low, high = sorted((one, other))
    assert pressure.altitude_bar(high) <= pressure.altitude_bar(low)
    surface = pressure.altitude_bar(one)
    assert pressure.depth_m(pressure.ambient_bar(depth, surface), surface) == pytest.approx(depth, abs=1e-9)


@LAWS
@given(st.lists(st.floats(0.1, 3), min_size=3, max_size=3))
def test_a_vote_lies_between_two_cells_and_does_not_care_for_their_order(readings: list[float]) -> None:
    vote = float(cells.voted(readings))
    assert min(readings) - 1e-12 <= vote <= max(readings) + 1e-12
    assert float(cells.voted(readings[::-1])) == vote


def _numbers(one: Input) -> st.SearchStrategy[float | None]:
    reach = one.highest - one.lowest
    inside = st.floats(one.lowest, one.highest)
    outside = st.sampled_from([one.lowest - 0.1 * reach, one.highest + 0.1 * reach, math.nan, math.inf, -math.inf])
    usual = one.default[0] if isinstance(one.default, tuple) else one.default
    likely = [inside, inside, inside, outside]
    return st.one_of(*likely, st.just(usual)) if usual is not None or one.optional else st.one_of(*likely)


def _inputs(one: Quantity) -> st.SearchStrategy[dict[str, Any]]:
    fields: dict[str, st.SearchStrategy[Any]] = {}
    for each in one.inputs:
        if isinstance(each, Input):
            fields[each.key] = _numbers(each)
        elif isinstance(each, Choice):
            fields[each.key] = st.sampled_from([*each.options, "neither"])
    return st.fixed_dictionaries(fields)


NUMERIC = [name for name, one in REGISTRY.items() if all(isinstance(i, Input | Choice) for i in one.inputs)]
POINTS = 60
ALONG = [name for name in NUMERIC if name not in {"cns-share", "otu"}]


@pytest.mark.parametrize("name", NUMERIC)
def test_whatever_goes_in_a_finite_number_or_a_reason_comes_out(name: str) -> None:
    """Never NaN, never an exception, a number that rounds to its side, and no gas above the whole pressure there."""
    one = quantity(name)

    @settings(deadline=None, max_examples=40, suppress_health_check=BUSY)
    @given(_inputs(one))
    def holds(inputs: dict[str, Any]) -> None:
        with np.errstate(all="ignore"):
            found = one.point(**inputs)
        if isinstance(found, NoResult):
            assert found.reason
            return
        assert math.isfinite(found.value)
        assert found.value == rounded(found.exact, one.side, one.decimals)
        if one.unit == "bar" and "depth" in inputs:
            deepest = max(inputs["depth"], inputs.get("depth_to", 0.0))
            surface = pressure.surface_bar(inputs["mode"], inputs["altitude"], inputs.get("barometer"))
            assert 0 <= found.exact <= pressure.ambient_bar(deepest, surface) + 1e-9
        assert {g.key for g in found.inputs} <= {i.key for i in one.inputs}

    holds()


@pytest.mark.parametrize("name", ALONG)
def test_over_arrays_the_same_numbers_come_out_and_invalid_points_are_marked(name: str) -> None:
    """Points drawn in and around the ranges, for every choice of words; some are no number."""
    one, random = quantity(name), np.random.default_rng(4026)
    numbers = [i for i in one.inputs if isinstance(i, Input) and i.key != "barometer"]
    choices = [c for c in one.inputs if isinstance(c, Choice)]
    valid = 0
    for words in product(*(choice.options for choice in choices)):
        chosen = dict(zip((choice.key for choice in choices), words, strict=True))
        columns = {i.key: random.uniform(i.lowest, i.highest, POINTS) for i in numbers}
        if "altitude" in columns:
            columns["altitude"][::2] = 0.0
        for key, part in {"inflow": 50, "minutes": 100}.items():  # else hardly any point would still hold oxygen
            if key in columns:
                columns[key][::2] /= part
        columns[numbers[0].key][:3] = (math.nan, math.inf, numbers[0].lowest - 1)
        points = one.over(**chosen, **columns)
        valid += int(points.valid.sum())
        for place in range(POINTS):
            found = one.point(**chosen, **{key: float(column[place]) for key, column in columns.items()})
            assert isinstance(found, Result) == bool(points.valid[place])
            if isinstance(found, Result):
                assert points.values[place] == pytest.approx(found.exact, rel=1e-9, abs=1e-12)
    assert valid > 0


@pytest.mark.parametrize("name", [name for name in NUMERIC if quantity(name).banded])
def test_what_lies_between_the_ends_lies_in_the_band(name: str) -> None:
    one = quantity(name)

    @settings(deadline=None, max_examples=20, suppress_health_check=BUSY)
    @given(st.data())
    def holds(data: st.DataObject) -> None:
        inputs = data.draw(_inputs(one))
        bands = {}
        for each in one.banded:
            ends = sorted(data.draw(st.floats(each.lowest, each.highest)) for _ in range(2))
            assume(ends[0] < ends[1])
            bands[each.key] = (ends[0], ends[1])
        between = {key: data.draw(st.floats(*ends)) for key, ends in bands.items()}
        with np.errstate(all="ignore"):
            band = one.answer(**{**inputs, **bands})
            inner = one.point(**{**inputs, **between})
        assert isinstance(band, Band)
        if band.lowest and band.highest and not band.reasons:
            assert isinstance(inner, Result)
            slack = 1e-9 * max(1, abs(inner.exact))
            assert band.lowest.exact - slack <= inner.exact <= band.highest.exact + slack

    holds()


def test_a_band_is_as_wide_as_what_lies_between_its_ends_where_a_quantity_bends() -> None:
    """A small loop takes in more room air and is flushed sooner: helium is lowest between both volumes."""
    given = {
        "po2": 0.168, "diluent_oxygen": 0.623, "diluent_helium": 0.209, "seconds": 12.8, "breath": 0.9, "depth": 148.0,
        "ventilation": 29.1, "mode": "trade", "set_point": 0.45, "flush_seconds": 67.0, "flow": 32.9,
        "temperature": 8.2,
    }  # fmt: skip
    one = quantity("mouthpiece-helium-flush-in-time")
    band = one.answer(**given)
    ends = [one.point(**given, **corner) for corner in one.corners({})]
    assert isinstance(band, Band)
    assert band.lowest is not None
    assert band.lowest.exact < min(end.exact for end in ends if isinstance(end, Result)) - 0.005
    assert 5 < next(float(each.value) for each in band.lowest.inputs if each.key == "volume") < 8


@pytest.mark.parametrize("name", ["oxygen-off-po2", "oxygen-off-shrinking-po2", "valve-short-po2", "oxygen-off-volume"])
def test_what_falls_with_time_falls_until_it_is_gone_and_never_comes_back(name: str) -> None:
    """Also long after the last oxygen, where the sign of a share of less than nothing might turn."""
    given = {"po2": 1.3, "depth": 10.0, "inflow": 0.2}
    fitting = {each.key: given[each.key] for each in quantity(name).inputs if each.key in given}
    for corner in quantity(name).corners({}):
        points = quantity(name).over(**fitting, **corner, minutes=np.linspace(0, 600, 2401))
        assert not np.any(np.diff(points.valid.astype(int)) > 0)
        assert np.all(np.diff(points.numbers()) < 0)


def test_a_curve_ends_where_the_oxygen_is_gone_and_says_so() -> None:
    found = series(quantity("oxygen-off-po2"), "minutes", range(31), po2=0.7, diluent_oxygen=0.21)
    assert len(found.curves) == 4
    fastest = min(found.curves, key=lambda curve: len(curve.places))
    assert {g.key: g.value for g in fastest.over} == {"vo2": 3.0, "volume": 5.0}
    assert "gone" in fastest.ended
    assert all(value >= 0 for curve in found.curves for value in curve.values)
    assert all(a > b for curve in found.curves for a, b in pairwise(curve.values))


def test_carbon_dioxide_breath_by_breath_ends_at_the_steady_number() -> None:
    for curve in co2_breath_by_breath(400, beside=0.2, back=0.1, vo2=(0.6, 2.0)):
        (vo2, ventilation) = (float(g.value) for g in curve.over)
        steady = float(canister.inspired_co2_kpa(0.9 * vo2, ventilation * vo2, 0.2, 0.1))
        assert curve.values[0] == 0
        assert curve.values[-1] == pytest.approx(steady, rel=1e-6)


def test_density_of_no_gas_is_none_and_of_twice_the_gas_is_twice() -> None:
    assert gas.density_g_l(0.0, 0.0, 0.0) == 0
    assert gas.density_g_l(0.4, 1.6, 0.2) == pytest.approx(2 * float(gas.density_g_l(0.2, 0.8, 0.1)))
