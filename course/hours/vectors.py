"""Minutes and ratios of very many spans at once: the same laws as the plain functions, over arrays.

Times are int64 UTC seconds, half open. People and groups are whole numbers from 0. To keep people or groups apart, a
time becomes `key * width + time`; keys times width stays below 9e18, which int64 holds.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]
MOST = 9_000_000_000_000_000_000
STUDENT, INSTRUCTOR, ASSISTANT = 0, 1, 2
"""Roles as numbers, for `sweep`."""


class Spans(NamedTuple):
    """Spans of people, sorted by person and start, without an overlap within one person."""

    person: Whole
    start: Whole
    end: Whole


class Counts(NamedTuple):
    """How many were in a group from one change to the next; sorted by group and start. Empty stretches are left out."""

    group: Whole
    start: Whole
    end: Whole
    students: Whole
    instructors: Whole
    assistants: Whole


def union(person: Whole, start: Whole, end: Whole) -> Spans:
    """Return each person's time without overlaps; spans that touch become one.

    Two sorts and one comparison: a gap is before the n-th start where n spans have ended already.

    Raises:
        ValueError: a span ends before it begins, or people times seconds are too many for int64.
    """
    if not len(person):
        return Spans(person, start, end)
    least, width = _frame(person, start, end)
    starts, ends = np.sort(person * width + (start - least)), np.sort(person * width + (end - least))
    first = np.empty(len(starts), bool)
    first[0] = True
    np.less(ends[:-1], starts[1:], out=first[1:])
    last = np.append(first[1:], True)
    begins, finishes = starts[first], ends[last]
    who = begins // width
    return Spans(who, begins - who * width + least, finishes - who * width + least)


def counted(person: Whole, start: Whole, end: Whole, place: Whole) -> tuple[Whole, Whole]:
    """Return (index, start) of spans that count, each body once: of two that overlap, the one that began first.

    Of equals the shorter has the time, then the one in the lower place. Where a span counts only in part, its start is
    later than it was.
    """
    order = np.lexsort((place, end, start, person))
    least, width = _frame(person, start, end)
    keyed_start, keyed_end = (person * width + (at - least) for at in (start, end))
    begins, ends = keyed_start[order], keyed_end[order]
    free_from = np.maximum.accumulate(ends)
    begins[1:] = np.maximum(begins[1:], free_from[:-1])
    counts = begins < ends
    index = order[counts]
    return index, begins[counts] - person[index] * width + least


def sweep(group: Whole, role: Whole, start: Whole, end: Whole) -> Counts:
    """Return how many of each role are in each group, from change to change; all changes of one instant fall together.

    Args:
        group, start, end: of each span, each body counted once.
        role: STUDENT, INSTRUCTOR or ASSISTANT.

    Raises:
        ValueError: a span ends before it begins, or groups times seconds are too many for int64.
    """
    if not len(group):
        return Counts(*[np.empty(0, np.int64)] * 6)
    least, width = _frame(group, start, end, most=MOST // 8)
    base = group * width - least
    changes = np.concatenate(((base + start) * 8 + role, (base + end) * 8 + role + 4))
    changes.sort()
    at = changes >> 3
    last = np.append(at[1:] != at[:-1], True)
    there = np.cumsum(_STEP[changes & 7])[last]  # a group's changes cancel out, so the next one begins from nobody
    at = at[last]
    students, instructors, assistants = (there >> shift & _PART for shift in _SHIFTS)
    somebody = there[:-1] != 0
    of = at[:-1][somebody] // width
    begins, ends = at[:-1][somebody] - of * width + least, at[1:][somebody] - of * width + least
    return Counts(of, begins, ends, *(part[:-1][somebody] for part in (students, instructors, assistants)))


_SHIFTS, _PART = (0, 21, 42), (1 << 21) - 1
_STEP = np.array([1 << shift for shift in _SHIFTS] + [0] + [-(1 << shift) for shift in _SHIFTS] + [0], np.int64)
"""Three counts in one number, 21 bits each: one running sum for all, up to two million in each role of a group."""


def allowed(instructors: Whole, assistants: Whole, each: int, extra: int, most: int) -> Whole:
    """Return how many students there may be: min(most, each x instructors + extra x assistants), 0 without one."""
    limit: Whole = np.where(instructors > 0, np.minimum(most, each * instructors + extra * assistants), 0)
    return limit


def _frame(key: Whole, start: Whole, end: Whole, most: int = MOST) -> tuple[int, int]:
    """The earliest time, and a width that keeps keys apart."""
    if np.any(end <= start):
        raise ValueError("a span ends before it begins")
    if np.any(key < 0):
        raise ValueError("keys are whole numbers from 0")
    least = int(start.min()) if len(start) else 0
    width = int(end.max()) - least + 2 if len(end) else 1
    if (int(key.max(initial=0)) + 1) * width >= most:
        raise ValueError(f"{int(key.max()) + 1} keys over {width} seconds do not fit: number them from 0")
    return least, width
