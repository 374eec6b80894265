"""Gates are pure: which paper holds which stage shut, on the day of the stage and on no other account."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from course.hours.gates import (
    AGE,
    CONSENT,
    STAGES,
    WATER,
    Stage,
    Why,
    age_on,
    gate_states,
    gates_ahead,
    gates_passed,
    left_on,
    shut_gates,
    shut_in,
    shut_words,
    stage_days,
    stage_of,
)
from course.moments import observed_at
from course.record.day_facts import WaterTime
from course.record.facts import Course, Group, Member, Person, Session, Span
from course.record.paper_facts import Consent, Proof, Turn
from course.standards.profile import Prerequisite, Profile, RatioRule
from course.words import Role, SpanRole

ZONE = "Atlantic/Azores"
DAY = date(2026, 10, 22)
KINDS = {"enrolment": "certificate", "dry": "signed_form", "pool": "medical_form", "open_water": "logbook",
         "signoff": "instructor_check"}  # fmt: skip
"""One requirement a stage, each of another kind of paper."""


def profile(**more: Any) -> Profile:
    """Invented requirements: one paper a stage, 17 years, a guardian's consent below 18."""
    plain: dict[str, Any] = {
        "id": "ex", "title": "Example", "example_only": True, "notice": "Invented.", "revision": "r1",
        "in_force_from": "2026-01-01", "for_whom": "student", "unit_bound": False, "minimum_age_years": 17,
        "hours": (), "counts": (), "max_depth_m": 10,
        "ratios": (RatioRule(setting="pool", students_per_instructor=3, extra_with_assistant=0, most_students=6),),
        "prerequisites": tuple(
            Prerequisite(id=f"pq-{stage.replace('_', '-')}", label=f"The {stage} paper", proof=proof, blocks=stage)
            for stage, proof in KINDS.items()
        ),
        "required_skills": ("a-skill",), "sign_by": ("lead_instructor",), "finish_within_days": 60,
        "instructor_currency_days": 183,
    }  # fmt: skip
    return Profile(**(plain | more))


def proof(stage: str, day: str = "2026-10-01", **more: Any) -> Proof:
    """The paper of a stage, seen by Tamsin; a medical one clears."""
    plain: dict[str, Any] = {"cleared": "yes"} if stage == "pool" else {}
    names = {"event": f"{stage}-{day}", "course": "c", "by": "tamsin", "day": day}
    return Proof(prerequisite=f"pq-{stage.replace('_', '-')}", **(names | plain | more))


def person(*proofs: Proof, born: str | None = "2000-01-01", **more: Any) -> Person:
    """A student."""
    return Person(id="amaru", roles=(Role.STUDENT,), birth_date=born, proofs=proofs, **more)


def consent(*stages: str, day: str = "2026-09-30", until: str | None = None) -> Consent:
    """What a guardian agreed to."""
    return Consent(event=f"consent-{day}", course="c", by="tamsin", day=day, stages=stages, until=until)


ALL = tuple(proof(stage) for stage in STAGES)


def shut(of: Person, stage: Stage, day: date = DAY, **more: Any) -> list[tuple[str, Why]]:
    """Gates that are shut for a stage, and why."""
    return [(gate.gate, gate.why) for gate in shut_gates(of, "c", profile(**more), stage, day)]


# --- each gate at its own stage -------------------------------------------------------------------------------------


@pytest.mark.parametrize("missing", STAGES)
@pytest.mark.parametrize("stage", STAGES)
def test_a_missing_paper_shuts_its_own_stage_and_no_other(missing: Stage, stage: Stage) -> None:
    of = person(*(one for one in ALL if one.event != f"{missing}-2026-10-01"))
    expected = [(f"pq-{missing.replace('_', '-')}", Why.MISSING)] if stage == missing else []
    assert shut(of, stage) == expected


@pytest.mark.parametrize("stage", STAGES)
def test_a_shut_gate_says_which_paper_and_which_stage(stage: Stage) -> None:
    words = {"dry": "the dry sessions", "pool": "the pool", "open_water": "the open water", "signoff": "sign-off"}
    told = shut_words(shut_gates(person(), "c", profile(), stage, DAY))
    assert told == f"The {stage} paper: not seen by 22 Oct 2026. This holds {words.get(stage, stage)} shut."


def test_nothing_is_said_of_an_open_stage() -> None:
    assert shut_words(shut_gates(person(*ALL), "c", profile(), "pool", DAY)) == ""


def test_a_paper_of_another_course_opens_nothing_here() -> None:
    assert shut(person(proof("dry", course="another")), "dry") == [("pq-dry", Why.MISSING)]


