"""Today: what the day's answer says at a moment, and what the page does with it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time

import pytest
from centre_builder import POOL_SKILL, Centre, critical_mark, seen_at
from streamlit.testing.v1 import AppTest

from course import sample
from course.actions import courses, presence, slates
from course.actions.day import call_roll
from course.actions.drafting import body, draft
from course.actions.pad import take
from course.answers import course_view
from course.answers.course_view import CourseView, view
from course.answers.days_left import days_left
from course.answers.needs_today import StudentToday, attempts_here
from course.answers.today import TodayAnswer, day_choices, runners, today
from course.answers.who_is_in import Figure, SessionNow, Whereabouts, session_now
from course.errors import StorageError
from course.moments import clock_time_near, new_id, observed_at
from course.places import SCREENS
from course.record.attempt_events import SheetStarted
from course.record.day_events import SessionClosed, SessionFrozen
from course.record.facts import Session
from course.record.unit_events import FaultCleared, FaultSet, UnitCared, UnitHeld, UnitReleased
from course.screens import serve, today_parts
from course.storage.ledger import Ledger, open_ledger
from course.words import Capacity, Care, Role, SheetSource, SlipKind, SpanRole

POOL, DRY = "pool-22", "dry-21"
DAY = date(2026, 10, 22)


def say(centre: Centre, *bodies: object) -> None:
    centre.ledger.append([draft(centre.lead, one) for one in bodies])  # type: ignore[arg-type]


def at(hour: int, minute: int = 0, day: int = 22) -> datetime:
    return seen_at(day, hour, minute).moment


def now_in(centre: Centre, moment: datetime, key: str = POOL) -> SessionNow:
    return session_now(centre.ledger, centre.view(), centre.sessions[key], moment, live=True)


def day_of(centre: Centre, moment: datetime, day: date = DAY, key: str | None = None) -> TodayAnswer:
    return today(centre.ledger, centre.view(), day, moment, centre.sessions[key] if key else None)


def student_of(answer: TodayAnswer, student: str) -> StudentToday:
    return next(one for one in answer.students if one.student == student)


@pytest.fixture
def in_the_pool(small_centre: Centre) -> tuple[Centre, str]:
    """Pool of the 22nd: lead and assistant with both students in group P since 13:30."""
    c = small_centre
    group = courses.make_group(
        c.ledger, c.lead, c.sessions[POOL], name="Group P", staff=[c.lead, c.assistant], students=[c.amaru, c.zoe]
    )
    presence.everyone_in(c.ledger, c.lead, c.sessions[POOL], group, seen_at(22, 13, 30))
    return c, group


# --- who is in -------------------------------------------------------------------------------------------------------


def test_the_ratio_now_and_what_happens_if_the_assistant_leaves(in_the_pool: tuple[Centre, str]) -> None:
    centre, _ = in_the_pool
    (group, _nobody) = now_in(centre, at(14)).groups
    assert (group.ratio, group.room) == ("2 students to 1 instructor and 1 assistant; limit 4.", "Room for 2 more.")
    assert [one.sentence for one in group.if_leaves] == [
        "If Lien Ito leaves: 2 to 1, limit 3.",
        "If Tamsin Okoro-Vale leaves: 2 students and no instructor.",
    ]
    assert group.figures == (
        Figure.INSTRUCTOR, Figure.ASSISTANT, Figure.STUDENT, Figure.STUDENT, Figure.FREE, Figure.FREE,
    )  # fmt: skip


def test_rows_keep_their_place_whoever_comes_and_goes(in_the_pool: tuple[Centre, str]) -> None:
    c, group = in_the_pool
    before = [row.person for row in now_in(c, at(14)).groups[0].rows]
    presence.sign_out(c.ledger, c.lead, c.sessions[POOL], c.lead, seen_at(22, 14, 10))
    presence.sign_out(c.ledger, c.lead, c.sessions[POOL], c.amaru, seen_at(22, 14, 12))
    presence.sign_in(c.ledger, c.lead, c.sessions[POOL], c.amaru, seen_at(22, 14, 20), group=group)
    presence.sign_in(c.ledger, c.lead, c.sessions[POOL], c.second, seen_at(22, 14, 21), group=group)
    rows = now_in(c, at(14, 30)).groups[0].rows
    assert [row.person for row in rows] == [*before, c.second]
    told = {row.person: (row.where, row.words) for row in rows}
    assert told[c.lead] == (Whereabouts.OUT, "13:30 to 14:10")
    assert told[c.amaru] == (Whereabouts.IN, "in since 14:20")
    assert told[c.second] == (Whereabouts.IN, "in since 14:21")


def test_a_break_is_told_with_who_left_and_from_when(in_the_pool: tuple[Centre, str]) -> None:
    c, _ = in_the_pool
    presence.sign_out(c.ledger, c.lead, c.sessions[POOL], c.lead, seen_at(22, 14, 10))
    group = now_in(c, at(14, 30)).groups[0]
    assert group.broken
    assert group.room == "An instructor is missing."
    assert group.breaks == (
        "2 students and no instructor (1 assistant) for 20 minutes, 14:10 to 14:30: Tamsin Okoro-Vale left.",
    )
    answer = day_of(c, at(14, 30))
    assert answer.sentence.endswith("2 students and no instructor (1 assistant). An instructor is missing.")


def test_somebody_who_moved_is_shown_in_both_groups_and_counts_in_one(in_the_pool: tuple[Centre, str]) -> None:
    c, _ = in_the_pool
    q = courses.make_group(c.ledger, c.lead, c.sessions[POOL], name="Group Q", staff=[c.second], students=[])
    presence.move(c.ledger, c.lead, c.sessions[POOL], c.zoe, q, seen_at(22, 14))
    first, second, _ = now_in(c, at(14, 5)).groups
    assert first.ratio == "1 student to 1 instructor and 1 assistant; limit 4."
    assert second.ratio == "1 student and no instructor."
    told = {row.person: (row.where, row.words) for row in first.rows}
    assert told[c.zoe] == (Whereabouts.OTHER_GROUP, "in Group Q since 14:00")


def test_an_instructor_in_two_sessions_counts_where_they_were_first(in_the_pool: tuple[Centre, str]) -> None:
    c, _ = in_the_pool
    other = courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Make-up", setting="class", start=seen_at(22, 14), end=seen_at(22, 15)
    )
    presence.sign_in(c.ledger, c.lead, other, c.lead, seen_at(22, 14))
    view_now = c.view()
    (everybody,) = session_now(c.ledger, view_now, other, at(14, 30), live=True).groups
    notes = {row.person: row.note for row in everybody.rows}
    assert notes[c.lead] == "counts in Pool Of The 22, where they were first"
    pool = now_in(c, at(14, 30)).groups[0]
    assert {row.person: row.note for row in pool.rows}[c.lead] == "also in Make-up"
    assert pool.ratio == "2 students to 1 instructor and 1 assistant; limit 4."


def test_who_stays_past_the_planned_end_is_still_in(in_the_pool: tuple[Centre, str]) -> None:
    c, _ = in_the_pool
    group = now_in(c, at(16, 40)).groups[0]
    assert group.present == 4
    assert group.rows[0].words == "in since 13:30; the session was planned to 16:20"


def test_two_laptops_that_changed_one_group_make_one_list(in_the_pool: tuple[Centre, str]) -> None:
    from course.record.events import GroupMade

    c, group = in_the_pool
    fact = c.view().sessions[c.sessions[POOL]]
    say(c, *(
        body(GroupMade, session=fact.id, group=group, name="Group P", staff=(c.lead,), students=students,
             replaces=(fact.groups[0].event,))
        for students in ((c.amaru,), (c.zoe,))
    ))  # fmt: skip
    shown = now_in(c, at(14)).groups
    assert [g.name for g in shown] == ["Group P", "In no group"]
    people = [row.person for row in shown[0].rows]
    assert len(people) == len(set(people))
    assert {c.amaru, c.zoe} <= set(people)


def test_a_record_is_read_as_its_worst_break_begins_and_at_any_other_instant(in_the_pool: tuple[Centre, str]) -> None:
    c, _ = in_the_pool
    presence.sign_out(c.ledger, c.lead, c.sessions[POOL], c.lead, seen_at(22, 14, 10))
    shown = session_now(c.ledger, c.view(), c.sessions[POOL], at(12, day=30), live=False)
    assert shown.at == at(14, 10)
    assert list(shown.instants) == ["13:30", "14:10"]
    early = session_now(c.ledger, c.view(), c.sessions[POOL], at(12, day=30), live=False, at=shown.instants["13:30"])
    assert not early.groups[0].broken
    assert [g.breaks for g in early.groups] == [g.breaks for g in shown.groups], "breaks are of the whole session"


# --- what stands open -----------------------------------------------------------------------------------------------


def test_a_unit_on_hold_is_told_loudly_for_the_water_and_first_of_all(in_the_pool: tuple[Centre, str]) -> None:
    c, _ = in_the_pool
    hold = new_id()
    say(c, body(UnitHeld, unit=c.unit_a, hold=hold, observed=seen_at(22, 8, 34), slip=new_id()))
    told = "A-05 (Amaru Tendelle and Zoë <i>O'Brien-Ünal</i> =1+1) is on hold since 22 Oct 08:34 for a planted fault"
    answer = day_of(c, at(14))
    (note,) = student_of(answer, c.amaru).unit_notes
    assert (note.sentence, note.loud) == (f"{told}: not for Pool Of The 22.", True)
    assert answer.sentence == note.sentence
    assert answer.open.holds == (f"{told}.",)
    say(c, body(UnitReleased, unit=c.unit_a, hold=hold, observed=seen_at(22, 13, 50), list_passed_by=c.lead))
    assert student_of(day_of(c, at(14)), c.amaru).unit_notes == ()
    assert day_of(c, at(14)).open.holds == ()


def test_somebody_of_the_staff_on_a_unit_on_hold_is_told_too(in_the_pool: tuple[Centre, str]) -> None:
    c, _ = in_the_pool
    courses.assign_unit(c.ledger, c.lead, c.course, c.assistant, c.unit_b, "2026-10-20")
    say(c, body(UnitHeld, unit=c.unit_b, hold=new_id(), observed=seen_at(22, 8, 34)))
    assert "is on hold since 22 Oct 08:34" in day_of(c, at(14)).sentence
    presence.sign_out(c.ledger, c.lead, c.sessions[POOL], c.assistant, seen_at(22, 14, 5))
    assert "on hold" not in day_of(c, at(14, 10)).sentence, "they have left, and are not in the water"


def test_a_unit_on_hold_stands_in_the_row_of_whoever_is_on_it_before_they_come_in(small_centre: Centre) -> None:
    c = small_centre
    courses.assign_unit(c.ledger, c.lead, c.course, c.assistant, c.unit_b, "2026-10-20")
    say(c, body(UnitHeld, unit=c.unit_b, hold=new_id(), observed=seen_at(22, 8, 34)))

    def note() -> str:
        (told,) = (r.note for g in now_in(c, at(14)).groups for r in g.rows if r.person == c.assistant)
        return told

    assert note() == "unit on hold"
    presence.sign_in(c.ledger, c.lead, c.sessions[POOL], c.assistant, seen_at(22, 13, 30), role=SpanRole.SURFACE)
    assert note() == "", "they stay at the surface"


def test_who_is_missing_is_told_before_anything_else(in_the_pool: tuple[Centre, str]) -> None:
    c, _ = in_the_pool
    pool = c.sessions[POOL]
    say(c, body(UnitHeld, unit=c.unit_a, hold=new_id(), observed=seen_at(22, 8, 34)))
    call_roll(c.ledger, c.lead, pool, when="coming_out", present=[c.zoe, c.lead, c.assistant], observed=seen_at(22, 15))
    assert day_of(c, at(15, 5)).sentence == "MISSING in Pool Of The 22: Amaru Tendelle. Go to Day's end."
    call_roll(
        c.ledger, c.lead, pool, when="other", present=[c.amaru, c.zoe, c.lead, c.assistant], observed=seen_at(22, 15, 8)
    )
    assert "MISSING" not in day_of(c, at(15, 10)).sentence


def test_on_the_bench_a_hold_is_said_without_alarm(small_centre: Centre) -> None:
    c = small_centre
    say(c, body(UnitHeld, unit=c.unit_a, hold=new_id(), observed=seen_at(21, 8)))
    (note,) = student_of(day_of(c, at(14, day=21), date(2026, 10, 21)), c.amaru).unit_notes
    assert not note.loud
    assert note.sentence.endswith("is on hold since 21 Oct 08:00.")


@pytest.mark.parametrize(("until", "lapsed"), [("2026-10-21", True), ("2026-10-22", False), (None, False)])
def test_a_service_that_has_run_out_is_said_and_its_last_day_is_still_good(
    small_centre: Centre, until: str | None, *, lapsed: bool
) -> None:
    c = small_centre
    cares = [("2026-01-01", seen_at(20, 8)), (until, seen_at(21, 8))]
    say(c, *(
        body(UnitCared, unit=c.unit_a, care=new_id(), what=Care.SERVICE, observed=seen, good_until=good)
        for good, seen in cares
    ))  # fmt: skip
    notes = [note.sentence for note in student_of(day_of(c, at(14)), c.amaru).unit_notes]
    assert notes == (["A-05: service was good until 21 Oct 2026."] if lapsed else [])


def test_a_planted_fault_is_out_until_it_is_cleared_and_a_shown_one_never(small_centre: Centre) -> None:
    c = small_centre
    slip = new_id()
    planted = {"course": c.course, "session": c.sessions[DRY], "fault": "pf-tag", "observed": seen_at(22, 8, 34)}
    say(c, body(FaultSet, slip=slip, how=SlipKind.PLANTED, unit=c.unit_a, bag="bag 4", **planted),
        body(FaultSet, slip=new_id(), how=SlipKind.SHOWN, **planted))  # fmt: skip
    (line,) = day_of(c, at(14)).open.slips
    assert line.endswith("in A-05: planted 22 Oct 08:34 by Tamsin Okoro-Vale, not cleared; the part is in bag 4.")
    assert day_of(c, at(14)).sentence.startswith("1 planted fault still out: ")
    say(c, body(FaultCleared, slip=slip, observed=seen_at(22, 11, 52)))
    assert day_of(c, at(14)).open.slips == ()
    assert len(day_of(c, at(11)).open.slips) == 1


def test_an_open_attempt_is_told_with_how_long_it_has_been_open(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open(POOL)  # at 14:00
    (line,) = day_of(c, at(15, 25)).open.attempts
    assert (line.attempt, line.sheet) == (opened.attempt, opened.sheet)
    assert line.sentence.startswith(
        "Amaru Tendelle · Close before it leaves the mouth: open since 22 Oct 14:00, 1 h 25"
    )
    (later,) = day_of(c, at(15, day=25), date(2026, 10, 25)).open.attempts
    assert "3 days" in later.sentence


def test_a_sheet_given_out_waits_until_every_student_on_it_is_entered(small_centre: Centre) -> None:
    c = small_centre
    (slate,) = slates.give_out(c.ledger, c.lead, c.sessions[POOL], skills=[POOL_SKILL], students=[c.amaru, c.zoe])
    (line,) = day_of(c, at(15)).open.sheets
    assert "Amaru Tendelle and Zoë" in line
    for student in (c.amaru, c.zoe):
        attempt = c.enter(POOL, student=student)
        say(c, body(
            SheetStarted, attempt=attempt, sheet=new_id(), observer=c.second, role=Role.INSTRUCTOR,
            capacity=Capacity.EVALUATING, source=SheetSource.SLATE, slate=slate, slate_try=1, observed=seen_at(22),
        ))  # fmt: skip
        waiting = day_of(c, at(15)).open.sheets
        assert [("Amaru" in one, "Zoë" in one) for one in waiting] == ([(False, True)] if student == c.amaru else [])
    slates.give_out(c.ledger, c.lead, c.sessions[POOL], skills=["bas-mask"])
    (other,) = c.view().sessions[c.sessions[POOL]].slates[1:]
    slates.set_aside(c.ledger, c.lead, c.sessions[POOL], other.id, "not_used")
    assert day_of(c, at(15)).open.sheets == ()


def test_a_time_left_open_on_an_earlier_day_is_shown_with_its_way_out(in_the_pool: tuple[Centre, str]) -> None:
    c, _ = in_the_pool
    assert day_of(c, at(15)).open.times == ()
    next_day = date(2026, 10, 23)
    lines = day_of(c, at(9, day=23), next_day).open.times
    assert {line.person for line in lines} == {c.lead, c.assistant, c.amaru, c.zoe}
    line = lines[0]
    assert line.sentence.endswith("is still signed in at Pool Of The 22 of 22 Oct: counts to its planned end, 16:20.")
    presence.sign_out(c.ledger, c.lead, line.session, line.person, line.planned_end)
    assert line.person not in {one.person for one in day_of(c, at(9, day=23), next_day).open.times}


def test_a_frozen_session_is_what_matters_most(in_the_pool: tuple[Centre, str]) -> None:
    c, _ = in_the_pool
    say(c, body(UnitHeld, unit=c.unit_a, hold=new_id(), observed=seen_at(22, 13)),
        body(SessionFrozen, session=c.sessions[POOL], incident=new_id(), observed=seen_at(22, 14)))  # fmt: skip
    told = "Pool Of The 22 is frozen since 14:00: nobody comes in. Everybody can be signed out."
    assert day_of(c, at(14, 5)).sentence == told
    assert now_in(c, at(14, 5)).held == told
    say(c, body(SessionClosed, session=c.sessions[POOL], observed=seen_at(22, 15)))
    assert now_in(c, at(15, 5)).closed


# --- what each student needs, and the days that are left -------------------------------------------------------------


def test_a_skill_with_reteach_owed_comes_first_then_those_with_a_bar(small_centre: Centre) -> None:
    c = small_centre
    c.enter(POOL, critical_mark())
    student = student_of(day_of(c, at(15)), c.amaru)
    first = student.needs[0]
    assert (first.skill, first.reteach) == (POOL_SKILL, 1)
    assert "re-teach first" in first.line
    flags = [need.critical for need in student.needs[1:]]
    assert flags == sorted(flags, reverse=True)
    assert "1 with re-teach first" in student.sentence


def test_only_what_a_session_can_bring_forward_is_needed_there(small_centre: Centre) -> None:
    """The rule asks five in a row over three days, dry, in the pool and in open water."""
    c = small_centre
    skill, fresh = c.skill(), c.view().standing(c.amaru, c.skill(), date(2026, 10, 21))
    day = date(2026, 10, 21)
    assert (skill.rule.in_a_row, skill.rule.distinct_days) == (5, 3)
    assert set(skill.rule.settings) == {"dry", "pool", "open_water"}
    assert attempts_here(fresh, skill, "dry", day) == 3, "two are left for the other two days and places"
    assert attempts_here(fresh, skill, "class", day) == 0
    for _ in range(3):
        c.enter(DRY)
    after = c.view().standing(c.amaru, skill, day)
    assert attempts_here(after, skill, "dry", day) == 0, "what is missing needs other days and places"
    assert attempts_here(after, skill, "pool", date(2026, 10, 22)) == 1
    assert POOL_SKILL not in {n.skill for n in student_of(day_of(c, at(15, day=21), day), c.amaru).needs}


@pytest.mark.parametrize(
    ("day", "left", "lost", "words"),
    [
        (22, None, None, None),
        (23, 3, False, "needs 3 more days: exactly the days that are left"),
        (24, 2, True, "needs 3 more days, 2 are left: cannot be rescued as planned"),
        (25, 1, True, "needs 3 more days, 1 is left: cannot be rescued as planned"),
        (26, 0, True, "needs 3 more days, none is left: cannot be rescued as planned"),
    ],
)
def test_days_left_against_days_needed(
    small_centre: Centre, day: int, left: int | None, *, lost: bool | None, words: str | None
) -> None:
    """Sessions on 21 (dry), 22, 23 (pool), 24, 25 (open water); the dry one is not asked for by this rule's days."""
    c = small_centre
    c.enter(DRY)
    c.enter(POOL, critical_mark(), observed=seen_at(22))
    extra = [
        courses.plan_session(
            c.ledger, c.lead, course=c.course, title="Bench", setting="dry", start=seen_at(n, 8), end=seen_at(n, 9)
        )
        for n in (23, 24, 25)
    ]
    courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Pool", setting="pool", start=seen_at(25, 9), end=seen_at(25, 10)
    )
    assert extra
    found = {
        one.skill: one for one in days_left(c.view(), c.amaru, DAY, at(2, day=day) if day < 26 else at(23, day=25))
    }
    if words is None:
        assert POOL_SKILL not in found
        return
    one = found[POOL_SKILL]
    assert (one.needed, one.left, one.lost, one.sentence) == (3, left, lost, words)


