"""Minutes, ratios and overlaps against a raster that looks at each second by itself; arrays against plain functions."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from course.hours import vectors
from course.hours.minutes import Interval, time_by_kind
from course.hours.overlaps import overlaps
from course.hours.ratio import Circumstances, Condition, Dive, Place, Presence, counted, ratio_breaks, sweep
from course.standards.profile import RatioRule
from course.words import SpanRole

BEGIN = datetime(2026, 10, 22, 12, tzinfo=UTC)
LONG = 90
ROLES = (SpanRole.STUDENT, SpanRole.TEACHING, SpanRole.ASSISTING)
RULE = RatioRule(
    setting="open_water", students_per_instructor=3, extra_with_assistant=1, most_students=4,
    low_visibility_students_per_instructor=1, students_per_instructor_with_minor=2, deeper_than_m=18,
    students_per_instructor_deeper=1,
)  # fmt: skip


@dataclass(frozen=True)
class Raw:
    """A span as numbers: person, place, role, seconds."""

    person: int
    place: int
    role: int
    start: int
    end: int

    def presence(self) -> Presence:
        place = Place("s", str(self.place))
        return Presence(str(self.person), ROLES[self.role], place, _at(self.start), _at(self.end))


def _at(second: int) -> datetime:
    return BEGIN + timedelta(seconds=second)


def _second(moment: datetime) -> int:
    return int((moment - BEGIN).total_seconds())


_raws = st.lists(
    st.builds(
        lambda person, place, role, start, length: Raw(person, place, role, start, start + length),
        st.integers(0, 3), st.integers(0, 2), st.integers(0, 2), st.integers(0, LONG - 30), st.integers(1, 30),
    ),
    min_size=1, max_size=14,
)  # fmt: skip


def _columns(raws: list[Raw], *names: str) -> list[np.ndarray]:
    return [np.array([getattr(raw, name) for raw in raws], np.int64) for name in names]


def _where(raws: list[Raw], second: int) -> dict[int, Raw]:
    """Each person's span at one second, looked at by itself: of those that cover it, the one that began first."""
    found: dict[int, Raw] = {}
    for raw in sorted(raws, key=lambda r: (r.start, r.end, r.place)):
        if raw.start <= second < raw.end:
            found.setdefault(raw.person, raw)
    return found


# --- union ---


@given(_raws)
def test_a_union_covers_each_second_that_any_span_covers_and_no_other(raws: list[Raw]) -> None:
    """Oracle: the raster."""
    found = vectors.union(*_columns(raws, "person", "start", "end"))
    told = {(int(p), s) for p, a, b in zip(*found, strict=True) for s in range(int(a), int(b))}
    assert told == {(raw.person, s) for raw in raws for s in range(raw.start, raw.end)}
    assert len(told) == int((found.end - found.start).sum())


@given(_raws)
def test_a_union_of_arrays_is_as_long_as_the_plain_one(raws: list[Raw]) -> None:
    found = vectors.union(*_columns(raws, "person", "start", "end"))
    for person in {raw.person for raw in raws}:
        mine = [Interval(_at(raw.start), _at(raw.end), "all") for raw in raws if raw.person == person]
        seconds = int((found.end - found.start)[found.person == person].sum())
        assert timedelta(seconds=seconds) == time_by_kind(mine)["all"]


@given(_raws)
def test_a_union_of_a_union_is_itself(raws: list[Raw]) -> None:
    once = vectors.union(*_columns(raws, "person", "start", "end"))
    for before, after in zip(once, vectors.union(*once), strict=True):
        assert (before == after).all()


def test_spans_that_touch_become_one_and_no_span_makes_none() -> None:
    one = vectors.union(np.array([0, 0]), np.array([10, 20]), np.array([20, 30]))
    assert [column.tolist() for column in one] == [[0], [10], [30]]
    empty = np.empty(0, np.int64)
    assert [len(column) for column in vectors.union(empty, empty, empty)] == [0, 0, 0]
    assert [len(column) for column in vectors.sweep(empty, empty, empty, empty)] == [0] * 6


def test_two_people_of_neighbouring_numbers_are_kept_apart() -> None:
    """One person's last second must not touch the next one's first."""
    found = vectors.union(np.array([0, 1]), np.array([0, 0]), np.array([100, 100]))
    assert [column.tolist() for column in found] == [[0, 1], [0, 0], [100, 100]]