@pytest.mark.parametrize(("setting", "stage"), [("class", None), ("dry", "dry"), ("pool", "pool")])
def test_no_gate_shuts_a_class(setting: str, stage: str | None) -> None:
    assert stage_of(setting) == stage


# --- days -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("day", "open_"), [(DAY - timedelta(1), False), (DAY, True), (DAY + timedelta(1), True)])
def test_a_paper_counts_from_the_day_on_which_it_was_seen(day: date, *, open_: bool) -> None:
    assert (shut(person(proof("dry", DAY.isoformat())), "dry", day) == []) == open_


@pytest.mark.parametrize(
    ("valid_days", "until", "last_good"),
    [
        (180, None, date(2027, 3, 30)),
        (None, "2026-11-05", date(2026, 11, 5)),
        (180, "2026-11-05", date(2026, 11, 5)),
        (10, "2026-11-05", date(2026, 10, 11)),
    ],
)
def test_a_paper_is_good_to_the_end_of_its_last_good_day(
    valid_days: int | None, until: str | None, last_good: date
) -> None:
    """Seen on 1 Oct 2026; 180 days later is 30 Mar 2027, counted on a calendar."""
    asked = Prerequisite(id="pq-dry", label="The dry paper", proof="signed_form", blocks="dry", valid_days=valid_days)
    of = person(proof("dry", good_until=until))
    assert shut(of, "dry", last_good, prerequisites=(asked,)) == []
    (gate,) = shut_gates(of, "c", profile(prerequisites=(asked,)), "dry", last_good + timedelta(1))
    assert (gate.why, gate.ended) == (Why.EXPIRED, last_good)
    assert "ran out on" in gate.sentence


def test_of_two_papers_the_one_that_is_good_longest_counts() -> None:
    of = person(
        proof("dry", "2026-09-01", good_until="2026-12-01"), proof("dry", "2026-10-01", good_until="2026-10-02")
    )
    assert shut(of, "dry") == []


@given(st.dates(date(2026, 1, 1), date(2027, 1, 1)), st.integers(0, 400), st.integers(0, 400))
def test_a_paper_never_opens_a_gate_after_it_ran_out_nor_before_it_was_seen(
    seen_on: date, good: int, after: int
) -> None:
    until = seen_on + timedelta(good)
    of = person(proof("dry", seen_on.isoformat(), good_until=until.isoformat()))
    day = seen_on - timedelta(200) + timedelta(after)
    assert (shut(of, "dry", day) == []) == (seen_on <= day <= until)


# --- medical --------------------------------------------------------------------------------------------------------


def test_a_doctors_no_shuts_the_stage_and_only_the_lead_is_told() -> None:
    (gate,) = shut_gates(person(proof("pool", cleared="no")), "c", profile(), "pool", DAY)
    assert gate.why == Why.NOT_CLEARED
    assert gate.for_lead == "The pool paper: not cleared"
    assert "cleared" not in gate.sentence


@pytest.mark.parametrize(
    ("first", "second", "why"),
    [("no", "yes", None), ("yes", "no", Why.NOT_CLEARED)],
)
def test_of_medical_papers_the_one_seen_last_decides(first: str, second: str, why: Why | None) -> None:
    of = person(proof("pool", "2026-10-01", cleared=first), proof("pool", "2026-10-10", cleared=second))
    assert [gate[1] for gate in shut(of, "pool")] == ([why] if why else [])


def test_of_two_medical_papers_of_one_day_the_stricter_decides() -> None:
    both = proof("pool", cleared="no"), proof("pool", cleared="yes", event="later")
    assert shut(person(*both), "pool") == shut(person(*reversed(both)), "pool") == [("pq-pool", Why.NOT_CLEARED)]


def test_a_clearance_that_was_erased_is_none() -> None:
    assert shut(person(proof("pool", cleared=None)), "pool") == [("pq-pool", Why.MISSING)]


# --- age and consent ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("born", "day", "years"),
    [
        ("2009-10-22", "2026-10-21", 16),
        ("2009-10-22", "2026-10-22", 17),
        ("2008-02-29", "2026-02-28", 17),
        ("2008-02-29", "2026-03-01", 18),
        ("2008-02-29", "2028-02-28", 19),
        ("2008-02-29", "2028-02-29", 20),
    ],
)
def test_age_is_that_of_the_day_and_29_february_comes_of_age_on_1_march(born: str, day: str, years: int) -> None:
    assert age_on(date.fromisoformat(born), date.fromisoformat(day)) == years