def test_a_place_that_the_rule_misses_and_no_session_is_left_for_is_lost(small_centre: Centre) -> None:
    c = small_centre
    c.enter(POOL)
    found = {one.skill: one for one in days_left(c.view(), c.amaru, DAY, at(17))}
    assert found[POOL_SKILL].sentence == "dry is missing, and no such session is left: cannot be rescued as planned"


def test_sessions_of_other_groups_and_closed_ones_are_no_days_of_this_student(small_centre: Centre) -> None:
    c = small_centre
    for key in ("pool-23", "open-24"):
        courses.make_group(c.ledger, c.lead, c.sessions[key], name="Only Zoë", staff=[c.lead], students=[c.zoe])
    say(c, body(SessionClosed, session=c.sessions["open-25"], observed=seen_at(22, 18)))
    lost = {
        person: {o.skill for o in days_left(c.view(), person, DAY, at(17)) if o.lost} for person in (c.amaru, c.zoe)
    }
    assert lost[c.zoe] < lost[c.amaru]


def test_the_same_skill_of_several_students_is_one_line(small_centre: Centre) -> None:
    answer = day_of(small_centre, at(17, day=24), date(2026, 10, 24))
    titles = [line.split(":")[0] for line in answer.lost]
    assert len(titles) == len(set(titles))
    assert all("Amaru Tendelle and Zoë" in line for line in answer.lost)