def test_what_does_not_fit_is_refused() -> None:
    second = np.array([0, 10])
    with pytest.raises(ValueError, match="ends before it begins"):
        vectors.union(np.array([0, 0]), second, np.array([5, 10]))
    with pytest.raises(ValueError, match="do not fit"):
        vectors.union(np.array([0, 10**11]), second, np.array([10**9, 11]))
    with pytest.raises(ValueError, match="from 0"):
        vectors.sweep(np.array([-1, 0]), second * 0, second, second + 1)


# --- each body once ---


@given(_raws)
def test_each_body_counts_at_each_second_in_the_place_where_it_was_first(raws: list[Raw]) -> None:
    """Oracle: the raster; plain function and arrays alike."""
    expected = {(p, raw.place, second) for second in range(LONG) for p, raw in _where(raws, second).items()}
    plain = {
        (int(one.person), int(one.place.group or ""), second)
        for one in counted([raw.presence() for raw in raws])
        for second in range(_second(one.start), _second(one.end))
    }
    person, start, end, place = _columns(raws, "person", "start", "end", "place")
    index, begins = vectors.counted(person, start, end, place)
    arrays = {
        (int(person[i]), int(place[i]), second)
        for i, begin in zip(index, begins, strict=True)
        for second in range(int(begin), int(end[i]))
    }
    assert plain == expected
    assert arrays == expected


# --- sweep ---


@given(_raws)
def test_a_sweep_counts_at_each_second_who_is_there(raws: list[Raw]) -> None:
    """Oracle: the raster. Each body counts once, so people of the raster stand in one place."""
    person, start, end, place, role = _columns(raws, "person", "start", "end", "place", "role")
    index, begins = vectors.counted(person, start, end, place)
    found = vectors.sweep(place[index], role[index], begins, end[index])
    told = {
        (int(g), second): (int(s), int(i), int(a))
        for g, t0, t1, s, i, a in zip(*found, strict=True)
        for second in range(int(t0), int(t1))
    }
    expected: dict[tuple[int, int], tuple[int, int, int]] = {}
    for second in range(LONG):
        there = Counter((raw.place, raw.role) for raw in _where(raws, second).values())
        for group in {group for group, _ in there}:
            expected[group, second] = (there[group, 0], there[group, 1], there[group, 2])
    assert told == expected


@given(_raws)
def test_a_sweep_of_arrays_is_the_plain_sweep(raws: list[Raw]) -> None:
    person, start, end, place, role = _columns(raws, "person", "start", "end", "place", "role")
    index, begins = vectors.counted(person, start, end, place)
    found = vectors.sweep(place[index], role[index], begins, end[index])
    arrays = [tuple(map(int, row)) for row in zip(*found, strict=True)]
    once = counted([raw.presence() for raw in raws])
    plain = [
        (
            group,
            _second(s.start),
            _second(s.end),
            *map(len, (s.ratio.students, s.ratio.instructors, s.ratio.assistants)),
        )
        for group in sorted({int(one.place.group or "") for one in once})
        for s in sweep([one for one in once if one.place.group == str(group)], RULE)
        if s.ratio.students or s.ratio.instructors or s.ratio.assistants
    ]
    assert arrays == plain
    limits = vectors.allowed(found.instructors, found.assistants, 3, 1, 4)
    by_hand = [0 if row[4] == 0 else min(4, 3 * row[4] + row[5]) for row in arrays]
    assert limits.tolist() == by_hand


_dives = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 80), st.integers(1, 40)), max_size=3)


