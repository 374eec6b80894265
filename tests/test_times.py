"""Times entered and mended afterwards: what comes into the ledger, what is refused, and what stays to be read."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from centre_builder import ZONE, Centre, seen_at

from course.actions import amending, centre, courses, presence, times
from course.actions.drafting import body, draft
from course.actions.times import WaterRow
from course.answers.hours import hours
from course.errors import CourseError, NotFoundError, RefusedError
from course.hours.minutes import counted_water, learner_minutes, person_minutes
from course.moments import Observed, from_wall_clock, new_id, observed_at
from course.record.day_events import SessionClosed
from course.record.day_facts import WaterTime
from course.record.events import WaterTimeRecorded
from course.record.facts import Session
from course.words import Role, SpanRole

POOL = "pool-22"
NOW = seen_at(22, 20)


@pytest.fixture(autouse=True)
def _evening_of_the_pool_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the machine's clock says."""
    for module in ("course.actions.times", "course.actions.courses"):
        monkeypatch.setattr(f"{module}.now", lambda: NOW.moment)


def fact(c: Centre, key: str = POOL) -> Session:
    found = c.ledger.fact("session", c.sessions[key])
    assert isinstance(found, Session)
    return found


def enter(c: Centre, start: Observed, end: Observed, person: str = "", by: str = "", **more: Any) -> str:
    return times.enter_time(
        c.ledger, by or c.lead, more.pop("session", c.sessions[POOL]), person or c.amaru, start, end, **more
    )


def refused(c: Centre, act: Callable[[], object]) -> str:
    """The sentence of a refusal; nothing came into the ledger."""
    before = c.count()
    with pytest.raises(CourseError) as told:
        act()
    assert c.count() == before
    assert told.value.sentence.endswith("Nothing was changed.")
    return told.value.sentence


def row(c: Centre, person: str = "", **more: Any) -> WaterRow:
    plain = {"loop_minutes": 60, "bailout_minutes": 5, "entered": seen_at(22, 13, 50), "left": seen_at(22, 15, 0)}
    return WaterRow(person=person or c.amaru, **(plain | more))


def save(c: Centre, *rows: WaterRow, why: str | None = None, by: str = "", key: str = POOL) -> int:
    return times.save_water(c.ledger, by or c.lead, c.sessions[key], rows, why)


# --- who was there ---


def test_a_time_entered_afterwards_counts_and_the_same_tap_twice_adds_nothing(small_centre: Centre) -> None:
    c, tap = small_centre, new_id()
    for _ in range(2):
        assert enter(c, seen_at(22, 13, 30), seen_at(22, 15, 6), event_id=tap, by=c.assistant) == tap
    (span,) = fact(c).spans
    assert (span.role, span.group, span.end) == (SpanRole.STUDENT, None, seen_at(22, 15, 6))
    assert learner_minutes([fact(c)], c.amaru) == {"pool": 96}


@pytest.mark.parametrize(
    ("start", "end", "told"),
    [
        ((22, 15), (22, 14), "nobody leaves before they came (15:00 to 14:00)"),
        ((22, 15), (22, 15), "nobody leaves before they came"),
        ((22, 9), (22, 10), "lies outside; Pool Of The 22 was planned from 13:30 to 16:20"),
        ((22, 16, 20), (22, 17), "lies outside"),
        ((22, 10), (22, 15), "reaches far over it"),
        ((22, 14), (22, 19, 30), "reaches far over it"),
        ((22, 14), (22, 20, 1), "20:01 is still to come"),
        ((21, 14), (22, 16), "reaches far over it"),
    ],
)
def test_a_time_that_cannot_be_is_refused_in_words(
    small_centre: Centre, start: tuple[int, ...], end: tuple[int, ...], told: str
) -> None:
    assert told in refused(small_centre, lambda: enter(small_centre, seen_at(*start), seen_at(*end)))


def test_nobody_is_in_one_session_twice_nor_learns_and_teaches_at_once(small_centre: Centre) -> None:
    c = small_centre
    enter(c, seen_at(22, 13, 30), seen_at(22, 15))
    again = refused(c, lambda: enter(c, seen_at(22, 14), seen_at(22, 16)))
    assert "student in Pool Of The 22 from 13:30 to 15:00 already" in again
    enter(c, seen_at(22, 15), seen_at(22, 16))  # half open: who left at 15:00 comes at 15:00
    beside = courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Theory", setting="class", start=seen_at(22, 14), end=seen_at(22, 17)
    )
    told = refused(
        c, lambda: enter(c, seen_at(22, 14), seen_at(22, 16), session=beside, role=SpanRole.TEACHING)
    )  # fmt: skip
    assert "nobody learns and teaches at once" in told
    enter(c, seen_at(22, 14), seen_at(22, 16), session=beside)  # two places are a fact, and a finding
    assert [o.minutes for o in _overlaps(c)] == [60, 60]


