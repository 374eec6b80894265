"""Minutes against a raster that looks at every minute by itself."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from course.hours.minutes import Interval, learner_minutes, time_by_kind
from course.moments import from_wall_clock, observed_at
from course.record.day_facts import WaterTime
from course.record.facts import Session, Span
from course.words import SpanRole

START = datetime(2026, 10, 20, tzinfo=UTC)
KINDS = ("dry", "pool", "open_water")
ZONE = "Atlantic/Azores"


def _interval(start: int, length: int, kind: str) -> Interval:
    return Interval(START + timedelta(minutes=start), START + timedelta(minutes=start + length), kind)


_intervals = st.lists(
    st.builds(_interval, st.integers(0, 120), st.integers(0, 60), st.sampled_from(KINDS)), max_size=12
)


def _minute_of(moment: datetime) -> int:
    return int((moment - START).total_seconds()) // 60


def _raster(intervals: list[Interval]) -> dict[str, int]:
    """Each minute belongs to the interval that began first of those that cover it; of equals to the shorter."""
    ordered = sorted(intervals, key=lambda i: (i.start, i.end, i.kind))
    totals: dict[str, int] = {}
    for minute in range(181):
        covering = [i for i in ordered if _minute_of(i.start) <= minute < _minute_of(i.end)]
        if covering:
            totals[covering[0].kind] = totals.get(covering[0].kind, 0) + 1
    return totals


@given(_intervals)
def test_each_minute_counts_once_where_the_person_was_first(intervals: list[Interval]) -> None:
    """Oracle: every minute looked at by itself."""
    told = {kind: int(time.total_seconds()) // 60 for kind, time in time_by_kind(intervals).items()}
    assert told == _raster(intervals)


@given(_intervals, st.randoms())
def test_the_order_of_entry_does_not_matter(intervals: list[Interval], random: object) -> None:
    mixed = list(intervals)
    random.shuffle(mixed)  # type: ignore[attr-defined]
    assert time_by_kind(mixed) == time_by_kind(intervals)


@given(_intervals)
def test_more_intervals_never_make_less_time(intervals: list[Interval]) -> None:
    total = sum(time_by_kind(intervals).values(), timedelta())
    less = sum(time_by_kind(intervals[1:]).values(), timedelta())
    assert total >= less


def test_who_is_in_two_places_counts_where_they_were_first() -> None:
    pool = Interval(START, START + timedelta(minutes=60), "pool")
    dry = Interval(START + timedelta(minutes=45), START + timedelta(minutes=90), "dry")
    inside = Interval(START + timedelta(minutes=10), START + timedelta(minutes=20), "dry")
    assert time_by_kind([dry, inside, pool]) == {"pool": timedelta(minutes=60), "dry": timedelta(minutes=30)}


def _session(start: datetime, minutes: int, *spans: Span, water: tuple[WaterTime, ...] = (), **more: object) -> Session:
    return Session(
        id="s", course="c", title="Bench", setting="dry", place=None, start=observed_at(start, ZONE),
        end=observed_at(start + timedelta(minutes=minutes), ZONE), spans=spans, water=water, **more,
    )  # fmt: skip


def _span(start: datetime, end: datetime | None, role: SpanRole = SpanRole.STUDENT, person: str = "amaru") -> Span:
    ended = observed_at(end, ZONE) if end else None
    return Span(id="x", person=person, role=role, group=None, start=observed_at(start, ZONE), end=ended)


def test_a_span_across_the_clock_change_is_true_elapsed_time() -> None:
    """IANA time zone database: at 01:00 on 25 October 2026 the Azores' clocks go back to 00:00."""
    start = from_wall_clock(datetime.fromisoformat("2026-10-24T23:10"), ZONE)
    end = from_wall_clock(datetime.fromisoformat("2026-10-25T00:50"), ZONE, second_time=True)
    assert learner_minutes([_session(start, 160, _span(start, end))], "amaru") == {"dry": 160}


def test_somebody_without_an_end_counts_to_the_end_of_the_session() -> None:
    still_in = [_session(START, 90, _span(START + timedelta(minutes=15), None))]
    assert learner_minutes(still_in, "amaru") == {"dry": 75}
    assert learner_minutes(still_in, "amaru", now=START + timedelta(minutes=90)) == {"dry": 75}
    assert learner_minutes(still_in, "amaru", now=START + timedelta(minutes=89)) == {}  # nobody earns time to come


def test_only_time_in_the_asked_role_counts() -> None:
    session = _session(START, 90, _span(START, None), _span(START, None, SpanRole.CANDIDATE, "jorun"))
    assert learner_minutes([session], "jorun") == {}
    assert learner_minutes([session], "jorun", role=SpanRole.CANDIDATE) == {"dry": 90}


def test_minutes_on_the_loop_are_those_written_down() -> None:
    water = WaterTime(
        id="w", person="amaru", unit=None, entered=None, left=None, loop_minutes=33, bailout_minutes=4, max_depth_m=None
    )
    assert learner_minutes([_session(START, 90, water=(water, water))], "amaru") == {"in_water_on_loop": 66}


def test_a_session_that_was_withdrawn_or_is_of_a_later_training_day_does_not_count() -> None:
    """A session from midnight on belongs to the new day."""
    midnight = from_wall_clock(datetime.fromisoformat("2026-10-23"), ZONE)
    session = _session(midnight, 60, _span(midnight, None))
    assert learner_minutes([session], "amaru", date(2026, 10, 22)) == {}
    assert learner_minutes([session], "amaru", date(2026, 10, 23)) == {"dry": 60}
    assert learner_minutes([session.model_copy(update={"withdrawn": True})], "amaru") == {}
