"""Moments against the IANA time zone database (the tzdata package): hours that come twice, never, and training days."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from course.errors import RefusedError
from course.moments import (
    Observed,
    from_wall_clock,
    is_id,
    new_id,
    observed_at,
    read_stored,
    stored,
    training_day,
    zone_named,
)

AZORES = "Atlantic/Azores"
# IANA time zone database, file "europe", zone Atlantic/Azores with the EU rules: on the last Sunday of October the
# clocks go back from 01:00 to 00:00 at 01:00 UTC, on the last Sunday of March forward from 00:00 to 01:00.
TWICE, NEVER = datetime.fromisoformat("2026-10-25T00:30"), datetime.fromisoformat("2026-03-29T00:30")


def test_the_hour_that_comes_twice_must_be_chosen() -> None:
    with pytest.raises(RefusedError, match="2026-10-25 00:30 came twice in Atlantic/Azores: say whether the first"):
        from_wall_clock(TWICE, AZORES)


@pytest.mark.parametrize(("second_time", "utc"), [(False, "00:30"), (True, "01:30")])
def test_the_chosen_showing_of_the_hour_is_meant(second_time: bool, utc: str) -> None:  # noqa: FBT001
    moment = from_wall_clock(TWICE, AZORES, second_time=second_time)
    assert stored(moment) == f"2026-10-25T{utc}:00.000000Z"
    assert observed_at(moment, AZORES).offset == ("-01:00" if second_time else "+00:00")


@pytest.mark.parametrize("second_time", [None, False, True])
def test_the_hour_that_never_comes_is_refused(second_time: bool | None) -> None:  # noqa: FBT001
    with pytest.raises(RefusedError, match="2026-03-29 00:30 never came in Atlantic/Azores"):
        from_wall_clock(NEVER, AZORES, second_time=second_time)


def test_a_session_across_the_clock_change_lasts_160_minutes_though_the_clock_shows_100() -> None:
    start = from_wall_clock(datetime.fromisoformat("2026-10-24T23:10"), AZORES)
    end = from_wall_clock(TWICE + timedelta(minutes=20), AZORES, second_time=True)
    assert end - start == timedelta(minutes=160)
    assert observed_at(end, AZORES).local.replace(tzinfo=None) - observed_at(start, AZORES).local.replace(
        tzinfo=None
    ) == timedelta(minutes=100)


@pytest.mark.parametrize(
    ("zone", "utc", "day"),
    [
        (AZORES, "2026-10-25T00:30:00.000000Z", date(2026, 10, 25)),
        (AZORES, "2026-10-26T00:30:00.000000Z", date(2026, 10, 25)),
        ("Pacific/Kiritimati", "2026-10-24T10:00:00.000000Z", date(2026, 10, 25)),
        ("Pacific/Pago_Pago", "2026-10-25T10:59:59.000000Z", date(2026, 10, 24)),
    ],
)
def test_the_training_day_is_the_local_date_of_the_start(zone: str, utc: str, day: date) -> None:
    """Offsets of the IANA database: Kiritimati is 14 hours ahead of UTC, Pago Pago 11 behind."""
    assert training_day(observed_at(read_stored(utc), zone)) == day


def test_a_later_edition_of_the_zone_database_does_not_move_an_old_training_day() -> None:
    """What counts is the offset that was written down, whatever the zone is said to have had since."""
    written = Observed(utc="2026-10-25T00:30:00.000000Z", zone=AZORES, offset="-01:00")
    assert training_day(written) == date(2026, 10, 24)


@given(
    st.datetimes(datetime.fromisoformat("1990-01-01"), datetime.fromisoformat("2037-01-01"), timezones=st.just(UTC)),
    st.sampled_from([AZORES, "Australia/Lord_Howe", "America/St_Johns", "Asia/Kathmandu", "UTC"]),
)
def test_a_moment_comes_back_from_its_wall_clock(moment: datetime, zone: str) -> None:
    """Lord Howe shifts by half an hour; Kathmandu has 45 minutes beside the hour."""
    seen = observed_at(moment, zone)
    assert seen.moment == moment
    local = seen.local.replace(tzinfo=None)
    both = {from_wall_clock(local, zone, second_time=second) for second in (False, True)}
    assert moment in both
    assert read_stored(stored(moment)) == moment


@pytest.mark.parametrize("name", ["Atlantic/Azorez", "", "../etc/passwd", "/etc/localtime", "a\0b"])
def test_a_zone_that_is_none_is_refused(name: str) -> None:
    with pytest.raises(RefusedError, match="There is no time zone"):
        zone_named(name)


@pytest.mark.parametrize(
    "text", ["2026-10-25T00:30:00Z", "2026-10-25 00:30:00.000000Z", "2026-10-25T00:30:00.000000+00:00", "", "now"]
)
def test_only_the_stored_form_of_a_moment_is_read(text: str) -> None:
    with pytest.raises(ValueError, match="is not a stored moment"):
        read_stored(text)


def test_a_moment_without_a_zone_is_not_stored() -> None:
    with pytest.raises(ValueError, match="without a zone"):
        stored(datetime.fromisoformat("2026-10-25"))


@pytest.mark.parametrize("offset", ["", "Z", "+1:00", "+24:00", "-01:60"])
def test_an_offset_is_hours_and_minutes(offset: str) -> None:
    with pytest.raises(ValidationError):
        Observed(utc="2026-10-25T00:30:00.000000Z", zone=AZORES, offset=offset)


def test_ids_are_of_version_7_and_rise() -> None:
    """RFC 9562: the version stands in the high bits of the seventh byte; checked by the standard library's reader."""
    ids = [new_id() for _ in range(50)]
    assert {uuid.UUID(one).version for one in ids} == {7}
    assert ids == sorted(ids)
    assert all(map(is_id, ids))


@pytest.mark.parametrize(
    "text", ["", "x", "0192D000-0000-7000-8000-00000000000A", "{0192d000-0000-7000-8000-00000000000a}"]
)
def test_only_the_plain_form_of_an_id_is_one(text: str) -> None:
    assert not is_id(text)
    assert re.fullmatch(r"[0-9a-f-]{36}", new_id())