def test_a_day_to_come_is_read_at_its_beginning_and_one_with_entries_at_its_end(small_centre: Centre) -> None:
    c = small_centre
    early = at(12, day=20)
    skill = "bas-mask"  # in the pool, where the 22nd and the 23rd are
    assert not day_of(c, early).over
    before = {o.skill: o for o in student_of(day_of(c, early), c.amaru).days}
    c.enter(POOL)
    assert day_of(c, early).over
    after = {o.skill: o for o in student_of(day_of(c, early), c.amaru).days}
    assert skill not in before
    assert (after[skill].left, after[skill].lost) == (1, False)


def test_a_day_without_a_session_names_the_next(small_centre: Centre) -> None:
    answer = day_of(small_centre, at(12, day=20), date(2026, 10, 20))
    assert (answer.session, answer.students) == (None, ())
    assert answer.next_session.startswith("Wed 21 Oct 13:30 · Dry Of The 21")


def test_who_runs_the_day_is_offered_and_nobody_else(small_centre: Centre) -> None:
    c = small_centre
    assert list(runners(c.view())) == [c.lead, c.second, c.assistant]


def test_the_days_offered_are_those_with_a_session_and_the_usual_one(small_centre: Centre) -> None:
    assert {date(2026, 10, n) for n in range(21, 26)} <= set(day_choices(small_centre.view()))


