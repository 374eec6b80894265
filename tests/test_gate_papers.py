"""Noting papers, and what a shut gate refuses: each at its own stage, told with the paper that is missing."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, note_papers, seen_at
from hypothesis import given
from hypothesis import strategies as st

from course.actions import amending, gates, presence, signing
from course.actions import attempts as trying
from course.actions import centre as founding
from course.actions import courses as planning
from course.actions import gate_papers as noting
from course.actions.pad import take
from course.answers.alike import is_near
from course.answers.course_view import view
from course.answers.decisions import to_sign
from course.answers.gate_view import gates_passed_by
from course.answers.missing import missing, student_missing
from course.answers.needs_today import student_today
from course.answers.student_page import student_page
from course.errors import NotFoundError, RefusedError, StandardsError
from course.moments import new_id
from course.record.facts import Adoption, Person
from course.standards.standards import standards_from
from course.words import Role


def newcomer(c: Centre, *, born: str | None = "1995-05-05", papers: bool = False, name: str = "Ravi Soltmere") -> str:
    """A student who is in the centre and not on the course."""
    person = founding.add_person(c.ledger, c.lead, name=name, roles=[Role.STUDENT], birth_date=born)
    if papers:
        note_papers(c.ledger, c.lead, c.course, person)
    return person


def without(c: Centre, *papers: str, born: str = "1995-05-05") -> str:
    """A student of the course of whom every paper was seen but these."""
    person = newcomer(c, born=born)
    for asked in c.view().profile.prerequisites:
        if asked.id not in papers:
            cleared = True if asked.proof == "medical_form" else None
            noting.note_proof(c.ledger, c.lead, c.course, person, asked.id, "2026-10-01", cleared=cleared)
    planning.enrol(c.ledger, c.lead, c.course, person, Role.STUDENT)
    planning.assign_unit(c.ledger, c.lead, c.course, person, c.unit_a, "2026-10-20")
    return person


def refused(c: Centre, act: Callable[[], object]) -> str:
    """What an act is refused with; it adds nothing."""
    before = c.count()
    with pytest.raises(RefusedError) as error:
        act()
    assert c.count() == before
    return error.value.sentence


def person_fact(c: Centre, person: str) -> Person:
    fact = c.ledger.fact("person", person)
    assert isinstance(fact, Person)
    return fact


def proof(c: Centre, person: str, asked: str = "pq-waiver", **more: Any) -> str:
    """Note a paper, the risk statement unless told otherwise."""
    return noting.note_proof(c.ledger, c.lead, c.course, person, asked, more.pop("day", "2026-10-20"), **more)


# --- each gate stops its own stage ----------------------------------------------------------------------------------

_DOORS = [("pq-waiver", "dry-21"), ("pq-manual", "dry-21"), ("pq-med", "pool-22"), ("pq-dives", "open-24")]


@pytest.mark.parametrize(("paper", "own"), _DOORS)
@pytest.mark.parametrize("session", ["dry-21", "pool-22", "open-24"])
def test_a_student_is_not_signed_in_where_a_paper_is_missing_and_only_there(
    small_centre: Centre, paper: str, own: str, session: str
) -> None:
    c = small_centre
    student = without(c, paper)
    at = seen_at(int(session[-2:]))

    def come() -> object:
        return presence.sign_in(c.ledger, c.assistant, c.sessions[session], student, at)

    if session != own:
        come()
        return
    told = refused(c, come)
    label = next(asked.label for asked in c.view().profile.prerequisites if asked.id == paper)
    assert f"{label}: not seen by {own[-2:]} Oct 2026." in told
    assert "Note the paper on Gates" in told
    noting.note_proof(
        c.ledger, c.lead, c.course, student, paper, at.local.date().isoformat(),
        cleared=True if paper == "pq-med" else None,
    )  # fmt: skip
    come()


@pytest.mark.parametrize("paper", ["pq-age", "pq-cert"])
def test_nobody_is_enrolled_before_the_papers_for_it_were_seen(small_centre: Centre, paper: str) -> None:
    c = small_centre
    person = newcomer(c)
    other = {"pq-age": "pq-cert", "pq-cert": "pq-age"}[paper]
    proof(c, person, other)
    told = refused(c, lambda: planning.enrol(c.ledger, c.lead, c.course, person, Role.STUDENT))
    assert told.startswith("This person is not put on the course.")
    assert told.count("not seen by") == 1
    assert "This holds enrolment shut." in told
    proof(c, person, paper)
    planning.enrol(c.ledger, c.lead, c.course, person, Role.STUDENT)
    assert person in c.view().students


def test_a_paper_seen_after_the_first_day_opens_enrolment_for_who_comes_late(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    c = small_centre
    person = newcomer(c)
    for paper in ("pq-age", "pq-cert"):
        proof(c, person, paper, day="2026-10-21")

    def enrol() -> None:
        planning.enrol(c.ledger, c.lead, c.course, person, Role.STUDENT)

    monkeypatch.setattr(gates, "now", lambda: datetime(2026, 10, 20, 12, tzinfo=UTC))
    assert "not seen by 20 Oct 2026" in refused(c, enrol)
    monkeypatch.setattr(gates, "now", lambda: datetime(2026, 10, 21, 12, tzinfo=UTC))
    enrol()
    assert person in c.view().students


def test_staff_are_enrolled_and_signed_in_without_any_paper(small_centre: Centre) -> None:
    c = small_centre
    helper = founding.add_person(c.ledger, c.lead, name="Odo Penhallick", roles=[Role.TECHNICIAN])
    planning.enrol(c.ledger, c.lead, c.course, helper, Role.TECHNICIAN)
    presence.sign_in(c.ledger, c.assistant, c.sessions["pool-22"], helper, seen_at(22))


def test_who_is_there_already_is_noted_and_the_gate_is_told_as_passed(small_centre: Centre) -> None:
    c = small_centre
    student = without(c, "pq-med")
    presence.sign_in(c.ledger, c.assistant, c.sessions["pool-22"], student, seen_at(22), there_already=True)
    (passed,) = gates_passed_by(c.view())
    assert (passed.person, passed.stage, passed.session) == (student, "pool", c.sessions["pool-22"])
    assert passed.missing.gate == "pq-med"
    assert passed.when == seen_at(22).moment


def test_everyone_in_leaves_out_whom_a_gate_keeps_out(small_centre: Centre) -> None:
    c = small_centre
    student = without(c, "pq-med")
    came = presence.everyone_in(c.ledger, c.lead, c.sessions["pool-22"], None, seen_at(22))
    assert student not in came
    assert {c.amaru, c.zoe, c.lead} <= set(came)
    assert student in presence.everyone_in(c.ledger, c.lead, c.sessions["dry-21"], None, seen_at(21))


def test_an_attempt_is_not_begun_of_somebody_whom_a_gate_keeps_out_and_nobody_signed_in(small_centre: Centre) -> None:
    c = small_centre
    student = without(c, "pq-med")
    assert "This holds the pool shut." in refused(c, lambda: c.open("pool-22", student=student))
    c.open("dry-21", student=student)
    presence.sign_in(c.ledger, c.assistant, c.sessions["pool-22"], student, seen_at(22), there_already=True)
    c.open("pool-22", student=student)


def test_a_tap_that_begins_an_attempt_at_a_shut_gate_is_refused_with_the_paper(small_centre: Centre) -> None:
    c = small_centre
    student = without(c, "pq-med")
    attempt, sheet = new_id(), new_id()
    item = {
        "id": new_id(), "attempt": attempt, "student": student, "sheet": sheet, "kind": "attempt_opened/1",
        "tapped_at": "2026-10-22T15:10:00.000Z",
        "body": {"course": c.course, "session": c.sessions["pool-22"], "skill": POOL_SKILL, "observer": c.lead},
    }  # fmt: skip
    answer = take(c.ledger, [item])
    assert answer.saved == ()
    assert "a doctor's clearance on file: not seen by 22 Oct 2026" in answer.refused[0][1]
    presence.sign_in(c.ledger, c.assistant, c.sessions["pool-22"], student, seen_at(22), there_already=True)
    assert take(c.ledger, [item | {"id": new_id()}]).refused == ()


def test_what_is_copied_in_or_entered_after_the_session_is_kept_whatever_is_missing(small_centre: Centre) -> None:
    """What happened happened; the findings tell it."""
    c = small_centre
    student = without(c, "pq-med")
    c.enter("pool-22", student=student)
    late = trying.open_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["pool-22"], student=student, skill=POOL_SKILL,
        observed=seen_at(22, 17),
    )  # fmt: skip
    assert c.attempt(late.attempt).student == student


def test_signing_is_held_by_the_papers_for_sign_off_and_by_no_other(small_centre: Centre) -> None:
    """A course for candidates asks for one paper before sign-off."""
    c = small_centre
    course = planning.make_course(
        c.ledger, c.lead, title="IC", zone="Atlantic/Azores", adoption=c.adoption, profile="ex-candidate",
        revision="r1", first_day="2026-10-20", last_day="2026-10-25",
    )  # fmt: skip
    noting.note_proof(c.ledger, c.lead, course, c.candidate, "pc-hours", "2026-10-01")
    planning.enrol(c.ledger, c.lead, course, c.candidate, Role.CANDIDATE)

    def sign_off() -> None:
        seen = view(c.ledger, course)
        gates.refuse_signing(seen.course, seen.profile, seen.persons[c.candidate], LAST_DAY)

    assert "Courses assisted in, signed by two instructors: not seen" in refused(c, sign_off)
    noting.note_proof(c.ledger, c.lead, course, c.candidate, "pc-assist", "2026-10-25")
    sign_off()


def test_a_standing_is_signed_once_no_paper_for_sign_off_is_missing(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    c = small_centre
    c.hold()
    seen = c.view()
    late = tuple(
        one.model_copy(update={"blocks": "signoff"}) if one.id == "pq-cert" else one
        for one in seen.profile.prerequisites
    )
    monkeypatch.setitem(seen.__dict__, "profile", seen.profile.model_copy(update={"prerequisites": late}))
    monkeypatch.setitem(seen.persons, c.amaru, seen.persons[c.amaru].model_copy(update={"proofs": ()}))
    (ready,) = to_sign(seen, c.amaru, LAST_DAY)
    told = refused(
        c,
        lambda: signing.sign_all(
            c.ledger, c.lead, course=c.course, student=c.amaru, as_of=LAST_DAY, rests_on={ready.skill: ready.rests_on}
        ),
    )
    assert told.startswith(
        "Nothing is signed for this student. Entry certificate and gas certificate seen: not seen by"
    )
    assert "This holds sign-off shut." in told


def test_a_centre_without_any_paper_keeps_what_is_recorded_and_goes_on_with_it(small_centre: Centre) -> None:
    """Gates look forward: attempts of before they were there stand, are signed and amended."""
    c = small_centre
    c.hold()
    for event in [e.id for e in c.ledger.events(c.amaru) if e.kind == "proof_seen/1"]:
        amending.withdraw(c.ledger, c.lead, event, "As in a centre of before.")
    assert person_fact(c, c.amaru).proofs == ()
    seen = c.view()
    assert seen.standing(c.amaru, c.skill(), LAST_DAY).state.value == "met"
    (ready,) = to_sign(seen, c.amaru, LAST_DAY)
    signing.sign_all(
        c.ledger, c.lead, course=c.course, student=c.amaru, as_of=LAST_DAY, rests_on={ready.skill: ready.rests_on}
    )


# --- what is noted --------------------------------------------------------------------------------------------------


def test_of_a_medical_paper_only_the_clearance_is_kept_and_it_is_sealed(small_centre: Centre) -> None:
    c = small_centre
    event = proof(c, c.amaru, "pq-med", cleared=False, good_until="2027-05-05", paper="Canary form")
    raw = next(e for e in c.ledger.events(c.amaru) if e.id == event)
    assert json.loads(raw.body).keys() == {"course", "day", "person", "prerequisite", "replaces", "sealed"}
    assert "Canary" not in raw.body
    (kept,) = [one for one in person_fact(c, c.amaru).proofs if one.event == event]
    assert (kept.cleared, kept.good_until, kept.paper, kept.by) == ("no", "2027-05-05", "Canary form", c.lead)


@pytest.mark.parametrize(
    ("paper", "more", "told"),
    [
        ("pq-med", {}, "say whether it clears the person, yes or no"),
        ("pq-waiver", {"cleared": True}, "only a medical paper clears somebody"),
        ("pq-none", {}, "asks for no paper pq-none"),
        ("pq-waiver", {"good_until": "2026-10-01"}, "The last good day is before the day it was seen"),
        ("pq-waiver", {"day": "yesterday"}, "is no day of the calendar"),
        ("pq-waiver", {"paper": "Form \u202e2"}, "RIGHT-TO-LEFT OVERRIDE"),
    ],
)
def test_a_proof_that_does_not_fit_is_refused(
    small_centre: Centre, paper: str, more: dict[str, Any], told: str
) -> None:
    assert told in refused(small_centre, lambda: proof(small_centre, small_centre.amaru, paper, **more))


def test_nobody_but_lead_and_instructor_notes_a_paper(small_centre: Centre) -> None:
    c = small_centre
    told = refused(c, lambda: noting.note_proof(c.ledger, c.assistant, c.course, c.amaru, "pq-waiver", "2026-10-20"))
    assert told.startswith("Only somebody who is lead instructor or instructor may")


def test_a_proof_noted_wrongly_is_replaced_and_stays_in_the_ledger(small_centre: Centre) -> None:
    c = small_centre
    wrong = proof(c, c.amaru, "pq-med", cleared=False)
    right = proof(c, c.amaru, "pq-med", cleared=True, replaces=(wrong,))
    live = [one.event for one in person_fact(c, c.amaru).proofs]
    assert right in live
    assert wrong not in live
    assert wrong in [event.id for event in c.ledger.events(c.amaru)]


def test_consent_needs_a_guardians_name_and_a_stage(small_centre: Centre) -> None:
    c = small_centre

    def consent(**more: Any) -> str:
        plain: dict[str, Any] = {"stages": ["pool"], "day": "2026-10-01", "guardian": "Marit"}
        return noting.note_consent(c.ledger, c.lead, c.course, c.amaru, **(plain | more))

    assert "who gave the consent" in refused(c, lambda: consent(guardian=""))
    assert "is empty" in refused(c, lambda: consent(stages=[]))
    assert "none of" in refused(c, lambda: consent(stages=["dry"]))
    consent()
    assert person_fact(c, c.amaru).consents[0].guardian == "Marit"


def exam(c: Centre, **more: Any) -> str:
    """44.5 of 50 right, two items missed."""
    plain: dict[str, Any] = {
        "day": "2026-10-21", "mark": "44.5", "of": "50", "items": ["Oxygen", " ", "Scrubber"], "form": "Form 2",
    }  # fmt: skip
    return noting.note_exam(c.ledger, c.lead, c.course, c.amaru, **(plain | more))


def test_items_missed_are_gaps_on_dry_days_and_on_the_own_page_until_they_are_talked_through(
    small_centre: Centre,
) -> None:
    c = small_centre
    made = exam(c)

    def gaps(session: str, day: int) -> tuple[str, ...]:
        seen = c.view()
        fact = seen.sessions[c.sessions[session]]
        return student_today(seen, c.amaru, fact, date(2026, 10, day), fact.start.moment, over=False).gaps

    assert gaps("dry-21", 21) == ("Oxygen", "Scrubber")
    assert gaps("pool-22", 22) == ()
    assert student_page(c.view(), c.amaru, LAST_DAY).gaps == ("Oxygen", "Scrubber")
    assert "2 gaps of the exam not talked through" in student_missing(c.view(), c.amaru, LAST_DAY).papers
    noting.close_gap(c.ledger, c.second, c.amaru, made, 1, day="2026-10-22", session=c.sessions["dry-21"])
    assert student_page(c.view(), c.amaru, LAST_DAY).gaps == ("Scrubber",)
    assert gaps("dry-21", 21) == ("Oxygen", "Scrubber")
    told = refused(c, lambda: noting.close_gap(c.ledger, c.second, c.amaru, made, 1, day="2026-10-22"))
    assert told == "This gap was talked through already. Nothing was changed."


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"mark": "51"}, "the mark is not between 0 and what it is out of"),
        ({"mark": "-1"}, "the mark is not between 0"),
        ({"of": "0"}, "the mark is not between 0"),
        ({"mark": "many"}, "is no plain decimal number"),
        ({"mark": "nan"}, "is no plain decimal number"),
    ],
)
def test_a_mark_that_cannot_be_is_refused(small_centre: Centre, more: dict[str, Any], told: str) -> None:
    assert told in refused(small_centre, lambda: exam(small_centre, **more))


def test_a_gap_that_is_none_and_one_before_its_exam_are_refused(small_centre: Centre) -> None:
    c = small_centre
    made = exam(c)
    with pytest.raises(NotFoundError, match="no such gap"):
        noting.close_gap(c.ledger, c.lead, c.amaru, made, 3, day="2026-10-22")
    assert "after its exam" in refused(
        c, lambda: noting.close_gap(c.ledger, c.lead, c.amaru, made, 1, day="2026-10-20")
    )


def test_what_was_typed_of_papers_is_gone_once_the_person_is_erased_and_every_count_stays(small_centre: Centre) -> None:
    c = small_centre
    exam(c)
    c.ledger.forget(c.amaru)
    fact = person_fact(c, c.amaru)
    assert (fact.birth_date, fact.exams[0].gaps, fact.exams[0].items, fact.exams[0].form) == (None, 2, (), None)
    assert {one.cleared for one in fact.proofs} == {None}
    assert len(fact.proofs) == len(c.view().profile.prerequisites)


# --- people who may be the same -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other", "near"),
    [
        ("Amaru Tendelle", "Amaru Tendele", True),
        ("Amaru Tendelle", "TENDELLE Amaru", True),
        ("Zoë O'Brien-Ünal", "Zoe O'Brien Unal", True),
        ("Amaru Tendelle", "Nkechi Brandvold", False),
        ("Amaru Tendelle", "Amara Brandvold", False),
    ],
)
def test_names_are_near_whatever_their_accents_order_and_slips(one: str, other: str, *, near: bool) -> None:
    assert is_near(one, other) == is_near(other, one) == near


@given(st.text(min_size=1, max_size=40).filter(lambda text: text.strip()))
def test_a_name_is_near_to_itself(name: str) -> None:
    assert is_near(name, name)


def test_a_hand_made_set_of_rubrics_whose_profile_names_a_skill_that_is_gone_is_refused(small_centre: Centre) -> None:
    c = small_centre
    fact = c.ledger.fact("adoption", c.adoption)
    assert isinstance(fact, Adoption)
    files = json.loads(json.dumps(fact.files))
    name = next(file for file, content in files.items() if content.get("kind") == "profiles")
    files[name]["profiles"][0]["required_skills"].append("no-such-skill")
    with pytest.raises(StandardsError, match="no-such-skill"):
        standards_from(files)


def test_a_required_skill_that_no_rubric_has_keeps_everybody_from_being_ready(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    c = small_centre
    seen = c.view()
    asked = seen.profile.model_copy(update={"required_skills": ("gone-skill",), "hours": (), "counts": ()})
    monkeypatch.setitem(seen.__dict__, "profile", asked)
    found = student_missing(seen, c.amaru, LAST_DAY)
    assert found.requirements.short == ("gone-skill: required, and no adopted rubric has it",)
    assert found.anything


def test_what_is_missing_says_counts_and_papers_as_plain_data_too(small_centre: Centre) -> None:
    c = small_centre
    exam(c)
    plain = json.loads(json.dumps(missing(c.view(), [c.amaru], LAST_DAY).plain()))
    (student,) = plain["students"]
    assert {one["kind"]: one["have"] for one in student["counts"]} == {
        "pool_sessions": 0, "open_water_dives": 0, "training_days": 0,
    }  # fmt: skip
    assert student["papers"] == ["2 gaps of the exam not talked through"]


def test_somebody_without_a_birth_date_gets_one_by_a_correction(small_centre: Centre) -> None:
    c = small_centre
    student = newcomer(c, born=None, papers=True)
    planning.enrol(c.ledger, c.lead, c.course, student, Role.STUDENT)
    planning.assign_unit(c.ledger, c.lead, c.course, student, c.unit_a, "2026-10-20")
    at = seen_at(22)
    told = refused(c, lambda: presence.sign_in(c.ledger, c.lead, c.sessions["pool-22"], student, at))
    assert "the birth date is not entered" in told
    added = next(event.id for event in c.ledger.events(student) if event.kind == "person_added/1")
    amending.correct(c.ledger, c.lead, added, "It was missing.", private_change={"birth_date": "1999-09-09"})
    presence.sign_in(c.ledger, c.lead, c.sessions["pool-22"], student, at)
