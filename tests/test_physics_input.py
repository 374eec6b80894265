"""What cannot be is answered with a reason or an error that says what to do, and never with a number."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError
from datetime import UTC, date, datetime

import numpy as np
import pytest

from course.errors import NotFoundError, RefusedError
from course.physics import canister, cells, exposure
from course.physics.cells import CellReading
from course.physics.exposure import Exposure
from course.physics.quantity import Choice, Input, Quantity, Text
from course.physics.registry import REGISTRY, quantity
from course.physics.result import DEFERS, Band, NoResult, Result, Side, rounded
from course.physics.series import co2_breath_by_breath, series
from course.physics.typed import read


def reason(name: str, **given: object) -> str:
    found = quantity(name).point(**given)
    assert isinstance(found, NoResult), found
    return found.reason


@pytest.mark.parametrize(
    ("name", "given", "told"),
    [
        ("mix-narcotic-depth", {"oxygen": 0.6, "helium": 0.5, "depth": 10}, "sum to more than 1"),
        ("loop-density", {"set_point": 1.3, "depth": 40, "diluent_oxygen": 0.6, "diluent_helium": 0.6}, "sum to more"),
        ("loop-density", {"set_point": 1.3, "depth": 40, "diluent_oxygen": 1.2}, "0 to 1"),
        ("oxygen-pressure", {"oxygen": 0.21, "depth": 0, "humid": "wet", "mode": "trade"}, "leaves water vapour out"),
        ("loop-density", {"set_point": 1.3, "depth": 1}, "above the whole pressure"),
        ("loop-density", {"set_point": 1.2, "depth": 2, "mode": "trade"}, "all oxygen"),
        ("oxygen-off-shrinking-po2", {"po2": 1.3, "minutes": 1, "depth": 0, "vo2": 1, "volume": 6}, "whole pressure"),
        ("oxygen-off-shrinking-minutes", {"po2": 2, "depth": 10, "mode": "trade", "vo2": 1, "volume": 6}, "no inert"),
        ("flush-po2", {"po2": 2.5, "depth": 10, "exchanged": 1}, "whole pressure"),
        ("oxygen-off-po2", {"po2": 0.7, "minutes": -1, "vo2": 1, "volume": 6}, "0 to 600"),
        ("oxygen-off-po2", {"po2": math.nan, "minutes": 1, "vo2": 1, "volume": 6}, "not a number"),
        ("oxygen-off-po2", {"po2": math.inf, "minutes": 1, "vo2": 1, "volume": 6}, "this holds from"),
        ("oxygen-off-po2", {"po2": (0.7, 1.3), "minutes": 1, "vo2": 1, "volume": 6}, "one number, not from-to"),
        ("oxygen-off-po2", {"po2": True, "minutes": 1, "vo2": 1, "volume": 6}, "has to be a number"),
        ("oxygen-off-po2", {"po2": "0.7", "minutes": 1, "vo2": 1, "volume": 6}, "has to be a number"),
        ("oxygen-off-minutes", {"po2": 0.15, "vo2": 1, "volume": 6}, "limit is above"),
        ("oxygen-off-minutes", {"po2": 0.7, "diluent_oxygen": 1.0, "vo2": 1, "volume": 6}, "pure oxygen"),
        ("altitude-pressure", {"altitude": 12000}, "-5000 to 11000"),
        ("ambient-pressure", {"depth": 10, "altitude": -6000}, "-5000 to 11000"),
        ("ambient-pressure", {"depth": 10, "altitude": 500, "barometer": 950}, "Give one of them"),
        ("ambient-pressure", {"depth": 10, "mode": "metric"}, "mode is one of"),
        ("ambient-pressure", {"depth": -1}, "0 to 150"),
        ("ascent-po2", {"po2": 0.7, "depth": 5, "depth_to": 9, "vo2": 1, "volume": 6}, "ends above"),
        ("ascent-po2", {"po2": 0.7, "depth": 9, "rate": 1, "vo2": 3, "volume": 5}, "does not vent"),
        ("ascent-depth-at-po2", {"po2": 1.2, "depth": 20, "vo2": 0.5, "volume": 8}, "still above the limit"),
        ("descent-po2", {"po2": 0.7, "depth": 9, "depth_to": 5, "vo2": 1, "volume": 6}, "ends below"),
        ("valve-open-minutes", {"po2": 0.7, "inflow": 1, "depth": 20, "vo2": 2, "volume": 6}, "valve-short-minutes"),
        ("valve-open-minutes", {"po2": 0.7, "inflow": 9, "depth": 2, "vo2": 1, "volume": 6}, "does not get there"),
        ("valve-open-minutes", {"po2": 1.7, "inflow": 9, "depth": 20, "vo2": 1, "volume": 6}, "limit is below"),
        ("valve-short-minutes", {"po2": 0.7, "inflow": 2, "vo2": 1, "volume": 6}, "does not fall"),
        ("scrubber-minutes", {"minutes": 100}, "no figure of its own"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_answered_with_a_reason(name: str, given: dict[str, object], told: str) -> None:
    assert told in reason(name, **given)


def test_a_hypoxic_gas_at_the_surface_has_a_reason_instead_of_a_number_and_is_told_as_one_below_it() -> None:
    assert "Hypoxic at the surface: a PO2 of 0.101 bar" in reason("oxygen-pressure", oxygen=0.1, depth=0)
    hypoxic = {"po2": 0.7, "diluent_oxygen": 0.1, "depth": 0, "vo2": 1, "volume": 6}
    for name, more in (("flush-po2", {"exchanged": 1.0}), ("flush-po2-in-time", {"seconds": 20})):
        fitting = {key: hypoxic[key] for key in hypoxic if key in {each.key for each in quantity(name).inputs}}
        assert "Hypoxic at the surface: a PO2 of 0.095 bar" in reason(name, **fitting, **more)
        assert quantity(name).point(**{**fitting, **more, "depth": 10}).has_number
    shallow = {"diluent_oxygen": 0.1, "diluent_helium": 0.7, "set_point": 0.7, "depth": 4}
    assert "less than air does at the surface" in reason("loop-narcotic-depth", **shallow)
    assert "less than air does" in reason("mouthpiece-narcotic-depth", **shallow, po2=0.7, exchanged=0.1)
    opened = quantity("mouthpiece-narcotic-depth").point(**shallow, po2=0.7, exchanged=0.9)
    assert isinstance(opened, Result)
    assert opened.meaning == "Had it stayed closed: less than air at the surface."
    assert "surface already" in reason("cell-check-depth", po2=1.0, gas_oxygen=1.0)
    assert "Hypoxic at the surface" in reason("mix-narcotic-depth", oxygen=0.1, helium=0.5, depth=0)
    assert "this holds from 0.16" in reason(
        "mouthpiece-oxygen", po2=0.12, diluent_oxygen=0.1, diluent_helium=0.5, exchanged=(0.3, 1.0)
    )
    shallow = quantity("oxygen-pressure").answer(oxygen=0.1, depth=3)
    assert isinstance(shallow, Result)
    assert "hypoxic" in shallow.meaning
    deeper = quantity("oxygen-pressure").answer(oxygen=0.1, depth=30)
    assert isinstance(deeper, Result)
    assert deeper.meaning == ""


@pytest.mark.parametrize(
    ("name", "typed", "told"),
    [
        ("oxygen-off-minutes", {"po2": "1.3 kg"}, "cannot be in 'kg'; it takes bar"),
        ("oxygen-off-minutes", {"po2": "1.3 flurbs"}, "cannot be in 'flurbs'"),
        ("oxygen-off-minutes", {"po2": "high"}, "is no number"),
        ("oxygen-off-minutes", {"po2": "1,3 bar"}, "write a decimal point, 1.3 bar"),
        ("oxygen-off-minutes", {"vo2": "0,5..3"}, "write a decimal point, 0.5..3"),
        ("oxygen-off-minutes", {"po2": "nan"}, "is no number"),
        ("oxygen-off-minutes", {"vo2": "1 bar"}, "cannot be in 'bar'; it takes L/min"),
        ("oxygen-off-minutes", {"vol": "7"}, "takes no vol"),
        ("ambient-pressure", {"mode": "metric"}, "one of: trade, physical"),
        ("ambient-pressure", {"depth": "10 bar"}, "cannot be in 'bar'; it takes m"),
        ("mouthpiece-oxygen", {"exchanged": "30..100"}, "30 % or a share"),
        ("oxygen-pressure", {"oxygen": "21 bar"}, "no unit, or %"),
        ("days-cns-24h", {"exposures": "yesterday 0.7 90"}, "is no exposure"),
        ("days-cns-24h", {"exposures": "2026-10-25T09:00 0.7 90"}, "has no zone"),
        ("days-cns-24h", {"exposures": "2026-10-25T09:00Z 1.7 90"}, "no limit above 1.6"),
        ("days-cns-24h", {"exposures": "2026-10-25T09:00Z 0.7 -90"}, "longer than no time"),
        ("days-cns-24h", {"exposures": "2026-10-25T09:00Z nan 90"}, "no partial pressure"),
        ("days-cns-24h", {"exposures": ";"}, "no exposure to count"),
        (
            "days-cns-24h",
            {"exposures": "2026-10-25T09:00Z 0.7 90; 2026-10-25T10:00Z 0.7 9"},
            "begins before the one of",
        ),
        ("cell-drift", {"readings": "2026-01-10"}, "is no reading"),
        ("cell-age", {"made": "spring"}, "is no day like"),
    ],
)
def test_what_is_typed_wrongly_is_told_with_what_to_write(name: str, typed: dict[str, str], told: str) -> None:
    with pytest.raises(RefusedError) as refused:
        read(quantity(name), typed)
    assert told in str(refused.value)


@pytest.mark.parametrize(
    ("name", "typed", "key", "value"),
    [
        ("oxygen-off-minutes", "19 psi", "po2", 1.31),
        ("oxygen-off-minutes", "0.7..1.2", "po2", (0.7, 1.2)),
        ("oxygen-off-minutes", "0.5 L/min", "vo2", 0.5),
        ("oxygen-off-minutes", "500..1500 mL/min", "vo2", (0.5, 1.5)),
        ("oxygen-off-minutes", "98.6 degF", "temperature", 37.0),
        ("oxygen-off-minutes", "310.15 K", "temperature", 37.0),
        ("oxygen-off-po2", "90 s", "minutes", 1.5),
        ("ambient-pressure", "33 fsw", "depth", 10.112),
        ("ambient-pressure", "98 ft", "depth", 30.03),
        ("ambient-pressure", "6000 ft", "altitude", 1828.8),
        ("ambient-pressure", "29.92 inHg", "barometer", 1013.2),
        ("mouthpiece-oxygen", "30..100 %", "exchanged", (0.3, 1.0)),
        ("cns-share", "1.3 bar", "po2", 1.283),
        ("positive-test", "2 degC", "temperature_doubt", 2.0),
        ("positive-test", "20 C", "temperature", 20.0),
    ],
)
def test_units_are_read_as_the_inputs_own(name: str, typed: str, key: str, value: float | tuple[float, float]) -> None:
    assert read(quantity(name), {key: typed})[key] == pytest.approx(value, rel=1e-3)


def test_an_unknown_name_and_input_are_told_with_what_there_is() -> None:
    with pytest.raises(NotFoundError, match="Did you mean oxygen-off-minutes"):
        quantity("oxygen-of-minutes")
    with pytest.raises(RefusedError, match="takes no depht"):
        quantity("ambient-pressure").answer(depht=3)
    with pytest.raises(RefusedError, match="needs depth"):
        quantity("ambient-pressure").answer()
    with pytest.raises(RefusedError, match="no input 'vo2' that a curve"):
        series(quantity("oxygen-off-po2"), "vo2", [1.0], po2=0.7)
    with pytest.raises(RefusedError, match="never one number"):
        series(quantity("oxygen-off-po2"), "minutes", [1.0], po2=0.7, vo2=1.0)
    with pytest.raises(RefusedError, match="1 to 2000 places"):
        series(quantity("oxygen-off-po2"), "minutes", [], po2=0.7)
    with pytest.raises(RefusedError, match=r"between 0 and 0\.5"):
        co2_breath_by_breath(9, beside=0.6, back=0, vo2=(1, 2))
    with pytest.raises(RefusedError, match="1 to 2000 breaths"):
        co2_breath_by_breath(0, beside=0.1, back=0, vo2=(1, 2))


@pytest.mark.parametrize("band", [1.0, (1.0, 1.0), (2.0, 1.0), (1.0,), (1.0, 2.0, 3.0)])
def test_metabolism_is_never_one_number(band: object) -> None:
    with pytest.raises(RefusedError, match=r"vo2=0\.5\.\.3"):
        quantity("oxygen-off-minutes").answer(po2=1.3, vo2=band)


def test_a_cells_history_that_says_nothing_is_refused() -> None:
    day = date(2026, 1, 1)
    with pytest.raises(RefusedError, match="Too few readings"):
        cells.drift_percent([CellReading(day, 10), CellReading(date(2026, 3, 1), 9.9)])
    with pytest.raises(RefusedError, match="more than no millivolts"):
        cells.drift_percent([CellReading(day, 0)] * 3)
    with pytest.raises(RefusedError, match="is not there"):
        cells.age_days(day, date(2025, 1, 1))
    readings = "2026-01-01 10.0; 2026-01-31 9.9; 2026-02-15 4.0; 2026-03-02 9.8; 2026-04-01 9.7; 2026-05-01 9.6"
    found = quantity("cell-drift").answer(readings=cells.read_readings(readings))
    assert isinstance(found, Result)
    assert found.exact == pytest.approx(-1.0, abs=0.1)  # the odd reading turns no median


def test_where_an_equation_has_no_finite_value_there_is_a_reason_and_no_point() -> None:
    """A made-up quantity, since the registered ones have rules before it comes to that."""
    one = Quantity(
        name="inverse", what="one by x", unit="", inputs=(Input("x", "x", "", 0, 1),), words="1 / x",
        equation=lambda x: 1 / x, source="made up", validity="x is not 0", side=Side.NEAREST, decimals=1,
    )  # fmt: skip
    found = one.point(x=0.0)
    assert isinstance(found, NoResult)
    assert found.reason == "The equation has no finite value here."
    points = one.over(x=np.array([0.0, 0.5]))
    assert points.valid.tolist() == [False, True]
    assert points.numbers().tolist() == [2.0]


@pytest.mark.parametrize(
    ("end", "allowed", "told"),
    [
        (28, 10, "No more than the manual allows."),
        (15, 10, "A leak: more than the manual allows."),
        (25, 5, "Cannot tell: 5.0 mbar are not explained"),
        (38, 5, "Cannot tell: the pressure went the other way"),
    ],
)
def test_a_pressure_test_tells_a_leak_none_or_that_it_cannot_tell(end: float, allowed: float, told: str) -> None:
    """Thermometer and gauge together may be wrong by 4.5 mbar at 1 K and 1 mbar; own arithmetic."""
    given = {"temperature": 20, "temperature_end": 20, "watched": 120, "watch": 120}
    found = quantity("positive-test").answer(start=30, end=end, allowed=allowed, **given)
    assert told in (found.reason if isinstance(found, NoResult) else found.text())


@pytest.mark.parametrize(
    ("name", "start", "end", "doubt"), [("positive-test", 200, 195, 5.1), ("negative-test", -300, -297, 3.4)]
)
def test_what_one_kelvin_may_hide_is_that_of_the_gas_in_the_loop(
    name: str, start: float, end: float, doubt: float
) -> None:
    """Own arithmetic: (1013.25 + 200) / 293.15 + 1 and (1013.25 - 300) / 293.15 + 1 mbar, and not 4.5 for both."""
    given = {"temperature": 20, "temperature_end": 20, "watched": 120, "watch": 120, "allowed": 0}
    assert f"may be wrong by {doubt}" in reason(name, start=start, end=end, **given)


def test_answers_are_frozen_and_a_result_is_a_number() -> None:
    found = quantity("ambient-pressure").answer(depth=10)
    assert isinstance(found, Result)
    with pytest.raises(FrozenInstanceError):
        found.value = 3.0  # type: ignore[misc]
    with pytest.raises(ValueError, match="say why"):
        Result(**{**found.__dict__, "value": math.nan})


@pytest.mark.parametrize("one", REGISTRY.values(), ids=REGISTRY)
def test_each_quantity_says_what_it_takes_where_it_is_from_and_what_decides(one: object) -> None:
    found = quantity(getattr(one, "name", ""))
    assert all((found.what, found.words, found.source, found.validity, found.inputs))
    assert len({i.key for i in found.inputs}) == len(found.inputs)
    for each in found.inputs:
        assert each.what
        if isinstance(each, Input):
            assert each.lowest < each.highest
            if isinstance(each.default, tuple):
                assert each.banded
                assert each.lowest <= each.default[0] < each.default[1] <= each.highest
            elif each.default is not None:
                assert each.lowest <= each.default <= each.highest
        elif isinstance(each, Choice):
            assert each.default is None or each.default in each.options
        else:
            assert isinstance(each, Text)
    words = " ".join((found.what, found.words, found.validity, *found.cautions)).lower()
    for permission in (
        "safe to ",
        "you may",
        "you can",
        "minutes left",
        "time left",
        "fit to dive",
        "no-stop",
        "stop at",
    ):
        assert permission not in words.replace("minutes left are never told", "")
    assert DEFERS.endswith("decide.")


SINGLE = sorted(
    name for name, one in REGISTRY.items() if all(isinstance(each, Input | Choice) for each in one.inputs)
)  # fmt: skip


@pytest.mark.parametrize("name", SINGLE)
def test_each_result_shows_value_unit_mode_inputs_source_validity_cautions_and_its_side(name: str) -> None:
    """In text and as JSON, also where there is no number; the value is the exact one rounded once to the side."""
    one = quantity(name)
    middle = {
        each.key: (each.lowest + each.highest) / 2
        for each in one.inputs
        if isinstance(each, Input) and each.default is None and not each.optional
    }
    answer = one.answer(**middle)
    told, plain = answer.text(), answer.plain()
    for part in (one.source, one.validity, *one.cautions, DEFERS):
        assert part in told
    assert (plain["source"], plain["validity"], plain["cautions"]) == (one.source, one.validity, one.cautions)
    real = {"mode", "altitude", "barometer", "pressure"} & {each.key for each in one.inputs}
    assert f"mode: {'physical' if real else 'either, both give the same'}" in told
    for key in middle:
        assert f"{key}=" in told
    numbers = [answer] if isinstance(answer, Result) else []
    numbers += [end for end in (answer.lowest, answer.highest) if end] if isinstance(answer, Band) else []
    for number in numbers:
        assert number.unit == one.unit
        assert number.value == rounded(number.exact, one.side, one.decimals)
    assert numbers or "no number" in told


@pytest.mark.parametrize("name", [name for name, one in REGISTRY.items() if any(i.key == "vo2" for i in one.inputs)])
def test_what_rests_on_metabolism_or_volume_is_a_band(name: str) -> None:
    banded = {i.key for i in quantity(name).banded}
    assert "vo2" in banded
    assert ("volume" in banded) is any(i.key == "volume" for i in quantity(name).inputs)


def test_carbon_dioxide_does_not_depend_on_work_while_breathing_keeps_up() -> None:
    """Twice the oxygen and twice the breath: the same share comes back, so that metabolism is no input."""
    one, other = (float(canister.inspired_co2_kpa(0.9 * vo2, 25 * vo2, 0.1, 0.05)) for vo2 in (0.6, 2.4))
    assert one == pytest.approx(other)
    found = quantity("co2-inspired").point(beside=0.1, back=0.05, quotient=0.9, ventilation=25)
    assert isinstance(found, Result)
    assert found.exact == pytest.approx(one)


def test_a_band_says_which_ends_have_no_number() -> None:
    found = quantity("ascent-po2").answer(po2=0.7, depth=30)
    assert isinstance(found, Band)
    assert "at other ends no number" in found.told
    lines = found.text().splitlines()
    assert lines[1].startswith("Oxygen is gone before")
    none = quantity("ascent-po2").answer(po2=0.3, depth=40)
    assert isinstance(none, Band)
    assert (none.told, none.has_number) == ("no number", False)


def test_the_days_of_a_course_are_counted_over_sessions_in_pool_and_open_water() -> None:
    """Own arithmetic from the table: 90 of 570 and 60 of 210 min of the 24 h row, and a ramp, in one window."""
    day = exposure.read_exposures("2026-10-25T09:00Z 0.7 90; 2026-10-25T13:00Z 0.7>1.3 4; 2026-10-25T13:04Z 1.3 60")
    level = 100 * (90 / 570 + 60 / 210)
    ramp = 100 * 4 / 6 * sum(1 / limit for limit in (450, 360, 300, 270, 240, 210))
    assert exposure.rolling_peak(day) == pytest.approx(level + ramp)
    alone = quantity("cns-share").answer(po2=0.7, po2_to=1.3, minutes=4, row="24 h")
    assert isinstance(alone, Result)
    assert alone.exact == pytest.approx(ramp)
    assert exposure.single_peak(day, half_time_min=90) < exposure.single_peak(day)
    assert exposure.rolling_otu(day) == pytest.approx(sum(exposure.otu(e.po2_from, e.po2_to, e.minutes) for e in day))
    next_morning = Exposure(datetime(2026, 10, 26, 10, tzinfo=UTC), 90, 0.7, 0.7)  # as the first one leaves the window
    assert exposure.rolling_peak((*day, next_morning)) == pytest.approx(level + ramp)


def test_the_worst_24_hours_may_end_in_the_middle_of_an_exposure() -> None:
    """60 min at 1.4, then 0.7 from half an hour before the first leaves the window: it is worst just before."""
    two = exposure.read_exposures("2026-10-24T09:00Z 1.4 60; 2026-10-25T08:30Z 0.7 120")
    assert exposure.rolling_peak(two) == pytest.approx(100 * (60 / 180 + 30 / 570))
