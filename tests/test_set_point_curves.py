"""Oxygen exposure where set points have times: what was held, what of it counts, and the highest 24 hours.

NOAA Diving Manual, 4th edition (2001), seen in stored copies, for the limits; Bardin and Lambertsen 1970 for units of
lung exposure, exponent 5/6, its closed form over an even change; everything else is own arithmetic.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from course.hours.oxygen import DayExposure, exposure_days
from course.hours.set_points import Held, held_by
from course.moments import observed_at
from course.physics.exposure import (
    DAY,
    Exposure,
    Limit,
    cns_percent,
    otu,
    otu_rate,
    rolling_most,
    rolling_otu,
    rolling_peak,
)
from course.physics.highest import highest_minutes
from course.record.day_facts import SetPoint, WaterTime
from course.record.facts import Session

ATA = 1.01325
TEN = datetime(2026, 10, 22, 10, tzinfo=UTC)
"""10:00 where the sessions are, but for those that name another zone."""
WHO = "somebody"
LAWS = settings(deadline=None, max_examples=25)
Note = tuple[float, int | None, int]
"""PO2 in ata, minutes after ten (None: without a time), and in how many minutes the loop went there."""


def bars(ata: float) -> str:
    return f"{ata * ATA:.7f}"


def session(
    notes: Sequence[Note], *times: tuple[int | None, int | None, int, int], start: datetime = TEN, zone: str = "UTC",
    whose: str | None = None,
) -> Session:  # fmt: skip
    """A session with its notes, and times in the water: in and out in minutes after ten, on the loop, on bailout."""

    def at(minute: int | None) -> Any:
        return None if minute is None else observed_at(start + timedelta(minutes=minute), zone, "minute")

    points = tuple(
        SetPoint(event=str(number), person=whose, bar=bars(ata), begins=at(minute), over_minutes=over)
        for number, (ata, minute, over) in enumerate(notes)
    )
    water = tuple(
        WaterTime(
            id=str(number), person=WHO, unit=None, entered=at(entered), left=at(left), loop_minutes=loop,
            bailout_minutes=bailout, max_depth_m=None,
        )
        for number, (entered, left, loop, bailout) in enumerate(times)
    )  # fmt: skip
    return Session(
        id=str(start), course="", setting="pool", start=at(0), end=at(300), water=water, set_points=points, events=()
    )


def day(*sessions: Session, assumed: str | None = None) -> DayExposure:
    """The last day's exposure."""
    return exposure_days(sessions, WHO, assumed)[-1]


def line(one: Session) -> list[tuple[float, float, float]]:
    """What was held over the first time in the water: minutes after going in, PO2 in ata from and to."""
    entered, left = one.water[0].entered, one.water[0].left
    assert entered is not None
    assert left is not None
    return [
        ((s.begins - entered.moment) / timedelta(minutes=1), round(s.bar_from / ATA, 4), round(s.bar_to / ATA, 4))
        for s in held_by(one, WHO).stretches(entered.moment, left.moment)
    ]


RAMP = [(0.7, None, 0), (1.3, 21, 4)]


# --- worked by hand --------------------------------------------------------------------------------------------------


def test_an_hour_with_a_ramp_is_what_the_published_formulas_give_by_hand() -> None:
    """21 min at 0.7, 4 min up to 1.3, 35 min at 1.3 ata.

    Single row: 100 x (21/570 + 4/6 x (1/450 + 1/360 + 1/300 + 1/240 + 1/210 + 1/180) + 35/180) = 24.6496 %.
    Units: 21 x 0.4^(5/6) + 3/11 x 4/0.6 x (1.6^(11/6) - 0.4^(11/6)) + 35 x 1.6^(5/6) = 65.5316.
    """
    told = day(session(RAMP, (0, 60, 60, 0)))
    assert told.cns_single == pytest.approx(24.6496, abs=5e-4)
    assert told.otu_24h == pytest.approx(65.5316, abs=5e-4)
    assert told.changes == (f"{bars(0.7)} bar at first, to {bars(1.3)} bar within 4 min from 10:21",)
    assert (told.set_points, told.assumed_minutes, told.outside, told.reason) == ((), 0, (), "")


