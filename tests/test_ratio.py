"""Ratio per group: the limit, what happens if somebody leaves, every break; the sweep against a count by the minute."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from course import sample
from course.hours.ratio import (
    Place,
    Presence,
    Ratio,
    RatioBreak,
    counted,
    presences,
    ratio_at,
    ratio_breaks,
    sweep,
)
from course.moments import observed_at
from course.places import RUBRICS
from course.record.facts import Session, Span
from course.standards.profile import RatioRule
from course.storage.ledger import open_ledger
from course.storage.rubric_files import read_folder
from course.words import SpanRole

POOL = RatioRule(setting="pool", students_per_instructor=3, extra_with_assistant=1, most_students=6)
NOON = datetime(2026, 10, 22, 12, tzinfo=UTC)
P, Q = Place("pool-1", "p"), Place("pool-1", "q")
TEACHING, ASSISTING, STUDENT = SpanRole.TEACHING, SpanRole.ASSISTING, SpanRole.STUDENT


def at(minute: float) -> datetime:
    return NOON + timedelta(minutes=minute)


def there(person: str, role: SpanRole, start: float, end: float, place: Place = P) -> Presence:
    return Presence(person, role, place, at(start), at(end))


def ratio(students: int, instructors: int, assistants: int, rule: RatioRule | None = POOL) -> Ratio:
    people = [tuple(f"{what}{n}" for n in range(count)) for what, count in
              (("s", students), ("i", instructors), ("a", assistants))]  # fmt: skip
    return Ratio(*people, rule)


def told(breaks: tuple[RatioBreak, ...]) -> list[tuple[str | None, float, float]]:
    return [(b.place.group, (b.start - NOON).total_seconds() / 60, (b.end - NOON).total_seconds() / 60) for b in breaks]


@pytest.mark.parametrize(
    ("instructors", "assistants", "limit"),
    [(0, 0, 0), (0, 2, 0), (1, 0, 3), (1, 1, 4), (1, 2, 5), (2, 0, 6), (2, 1, 6), (3, 3, 6)],
)
def test_the_limit_is_so_many_for_each_instructor_and_assistant_up_to_the_most(
    instructors: int, assistants: int, limit: int
) -> None:
    """Worked by hand from a rule of 3 for each instructor, 1 for each assistant, at most 6; none without instructor."""
    assert ratio(1, instructors, assistants).limit == limit


@pytest.mark.parametrize(
    ("of", "sentence", "short", "broken", "room"),
    [
        (ratio(3, 1, 1), "3 students to 1 instructor and 1 assistant; limit 4", "3 to 1, limit 4", False, 1),
        (ratio(4, 1, 0), "4 students to 1 instructor; limit 3", "4 to 1, limit 3", True, 0),
        (ratio(1, 0, 1), "1 student and no instructor (1 assistant)", "1 student and no instructor", True, 0),
        (ratio(0, 0, 1), "0 students and no instructor (1 assistant)", "no student is in", False, 0),
        (ratio(0, 0, 0), "Nobody is in", "no student is in", False, 0),
        (
            ratio(9, 1, 0, None),
            "9 students to 1 instructor; the requirements set no limit here",
            "9 to 1, the requirements set no limit here",
            False,
            0,
        ),
        (ratio(9, 0, 0, None), "9 students and no instructor", "9 students and no instructor", True, 0),
    ],
)
def test_a_ratio_reads_as_a_sentence(of: Ratio, sentence: str, short: str, *, broken: bool, room: int) -> None:
    assert (of.sentence, of.short, of.broken, of.room) == (sentence, short, broken, room)


def test_what_happens_if_somebody_leaves_now() -> None:
    now = ratio(4, 1, 1)
    assert not now.broken
    assert now.without("a0").short == "4 to 1, limit 3"
    assert now.without("a0").broken
    assert now.without("i0").sentence == "4 students and no instructor (1 assistant)"
    assert not now.without("s0").broken
    assert now.without("nobody") == now


def test_a_handover_at_one_instant_is_no_break() -> None:
    people = [
        there("tamsin", TEACHING, 0, 30),
        there("bruno", TEACHING, 30, 60),
        *(there(s, STUDENT, 0, 60) for s in ("a", "b", "c")),
    ]
    assert ratio_breaks(people, {"pool-1": POOL}) == ()


def test_groups_are_not_pooled() -> None:
    """Six students to two instructors would be within 3 each; four of them with one instructor are not."""
    people = [
        there("tamsin", TEACHING, 0, 60),
        there("bruno", TEACHING, 0, 60, Q),
        *(there(s, STUDENT, 0, 60) for s in "abcd"),
        *(there(s, STUDENT, 0, 60, Q) for s in "ef"),
    ]
    assert told(ratio_breaks(people, {"pool-1": POOL})) == [("p", 0, 60)]


def test_an_instructor_in_two_groups_counts_where_they_were_first_and_then_from_the_minute_they_are_free() -> None:
    people = [
        there("bruno", TEACHING, 0, 30),
        there("bruno", TEACHING, 10, 60, Q),
        there("a", STUDENT, 0, 60),
        there("b", STUDENT, 10, 60, Q),
    ]
    found = ratio_breaks(people, {"pool-1": POOL})
    assert told(found) == [("q", 10, 30), ("p", 30, 60)]
    assert [b.elsewhere for b in found] == [("bruno",), ()]


def test_none_left_with_students_in_is_a_break_even_where_no_rule_sets_a_limit() -> None:
    people = [there("tamsin", TEACHING, 0, 20), there("a", STUDENT, 0, 50)]
    (found,) = ratio_breaks(people, {"pool-1": None})
    assert (found.minutes, found.left) == (30, ("tamsin",))


def test_a_break_that_grows_is_one_break_told_at_its_worst() -> None:
    people = [
        there("tamsin", TEACHING, 0, 60),
        *(there(s, STUDENT, 0, 60) for s in "abc"),
        there("d", STUDENT, 10, 40),
        there("e", STUDENT, 20, 30),
    ]
    (found,) = ratio_breaks(people, {"pool-1": POOL})
    assert told((found,)) == [("p", 10, 40)]
    assert (found.worst.short, found.came, found.left) == ("5 to 1, limit 3", ("d",), ())
    assert found.sentence == "5 students to 1 instructor; limit 3: 30 minutes"


def test_candidates_technicians_and_surface_support_count_in_no_ratio() -> None:
    others = [there(role.value, role, 0, 60) for role in (SpanRole.CANDIDATE, SpanRole.TECHNICIAN, SpanRole.SURFACE)]
    assert ratio_at(others, at(5), POOL) == Ratio((), (), (), POOL)
    assert ratio_breaks(others, {"pool-1": POOL}) == ()


def test_a_break_that_still_runs_ends_at_the_moment_asked_for() -> None:
    people = [there("tamsin", TEACHING, 0, 20), there("a", STUDENT, 0, 600)]
    assert told(ratio_breaks(people, {"pool-1": POOL}, until=at(45))) == [("p", 20, 45)]


def session(spans: list[tuple[str, SpanRole, float, float | None]], **more: object) -> Session:
    """A session from 0 to 170 minutes."""

    def seen(minute: float) -> object:
        return observed_at(at(minute), "Atlantic/Azores", "minute")

    made = [
        Span(id=f"{n}", person=p, role=r, group="p", start=seen(a), end=None if b is None else seen(b))
        for n, (p, r, a, b) in enumerate(spans)
    ]
    plain = {"id": "pool-1", "course": "c", "setting": "pool", "start": seen(0), "end": seen(170), "spans": made}
    return Session.model_validate(plain | more)


def test_a_time_without_an_end_counts_to_the_sessions_end() -> None:
    (one,) = presences([session([("tamsin", TEACHING, 5, None)])])
    assert (one.start, one.end) == (at(5), at(170))


def test_while_the_day_runs_it_goes_on_until_the_person_is_signed_in_elsewhere() -> None:
    early = session([("tamsin", TEACHING, 5, None), ("lien", ASSISTING, 5, None)])
    late = session([("lien", ASSISTING, 200, None)], id="pool-2")
    found = {(p.person, p.place.session): p.end for p in presences([early, late], live=True)}
    assert found["lien", "pool-1"] == at(200)
    assert found["tamsin", "pool-1"] > at(10_000)
    assert ratio_at(presences([early], live=True), at(180), POOL).instructors == ("tamsin",)


def test_a_withdrawn_session_has_nobody_in_it() -> None:
    assert presences([session([("tamsin", TEACHING, 5, None)], withdrawn=True)]) == ()


def test_time_over_a_change_of_the_clocks_is_true_elapsed_time() -> None:
    """Clocks went back in Atlantic/Azores on 25 Oct 2026 at 01:00 to 00:00 (IANA time zone database)."""
    start, end = datetime(2026, 10, 25, 0, 10, tzinfo=UTC), datetime(2026, 10, 25, 1, 50, tzinfo=UTC)
    assert observed_at(start, "Atlantic/Azores").local.strftime("%H:%M") == "00:10"
    assert observed_at(end, "Atlantic/Azores").local.strftime("%H:%M") == "00:50"
    alone = [Presence("a", STUDENT, P, start, end)]
    assert [b.minutes for b in ratio_breaks(alone, {"pool-1": POOL})] == [100]


# --- against a count minute by minute ---------------------------------------------------------------------------------

ROLES = {"t": TEACHING, "b": TEACHING, "l": ASSISTING, "x": STUDENT, "y": STUDENT, "z": STUDENT, "w": STUDENT}
SPANS = st.lists(
    st.tuples(st.sampled_from(sorted(ROLES)), st.sampled_from([P, Q]), st.integers(0, 40), st.integers(1, 25)),
    max_size=14,
).map(lambda found: [there(who, ROLES[who], start, start + long, place) for who, place, start, long in found])


def by_the_minute(people: list[Presence]) -> set[tuple[Place, int]]:
    """Every (group, minute) with too many students: for each minute everybody is asked where they are."""
    broken = set()
    stays: dict[str, Presence] = {}
    for minute in range(70):
        for who in ROLES:
            if who in stays and stays[who].end <= at(minute):
                del stays[who]
            began = [one for one in people if one.person == who and one.start <= at(minute) < one.end]
            if who not in stays and began:
                stays[who] = min(began, key=lambda o: (o.start, o.end, o.place.session, o.place.group or ""))
        for place in (P, Q):
            roles = [ROLES[who] for who, one in stays.items() if one.place == place]
            teaching, assisting = roles.count(TEACHING), roles.count(ASSISTING)
            allowed = min(6, 3 * teaching + assisting) if teaching else 0
            if roles.count(STUDENT) > allowed:
                broken.add((place, minute))
    return broken


@given(SPANS)
def test_the_sweep_finds_what_a_count_minute_by_minute_finds(people: list[Presence]) -> None:
    found = set()
    for one in ratio_breaks(people, {"pool-1": POOL}):
        start, end = ((moment - NOON).total_seconds() / 60 for moment in (one.start, one.end))
        found |= {(one.place, minute) for minute in range(int(start), int(end))}
    assert found == by_the_minute(people)


@given(SPANS, st.randoms())
def test_the_order_of_entry_never_matters(people: list[Presence], random: object) -> None:
    shuffled = list(people)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert ratio_breaks(shuffled, {"pool-1": POOL}) == ratio_breaks(people, {"pool-1": POOL})


@given(SPANS)
def test_nobody_is_counted_twice_and_breaks_of_a_group_never_touch(people: list[Presence]) -> None:
    once = counted(people)
    for one in once:
        others = [o for o in once if o.person == one.person and o is not one]
        assert all(o.end <= one.start or one.end <= o.start for o in others)
    for place in (P, Q):
        breaks = [b for b in ratio_breaks(people, {"pool-1": POOL}) if b.place == place]
        assert all(earlier.end < later.start for earlier, later in pairwise(breaks))
        assert all(b.worst.broken for b in breaks)


@given(SPANS)
def test_each_stretch_is_what_an_instant_in_it_shows(people: list[Presence]) -> None:
    own = [one for one in counted(people) if one.place == P]
    for stretch in sweep(own, POOL):
        middle = stretch.start + (stretch.end - stretch.start) / 2
        assert ratio_at(own, middle, POOL) == stretch.ratio == ratio_at(own, stretch.start, POOL)


# --- the demo course -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo_breaks(loaded: sample.Loaded) -> list[tuple[str, ...]]:
    """Every break of the demo course in words: session, group, from, to, minutes, ratio, who left or was elsewhere."""
    with open_ledger(loaded.folder) as ledger:
        sessions = [s for s in ledger.facts("session") if isinstance(s, Session)]
    profile = read_folder(Path(RUBRICS)).profile("ex-first-unit", "r1")
    rules = {rule.setting: rule for rule in profile.ratios}
    keys = {known: key for key, known in (*loaded.people.items(), *loaded.sessions.items())}
    groups = {group.id: group.name for s in sessions for group in s.groups}
    found = ratio_breaks(presences(sessions), {s.id: rules.get(s.setting) for s in sessions})
    azores = [(observed_at(b.start, "Atlantic/Azores"), observed_at(b.end, "Atlantic/Azores")) for b in found]
    return [
        (keys[b.place.session], groups[b.place.group or ""], f"{start.local:%H:%M}", f"{end.local:%H:%M}",
         f"{b.minutes} min", b.worst.short, *(keys[person] for person in (*b.left, *b.elsewhere)))
        for b, (start, end) in zip(found, azores, strict=True)
    ]  # fmt: skip


def test_the_demo_course_has_its_planted_break_to_the_minute_and_nothing_else(
    demo_breaks: list[tuple[str, ...]],
) -> None:
    """Planted: Thu 22 Oct, Pool 1, group P, after the assistant left; nothing in Q.

    On Fri 23 Oct Bruno is in two places: what follows for the make-up is told as his double booking's.
    """
    assert demo_breaks == [
        ("pool-1", "Group P", "15:06", "15:20", "14 min", "4 to 1, limit 3", "lien"),
        ("make-up", "Make-up", "16:30", "17:00", "30 min", "1 student and no instructor", "bruno"),
    ]