def _overlaps(c: Centre) -> Any:
    from course.answers.hours import double_bookings

    return double_bookings(c.view(), c.view().last_day)


def test_who_is_not_on_the_course_an_unknown_group_and_a_closed_session_are_refused(small_centre: Centre) -> None:
    c, span = small_centre, (seen_at(22, 14), seen_at(22, 15))
    stranger = centre.add_person(c.ledger, c.lead, name="Odo", roles=[Role.TECHNICIAN])
    assert "not on the course" in refused(c, lambda: enter(c, *span, stranger))
    assert "not on the course" in refused(c, lambda: enter(c, *span, stranger, role=SpanRole.SURFACE))
    assert "no such group" in refused(c, lambda: enter(c, *span, group=new_id()))
    assert "may run the day" in refused(c, lambda: enter(c, *span, by=c.candidate))
    c.ledger.append([draft(c.lead, body(SessionClosed, session=c.sessions[POOL], observed=NOW))])
    assert "is closed" in refused(c, lambda: enter(c, *span))
    assert "is closed" in refused(c, lambda: save(c, row(c)))


def test_a_time_is_mended_with_a_reason_and_the_old_one_stays_to_be_read(small_centre: Centre) -> None:
    c = small_centre
    span = presence.sign_in(c.ledger, c.lead, c.sessions[POOL], c.amaru, seen_at(22, 13, 30))
    presence.sign_out(c.ledger, c.lead, c.sessions[POOL], c.amaru, seen_at(22, 16))

    def mend(end: Observed, why: str = "Read from the sheet again.", **more: Any) -> None:
        plain = {"start": seen_at(22, 13, 30), "end": end, "role": SpanRole.STUDENT, "group": None}
        times.mend_time(c.ledger, more.pop("by", c.lead), c.sessions[POOL], span, why, **(plain | more))

    assert "stands like that already" in refused(c, lambda: mend(seen_at(22, 16)))
    assert "reason is needed" in refused(c, lambda: mend(seen_at(22, 15), " "))
    assert "nobody leaves before" in refused(c, lambda: mend(seen_at(22, 13)))
    assert "may correct" in refused(c, lambda: mend(seen_at(22, 15), by=c.assistant))
    mend(seen_at(22, 15, 6))
    assert fact(c).spans[0].end == seen_at(22, 15, 6)
    mend(seen_at(22, 15, 20), role=SpanRole.CANDIDATE)
    assert (fact(c).spans[0].end, fact(c).spans[0].role) == (seen_at(22, 15, 20), SpanRole.CANDIDATE)
    kinds = [event.kind for event in c.ledger.events(c.sessions[POOL])]
    assert kinds == ["session_planned/1", "span_recorded/1", "span_ended/1", "corrected/1", "corrected/1"]
    times.take_back_time(c.ledger, c.lead, c.sessions[POOL], span, "It was another day.")
    assert fact(c).spans == ()
    with pytest.raises(NotFoundError):
        times.take_back_time(c.ledger, c.lead, c.sessions[POOL], span, "Once more.")


def test_an_end_that_is_to_come_or_before_its_start_is_refused(small_centre: Centre) -> None:
    c = small_centre
    span = presence.sign_in(c.ledger, c.lead, c.sessions[POOL], c.amaru, seen_at(22, 13, 30))
    session = c.sessions[POOL]
    told = refused(c, lambda: courses.end_span(c.ledger, c.lead, session, span, seen_at(22, 20, 1)))
    assert told.startswith("20:01 is still to come")
    assert "before they came" in refused(
        c, lambda: courses.end_span(c.ledger, c.lead, session, span, seen_at(22, 13, 30))
    )  # fmt: skip
    courses.end_span(c.ledger, c.lead, session, span, NOW)


# --- who was in the water ---