def test_two_sessions_of_a_day_with_ramps_add_up() -> None:
    early = session(RAMP, (0, 60, 60, 0))
    late = session(RAMP, (0, 60, 60, 0), start=TEN + timedelta(hours=4))
    one, both = day(early), day(early, late)
    assert one.otu_24h is not None
    assert one.cns_24h is not None
    assert both.otu_24h == pytest.approx(2 * one.otu_24h)
    assert both.cns_24h == pytest.approx(2 * one.cns_24h)


@pytest.mark.parametrize("notes", [[(1.3, None, 0)], [(1.3, 0, 0)], [(1.3, None, 0), (1.3, 20, 5), (1.3, 40, 0)]])
def test_a_set_point_that_never_changed_counts_as_if_it_had_no_times(notes: list[Note]) -> None:
    level = day(session([(1.3, None, 0)], (0, 60, 50, 5)))
    told = day(session(notes, (0, 60, 50, 5)))
    assert told.cns_single == pytest.approx(level.cns_single)
    assert told.cns_24h == pytest.approx(level.cns_24h)
    assert told.otu_24h == pytest.approx(level.otu_24h)


# --- what was held ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("notes", "held"),
    [
        (RAMP, [(0, 0.7, 0.7), (21, 0.7, 1.3), (25, 1.3, 1.3)]),
        ([(0.7, None, 0), (1.3, 21, 0)], [(0, 0.7, 0.7), (21, 1.3, 1.3)]),
        ([(0.7, None, 0), (1.3, 20, 10), (0.7, 25, 0)], [(0, 0.7, 0.7), (20, 0.7, 1.0), (25, 0.7, 0.7)]),
        ([(0.7, None, 0), (1.3, -2, 4)], [(0, 1.0, 1.3), (2, 1.3, 1.3)]),
        ([(0.7, None, 0), (1.3, 58, 4)], [(0, 0.7, 0.7), (58, 0.7, 1.0)]),
        ([(0.7, 10, 5), (1.3, 30, 0)], [(0, 1.3, 1.3), (10, 1.3, 1.3), (15, 0.7, 0.7), (30, 1.3, 1.3)]),
        ([(0.7, 10, 5), (1.3, 12, 2)], [(0, 1.3, 1.3), (10, 1.3, 1.3), (12, 1.3, 1.3), (14, 1.3, 1.3)]),
        ([(0.7, None, 0), (0.9, None, 0), (1.0, 20, 9), (1.3, 20, 4)], [(0, 0.9, 0.9), (20, 0.9, 1.3), (24, 1.3, 1.3)]),
        ([(1.3, None, 0), (0.9, 20, 2), (0.7, 20, 9)], [(0, 1.3, 1.3), (20, 1.3, 0.9), (29, 0.9, 0.9)]),
    ],
    ids=[
        "a ramp", "at once", "a ramp that was broken off", "a ramp from before going in", "a ramp past coming out",
        "before the first, the highest", "a first ramp that was broken off", "two laptops, up", "two laptops, down",
    ],
)  # fmt: skip
def test_what_was_held_is_level_and_even_changes(notes: list[Note], held: list[tuple[float, float, float]]) -> None:
    assert line(session(notes, (0, 60, 60, 0))) == held


def test_ones_own_notes_take_the_place_of_everybodys() -> None:
    shared = session(RAMP, (0, 60, 60, 0))
    own = session([(0.9, None, 0)], (0, 60, 60, 0), whose=WHO)
    both = shared.model_copy(update={"set_points": (*shared.set_points, *own.set_points)})
    assert line(both) == [(0, 0.9, 0.9)]


# --- what of it counts -----------------------------------------------------------------------------------------------


def test_what_was_noted_for_after_they_came_out_is_not_counted_and_told() -> None:
    told = day(session([*RAMP, (1.5, 70, 0)], (0, 60, 60, 0)))
    assert told == replace(day(session(RAMP, (0, 60, 60, 0))), outside=(f"{bars(1.5)} bar from 11:10",))