@given(st.dates(date(1950, 1, 1), date(2015, 12, 31)), st.dates(date(2016, 1, 1), date(2060, 12, 31)))
def test_age_equals_that_of_a_reference_library(born: date, day: date) -> None:
    """dateutil's relativedelta; it takes 28 February for somebody born on the 29th, we take 1 March."""
    if (born.month, born.day) == (2, 29) and (day.month, day.day) == (2, 28):
        day += timedelta(1)
    assert age_on(born, day) == relativedelta(day, born).years


@pytest.mark.parametrize("stage", STAGES)
def test_the_least_age_is_asked_on_the_day_of_every_stage_but_sign_off(stage: Stage) -> None:
    given_consent = (consent("pool", "open_water"),)
    young = person(*ALL, born="2009-10-23", consents=given_consent)
    expected = [] if stage == "signoff" else [(AGE, Why.TOO_YOUNG)]
    assert shut(young, stage, DAY) == expected
    assert shut(young, stage, DAY + timedelta(1)) == []


@pytest.mark.parametrize("stage", STAGES)
def test_a_minor_needs_consent_for_each_stage_in_the_water(stage: Stage) -> None:
    minor = person(*ALL, born="2009-06-14")
    assert shut(minor, stage) == ([(CONSENT, Why.MISSING)] if stage in WATER else [])
    other = person(*ALL, born="2009-06-14", consents=(consent("pool"),))
    assert shut(other, stage) == ([(CONSENT, Why.MISSING)] if stage == "open_water" else [])


def test_consent_runs_out_after_its_last_day_and_is_not_asked_on_the_day_of_coming_of_age() -> None:
    minor = person(*ALL, born="2008-10-24", consents=(consent("pool", until="2026-10-22"),))
    assert shut(minor, "pool", date(2026, 10, 22)) == []
    assert shut(minor, "pool", date(2026, 10, 23)) == [(CONSENT, Why.EXPIRED)]
    assert shut(minor, "pool", date(2026, 10, 24)) == []


def test_a_profile_says_below_which_age_a_guardian_agrees() -> None:
    of = person(*ALL, born="2006-01-01")
    assert shut(of, "pool") == []
    assert shut(of, "pool", consent_under_years=21) == [(CONSENT, Why.MISSING)]


@pytest.mark.parametrize("stage", STAGES)
def test_without_a_birth_date_the_water_is_shut(stage: Stage) -> None:
    expected = [(AGE, Why.NO_BIRTH_DATE)] if stage in WATER else []
    assert shut(person(*ALL, born=None), stage) == expected


# --- over a course --------------------------------------------------------------------------------------------------


def session(name: str, setting: str, day: int, **more: Any) -> Session:
    """A session on a day of October 2026, from 9 to 12."""
    start, end = (observed_at(datetime(2026, 10, day, hour, tzinfo=UTC), ZONE, "minute") for hour in (9, 12))
    return Session(id=name, course="c", setting=setting, start=start, end=end, **more)


def course(*students: str) -> Course:
    """A course from 20 to 25 October 2026."""
    members = tuple(Member(person=one, role=Role.STUDENT) for one in students or ("amaru",))
    return Course(
        id="c", zone=ZONE, adoption="a", profile="ex", revision="r1", first_day="2026-10-20", last_day="2026-10-25",
        members=members,
    )  # fmt: skip


SESSIONS = (session("bench", "dry", 21), session("pool-1", "pool", 22), session("pool-2", "pool", 23))


def span(of: str = "amaru", day: int = 22) -> Span:
    """A time of a student in a session."""
    start = observed_at(datetime(2026, 10, day, 9, 5, tzinfo=UTC), ZONE, "minute")
    return Span(id=f"span-{of}", person=of, role=SpanRole.STUDENT, group=None, start=start, end=None)


def test_each_stage_is_asked_about_on_its_own_days() -> None:
    assert stage_days(course(), (*SESSIONS, session("class", "class", 20)), "amaru") == {
        "enrolment": (date(2026, 10, 20),),
        "dry": (date(2026, 10, 21),),
        "pool": (date(2026, 10, 22), date(2026, 10, 23)),
        "signoff": (date(2026, 10, 25),),
    }


def test_a_session_of_other_groups_or_of_before_the_course_is_not_theirs() -> None:
    group = Group(id="g", event="e", staff=("tamsin",), students=("nkechi",))
    days = stage_days(course(), (session("other", "pool", 22, groups=(group,)), session("before", "dry", 12)), "amaru")
    assert days.keys() == {"enrolment", "signoff"}


