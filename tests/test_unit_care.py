"""Care, holds and their release: what is kept, what is refused, and what a unit on hold may not do."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from centre_builder import ZONE, Centre, seen_at
from hypothesis import given
from hypothesis import strategies as st
from test_actions import STRANGER, refused

from course.actions import amending, faults, unit_care
from course.actions import courses as planning
from course.actions.attempts import open_attempt
from course.actions.centre import add_unit
from course.answers.units import UnitCard, UnitState, held_in_water, units_answer, water_block
from course.errors import RefusedError
from course.hours.unit_time import Booking, filling_minutes, held_times, holds_joined, is_held, lapsed_days
from course.moments import observed_at
from course.record.day_facts import WaterTime
from course.record.facts import Session, Unit
from course.record.unit_facts import CareDone, Hold
from course.words import Care, SlipKind, SpanRole


def unit_of(c: Centre, unit: str = "") -> Unit:
    """A unit as it stands."""
    fact = c.ledger.fact("unit", unit or c.unit_a)
    assert isinstance(fact, Unit)
    return fact


def card_of(c: Centre, unit: str = "") -> UnitCard:
    """What the Units page tells of a unit."""
    return next(card for card in units_answer(c.ledger, c.view()).units if card.unit == (unit or c.unit_a))


# --- care -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("what", "more", "told"),
    [
        (Care.SCRUBBER, {"good_until": "2026-12-01"}, "A scrubber filling needs its minutes"),
        (Care.SERVICE, {}, "Service: say until which day, by the maker's manual"),
        (Care.CELLS, {"good_until": "2027-01-01", "good_minutes": 60}, "Oxygen cells: say until which day"),
        (Care.SERVICE, {"good_until": "2026-10-21"}, "good until a day before it was done"),
        (Care.SERVICE, {"good_until": "soon"}, "is no day of the calendar"),
        (Care.SCRUBBER, {"good_minutes": 0}, "good_minutes"),
    ],
)
def test_care_that_does_not_say_how_long_it_is_good_is_refused(
    small_centre: Centre, what: Care, more: dict[str, object], told: str
) -> None:
    assert told in refused(
        small_centre, lambda c: unit_care.record_care(c.ledger, c.lead, c.unit_a, what, seen_at(22), **more)
    )


def test_a_flooded_unit_goes_on_hold_under_its_own_words_and_nothing_is_computed(small_centre: Centre) -> None:
    c = small_centre
    held = unit_care.flooded(c.ledger, c.lead, c.unit_a, seen_at(22, 15), "A gurgle, then a cough. ")
    card = card_of(c)
    assert (card.state, [hold.hold for hold in card.holds]) == (UnitState.HELD, [held])
    assert "Flooded: water was in the loop. The manual says what a wet scrubber means" in card.holds[0].sentence
    assert card.holds[0].sentence.endswith("A gurgle, then a cough.")
    unit_care.release(c.ledger, c.lead, c.unit_a, held, seen_at(23), why="Dried, new scrubber, whole list passed.")
    assert card_of(c).state != UnitState.HELD
    again = unit_care.flooded(c.ledger, c.lead, c.unit_a, seen_at(24))
    assert [hold.hold for hold in card_of(c).holds] == [again]


@pytest.mark.parametrize("by", ["assistant", "candidate", "amaru"])
def test_only_instructors_and_technicians_look_after_units(small_centre: Centre, by: str) -> None:
    actor = getattr(small_centre, by)
    assert "look after units" in refused(
        small_centre, lambda c: unit_care.hold(c.ledger, actor, c.unit_a, seen_at(22), "A tear.")
    )
    held = unit_care.hold(small_centre.ledger, small_centre.lead, small_centre.unit_a, seen_at(22), "A tear.")
    assert "lift a hold" in refused(
        small_centre, lambda c: unit_care.release(c.ledger, actor, c.unit_a, held, seen_at(23), why="Mended.")
    )


def test_the_last_good_day_is_still_good_and_the_day_after_is_told_with_its_date(small_centre: Centre) -> None:
    """Amaru and Zoe are booked on A-05 in the water on 22, 23, 24 and 25 October."""
    c = small_centre
    unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.SERVICE, seen_at(20), good_until="2026-10-23")
    line = card_of(c).care[0]
    assert line.lapsed
    assert line.sentence.endswith("Run out on a day in the water: 24 Oct 2026 and 25 Oct 2026. Think of a hold.")
    assert card_of(c).state == UnitState.LAPSED


def test_new_cells_on_sunday_do_not_mend_saturday(small_centre: Centre) -> None:
    c = small_centre
    unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.CELLS, seen_at(20), good_until="2026-10-23")
    unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.CELLS, seen_at(25, 9), good_until="2027-10-25")
    days = [date(2026, 10, day) for day in (22, 23, 24, 25)]
    assert lapsed_days(unit_of(c), Care.CELLS, days) == (date(2026, 10, 24),)
    assert "Run out on a day in the water: 24 Oct 2026." in card_of(c).care[1].sentence


def test_days_until_the_end_are_counted_from_the_last_day_in_the_water(small_centre: Centre) -> None:
    c = small_centre
    unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.SERVICE, seen_at(20), good_until="2026-11-01")
    assert "good until 1 Nov 2026, 7 days after the last day in the water" in card_of(c).care[0].sentence
    assert card_of(c).care[1].sentence == "Oxygen cells: no date entered up to 25 Oct 2026."


def test_a_filling_is_used_up_by_whoever_dives_the_unit_and_not_on_bailout(small_centre: Centre) -> None:
    c, session = small_centre, small_centre.sessions["pool-22"]

    def dived(person: str, loop: int, hour: int, unit: str | None = None) -> None:
        time = planning.water_time(
            c.lead, session=session, person=person, loop_minutes=loop, bailout_minutes=9, unit=unit,
            entered=seen_at(22, hour), left=seen_at(22, hour + 1),
        )  # fmt: skip
        planning.record_times(c.ledger, c.lead, [time])

    dived(c.amaru, 30, 13)
    unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.SCRUBBER, seen_at(22, 14), good_minutes=60)
    dived(c.amaru, 31, 14)
    dived(c.zoe, 29, 15, unit=c.unit_a)
    dived(c.zoe, 40, 15, unit=c.unit_b)
    assert "60 of its 60 min on the loop" in card_of(c).care[2].sentence
    assert not card_of(c).care[2].lapsed
    dived(c.zoe, 1, 15)
    line = card_of(c).care[2]
    assert ("61 min on the loop, 1 more than its 60" in line.sentence, line.lapsed) == (True, True)
    unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.SCRUBBER, seen_at(23, 8), good_minutes=60)
    assert "0 of its 60 min on the loop" in card_of(c).care[2].sentence


def test_without_a_filling_no_minutes_are_told(small_centre: Centre) -> None:
    assert card_of(small_centre).care[2].sentence == "Scrubber filling: none entered."
    assert filling_minutes(unit_of(small_centre), []) is None


def test_serial_features_and_diver_of_a_unit_are_told(small_centre: Centre) -> None:
    c = small_centre
    made = add_unit(c.ledger, c.lead, label="B-09", unit_type="type-b", serial="KT-77")
    planning.assign_unit(c.ledger, c.lead, c.course, c.zoe, made, "2026-10-23")
    card = card_of(c, made)
    assert (card.serial, card.unit_type) == ("KT-77", "Unit type B")
    assert "Constant small oxygen feed through an orifice" in card.features
    assert [who.rsplit(" from ", 1)[1] for who in card.holders] == ["23 Oct 2026"]
    assert card_of(c).holders[1].endswith("from 20 Oct 2026 up to the change on 23 Oct 2026")


# --- holds ----------------------------------------------------------------------------------------------------------


def test_a_hold_needs_a_reason_and_its_lifting_too(small_centre: Centre) -> None:
    c = small_centre
    assert "A reason is needed" in refused(c, lambda c: unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(22), " "))
    held = unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(22, 9), "A tear in the left lung")
    (one,) = card_of(c).holds
    assert one.sentence == "On hold since Thu 22 Oct 09:00, by Tamsin Okoro-Vale: A tear in the left lung."
    assert one.missing == "To lift it: a reason, and who lifts it."
    assert "A reason is needed" in refused(
        c, lambda c: unit_care.release(c.ledger, c.lead, c.unit_a, held, seen_at(22, 10))
    )
    assert "not on hold yet" in refused(
        c, lambda c: unit_care.release(c.ledger, c.lead, c.unit_a, held, seen_at(22, 8), why="Mended.")
    )
    unit_care.release(c.ledger, c.second, c.unit_a, held, seen_at(22, 10), why="Mended and tested.")
    assert "is lifted already" in refused(
        c, lambda c: unit_care.release(c.ledger, c.lead, c.unit_a, held, seen_at(22, 11), why="Again.")
    )
    assert card_of(c).state == UnitState.NO_HOLD
    (past,) = card_of(c).past_holds
    assert past == (
        "Thu 22 Oct 09:00 to Thu 22 Oct 10:00: A tear in the left lung. Held by Tamsin Okoro-Vale, lifted by Bruno "
        "Ashkenar. Mended and tested."
    )


def test_what_is_not_there_is_told(small_centre: Centre) -> None:
    assert "no such unit" in refused(
        small_centre, lambda c: unit_care.hold(c.ledger, c.lead, STRANGER, seen_at(22), "Why.")
    )
    assert "no such hold" in refused(
        small_centre, lambda c: unit_care.release(c.ledger, c.lead, c.unit_a, STRANGER, seen_at(22), why="Why.")
    )


def test_no_attempt_begins_in_the_water_on_a_held_unit_and_a_slate_is_kept_and_told(small_centre: Centre) -> None:
    c = small_centre
    held = unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(22, 9), "A tear.")
    told = refused(c, lambda c: c.open("pool-22"))
    assert told == (
        "A-05 is on hold since Thu 22 Oct 09:00 and does not go in the water. On Units, lift the hold with a reason; "
        "or take another unit. Nothing was changed."
    )
    assert c.open("dry-21").attempt, "on a bench a held unit may be worked on"
    kept = c.enter("pool-22")
    found = held_in_water(c.ledger, c.course)
    (amarus,) = [one for one in found if one.person == c.amaru and one.session == c.sessions["pool-22"]]
    assert amarus.attempts == (kept,)
    assert amarus.sentence == (
        "A-05 was on hold Thu 22 Oct 13:30-16:20, and Amaru Tendelle was booked on it (Pool Of The 22). 1 attempt "
        "was marked on it; what was seen is kept."
    )
    unit_care.release(c.ledger, c.lead, c.unit_a, held, seen_at(22, 14), why="Mended.")
    assert c.open("pool-22").attempt
    assert {(one.session, one.end) for one in held_in_water(c.ledger, c.course)} == {
        (c.sessions["pool-22"], seen_at(22, 14))
    }


def test_the_hold_of_the_unit_on_that_day_counts_not_of_the_one_before(small_centre: Centre) -> None:
    c = small_centre
    unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(20, 9), "A tear.")
    planning.assign_unit(c.ledger, c.lead, c.course, c.amaru, c.unit_b, "2026-10-23")
    assert c.open("pool-23").attempt
    assert {one.session for one in held_in_water(c.ledger, c.course) if one.person == c.amaru} == {
        c.sessions["pool-22"]
    }


def test_whoever_stayed_at_the_surface_or_dived_another_unit_is_not_found(small_centre: Centre) -> None:
    c, session = small_centre, small_centre.sessions["pool-22"]
    unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(22, 9), "A tear.")
    there = {"session": session, "start": seen_at(22), "end": seen_at(22, 15)}
    times = [
        planning.span(c.lead, person=c.zoe, role=SpanRole.SURFACE, **there),
        planning.span(c.lead, person=c.amaru, role=SpanRole.STUDENT, **there),
        planning.water_time(
            c.lead, session=session, person=c.amaru, loop_minutes=20, unit=c.unit_b,
            entered=seen_at(22, 14, 10), left=seen_at(22, 14, 40),
        ),
    ]  # fmt: skip
    planning.record_times(c.ledger, c.lead, times)
    assert [one for one in held_in_water(c.ledger, c.course) if one.session == session] == []
    unit_care.hold(c.ledger, c.lead, c.unit_b, seen_at(22, 14, 20), "Water in the head.")
    (one,) = [one for one in held_in_water(c.ledger, c.course) if one.session == session]
    assert (one.label, one.start, one.end) == ("B-05", seen_at(22, 14, 20), seen_at(22, 14, 40))


def test_a_planted_faults_hold_is_neither_withdrawn_nor_corrected_away(small_centre: Centre) -> None:
    """Clearing and the whole list are the only way out."""
    c = small_centre
    slip = faults.set_fault(
        c.ledger, c.lead, session=c.sessions["dry-21"], how=SlipKind.PLANTED, fault="pf-tag", unit=c.unit_a,
        observed=seen_at(21, 13, 40),
    )  # fmt: skip
    held = unit_of(c).held[0].event
    set_by = next(e.id for e in c.ledger.events(slip))
    for event in (held, set_by):
        assert "no hold is taken back" in refused(c, lambda c, e=event: amending.withdraw(c.ledger, c.lead, e, "Oops."))
    assert "a unit is on hold for it" in refused(
        c, lambda c: amending.correct(c.ledger, c.lead, held, "Oops.", change={"slip": None})
    )
    assert "a unit is on hold for it" in refused(
        c, lambda c: amending.correct(c.ledger, c.lead, set_by, "Oops.", change={"unit": c.unit_b})
    )
    own = unit_care.hold(c.ledger, c.lead, c.unit_b, seen_at(22, 9), "The wrong unit.")
    event = next(h.event for h in unit_of(c, c.unit_b).held if h.id == own)
    amending.withdraw(c.ledger, c.lead, event, "It was A-05.")
    assert unit_of(c, c.unit_b).held == ()


# --- laws -----------------------------------------------------------------------------------------------------------

_START = datetime(2026, 10, 22, 8, tzinfo=UTC)


def _at(minute: int) -> datetime:
    return _START + timedelta(minutes=minute)


def _hold(pair: tuple[int, int | None]) -> Hold:
    first, length = pair
    until = None if length is None else observed_at(_at(first + length), ZONE)
    return Hold(id="h", event="e", slip=None, since=observed_at(_at(first), ZONE), held_by="p", until=until)


HOLDS = st.lists(st.tuples(st.integers(0, 90), st.none() | st.integers(1, 40)), max_size=6)


@given(HOLDS, st.integers(-5, 140))
def test_joined_holds_cover_a_minute_just_when_one_of_them_does(pairs: list[tuple[int, int | None]], at: int) -> None:
    """The plain reading: a unit is held while any hold has begun and is not lifted."""
    unit = Unit(id="u", label="A", unit_type="type-a", holds=tuple(map(_hold, pairs)))
    plainly = any(first <= at and (length is None or at < first + length) for first, length in pairs)
    assert is_held(unit, _at(at)) is plainly
    joined = holds_joined(unit)
    assert all(before[1] is not None and before[1] < after[0] for before, after in pairwise(joined))
    assert (water_block(unit, _at(at)) is not None) is plainly


@given(HOLDS, st.integers(0, 60), st.integers(1, 60))
def test_held_time_of_a_booking_is_its_minutes_on_hold(
    pairs: list[tuple[int, int | None]], first: int, length: int
) -> None:
    """Minute by minute, by hand."""
    unit = Unit(id="u", label="A", unit_type="type-a", holds=tuple(map(_hold, pairs)))
    booking = Booking("p", "u", "s", _at(first), _at(first + length))
    found = held_times([booking], {"u": unit})
    total = sum((held.end - held.start).total_seconds() for held in found) / 60
    assert total == sum(
        any(f <= minute and (n is None or minute < f + n) for f, n in pairs) for minute in range(first, first + length)
    )


@given(st.lists(st.tuples(st.integers(0, 100), st.integers(0, 60)), max_size=5), st.integers(0, 100))
def test_minutes_of_a_filling_are_those_of_every_dive_begun_since(dives: list[tuple[int, int]], filled: int) -> None:
    care = CareDone(
        id="c", event="e", what=Care.SCRUBBER, observed=observed_at(_at(filled), ZONE), good_until=None,
        good_minutes=100, done_by="p",
    )  # fmt: skip
    unit = Unit(id="u", label="A", unit_type="type-a", care=(care,))
    start = observed_at(_START, ZONE)
    session = Session(id="s", course="c", title="Pool", setting="pool", start=start, end=observed_at(_at(200), ZONE))
    times = [
        WaterTime(
            id="w", person="p", unit="u", entered=observed_at(_at(at), ZONE), left=None, loop_minutes=minutes,
            bailout_minutes=7, max_depth_m=None,
        )
        for at, minutes in dives
    ]  # fmt: skip
    counted = filling_minutes(unit, [(time, session, None) for time in times])
    assert counted == sum(minutes for at, minutes in dives if at >= filled)


def test_a_held_unit_is_refused_for_the_pad_by_the_same_sentence_everywhere(small_centre: Centre) -> None:
    c = small_centre
    unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(22, 9), "A tear.")
    with pytest.raises(RefusedError) as error:
        open_attempt(
            c.ledger, c.lead, course=c.course, session=c.sessions["open-24"], student=c.zoe, skill="mp-close-out",
            observed=seen_at(24),
        )  # fmt: skip
    assert str(water_block(unit_of(c), seen_at(24).moment)) in error.value.sentence