def test_where_all_was_noted_for_after_they_came_out_nothing_is_noted() -> None:
    late = session([(1.5, 70, 0)], (0, 60, 60, 0))
    assert day(late).reason.startswith("No set point was noted")
    told = day(late, assumed="1.3")
    assert (told.assumed_minutes, told.set_points, told.outside) == (60, ("1.3",), (f"{bars(1.5)} bar from 11:10",))


def test_minutes_on_bailout_and_times_that_nobody_knows_count_at_the_highest() -> None:
    """10 of 60 min on bailout, at 1.3: the loop's are the 50 at the highest, 35 at 1.3, 4 on the ramp, 11 at 0.7."""
    told = day(session(RAMP, (0, 60, 50, 10)))
    ramp = otu(0.7, 1.3, 4)
    assert told.otu_24h == pytest.approx(11 * float(otu_rate(0.7)) + ramp + (35 + 10) * float(otu_rate(1.3)), rel=1e-5)
    for unknown in ((None, None, 60, 0), (0, None, 60, 0), (0, 40, 60, 0)):
        told = day(session(RAMP, unknown))
        assert told.otu_24h == pytest.approx(60 * float(otu_rate(1.3)), rel=1e-5)
        assert told.set_points == (bars(1.3),)


def test_of_a_time_longer_than_its_minutes_the_highest_count() -> None:
    """20 of 60 min at the surface, nobody knows when: the 21 at 0.7 are left out first."""
    told = day(session(RAMP, (0, 60, 40, 0)))
    assert told.otu_24h == pytest.approx(float(otu_rate(0.7)) + otu(0.7, 1.3, 4) + 35 * float(otu_rate(1.3)), rel=1e-5)


def test_two_times_in_the_water_of_one_session_each_count_what_was_held_in_them() -> None:
    """Out from minute 30 to 50, in which the set point fell: the second begins at 0.7."""
    told = day(session([*RAMP, (0.7, 40, 0)], (50, 70, 20, 0), (0, 30, 30, 0)))
    units = (21 + 20) * float(otu_rate(0.7)) + otu(0.7, 1.3, 4) + 5 * float(otu_rate(1.3))
    assert told.otu_24h == pytest.approx(units, rel=1e-5)
    assert told.minutes == 50


def test_a_note_that_another_took_over_before_they_went_in_again_says_nothing() -> None:
    told = day(session([*RAMP, (1.5, 35, 0), (0.7, 40, 0)], (0, 30, 30, 0), (50, 70, 20, 0)))
    assert told.outside == (f"{bars(1.5)} bar from 10:35",)
    assert told.otu_24h == day(session([*RAMP, (0.7, 40, 0)], (0, 30, 30, 0), (50, 70, 20, 0))).otu_24h


def test_nobody_in_the_water_is_no_day() -> None:
    assert exposure_days([session(RAMP)], WHO, "1.3") == ()


def test_a_session_over_midnight_is_of_the_day_on_which_it_began() -> None:
    late = datetime(2026, 10, 22, 23, 30, tzinfo=UTC)
    told = day(session(RAMP, (0, 60, 60, 0), start=late))
    assert told.day == late.date()
    assert told.changes[0].endswith("from 23:51")
    assert day(session([(0.7, None, 0), (1.3, 31, 4)], (0, 60, 60, 0), start=late)).changes[0].endswith("from 00:01")


def test_a_change_of_the_clocks_adds_no_minute_and_takes_none() -> None:
    """On 25 October 2026 the clocks of the Azores go back from 01:00 to 00:00, at 01:00 UTC."""
    before = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    told = day(session([(0.7, None, 0), (1.3, 45, 4)], (0, 90, 90, 0), start=before, zone="Atlantic/Azores"))
    plain = day(session([(0.7, None, 0), (1.3, 45, 4)], (0, 90, 90, 0)))
    assert told.otu_24h == pytest.approx(plain.otu_24h)
    assert told.changes[0].endswith("within 4 min from 00:15")


def test_above_16_ata_there_is_a_reason_and_no_number_within_a_ramp_too() -> None:
    told = day(session([(0.7, None, 0), (1.7, 21, 4)], (0, 60, 60, 0)))
    assert told.reason == "There is no limit above 1.6 ata, and none is guessed."
    assert (told.cns_single, told.cns_24h, told.otu_24h) == (None, None, None)
    broken_off = session([(0.7, None, 0), (1.7, 20, 10), (0.7, 25, 0)], (0, 60, 60, 0))
    assert day(broken_off).reason == ""