def test_what_runs_out_within_the_course_is_told_on_the_first_day_on_which_it_is_missing() -> None:
    """Good on the first pool day, not on the second: asked on the days of the stage, not today."""
    of = person(*ALL[:2], proof("pool", good_until="2026-10-22"), *ALL[3:])
    states = gates_ahead(of, "c", profile(), stage_days(course(), SESSIONS, "amaru"), date(2026, 10, 1))
    (gate,) = [state.shut for state in states if state.shut]
    assert (gate.stage, gate.day, gate.why) == ("pool", date(2026, 10, 23), Why.EXPIRED)


def test_a_paper_noted_after_its_stage_holds_nobody_up_for_ever() -> None:
    late = person(*ALL[:2], proof("pool", "2026-10-24"), *ALL[3:])
    days = stage_days(course(), SESSIONS, "amaru")
    on = {
        day: [s.gate for s in gates_ahead(late, "c", profile(), days, date(2026, 10, day)) if s.shut]
        for day in (23, 24)
    }
    assert on == {23: ["pq-pool"], 24: []}


def test_a_paper_that_ran_out_after_its_stage_was_over_is_not_missed() -> None:
    of = person(*ALL[:2], proof("pool", good_until="2026-10-23"), *ALL[3:])
    states = gates_ahead(of, "c", profile(), stage_days(course(), SESSIONS, "amaru"), date(2026, 10, 25))
    assert [state.gate for state in states if state.shut] == []


def test_a_gate_that_was_passed_shut_is_told_with_person_session_and_when() -> None:
    (passed,) = gates_passed((session("pool-1", "pool", 22, spans=(span(),)),), {"amaru": person(*ALL[:2])}, course(),
                             profile())  # fmt: skip
    assert (passed.person, passed.stage, passed.session, passed.missing.gate) == ("amaru", "pool", "pool-1", "pq-pool")
    assert passed.when == datetime(2026, 10, 22, 9, 5, tzinfo=UTC)


def test_a_paper_seen_after_the_session_does_not_undo_that_the_gate_was_passed() -> None:
    late = person(*ALL[:2], proof("pool", "2026-10-24"))
    assert len(gates_passed((session("p", "pool", 22, spans=(span(),)),), {"amaru": late}, course(), profile())) == 1


@pytest.mark.parametrize("sessions", [(session("p", "pool", 22),), (session("c", "class", 22, spans=(span(),)),)])
def test_no_gate_is_passed_by_whoever_was_not_there_nor_in_a_class(sessions: tuple[Session, ...]) -> None:
    assert gates_passed(sessions, {"amaru": person()}, course(), profile()) == ()


def test_a_dive_of_somebody_whom_nobody_signed_in_passes_the_gate_too() -> None:
    water = WaterTime(
        id="w", person="amaru", unit=None, entered=None, left=None, loop_minutes=30, bailout_minutes=0, max_depth_m=None
    )
    passed = gates_passed((session("p", "pool", 22, water=(water,)),), {"amaru": person()}, course(), profile())
    assert [one.missing.gate for one in passed] == ["pq-pool"]


def test_a_session_is_shut_for_learners_only() -> None:
    pool = SESSIONS[1]
    assert [gate.gate for gate in shut_in(pool, person(), course(), profile())] == ["pq-pool"]
    assert shut_in(pool, person(), course("somebody-else"), profile()) == ()
    assert shut_in(session("c", "class", 20), person(), course(), profile()) == ()


def test_the_last_turn_says_whether_somebody_is_on_the_course() -> None:
    turns = [Turn(event=str(day), course="c", by="tamsin", day=f"2026-10-{day}", left=left)
             for day, left in ((21, True), (23, False), (24, True))]  # fmt: skip
    assert left_on(person(turns=tuple(turns[:1])), "c") == date(2026, 10, 21)
    assert left_on(person(turns=tuple(turns[:2])), "c") is None
    assert left_on(person(turns=tuple(turns)), "c") == date(2026, 10, 24)
    assert left_on(person(turns=tuple(turns)), "another") is None


def test_an_open_gate_says_who_saw_the_paper_when_and_until_when() -> None:
    states = gate_states(person(*ALL[:1], proof("dry", good_until="2026-12-01")), "c", profile(), "dry", DAY)
    (state,) = [one for one in states if one.gate == "pq-dry"]
    assert (state.shut, state.seen_by, state.seen_on, state.good_until) == (
        None, "tamsin", date(2026, 10, 1), date(2026, 12, 1),
    )  # fmt: skip
