"""Oxygen exposure: the share of the NOAA limits, and units of lung exposure, over sessions of a course.

Partial pressures here are in ata, as the table is (1 ata is 1.01325 bar). On a loop the dose follows the set point or
the recorded PO2, never the diluent's share times the pressure. Both curves bend, so that doses add up and averages do
not. Above 1.6 there is no value.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from itertools import pairwise

import numpy as np

from course.errors import RefusedError
from course.physics.gas import SLACK
from course.physics.pressure import Real

LINES_ATA = (0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6)
HIGHEST_ATA = LINES_ATA[-1]
OTU_FROM_ATA = 0.5
DAY = timedelta(hours=24)
ABOVE = "There is no limit above 1.6 ata, and none is guessed."


class Limit(StrEnum):
    """Which row of the table."""

    SINGLE = "single"
    DAY = "24 h"


class Between(StrEnum):
    """How a PO2 between two lines is read; common practice knows both, so that it has to be named."""

    NEXT_LINE_UP = "next line up"
    LINEAR = "linear in PO2"


LIMITS_MIN = {
    Limit.SINGLE: (720.0, 570.0, 450.0, 360.0, 300.0, 240.0, 210.0, 180.0, 150.0, 120.0, 45.0),
    Limit.DAY: (720.0, 570.0, 450.0, 360.0, 300.0, 270.0, 240.0, 210.0, 180.0, 180.0, 150.0),
}
"""Minutes. Source: NOAA Diving Manual, 4th edition (2001), single exposure and 24 hours; seen in stored copies."""


def limit_minutes(po2_ata: Real, limit: Limit = Limit.SINGLE, between: Between = Between.NEXT_LINE_UP) -> Real:
    """Return the minutes of the NOAA limit; infinite below 0.6 ata.

    Raises:
        RefusedError: above 1.6 ata.
    """
    po2 = np.asarray(po2_ata, dtype=np.float64)
    if not (po2 <= HIGHEST_ATA + SLACK).all():
        raise RefusedError(ABOVE)
    minutes = np.array(LIMITS_MIN[limit])
    if between is Between.LINEAR:
        found = np.interp(po2, LINES_ATA, minutes)
    else:
        found = minutes[np.searchsorted(np.array(LINES_ATA) + SLACK, po2)]
    return np.where(po2 < LINES_ATA[0] - SLACK, np.inf, found)[()]


def cns_percent(
    po2_from: float,
    po2_to: float,
    minutes: float,
    limit: Limit = Limit.SINGLE,
    between: Between = Between.NEXT_LINE_UP,
) -> float:
    """Return the share of the limit in percent that minutes use up while PO2 changes evenly from one to another.

    Raises:
        RefusedError: above 1.6 ata.
    """
    low, high = sorted((po2_from, po2_to))
    if high > HIGHEST_ATA + SLACK:
        raise RefusedError(ABOVE)
    if high - low < SLACK:
        return 100 * minutes / float(limit_minutes(high, limit, between))
    lines = [line for line in LINES_ATA if low < line < high]
    edges = [max(low, LINES_ATA[0]), *(line for line in lines if line > LINES_ATA[0]), high]
    if high <= LINES_ATA[0]:
        return 0.0
    parts = (_ramp_part(a, b, limit, between) for a, b in pairwise(edges))
    return 100 * minutes / (high - low) * sum(parts)


def _ramp_part(low: float, high: float, limit: Limit, between: Between) -> float:
    """The integral of 1 / limit over PO2 between two edges with no line in between."""
    if between is Between.NEXT_LINE_UP:
        return (high - low) / float(limit_minutes(high, limit, between))
    first, last = (float(limit_minutes(po2, limit, between)) for po2 in (low, high))
    if abs(first - last) < SLACK:
        return (high - low) / first
    return (high - low) * math.log(first / last) / (first - last)


def otu_rate(po2_ata: Real) -> Real:
    """Return units of lung exposure a minute; none up to 0.5 ata. Source: Bardin and Lambertsen 1970, exponent 5/6."""
    return (np.maximum(np.asarray(po2_ata) - OTU_FROM_ATA, 0) / OTU_FROM_ATA) ** (5 / 6)


def otu(po2_from: float, po2_to: float, minutes: float) -> float:
    """Return units of lung exposure of minutes in which PO2 changes evenly; the part up to 0.5 ata counts nothing."""
    low, high = sorted((po2_from, po2_to))
    if high - low < 1e-7:  # a level stretch is 0/0 in the closed form
        return float(otu_rate((low + high) / 2)) * minutes
    if high <= OTU_FROM_ATA:
        return 0.0
    above = max(low, OTU_FROM_ATA)
    ends = [((po2 - OTU_FROM_ATA) / OTU_FROM_ATA) ** (11 / 6) for po2 in (high, above)]
    return float(3 / 11 * minutes / (high - low) * (ends[0] - ends[1]))


@dataclass(frozen=True)
class Exposure:
    """Minutes on a PO2 in ata, level or changing evenly, from a moment that knows its zone.

    Raises:
        RefusedError: no zone, no time, a PO2 that is no number, negative or above 1.6 ata.
    """

    begins: datetime
    minutes: float
    po2_from: float
    po2_to: float

    def __post_init__(self) -> None:
        if self.begins.utcoffset() is None:
            raise RefusedError(f"{self.begins} has no zone; write it as 2026-10-25T09:00Z or +01:00.")
        if not (math.isfinite(self.minutes) and self.minutes > 0):
            raise RefusedError(f"An exposure lasts longer than no time, not {self.minutes:g} minutes.")
        for po2 in (self.po2_from, self.po2_to):
            if not (math.isfinite(po2) and po2 >= 0):
                raise RefusedError(f"{po2:g} is no partial pressure.")
            if po2 > HIGHEST_ATA + SLACK:
                raise RefusedError(ABOVE)

    def __str__(self) -> str:
        level = self.po2_from == self.po2_to
        po2 = f"{self.po2_from:g}" if level else f"{self.po2_from:g}>{self.po2_to:g}"
        return f"{self.begins.isoformat(timespec='minutes')} {po2} {self.minutes:g}"

    @property
    def ends(self) -> datetime:
        """When it is over, in UTC."""
        return self.begins.astimezone(UTC) + timedelta(minutes=self.minutes)

    def part(self, start: datetime, end: datetime) -> tuple[float, float, float] | None:
        """Return PO2 from, PO2 to and minutes of what lies between two moments; none where nothing does."""
        begins = self.begins.astimezone(UTC)
        first, last = max(begins, start), min(self.ends, end)
        if first >= last:
            return None
        slope = (self.po2_to - self.po2_from) / self.minutes
        low, high = sorted((self.po2_from, self.po2_to))  # a moment is rounded, and must not lead past an end
        at = [self.po2_from + slope * ((moment - begins) / timedelta(minutes=1)) for moment in (first, last)]
        return min(max(at[0], low), high), min(max(at[1], low), high), (last - first) / timedelta(minutes=1)


Dose = Callable[[float, float, float], float]


def in_order(exposures: Iterable[Exposure]) -> tuple[Exposure, ...]:
    """Return exposures in order of time.

    Raises:
        RefusedError: there is none, or two overlap: nobody breathes twice at once.
    """
    found = tuple(sorted(exposures, key=lambda one: one.begins.astimezone(UTC)))
    if not found:
        raise RefusedError("There is no exposure to count.")
    for one, following in pairwise(found):
        if following.begins.astimezone(UTC) < one.ends:
            raise RefusedError(f"The exposure of {following.begins} begins before the one of {one.begins} is over.")
    return found


def single_peak(
    exposures: Iterable[Exposure], between: Between = Between.NEXT_LINE_UP, half_time_min: float | None = None
) -> float:
    """Return the highest share of the single limit, in percent, over a row of exposures.

    Args:
        exposures: in any order.
        between: how a PO2 between two lines is read.
        half_time_min: in how many minutes off the loop the share is taken to halve; none unless named (common practice
            says 90, and no controlled study is known to us).
    """
    share, peak, over = 0.0, 0.0, None
    for one in in_order(exposures):
        if over is not None and half_time_min is not None:
            gap = (one.begins.astimezone(UTC) - over) / timedelta(minutes=1)
            share *= 0.5 ** (gap / half_time_min)
        share += cns_percent(one.po2_from, one.po2_to, one.minutes, Limit.SINGLE, between)
        peak, over = max(peak, share), one.ends
    return peak


def rolling_peak(exposures: Iterable[Exposure], between: Between = Between.NEXT_LINE_UP) -> float:
    """Return the highest share of the 24 h limit, in percent, in any 24 hours, whatever the calendar says."""
    return rolling_most(in_order(exposures), lambda a, b, t: cns_percent(a, b, t, Limit.DAY, between))


def rolling_otu(exposures: Iterable[Exposure]) -> float:
    """Return the most units of lung exposure in any 24 hours."""
    return rolling_most(in_order(exposures), otu)


def rolling_most(exposures: Sequence[Exposure], dose: Dose, ending_in: Sequence[Exposure] | None = None) -> float:
    """Return the highest sum of doses in a window of 24 hours.

    Args:
        exposures: none of which lie over each other.
        dose: of PO2 from, PO2 to and minutes; it never falls as PO2 rises.
        ending_in: only windows that end within one of these are looked at; None: all.

    As a window moves on, its sum rises while the PO2 that comes in at its end is above the one that drops out at its
    beginning, and falls while it is below, since the dose of a minute never falls as PO2 rises. So the highest sum ends
    where one of the two has a corner or both are the same: at no other moment need it be looked for.
    """
    moments = _corners(exposures)
    if ending_in is not None:
        moments = {at for at in moments if any(_begins(one) <= at <= one.ends for one in ending_in)}
    return max(
        (sum(dose(*part) for one in exposures if (part := one.part(end - DAY, end))) for end in moments), default=0.0
    )


def _begins(one: Exposure) -> datetime:
    return one.begins.astimezone(UTC)


def _corners(exposures: Sequence[Exposure]) -> set[datetime]:
    """Ends of windows that may have the highest sum: ends, beginnings, 24 hours after one, and where two PO2 meet."""
    found = set()
    for one in exposures:
        found |= {_begins(one), one.ends, _begins(one) + DAY}
    changing = [one for one in exposures if one.po2_from != one.po2_to]
    for coming, going in ((a, b) for a in exposures for b in changing):
        found |= _same(coming, going) | _same(going, coming)
    return found


def _same(coming: Exposure, going: Exposure) -> set[datetime]:
    """The moment at which what comes into a window is at the PO2 that drops out of it 24 hours before."""
    first = max(_begins(coming), _begins(going) + DAY)
    last = min(coming.ends, going.ends + DAY)
    into, out = coming.part(first, last), going.part(first - DAY, last - DAY)
    if first >= last or into is None or out is None:
        return set()
    apart = into[0] - out[0], into[1] - out[1]
    if apart[0] * apart[1] >= 0:
        return set()
    return {first + (last - first) * (apart[0] / (apart[0] - apart[1]))}


def read_exposures(text: str) -> tuple[Exposure, ...]:
    """Read exposures as they are typed: beginning, PO2 in ata (or from>to) and minutes, parted by semicolons.

    Raises:
        RefusedError: a piece cannot be read, or says what cannot be.

    >>> read_exposures("2026-10-25T09:00Z 0.7 90; 2026-10-25T14:00Z 0.7>1.3 4")[1].po2_to
    1.3
    """
    found = []
    for piece in filter(None, map(str.strip, text.split(";"))):
        try:
            begins, po2, minutes = piece.split()
            ends = [float(one) for one in po2.split(">")]
            one = Exposure(datetime.fromisoformat(begins), float(minutes), ends[0], ends[-1])
        except ValueError:
            raise RefusedError(
                f"{piece!r} is no exposure. Write beginning, PO2 in ata and minutes, such as "
                "2026-10-25T09:00Z 0.7 90 or, changing, 2026-10-25T09:00Z 0.7>1.3 4; parted by semicolons."
            ) from None
        found.append(one)
    return in_order(found)