def test_a_time_without_a_number_leaves_those_of_the_next_24_hours_without_their_sum() -> None:
    unknown = session([], (0, 60, 60, 0))
    morning = session(RAMP, (0, 60, 60, 0), start=TEN + timedelta(hours=23))
    later = session(RAMP, (0, 60, 60, 0), start=TEN + timedelta(hours=26))
    assert day(unknown, morning).reason.startswith("A time in the water in the 24 hours before has no number")
    assert day(unknown, later).reason == ""


# --- laws ------------------------------------------------------------------------------------------------------------

PO2 = st.integers(4, 16).map(lambda tenth: tenth / 10)
TURNS = st.lists(st.tuples(PO2, st.integers(-10, 80), st.integers(0, 30)), max_size=4, unique_by=lambda one: one[1])


def held_at(notes: Sequence[Note], minute: float) -> float:
    """PO2 in ata at a minute, asked note by note: knows nothing of stretches."""
    begun = [note for note in notes if note[1] is not None and note[1] <= minute]
    if not begun:
        return next(ata for ata, at, _ in notes if at is None)
    last = max(begun, key=lambda note: note[1] or 0)
    ata, at, over = last
    assert at is not None
    if minute - at >= over:
        return ata
    before = held_at([note for note in notes if note is not last and (note[1] is None or note[1] < at)], at)
    return before + (ata - before) * (minute - at) / over


@LAWS
@given(PO2, TURNS)
def test_units_are_the_integral_of_the_rate_over_what_was_held(first: float, turns: list[Note]) -> None:
    """scipy's quadrature, told where the corners are."""
    notes = [(first, None, 0), *turns]
    corners = {0.0, 60.0} | {float(m) for _, at, over in turns for m in (at or 0, (at or 0) + over) if 0 < m < 60}
    edges = sorted(corners)
    whole = sum(
        quad(lambda m: float(otu_rate(held_at(notes, m))), a, b - 1e-9, limit=200, epsabs=1e-7)[0]
        for a, b in pairwise(edges)
    )
    assert day(session(notes, (0, 60, 60, 0))).otu_24h == pytest.approx(whole, rel=1e-4, abs=1e-3)


@LAWS
@given(PO2, TURNS, st.integers(1, 60), st.integers(0, 20), st.sampled_from([0.0, 0.1, 0.3]))
def test_a_higher_set_point_never_counts_less(
    first: float, turns: list[Note], loop: int, bailout: int, more: float
) -> None:
    notes = [(first, None, 0), *turns]
    higher = [(min(ata + more, 1.6), at, over) for ata, at, over in notes]
    low, high = (day(session(one, (0, 80, loop, bailout))) for one in (notes, higher))
    level = day(session([(1.6, None, 0)], (0, 80, loop, bailout)))
    for less, more_of in ((low, high), (high, level)):
        assert (less.cns_single or 0) <= (more_of.cns_single or 0) + 1e-6
        assert (less.cns_24h or 0) <= (more_of.cns_24h or 0) + 1e-6
        assert (less.otu_24h or 0) <= (more_of.otu_24h or 0) + 1e-6


ROW = st.lists(st.tuples(st.integers(0, 20), st.integers(1, 40), PO2, PO2), min_size=1, max_size=3)


def row(parts: Sequence[tuple[int, int, float, float]], start: datetime) -> list[Exposure]:
    """Exposures one after another: minutes of a gap, minutes, PO2 from and to."""
    found, at = [], start
    for gap, minutes, low, high in parts:
        found.append(Exposure(at + timedelta(minutes=gap), minutes, low, high))
        at = found[-1].ends
    return found


def day_share(low: float, high: float, minutes: float) -> float:
    return cns_percent(low, high, minutes, Limit.DAY)


