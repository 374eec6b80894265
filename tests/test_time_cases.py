"""Hard cases of time, by their numbers in the job, and time zones against the IANA database.

Zone facts: IANA time zone database as Python's zoneinfo has it (tzdata).
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from itertools import pairwise

import pytest
from centre_builder import Centre, note_papers, seen_at

from course.actions import courses, presence
from course.answers.hours import course_breaks, double_bookings
from course.answers.today import today
from course.errors import RefusedError
from course.hours.minutes import learner_minutes
from course.moments import from_wall_clock, hour_comes_twice, observed_at, read_clock, training_day
from course.record.facts import Session, Span
from course.words import SpanRole

DAY = date(2026, 10, 22)


def spend(start: str, end: str, zone: str, *, second: bool | None = None) -> Session:
    """A bench session with one student in it from start to end of the wall clock."""
    first, last = (
        observed_at(from_wall_clock(datetime.fromisoformat(at), zone, second_time=which), zone, "minute")
        for at, which in ((start, None), (end, second))
    )
    span = Span(id="x", person="p", role=SpanRole.STUDENT, group=None, start=first, end=last)
    return Session(id="s", course="c", setting="dry", start=first, end=last, spans=(span,))


@pytest.mark.parametrize(
    ("zone", "start", "end", "second", "minutes"),
    [
        ("Atlantic/Azores", "2026-10-24T23:10", "2026-10-25T00:50", True, 160),
        ("Atlantic/Azores", "2026-03-28T23:10", "2026-03-29T01:50", None, 100),
        ("Europe/Lisbon", "2026-10-25T00:30", "2026-10-25T03:00", None, 210),
        ("Europe/Lisbon", "2026-03-29T00:30", "2026-03-29T03:00", None, 90),
        ("Australia/Lord_Howe", "2026-04-05T00:30", "2026-04-05T03:00", None, 180),
        ("Australia/Lord_Howe", "2026-10-04T00:30", "2026-10-04T03:00", None, 120),
        ("Pacific/Apia", "2011-12-29T23:00", "2011-12-31T01:00", None, 120),
    ],
)
def test_case_10_time_is_true_elapsed_time_and_belongs_to_the_day_on_which_it_began(
    zone: str, start: str, end: str, minutes: int, *, second: bool | None
) -> None:
    """Both changes, half-hour changes, and the day that Apia left out."""
    session = spend(start, end, zone, second=second)
    assert learner_minutes([session], "p") == {"dry": minutes}
    assert training_day(session.start) == date.fromisoformat(start[:10])


@pytest.mark.parametrize(
    ("zone", "wall", "told"),
    [
        ("Atlantic/Azores", "2026-10-25T00:30", "came twice"),
        ("Australia/Lord_Howe", "2026-04-05T01:45", "came twice"),
        ("Atlantic/Azores", "2026-03-29T00:30", "never came"),
        ("Australia/Lord_Howe", "2026-10-04T02:15", "never came"),
        ("Pacific/Apia", "2011-12-30T12:00", "never came"),
    ],
)
def test_case_10_an_hour_that_came_twice_is_asked_and_one_that_never_came_is_refused(
    zone: str, wall: str, told: str
) -> None:
    with pytest.raises(RefusedError, match=told):
        from_wall_clock(datetime.fromisoformat(wall), zone)


@pytest.mark.parametrize(
    ("zone", "start", "told"),
    [
        ("Atlantic/Azores", "2026-10-24T23:10", "00:00 to 01:00"),
        ("Australia/Lord_Howe", "2026-04-05T00:30", "01:30 to 02:00"),
        ("Europe/Lisbon", "2026-10-25T00:30", "01:00 to 02:00"),
        ("Europe/Lisbon", "2026-03-29T00:30", ""),
        ("Europe/Lisbon", "2026-10-22T00:30", ""),
        ("Pacific/Apia", "2011-12-29T23:00", ""),
    ],
)
def test_case_10_a_form_knows_which_hour_comes_twice(zone: str, start: str, told: str) -> None:
    begin = from_wall_clock(datetime.fromisoformat(start), zone)
    assert hour_comes_twice(begin, begin + timedelta(hours=3), zone) == told


@pytest.mark.parametrize(("hour", "live"), [(23, True), (0, True), (1, False)])
def test_case_10_a_session_that_goes_on_past_midnight_stays_live_under_the_day_it_began(
    small_centre: Centre, hour: int, *, live: bool
) -> None:
    c = small_centre
    night = courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Night", setting="dry", start=seen_at(22, 22), end=seen_at(23, 1)
    )
    moment = seen_at(22 if hour == 23 else 23, hour, 30).moment
    told = today(c.ledger, c.view(), DAY, moment, night)
    assert (told.day, told.session, told.live) == (DAY, night, live)
    assert today(c.ledger, c.view(), DAY, moment, c.sessions["pool-22"]).live == (hour == 23)


@pytest.mark.parametrize("text", ["26:00", "24:00", "12:60", "noon", "", "1", "-1:30", "\uff11\uff12:30"])
def test_what_is_no_time_of_a_day_is_refused(text: str) -> None:
    with pytest.raises(RefusedError, match="no time of a day"):
        read_clock(text)


@pytest.mark.parametrize(("text", "told"), [("9:05", "09:05"), (" 0905 ", "09:05"), ("13.30", "13:30")])
def test_a_time_of_a_day_is_read_as_people_type_it(text: str, told: str) -> None:
    assert f"{read_clock(text):%H:%M}" == told


def come(c: Centre, session: str, person: str, start: tuple[int, int], end: tuple[int, int], group: str) -> None:
    presence.sign_in(
        c.ledger, c.lead, session, person, seen_at(22, *start), end=seen_at(22, *end), group=group
    )  # fmt: skip


def test_case_11_when_an_assistant_leaves_early_the_break_is_from_then_and_attempts_in_it_are_flagged(
    small_centre: Centre,
) -> None:
    """Pool rule of the example: 3 to 1, one more with an assistant; four students, the assistant leaves at 15:06."""
    from course.actions import centre
    from course.words import Role

    c, pool = small_centre, small_centre.sessions["pool-22"]
    more = [centre.add_person(c.ledger, c.lead, name=f"Student {n}", roles=[Role.STUDENT]) for n in (3, 4)]
    note_papers(c.ledger, c.lead, c.course, *more)
    for one in more:
        courses.enrol(c.ledger, c.lead, c.course, one, Role.STUDENT)
    students = [c.amaru, c.zoe, *more]
    group = courses.make_group(c.ledger, c.lead, pool, name="P", staff=[c.lead, c.assistant], students=students)
    come(c, pool, c.lead, (13, 30), (16, 20), group)
    come(c, pool, c.assistant, (13, 30), (15, 6), group)
    for one in students:
        come(c, pool, one, (13, 30), (15, 20) if one == more[1] else (16, 20), group)
    inside = [c.enter("pool-22", observed=seen_at(22, 15, minute)) for minute in (5, 6, 19, 20)]
    (one,) = course_breaks(c.view(), DAY)
    assert (one.minutes, one.start, one.end) == (14, seen_at(22, 15, 6).moment, seen_at(22, 15, 20).moment)
    assert one.words == "4 to 1, limit 3, for 14 minutes, 15:06 to 15:20: Lien Ito left."
    assert one.attempt_ids == tuple(inside[1:3])
    assert all(c.attempt(attempt).ending.how == "completed" for attempt in inside)


def test_case_34_who_is_in_two_places_counts_where_they_were_first_and_in_the_other_once_free(
    small_centre: Centre,
) -> None:
    """The overlap is one finding with its minutes; the break that it makes in the second place is folded under it."""
    c, pool = small_centre, small_centre.sessions["pool-22"]
    second = courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Make-up", setting="class", start=seen_at(22, 16), end=seen_at(22, 17)
    )
    groups = {
        session: courses.make_group(c.ledger, c.lead, session, name="G", staff=[c.lead], students=[student])
        for session, student in ((pool, c.amaru), (second, c.zoe))
    }
    come(c, pool, c.lead, (13, 30), (16, 20), groups[pool])
    come(c, pool, c.amaru, (13, 30), (16, 20), groups[pool])
    come(c, second, c.lead, (16, 0), (17, 0), groups[second])
    come(c, second, c.zoe, (16, 0), (17, 0), groups[second])
    (overlap,) = double_bookings(c.view(), DAY)
    assert (overlap.person, overlap.minutes, overlap.counts.place.session) == (c.lead, 20, pool)
    assert course_breaks(c.view(), DAY) == ()
    (folded,) = course_breaks(c.view(), DAY, folded=True)
    assert (folded.session, folded.minutes, folded.folded) == (second, 20, True)
    taught = [learner_minutes(c.view().sessions.values(), c.lead, role=SpanRole.TEACHING)]
    assert taught == [{"pool": 170, "theory": 40}]
    assert all(earlier.start <= later.start for earlier, later in pairwise([overlap.counts, overlap.other]))