@given(raws=_raws, low=st.booleans(), dives=_dives)
def test_a_ratio_is_broken_at_exactly_the_seconds_at_which_the_strictest_limit_is_passed(
    raws: list[Raw], *, low: bool, dives: list[tuple[int, int, int]]
) -> None:
    """Oracle: the raster; limits worked out anew: with a minor (person 0) 2, in low visibility 1, below 18 m 1."""
    deep = tuple(Dive(str(who), _at(start), _at(start + long), Decimal("18.1")) for who, start, long in dives)
    met = {"s": Circumstances(frozenset({"0"}), low, deep)}
    found = ratio_breaks([raw.presence() for raw in raws], {"s": RULE}, circumstances=met)
    told = {(int(b.place.group or ""), s) for b in found for s in range(_second(b.start), _second(b.end))}
    expected = set()
    for second in range(LONG + 40):
        there = _where(raws, second)
        for place in range(3):
            own = {who: raw.role for who, raw in there.items() if raw.place == place}
            counts = Counter(own.values())
            each = [3, *([1] if low else []), *([2] if own.get(0) == 0 else [])]
            each += [1 for who, start, long in dives if who in own and start <= second < start + long]
            limit = min(4, min(each) * counts[1] + counts[2]) if counts[1] else 0
            if counts[0] > limit:
                expected.add((place, second))
    assert told == expected


# --- limits ---


@pytest.mark.parametrize(
    ("minors", "low", "depth", "at", "limit", "words"),
    [
        ([], False, "18", 0, 3, "limit 3"),
        (["b"], False, "18", 0, 2, "limit 2 with a minor"),
        (["z"], False, "18", 0, 3, "limit 3"),
        ([], True, "18", 0, 1, "limit 1 in low visibility"),
        ([], False, "18.1", 5, 1, "limit 1 on a deeper dive"),
        ([], False, "18.1", 10, 3, "limit 3"),
        (["b"], True, "30", 5, 1, "limit 1 in low visibility"),
    ],
)
def test_the_strictest_circumstance_sets_the_limit_and_is_named(
    minors: list[str], depth: str, at: int, limit: int, words: str, *, low: bool
) -> None:
    """Worked by hand from RULE; a dive is deep while it lasts (seconds 0 to 10), and 18 m is not deeper than 18."""
    met = Circumstances(frozenset(minors), low, (Dive("a", _at(0), _at(10), Decimal(depth)),))
    there = [Raw(0, 0, 1, 0, 60)] + [Raw(n, 0, 0, 0, 60) for n in (1, 2)]
    names = {"0": "t", "1": "a", "2": "b"}
    people = [
        Presence(names[p.person], p.role, p.place, p.start, p.end) for p in (raw.presence() for raw in there)
    ]  # fmt: skip
    ratio = next(s.ratio for s in sweep(people, RULE, circumstances=met) if s.start <= _at(at) < s.end)
    assert ratio.limit == limit
    assert ratio.sentence.endswith(words)
    assert ratio.without("a").conditions == ratio.conditions


def test_a_rule_without_stricter_numbers_ignores_every_circumstance() -> None:
    plain = RatioRule(setting="pool", students_per_instructor=3, extra_with_assistant=1, most_students=6)
    met = Circumstances(frozenset({"1"}), low_visibility=True, dives=(Dive("1", _at(0), _at(60), Decimal(40)),))
    there = [Raw(0, 0, 1, 0, 60).presence(), *(Raw(n, 0, 0, 0, 60).presence() for n in (1, 2, 3))]
    (stretch,) = sweep(there, plain, circumstances=met)
    assert (stretch.ratio.limit, stretch.ratio.broken) == (3, False)
    assert Condition.MINOR in stretch.ratio.conditions


# --- overlaps ---


@given(_raws)
def test_overlaps_cover_exactly_the_seconds_at_which_somebody_is_there_twice(raws: list[Raw]) -> None:
    """Oracle: the raster."""
    found = overlaps([raw.presence() for raw in raws])
    told = {(int(one.person), s) for one in found for s in range(_second(one.start), _second(one.end))}
    twice = {
        (who, second)
        for second in range(LONG)
        for who, count in Counter(raw.person for raw in raws if raw.start <= second < raw.end).items()
        if count > 1
    }
    assert told == twice
    assert all(one.counts.start <= one.other.start for one in found)


def test_student_and_staff_at_once_is_told_apart_from_two_places() -> None:
    learns, teaches = Raw(0, 0, 0, 0, 30).presence(), Raw(0, 1, 1, 10, 40).presence()
    (one,) = overlaps([teaches, learns])
    assert (one.learns_and_teaches, one.counts, _second(one.start), _second(one.end)) == (True, learns, 10, 30)
    (other,) = overlaps([Raw(0, 0, 1, 0, 120).presence(), Raw(0, 1, 1, 60, 240).presence()])
    assert (other.learns_and_teaches, other.minutes) == (False, 1)