@LAWS
@pytest.mark.parametrize("dose", [otu, day_share], ids=["units", "share"])
@given(ROW, ROW, st.integers(-60, 60))
def test_the_highest_24_hours_are_never_missed_and_never_made_up(
    dose: Callable[[float, float, float], float],
    early: list[tuple[int, int, float, float]],
    late: list[tuple[int, int, float, float]],
    apart: int,
) -> None:
    """Against all windows that end at a whole minute of the second day, and the one with all of the first.

    Between two of those a sum moves by less than a minute's dose.
    """
    both = [*row(early, TEN), *row(late, TEN + DAY + timedelta(minutes=apart))]
    ends = [TEN + timedelta(hours=3), *(TEN + DAY + timedelta(minutes=minute) for minute in range(-60, 260))]
    swept = max(sum(dose(*part) for one in both if (part := one.part(at - DAY, at))) for at in ends)
    found = rolling_most(both, dose)
    assert swept - 1e-9 <= found <= swept + dose(1.6, 1.6, 1)


def test_the_highest_24_hours_may_end_before_a_time_in_the_water_does() -> None:
    """An hour at 1.3 from 11:00; the next day two hours at 0.7 from 10:00: the window to 11:00 has both hours in it."""
    high = Exposure(TEN + timedelta(hours=1), 60, 1.3, 1.3)
    low = Exposure(TEN + DAY, 120, 0.7, 0.7)
    assert rolling_peak([high, low]) == pytest.approx(100 * (60 / 210 + 60 / 570))
    sessions = (
        session([(1.3, None, 0)], (60, 120, 60, 0)),
        session([(0.7, None, 0)], (0, 120, 120, 0), start=TEN + DAY),
    )
    assert day(*sessions).cns_24h == pytest.approx(100 * (60 / 210 + 60 / 570))


def test_what_lies_within_a_window_never_passes_the_ends_of_its_ramp() -> None:
    """Ends of sevenths of a minute are rounded to microseconds, and there is no limit above 1.6."""
    parts = [Exposure(TEN, sevenths / 7, 0.4, 1.6).part(TEN, TEN + DAY) for sevenths in range(1, 30)]
    assert all(part is not None and part[1] <= 1.6 for part in parts)


def test_the_highest_24_hours_may_end_within_a_ramp() -> None:
    """What comes in falls from 1.6 to 0.6, what drops out is level at 1.1: the same at half of the ramp's 60 min."""
    both = [Exposure(TEN, 60, 1.1, 1.1), Exposure(TEN + DAY, 60, 1.6, 0.6)]
    assert rolling_otu(both) == pytest.approx(otu(1.1, 1.1, 30) + otu(1.6, 1.1, 30))


@LAWS
@given(ROW, st.integers(0, 120))
def test_the_minutes_at_the_highest_are_as_many_as_asked_and_no_others_count_more(
    parts: list[tuple[int, int, float, float]], minutes: int
) -> None:
    """Against the highest of all single minutes, each level at its own mean: less than that no choice can be."""
    exposures = row(parts, TEN)
    kept, rest = highest_minutes(exposures, minutes)
    total = sum(one.minutes for one in exposures)
    assert sum(one.minutes for one in kept) == pytest.approx(min(minutes, total), abs=1e-5)
    assert sum(one.minutes for one in (*kept, *rest)) == pytest.approx(total, abs=1e-5)
    lowest = min((min(one.po2_from, one.po2_to) for one in kept), default=2)
    assert max((max(one.po2_from, one.po2_to) for one in rest), default=0) <= lowest + 1e-9
    doses = sorted(
        (otu(*part) for one in exposures for m in range(int(one.minutes))
         if (part := one.part(one.begins + timedelta(minutes=m), one.begins + timedelta(minutes=m + 1)))),
        reverse=True,
    )  # fmt: skip
    assert sum(otu(one.po2_from, one.po2_to, one.minutes) for one in kept) >= sum(doses[:minutes]) - 1e-6


def test_what_is_noted_is_found_again_in_words() -> None:
    assert held_by(session([(0.7, 5, 0), (1.3, 21, 4)], (0, 60, 60, 0)), WHO).words == (
        f"{bars(0.7)} bar from 10:05, to {bars(1.3)} bar within 4 min from 10:21"
    )
    assert Held(None, (), ()).is_known is False