def test_a_table_goes_in_whole_and_the_same_table_again_adds_nothing(small_centre: Centre) -> None:
    c = small_centre
    both = (row(c, visibility_m="4.5", unit=c.unit_a), row(c, c.zoe, max_depth_m="3.2"))
    assert save(c, *both, by=c.assistant) == 2
    lines = fact(c).water
    assert [(w.person, w.loop_minutes, w.max_depth_m, w.visibility_m) for w in lines] == [
        (c.amaru, 60, None, "4.5"), (c.zoe, 60, "3.2", None),
    ]  # fmt: skip
    assert {e.kind for e in c.ledger.events(c.sessions[POOL])} == {"session_planned/1", "water_time_recorded/2"}
    before = c.count()
    again = [
        row(c, visibility_m="4.5", unit=c.unit_a, water=lines[0].id),
        row(c, c.zoe, max_depth_m="3.2", water=lines[1].id),
    ]  # fmt: skip
    assert save(c, *again) == 0
    assert c.count() == before


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"loop_minutes": 66}, "71 minutes on loop and bailout, but only 70 in the water (13:50 to 15:00)"),
        ({"loop_minutes": 26 * 60, "bailout_minutes": 0}, "1560 minutes on loop and bailout, but only 70"),
        ({"loop_minutes": 200, "entered": None, "left": None}, "but only 170 in the session (13:30 to 16:20)"),
        ({"loop_minutes": -1}, "minutes are 0 or more"),
        ({"left": None}, "write both, in and out, or neither"),
        ({"left": seen_at(22, 13, 50)}, "nobody leaves before they came"),
        ({"left": seen_at(22, 20, 30)}, "still to come"),
        ({"entered": seen_at(22, 8), "left": seen_at(22, 9)}, "lies outside"),
        ({"max_depth_m": "deep"}, "depth is a number of metres such as 17.5"),
        ({"max_depth_m": "-3"}, "a depth of -3 m cannot be"),
        ({"visibility_m": "450"}, "a visibility of 450 m cannot be"),
        ({"unit": new_id()}, "no such unit"),
        ({"person": new_id()}, "not on the course"),
    ],
)
def test_one_wrong_line_keeps_the_whole_table_out(small_centre: Centre, wrong: dict[str, Any], told: str) -> None:
    c = small_centre
    assert told in refused(c, lambda: save(c, row(c), row(c, **({"person": c.zoe} | wrong))))


def test_nobody_is_in_the_water_twice_at_once(small_centre: Centre) -> None:
    c = small_centre
    second = row(c, entered=seen_at(22, 14, 59), left=seen_at(22, 16), loop_minutes=50)
    assert "nobody is in it twice" in refused(c, lambda: save(c, row(c), second))
    assert save(c, row(c), row(c, entered=seen_at(22, 15), left=seen_at(22, 16), loop_minutes=50)) == 2


def test_a_changed_line_asks_a_reason_and_is_corrected(small_centre: Centre) -> None:
    c = small_centre
    save(c, row(c))
    (line,) = fact(c).water
    changed = row(c, water=line.id, loop_minutes=55, visibility_m="2")
    assert "reason is needed" in refused(c, lambda: save(c, changed))
    assert "may correct" in refused(c, lambda: save(c, changed, why="Read again.", by=c.assistant))
    assert save(c, changed, why="Read again.") == 1
    (line,) = fact(c).water
    assert (line.loop_minutes, line.visibility_m) == (55, "2")
    times.take_back_water(c.ledger, c.lead, c.sessions[POOL], line.id, "He stayed out.")
    assert fact(c).water == ()
    assert "no such line" in refused(c, lambda: save(c, changed, why="Read again."))


def test_a_line_of_the_first_version_is_read_and_can_be_given_a_visibility(small_centre: Centre) -> None:
    """The first version has no place for it: it is withdrawn with the reason, and entered anew with the same id."""
    c, water = small_centre, new_id()
    old = body(
        WaterTimeRecorded, session=c.sessions[POOL], water=water, person=c.amaru, loop_minutes=60, bailout_minutes=5,
        entered=seen_at(22, 13, 50), left=seen_at(22, 15),
    )  # fmt: skip
    c.ledger.append([draft(c.lead, old)])
    assert [(w.id, w.loop_minutes, w.visibility_m) for w in fact(c).water] == [(water, 60, None)]
    save(c, row(c, water=water, loop_minutes=58), why="A slip.")
    assert fact(c).water[0].loop_minutes == 58
    save(c, row(c, water=water, loop_minutes=58, visibility_m="1.5"), why="It was murky.")
    assert [(w.id, w.loop_minutes, w.visibility_m) for w in fact(c).water] == [(water, 58, "1.5")]
    save(c, row(c, water=water, loop_minutes=57, visibility_m="1.5"), why="Another slip.")
    assert fact(c).water[0].loop_minutes == 57
    assert person_minutes([fact(c)], c.amaru, SpanRole.STUDENT).loop == {"pool": 57}


