"""Which minutes of exposures had the highest PO2: the careful side where it is known only how many there were."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import timedelta

from course.physics.exposure import Exposure

_NOTHING_MIN = 1e-6
"""Shorter than any moment that can be written down."""


def highest_minutes(exposures: Sequence[Exposure], minutes: float) -> tuple[tuple[Exposure, ...], tuple[Exposure, ...]]:
    """Part exposures into so many minutes at the highest PO2, and the rest; of level ones the earlier go first.

    Args:
        exposures: in order of time, none of which lie over each other.
        minutes: how many; all there are, where there are fewer.

    Whatever minutes of them were breathed, their dose is no higher than that of the first part: a minute's dose never
    falls as PO2 rises.
    """
    cut, level_left = _cut(exposures, minutes)
    kept: list[Exposure] = []
    rest: list[Exposure] = []
    for one in exposures:
        if one.po2_from == one.po2_to == cut:
            taken = min(level_left, one.minutes)
            level_left -= taken
            kept += _piece(one, 0, taken)
            rest += _piece(one, taken, one.minutes)
            continue
        for piece in _parted(one, cut):
            (kept if piece.po2_from + piece.po2_to > 2 * cut else rest).append(piece)
    return tuple(kept), tuple(rest)


def _cut(exposures: Sequence[Exposure], minutes: float) -> tuple[float, float]:
    """The PO2 above which there are at most so many minutes, and how many are left for what is level at it."""
    corners = sorted({po2 for one in exposures for po2 in (one.po2_from, one.po2_to)}, reverse=True)
    before: tuple[float, float] | None = None
    for po2 in corners:
        above = sum(_above(one, po2) for one in exposures)
        if before is not None and above > minutes:
            (higher, had) = before
            return higher - (minutes - had) / (above - had) * (higher - po2), 0.0
        level = sum(one.minutes for one in exposures if one.po2_from == one.po2_to == po2)
        if above + level >= minutes:
            return po2, minutes - above
        before = po2, above + level
    return -1.0, 0.0


def _above(one: Exposure, po2: float) -> float:
    low, high = sorted((one.po2_from, one.po2_to))
    if low >= po2:
        return one.minutes if high > po2 else 0.0
    return max(0.0, (high - po2) / (high - low)) * one.minutes if high > low else 0.0


def _parted(one: Exposure, po2: float) -> Iterable[Exposure]:
    """An exposure, parted where it goes through a PO2."""
    if (one.po2_from - po2) * (one.po2_to - po2) >= 0:
        return (one,)
    at = one.minutes * (po2 - one.po2_from) / (one.po2_to - one.po2_from)
    return (*_piece(one, 0, at), *_piece(one, at, one.minutes))


def _piece(one: Exposure, first: float, last: float) -> Iterator[Exposure]:
    """What lies between two minutes of an exposure; none where that is no time."""
    if last - first < _NOTHING_MIN:
        return
    slope = (one.po2_to - one.po2_from) / one.minutes
    yield replace(
        one, begins=one.begins + timedelta(minutes=first), minutes=last - first,
        po2_from=one.po2_from + slope * first, po2_to=one.po2_from + slope * last,
    )  # fmt: skip