@pytest.mark.parametrize(
    ("clock", "second", "told"),
    [
        (time(14, 5), None, "2026-10-24T14:05"),
        (time(23, 50), None, "2026-10-24T23:50"),
        (time(0, 20), False, "2026-10-25T00:20"),
        (time(0, 20), True, "2026-10-25T01:20"),
    ],
)
def test_a_clock_time_is_the_nearest_to_the_sessions_start(clock: time, second: bool | None, told: str) -> None:  # noqa: FBT001
    """Clocks went back in Atlantic/Azores on 25 Oct 2026 at 01:00 to 00:00 (IANA time zone database)."""
    start = observed_at(datetime.fromisoformat("2026-10-24T23:10:00+00:00"), "Atlantic/Azores", "minute")
    found = clock_time_near(start, clock, second_time=second)
    assert found.utc.startswith(told)


# --- the demo course -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo(loaded: sample.Loaded) -> Iterator[tuple[Ledger, CourseView, dict[str, str]]]:
    with open_ledger(loaded.folder) as ledger:
        yield ledger, view(ledger, loaded.course), dict(loaded.sessions)


LATER = datetime.fromisoformat("2026-11-25T12:00:00+00:00")


def test_the_demo_course_says_what_its_day_two_was(demo: tuple[Ledger, CourseView, dict[str, str]]) -> None:
    ledger, seen, sessions = demo
    answer = today(ledger, seen, DAY, LATER)
    assert answer.session == sessions["pool-1"]
    told = "4 to 1, limit 3, for 14 minutes, 15:06 to 15:20: Lien Farrowby left."
    assert answer.sentence == (
        "A-05 (Amaru Tendelle) is on hold since 22 Oct 08:34 for a planted fault: not for Pool 1: basics, mouthpiece."
    )
    shown = session_now(ledger, seen, sessions["pool-1"], LATER, live=False)
    assert [g.breaks for g in shown.groups] == [(told,), (), ()]
    early = session_now(ledger, seen, sessions["pool-1"], LATER, live=False, at=shown.instants["13:30"])
    assert early.groups[0].if_leaves[0].sentence == "If Lien Farrowby leaves: 4 to 1, limit 3: too many."


