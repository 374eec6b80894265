"""Moments, zones and training days; the only place that reads a clock or makes an id.

Stored times are UTC with the local zone beside. A training day is the local date on which the session began,
also when it runs past midnight.
"""

from __future__ import annotations

import hashlib
import re
import uuid
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Annotated, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import uuid_utils
from pydantic import BaseModel, ConfigDict, Field, field_validator

from course.errors import RefusedError

Precision = Literal["second", "minute", "session"]
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_STORED = re.compile(r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}\.\d{6}Z$")

_ID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")


def now() -> datetime:
    """Return this moment in UTC."""
    return datetime.now(UTC)  # noqa: TID251 - the one allowed reading of the clock


def new_id() -> str:
    """Return a new time-ordered id (UUID version 7, RFC 9562) as text."""
    return str(uuid_utils.uuid7())


def derived_id(seed: str, *parts: str) -> str:
    """Return the id (UUID version 7) that these parts have under a seed: the same for whoever works it out.

    Its first 48 bits are the seed's moment, so that it sorts beside it; the others are of the SHA-256 of all parts.

    Raises:
        ValueError: the seed is no id.
    """
    moment = uuid.UUID(seed).bytes[:6]
    made = bytearray(moment + hashlib.sha256("\n".join((seed, *parts)).encode()).digest()[:10])
    made[6] = 0x70 | (made[6] & 0x0F)
    made[8] = 0x80 | (made[8] & 0x3F)
    return str(uuid.UUID(bytes=bytes(made)))


def is_id(text: str) -> bool:
    """Whether the text is a UUID in its canonical lower-case form."""
    return _ID.fullmatch(text) is not None


def stored(moment: datetime) -> str:
    """Write a moment as `YYYY-MM-DDTHH:MM:SS.ffffffZ`.

    Raises:
        ValueError: the moment carries no zone.
    """
    if moment.tzinfo is None:
        raise ValueError("a moment without a zone cannot be stored")
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def read_stored(text: str) -> datetime:
    """Read what `stored` wrote.

    Raises:
        ValueError: the text has another form.
    """
    if not _STORED.match(text):
        raise ValueError(f"{text!r} is not a stored moment like 2026-10-22T14:06:00.000000Z")
    return datetime.fromisoformat(text)


def zone_named(name: str) -> ZoneInfo:
    """Return a time zone by its IANA name.

    Raises:
        RefusedError: there is no such zone.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise RefusedError(
            f"There is no time zone {name[:60]!r}. Use a name such as Europe/Lisbon or Atlantic/Azores."
        ) from error


class Observed(BaseModel):
    """When something was seen or meant: UTC, the zone and offset of the place, and how finely it is known."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    utc: str
    zone: str
    offset: Annotated[str, Field(pattern=r"^[+-]([01]\d|2[0-3]):[0-5]\d$")]
    precision: Precision = "second"
    clock_offset_ms: int | None = None

    @field_validator("utc")
    @classmethod
    def _is_stored(cls, text: str) -> str:
        read_stored(text)
        return text

    @field_validator("zone")
    @classmethod
    def _is_zone(cls, name: str) -> str:
        zone_named(name)
        return name

    @property
    def moment(self) -> datetime:
        """The moment in UTC."""
        return read_stored(self.utc)

    @property
    def local(self) -> datetime:
        """The moment on the wall clock of its place, by the offset in force when it was written down.

        The offset is stored, so that a later edition of the zone database cannot move an old training day.
        """
        hours, minutes = int(self.offset[1:3]), int(self.offset[4:])
        east = timedelta(hours=hours, minutes=minutes)
        return self.moment.astimezone(timezone(-east if self.offset[0] == "-" else east))


def observed_at(
    moment: datetime, zone: str, precision: Precision = "second", clock_offset_ms: int | None = None
) -> Observed:
    """Return a moment together with its zone and the offset that was in force there."""
    offset = moment.astimezone(zone_named(zone)).strftime("%z")
    return Observed(
        utc=stored(moment),
        zone=zone,
        offset=f"{offset[:3]}:{offset[3:5]}",
        precision=precision,
        clock_offset_ms=clock_offset_ms,
    )