def test_of_two_laptops_times_in_the_water_that_overlap_the_one_with_fewer_minutes_holds() -> None:
    def water(name: str, start: int, end: int, loop: int) -> WaterTime:
        entered, left = (observed_at(NOW.moment + timedelta(minutes=m), ZONE) for m in (start, end))
        return WaterTime(
            id=name, person="p", unit=None, entered=entered, left=left, loop_minutes=loop, bailout_minutes=1,
            max_depth_m=None,
        )  # fmt: skip

    told = (water("a", 0, 60, 50), water("b", 30, 90, 40), water("c", 90, 120, 30), water("d", 85, 89, 3))
    session = Session(
        id="s",
        course="c",
        setting="pool",
        start=NOW,
        end=observed_at(NOW.moment + timedelta(hours=3), ZONE),
        water=told,
    )
    assert {w.id for w, _ in counted_water([session], "p")} == {"d", "c"}
    assert person_minutes([session], "p", SpanRole.STUDENT).loop_total == 33


# --- a session that was withdrawn ---


def test_attempts_of_a_session_that_was_withdrawn_are_kept_and_told(small_centre: Centre) -> None:
    """One laptop withdraws it while another marks in it; alone it is refused."""
    from course.record.events import Withdrawn

    c = small_centre
    enter(c, seen_at(22, 13, 30), seen_at(22, 15))
    c.enter(POOL)
    planned = next(e.id for e in c.ledger.events(c.sessions[POOL]) if e.kind == "session_planned/1")
    with pytest.raises(RefusedError, match="Attempts were seen in this session"):
        amending.withdraw(c.ledger, c.lead, planned, "It did not take place.")
    c.ledger.append([draft(c.lead, body(Withdrawn, thing=c.sessions[POOL], withdraws=planned, why="Not held."))])
    answer = hours(c.view(), c.view().last_day)
    assert "1 attempt of a session that was withdrawn: kept, with no hours behind." in answer.notes
    assert [t.session for t in answer.totals] == []
    assert len(c.view().attempts) == 1


# --- clocks ---


@pytest.mark.parametrize("second", [False, True])
def test_an_hour_that_comes_twice_is_kept_as_it_was_said(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch, *, second: bool
) -> None:
    """Clocks went back in Atlantic/Azores on 25 Oct 2026 at 01:00 (IANA time zone database)."""
    c = small_centre
    monkeypatch.setattr("course.actions.times.now", lambda: seen_at(26).moment)

    def at(text: str, *, second: bool | None = None) -> Observed:
        return observed_at(from_wall_clock(datetime.fromisoformat(text), ZONE, second_time=second), ZONE, "minute")

    late = courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Late bench", setting="dry", start=at("2026-10-24T23:10"),
        end=at("2026-10-25T00:50", second=True),
    )  # fmt: skip
    enter(c, at("2026-10-24T23:10"), at("2026-10-25T00:50", second=second), session=late)
    told = c.ledger.fact("session", late)
    assert isinstance(told, Session)
    assert learner_minutes([told], c.amaru) == {"dry": 160 if second else 100}


def test_a_zone_that_does_not_exist_is_refused_where_a_course_is_made_and_where_a_time_is_kept(
    small_centre: Centre,
) -> None:
    c = small_centre
    with pytest.raises(RefusedError, match="There is no time zone 'Europe/Lisboa'"):
        courses.make_course(
            c.ledger, c.lead, title="A", zone="Europe/Lisboa", adoption=c.adoption, profile="ex-first-unit",
            revision="r1", first_day="2026-10-20", last_day="2026-10-25",
        )  # fmt: skip
    with pytest.raises(RefusedError, match="Europe/Lisboa"):
        observed_at(NOW.moment, "Europe/Lisboa")


# --- visibility ---


def test_low_visibility_is_called_by_who_runs_the_day_and_taken_back_by_who_evaluates(small_centre: Centre) -> None:
    c, session = small_centre, small_centre.sessions["open-24"]
    times.call_visibility(c.ledger, c.assistant, session, NOW, low=True)
    times.call_visibility(c.ledger, c.assistant, session, NOW, low=True)
    assert fact(c, "open-24").called_low
    assert len(fact(c, "open-24").visibility_calls) == 1
    with pytest.raises(RefusedError):
        times.call_visibility(c.ledger, c.assistant, session, NOW, low=False)
    times.call_visibility(c.ledger, c.second, session, NOW, low=False)
    assert not fact(c, "open-24").called_low
    assert [e.kind for e in c.ledger.events(session)][1:] == ["visibility_called/1"] * 2