def test_the_demo_course_says_at_its_end_who_is_ready(demo: tuple[Ledger, CourseView, dict[str, str]]) -> None:
    ledger, seen, _ = demo
    answer = today(ledger, seen, seen.last_day, LATER)
    assert answer.sentence == (
        "6 students: Nkechi Brandvold and Ravi Soltmere have all that is asked, 4 still miss something."
    )
    none = "none is left: cannot be rescued as planned"
    assert answer.lost == (
        f"Close before it leaves the mouth: needs 3 more days, {none} (Amaru Tendelle).",
        f"Negative pressure test: needs 1 more day, {none} (Jonas Thibetsky).",
    )


def test_on_the_last_evening_but_one_the_demo_course_warned(demo: tuple[Ledger, CourseView, dict[str, str]]) -> None:
    """Planted: Amaru needs five over three days; with one day left that cannot be rescued."""
    ledger, seen, _ = demo
    answer = today(ledger, seen, date(2026, 10, 24), LATER)
    assert answer.lost[0].startswith("Close before it leaves the mouth: needs 3 more days, 1 is left")


def test_the_late_bench_session_over_the_clock_change_tells_its_hours_apart(
    demo: tuple[Ledger, CourseView, dict[str, str]],
) -> None:
    ledger, seen, sessions = demo
    shown = session_now(ledger, seen, sessions["night-bench"], LATER, live=False)
    (group,) = [g for g in shown.groups if g.name == "Late bench"]
    assert group.breaks == ()
    assert group.ratio == "Nobody is in."
    assert [row.words for row in group.rows] == ["in, 23:10 to 00:50"] * 2