def from_wall_clock(local: datetime, zone: str, *, second_time: bool | None = None) -> datetime:
    """Return the UTC moment of a wall-clock time.

    Args:
        local: date and time without a zone.
        zone: IANA name.
        second_time: for an hour that the clocks show twice, whether the second showing is meant.

    Raises:
        RefusedError: the hour came twice and `second_time` was not said, or it never came.
    """
    place = zone_named(zone)
    first, second = (local.replace(tzinfo=place, fold=fold).astimezone(UTC) for fold in (0, 1))
    if first.astimezone(place).replace(tzinfo=None) != local and second.astimezone(place).replace(tzinfo=None) != local:
        raise RefusedError(f"{local:%Y-%m-%d %H:%M} never came in {zone}: the clocks were put forward over it.")
    if first != second and first < second and second_time is None:
        raise RefusedError(
            f"{local:%Y-%m-%d %H:%M} came twice in {zone}: say whether the first or the second is meant."
        )
    return second if second_time else first


def training_day(session_start: Observed) -> date:
    """Return the local date on which a session began."""
    return session_start.local.date()


def day_after(day: date, days: int) -> date:
    """Return the date a number of whole days later."""
    return day + timedelta(days=days)


def day_words(day: date) -> str:
    """Write a day as "24 Oct 2026", in English whatever the machine's own language."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def weekday_words(day: date) -> str:
    """The day of the week, in English whatever the machine's own language."""
    return _WEEKDAYS[day.weekday()]


def clock_time_near(near: Observed, clock: time, *, second_time: bool | None = None) -> Observed:
    """Return the moment nearest to another at which the clock of that place showed a time.

    So 00:50 in a session that began at 23:10 is of the day after.

    Raises:
        RefusedError: the hour came twice and `second_time` was not said, or it never came.
    """
    wall = near.local.replace(tzinfo=None)
    shown = [datetime.combine(wall.date() + timedelta(days=days), clock) for days in (-1, 0, 1)]
    local = min(shown, key=lambda one: abs(one - wall))
    return observed_at(from_wall_clock(local, near.zone, second_time=second_time), near.zone, "minute")


def read_clock(text: str) -> time:
    """Read a clock time that somebody typed: 9:05, 09.05, 0905.

    Raises:
        RefusedError: it is none.
    """
    found = re.fullmatch(r"(\d{1,2})[:.]?(\d{2})", text.strip(), re.ASCII)
    hour, minute = (int(part) for part in found.groups()) if found else (-1, -1)
    if not (0 <= hour < 24 and 0 <= minute < 60):
        raise RefusedError(f"{text.strip()[:20]!r} is no time of a day. Write hours and minutes, such as 13:30.")
    return time(hour, minute)


def hour_comes_twice(start: datetime, end: datetime, zone: str, around: timedelta = timedelta(hours=4)) -> str:
    """Return what the clocks show twice near a stretch of time, such as "00:00 to 01:00"; empty where nothing is.

    Args:
        start, end: UTC.
        zone: IANA name.
        around: how far before and after is looked.

    Raises:
        RefusedError: there is no such zone.
    """
    place, step = zone_named(zone), timedelta(minutes=15)
    at = start - around
    while at < end + around:
        before, after = (moment.astimezone(place).replace(tzinfo=None) for moment in (at, at + step))
        if after - before < step:
            back, change = step - (after - before), at
            while (change + timedelta(minutes=1)).astimezone(place).replace(tzinfo=None) - before > change - at:
                change += timedelta(minutes=1)
            last = (change + timedelta(minutes=1)).astimezone(place).replace(tzinfo=None) + back
            return f"{last - back:%H:%M} to {last:%H:%M}"
        at += step
    return ""