# --- the page --------------------------------------------------------------------------------------------------------


@pytest.fixture
def page_on(in_the_pool: tuple[Centre, str], monkeypatch: pytest.MonkeyPatch) -> tuple[Centre, str]:
    """The pages on this centre, at 14:30 on the 22nd."""
    centre, group = in_the_pool
    serve.start(centre.ledger, take)
    for module in (today_parts, course_view):
        monkeypatch.setattr(module, "now", lambda: at(14, 30))
    return centre, group


def open_page(**query: str) -> AppTest:
    app = AppTest.from_file(str(SCREENS / "app.py"), default_timeout=60)
    for key, value in query.items():
        app.query_params[key] = value
    app.run()
    assert not app.exception
    return app


def words(app: AppTest) -> str:
    return "\n".join(str(part.value) for part in (*app.title, *app.markdown, *app.warning, *app.error, *app.caption))


def live_spans(centre: Centre, person: str) -> list[tuple[str, bool]]:
    fact = centre.ledger.fact("session", centre.sessions[POOL])
    assert isinstance(fact, Session)
    own = sorted((s for s in fact.spans if s.person == person), key=lambda s: s.start.utc)
    return [(f"{span.start.local:%H:%M}", span.end is None) for span in own]


def test_today_is_the_first_page_and_opens_with_the_one_sentence(page_on: tuple[Centre, str]) -> None:
    app = open_page()
    assert [title.value for title in app.title] == ["Today"]
    first = next(str(part.value) for part in app.markdown if str(part.value).startswith("## "))
    assert first.startswith("## ")
    assert "2 students to 1 instructor and 1 assistant; limit 4" in words(app).replace("\\", "")


def test_one_tap_out_and_one_tap_in_come_into_the_ledger(page_on: tuple[Centre, str]) -> None:
    centre, group = page_on
    key = f"{centre.sessions[POOL]}-{group}-{centre.zoe}"
    app = open_page()
    assert app.button(key=f"in-{key}-RUN_DAY").disabled
    app.button(key=f"out-{key}-RUN_DAY").click().run()
    assert not app.exception
    assert live_spans(centre, centre.zoe) == [("13:30", False)]
    app.run()
    app.button(key=f"in-{key}-RUN_DAY").click().run()
    assert live_spans(centre, centre.zoe) == [("13:30", False), ("14:30", True)]


def test_a_person_of_another_group_is_moved_by_one_tap(page_on: tuple[Centre, str]) -> None:
    c, _ = page_on
    q = courses.make_group(c.ledger, c.lead, c.sessions[POOL], name="Group Q", staff=[c.second], students=[c.zoe])
    app = open_page()
    app.button(key=f"in-{c.sessions[POOL]}-{q}-{c.zoe}-RUN_DAY").click().run()
    assert live_spans(c, c.zoe) == [("13:30", False), ("14:30", True)]


def test_everyone_out_by_one_tap(page_on: tuple[Centre, str]) -> None:
    c, group = page_on
    app = open_page()
    assert app.button(key=f"all-in-{c.sessions[POOL]}-{group}-RUN_DAY").disabled
    app.button(key=f"all-out-{c.sessions[POOL]}-{group}-RUN_DAY").click().run()
    assert [live_spans(c, p) for p in (c.lead, c.assistant, c.amaru, c.zoe)] == [[("13:30", False)]] * 4
    assert "Nobody is in the water's session." in words(app)


def test_a_missing_person_leads_to_days_end_on_that_day(page_on: tuple[Centre, str]) -> None:
    c, _ = page_on
    app = open_page()
    assert "4 people in the water's session." in words(app)
    assert not [button for button in app.button if button.key == "to-days-end"]
    pool, here = c.sessions[POOL], [c.zoe, c.lead, c.assistant]
    call_roll(c.ledger, c.lead, pool, when="coming_out", present=here, observed=seen_at(22, 14, 20))
    app.run()
    app.button(key="to-days-end").click().run()
    assert not app.exception
    assert [title.value for title in app.title] == ["Day's end"]
    assert "MISSING\\: Amaru Tendelle" in words(app)


def test_on_a_day_that_is_not_today_the_time_is_asked_for(page_on: tuple[Centre, str]) -> None:
    c, _ = page_on
    app = open_page(session=c.sessions["pool-23"])
    assert "This day is a record" in words(app)
    app.button(key=f"in-{c.sessions['pool-23']}-none-{c.amaru}-RUN_DAY").click().run()
    fact = c.ledger.fact("session", c.sessions["pool-23"])
    assert isinstance(fact, Session)
    assert fact.spans == ()
    app.time_input(key="late-time").set_value(time(13, 42))
    app.button(key="late-enter-RUN_DAY").click().run()
    assert not app.exception
    fact = c.ledger.fact("session", c.sessions["pool-23"])
    assert isinstance(fact, Session)
    assert [(s.person, s.start) for s in fact.spans] == [(c.amaru, seen_at(23, 13, 42))]


def test_a_frozen_session_lets_people_out_and_nobody_in(page_on: tuple[Centre, str]) -> None:
    c, group = page_on
    say(c, body(SessionFrozen, session=c.sessions[POOL], incident=new_id(), observed=seen_at(22, 14)))
    app = open_page()
    assert all(b.disabled for b in app.button if str(b.key).startswith(("in-", "all-in-")))
    app.button(key=f"out-{c.sessions[POOL]}-{group}-{c.amaru}-RUN_DAY").click().run()
    assert live_spans(c, c.amaru) == [("13:30", False)]


def test_a_unit_on_hold_stands_as_an_alarm_on_the_page(page_on: tuple[Centre, str]) -> None:
    c, _ = page_on
    say(c, body(UnitHeld, unit=c.unit_a, hold=new_id(), observed=seen_at(22, 8)))
    assert any("not for Pool Of The 22" in str(alarm.value) for alarm in open_page().error)


def test_in_a_record_only_a_time_without_an_end_can_be_ended(page_on: tuple[Centre, str]) -> None:
    c, _ = page_on
    presence.sign_out(c.ledger, c.lead, c.sessions[POOL], c.amaru, seen_at(22, 15))
    shown = session_now(c.ledger, c.view(), c.sessions[POOL], at(12, day=30), live=False, at=at(14))
    rows = {row.person: row for row in shown.groups[0].rows}
    assert {rows[c.amaru].where, rows[c.zoe].where} == {Whereabouts.IN}
    assert (rows[c.amaru].can_leave, rows[c.zoe].can_leave) == (False, True)


def test_a_group_is_changed_in_its_form(page_on: tuple[Centre, str]) -> None:
    c, group = page_on
    app = open_page()
    app.multiselect(key=f"students-{group}").set_value([c.amaru])
    next(b for b in app.button if b.label == "Change this group").click().run()
    assert not app.exception
    (live,) = c.view().sessions[c.sessions[POOL]].groups
    assert live.students == (c.amaru,)


def test_a_new_group_is_made_in_its_form(page_on: tuple[Centre, str]) -> None:
    c, _ = page_on
    app = open_page()
    next(box for box in app.text_input if box.label.startswith("A new group")).set_value("Group Q")
    app.multiselect(key="staff-new").set_value([c.second])
    next(b for b in app.button if b.label == "Make the group").click().run()
    assert [g.name for g in c.view().sessions[c.sessions[POOL]].groups] == ["Group P", "Group Q"]


def test_a_time_left_open_is_ended_by_one_tap(page_on: tuple[Centre, str], monkeypatch: pytest.MonkeyPatch) -> None:
    c, _ = page_on
    for module in (today_parts, course_view):
        monkeypatch.setattr(module, "now", lambda: at(9, day=23))
    app = open_page()
    app.button(key=f"end-{c.sessions[POOL]}-{c.amaru}-RUN_DAY").click().run()
    assert live_spans(c, c.amaru) == [("13:30", False)]


def test_an_attempts_old_address_opens_on_mark(page_on: tuple[Centre, str]) -> None:
    c, _ = page_on
    opened = c.open(POOL)
    app = open_page(attempt=opened.attempt, sheet=opened.sheet)
    assert "Mark another attempt" in {button.label for button in app.button}


def test_the_address_names_the_session(page_on: tuple[Centre, str]) -> None:
    c, _ = page_on
    app = open_page(session=c.sessions["open-24"])
    assert next(box for box in app.selectbox if box.label == "Day").value == date(2026, 10, 24)
    assert next(box for box in app.selectbox if box.label == "Session").value == c.sessions["open-24"]


def test_past_midnight_a_session_that_goes_on_is_still_live(small_centre: Centre) -> None:
    """Its training day is the day it began; people come and go until it ends, whatever the calendar says."""
    c = small_centre
    session = courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Late bench", setting="dry",
        start=seen_at(22, 23, 10), end=seen_at(23, 0, 50),
    )  # fmt: skip
    half_past = today(c.ledger, c.view(), DAY, at(0, 30, day=23), session)
    assert (half_past.live, half_past.session) == (True, session)
    assert not today(c.ledger, c.view(), DAY, at(1, day=23), session).live


def test_the_part_with_who_is_in_says_why_it_cannot_be_read_and_comes_back(
    page_on: tuple[Centre, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Streamlit runs it alone after a tap: what is raised in it comes to no page that could tell it."""

    def stopped(*_: object, **__: object) -> None:
        raise StorageError("The ledger cannot be read: the server does not answer.")

    with monkeypatch.context() as patch:
        patch.setattr(today_parts, "session_now", stopped)
        app = open_page()
        assert [error.value for error in app.error] == ["The ledger cannot be read: the server does not answer."]
        assert not app.exception
    next(one for one in app.button if one.label == "Try again").click().run()
    assert not app.error
