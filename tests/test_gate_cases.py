"""Hard cases of real courses that turn on papers, ages and days: what the program does in each."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from io import BytesIO
from typing import Any

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, seen_at
from pypdf import PdfReader
from test_gate_papers import newcomer, person_fact, proof, refused, without

from course.actions import centre as founding
from course.actions import courses as planning
from course.actions import gate_papers as noting
from course.actions import gates, presence
from course.actions.slates import give_out
from course.actions.standards import move_course
from course.answers.alike import alike
from course.answers.competency import competency_record
from course.answers.course_view import CourseView
from course.answers.gate_view import gates_answer, student_stages
from course.answers.marking import deciders
from course.answers.missing import student_missing
from course.answers.pad import Planned, planned_pad
from course.answers.readiness import readiness
from course.answers.skill_detail import skill_detail
from course.answers.slate_sheet import slate_sheet
from course.answers.standards_move import move_preview
from course.answers.student_page import student_page
from course.moments import new_id
from course.paper.slate_sheet import print_slates
from course.paper.take_home import print_take_home
from course.words import Role


def words_of(pdf: bytes) -> str:
    """The words of a paper, each between single blanks."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def take_home(seen: CourseView, student: str) -> str:
    """What a student's own sheet says."""
    out = BytesIO()
    print_take_home(student_page(seen, student, LAST_DAY), out)
    return words_of(out.getvalue())


# --- 7: standards revised in mid-course ------------------------------------------------------------------------------


def test_case_07_a_new_revision_moves_no_course_and_shows_per_student_what_it_would_change(
    small_centre: Centre,
) -> None:
    c = small_centre
    water = [
        planning.water_time(c.lead, session=c.sessions[session], person=c.amaru, loop_minutes=minutes)
        for session, minutes in (("pool-22", 240), ("pool-23", 240))
    ]
    planning.record_times(c.ledger, c.lead, water[:1])
    planning.record_times(c.ledger, c.lead, water[1:])
    seen = c.view()
    assert (seen.profile.revision, seen.course.unreplaced) == ("r1", ())
    preview = move_preview(c.ledger, seen, c.adoption, "ex-first-unit", "r2", LAST_DAY)
    amaru = next(one for one in preview.students if one.student == c.amaru)
    assert "Minutes in water on the loop: 556 asked instead of 523; short by 76 instead of 43." in amaru.lines
    assert c.view().profile.revision == "r1"
    move_course(
        c.ledger, c.lead, c.course, adoption=c.adoption, profile="ex-first-unit", revision="r2",
        why="The agency asks for it.", shown_from=preview.shown_from,
    )  # fmt: skip
    moved = c.view()
    assert moved.profile.revision == "r2"
    assert [move.moved_by for move in moved.course.moves] == [c.lead]
    found = student_missing(moved, c.amaru, LAST_DAY)
    assert "short by 76 minutes in water on the loop" in found.requirements.short


def test_case_07_counts_and_papers_that_another_revision_asks_for_are_shown_before_deciding(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    c = small_centre
    other = c.view().adopted.standards.profile("ex-first-unit", "r2")
    rules = tuple(rule.model_copy(update={"at_least": rule.at_least + 1}) for rule in other.counts)
    paper = other.prerequisites[0].model_copy(update={"id": "pq-new", "label": "Another paper", "blocks": "dry"})
    asked = other.model_copy(update={"counts": rules, "prerequisites": (*other.prerequisites, paper)})
    monkeypatch.setattr(type(c.view().adopted.standards), "profile", lambda *_: asked)
    preview = move_preview(c.ledger, c.view(), c.adoption, "ex-first-unit", "r2", LAST_DAY)
    lines = preview.students[0].lines
    assert "Pool sessions of at least 41 minutes: 4 asked instead of 3; short by 4 instead of 3." in lines
    assert "Training days: 6 asked instead of 5; short by 6 instead of 5." in lines
    assert "Would be missing: Another paper: not seen by 25 Oct 2026." in lines


# --- 12: a student who does a skill another way ----------------------------------------------------------------------


def adjust(c: Centre, **more: Any) -> str:
    plain: dict[str, Any] = {"how": "Closes it with the right hand.", "day": "2026-10-20"}
    return noting.approve_adjustment(c.ledger, more.pop("by", c.lead), c.course, c.amaru, POOL_SKILL, **(plain | more))


def test_case_12_an_adjustment_stands_on_slate_pad_record_and_own_page(small_centre: Centre) -> None:
    c = small_centre
    adjust(c)
    (given,) = give_out(c.ledger, c.lead, c.sessions["pool-22"], skills=[POOL_SKILL])
    sheet = slate_sheet(c.ledger, c.sessions["pool-22"], given)
    assert sheet.adjustments == (("Amaru", "Closes it with the right hand."),)
    assert "Another way, Amaru: Closes it with the right hand." in words_of(print_slates([sheet]))
    seen = c.view()
    planned = Planned(new_id(), new_id(), c.sessions["pool-22"], c.amaru, POOL_SKILL, c.lead, 1)
    assert planned_pad(seen, planned)["adjusted"] == "Closes it with the right hand."
    assert planned_pad(seen, replace(planned, student=c.zoe))["adjusted"] == ""
    (line,) = competency_record(c.ledger, seen, c.amaru, LAST_DAY).adjustments
    assert line.endswith("Closes it with the right hand; approved by Tamsin Okoro-Vale on 20 Oct 2026.")
    assert "What I do another way" in take_home(seen, c.amaru)
    assert "another way" not in take_home(seen, c.zoe)


def test_case_12_only_the_lead_of_the_course_approves(small_centre: Centre) -> None:
    c = small_centre
    assert "Only the lead of this course approves" in refused(c, lambda: adjust(c, by=c.second))


def test_case_12_a_critical_step_goes_only_with_the_agencys_waiver(small_centre: Centre) -> None:
    c = small_centre
    critical = next(step for step in c.skill().steps if step.can_be_critical)
    plain = next(step for step in c.skill().steps if not step.can_be_critical)
    told = refused(c, lambda: adjust(c, without=[critical.id]))
    assert f"something critical can happen in “{critical.do}”" in told
    assert "written waiver" in refused(c, lambda: adjust(c, without=[critical.id], waiver="  "))
    adjust(c, without=[plain.id])
    adjust(c, without=[critical.id], waiver="Letter 17 of the agency")
    lines = student_page(c.view(), c.amaru, LAST_DAY).adjustments
    assert any("(waiver: Letter 17 of the agency)" in line and critical.do.rstrip(".") in line for line in lines)


def test_case_12_an_adjustment_changes_no_standing(small_centre: Centre) -> None:
    c = small_centre
    c.enter("pool-22")
    before = c.view().standing(c.amaru, c.skill(), LAST_DAY)
    adjust(c)
    assert c.view().standing(c.amaru, c.skill(), LAST_DAY) == before


# --- 13: a minor -----------------------------------------------------------------------------------------------------


def test_case_13_a_minor_comes_into_the_water_only_with_consent_for_that_stage(small_centre: Centre) -> None:
    c = small_centre
    jonas = without(c, born="2009-06-14")

    def come(session: str) -> None:
        at = seen_at(int(session[-2:]))
        presence.sign_in(c.ledger, c.assistant, c.sessions[session], jonas, at)

    come("dry-21")
    told = refused(c, lambda: come("pool-22"))
    assert "Guardian's consent (under 18): not seen by 22 Oct 2026. This holds the pool shut." in told
    noting.note_consent(c.ledger, c.lead, c.course, jonas, stages=["pool"], day="2026-10-20", guardian="Marit")
    come("pool-22")
    assert "the open water shut" in refused(c, lambda: come("open-24"))
    noting.note_consent(
        c.ledger, c.lead, c.course, jonas, stages=["open_water"], day="2026-10-20", until="2026-10-24", guardian="Marit"
    )
    come("open-24")
    assert "ran out on 24 Oct 2026" in refused(c, lambda: come("open-25"))
    stages = student_stages(c.view(), jonas, date(2026, 10, 20))
    assert stages.age.startswith("17 years on the first day, 17 asked; guardian's consent seen by Tamsin")


def test_case_13_the_profiles_least_age_comes_first(small_centre: Centre, monkeypatch: pytest.MonkeyPatch) -> None:
    """Seventeen on 23 October: too young as the course begins."""
    c = small_centre
    monkeypatch.setattr(gates, "now", lambda: seen_at(1).moment)
    young = newcomer(c, born="2009-10-23", papers=True)
    told = refused(c, lambda: planning.enrol(c.ledger, c.lead, c.course, young, Role.STUDENT))
    assert "At least 17 years old: younger on 20 Oct 2026. This holds enrolment shut." in told


def test_case_13_on_the_day_of_coming_of_age_no_guardian_is_asked(small_centre: Centre) -> None:
    c = small_centre
    student = without(c, born="2008-10-23")
    at = seen_at(23)
    presence.sign_in(c.ledger, c.assistant, c.sessions["pool-23"], student, at)
    assert "Guardian's consent" in refused(
        c, lambda: presence.sign_in(c.ledger, c.assistant, c.sessions["pool-22"], student, seen_at(22))
    )


# --- 21: leaving unfinished ------------------------------------------------------------------------------------------


def test_case_21_who_leaves_keeps_what_was_done_and_may_come_back_within_the_days_to_finish_in(
    small_centre: Centre,
) -> None:
    c = small_centre
    c.enter("pool-22")
    standing = c.view().standing(c.amaru, c.skill(), LAST_DAY)
    assert "A reason is needed" in refused(
        c, lambda: noting.leave_course(c.ledger, c.lead, c.course, c.amaru, day="2026-10-23", why=" ")
    )
    noting.leave_course(c.ledger, c.lead, c.course, c.amaru, day="2026-10-23", why="Ill.")
    seen = c.view()
    assert seen.standing(c.amaru, c.skill(), LAST_DAY) == standing
    line = next(one for one in readiness(seen, LAST_DAY).lines if one.student == c.amaru)
    assert line.left
    assert line.words.startswith("left unfinished on 23 Oct 2026; ")
    assert "1 left unfinished" in readiness(seen, LAST_DAY).sentence
    assert "They left the course on 23 Oct 2026." in refused(
        c, lambda: presence.sign_in(c.ledger, c.lead, c.sessions["open-24"], c.amaru, seen_at(24))
    )
    assert "left the course already" in refused(
        c, lambda: noting.leave_course(c.ledger, c.lead, c.course, c.amaru, day="2026-10-24", why="Ill.")
    )
    late = refused(c, lambda: noting.return_to_course(c.ledger, c.lead, c.course, c.amaru, day="2027-01-26"))
    assert "had to be finished by 25 Jan 2027" in late
    noting.return_to_course(c.ledger, c.lead, c.course, c.amaru, day="2027-01-25")
    presence.sign_in(c.ledger, c.lead, c.sessions["open-24"], c.amaru, seen_at(24))
    assert not next(one for one in readiness(c.view(), LAST_DAY).lines if one.student == c.amaru).left


def test_case_21_only_somebody_on_the_course_leaves_it_and_only_who_left_comes_back(small_centre: Centre) -> None:
    c = small_centre
    person = newcomer(c)
    assert "is not on the course" in refused(
        c, lambda: noting.leave_course(c.ledger, c.lead, c.course, person, day="2026-10-23", why="Ill.")
    )
    assert "did not leave" in refused(
        c, lambda: noting.return_to_course(c.ledger, c.lead, c.course, c.amaru, day="2026-10-23")
    )


# --- 22: the days to finish in run out -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("as_of", "told"),
    [
        (date(2027, 1, 10), ""),
        (date(2027, 1, 11), "14 days left to finish in: 25 Jan 2027 is the last day that counts."),
        (date(2027, 1, 24), "1 day left to finish in"),
        (date(2027, 1, 25), "0 days left to finish in"),
        (date(2027, 1, 26), "ended on 25 Jan 2027: later attempts are kept and do not count"),
    ],
)
def test_case_22_the_end_is_told_14_days_ahead_and_after_it(small_centre: Centre, as_of: date, told: str) -> None:
    """97 days from 20 October 2026 are 25 January 2027, counted on a calendar."""
    window = readiness(small_centre.view(), as_of).window
    assert window.startswith(told) or told in window
    assert bool(window) == bool(told)


def test_case_22_attempts_after_the_end_stay_facts_and_count_only_if_the_profile_says_so(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    c = small_centre
    c.enter("pool-22")
    seen = c.view()
    assert seen.standing(c.amaru, c.skill(), LAST_DAY).streak == 1
    short = seen.profile.model_copy(update={"finish_within_days": 1})
    over = replace(seen, profile=short, _standings={})
    assert over.standing(c.amaru, c.skill(), LAST_DAY).streak == 0
    assert len(over.after_window(c.amaru, c.skill())) == 1
    told = skill_detail(c.ledger, over, c.amaru, POOL_SKILL, LAST_DAY).not_counted
    assert told[0].startswith(
        "After 21 Oct 2026, the last day to finish on: kept, not counted by these requirements: Thu 22 Oct 2026"
    )
    allowed = replace(seen, profile=short.model_copy(update={"counts_after_window": True}), _standings={})
    assert allowed.standing(c.amaru, c.skill(), LAST_DAY).streak == 1


# --- 27: a relative or an employer -----------------------------------------------------------------------------------


def test_case_27_a_tie_to_a_student_is_listed_for_the_lead_and_on_no_students_paper(small_centre: Centre) -> None:
    c = small_centre
    noting.note_interest(c.ledger, c.lead, c.course, c.assistant, c.zoe, day="2026-10-20", note="Her aunt.")
    seen = c.view()
    (line,) = gates_answer(seen, LAST_DAY).interests
    assert line.startswith("Lien Ito and Zoë")
    assert "Her aunt." in line
    assert "aunt" not in take_home(seen, c.zoe)
    assert "aunt" not in repr(competency_record(c.ledger, seen, c.zoe, LAST_DAY))
    assert c.assistant not in deciders(seen)


@pytest.mark.parametrize("who", ["amaru", "stranger"])
def test_case_27_a_tie_is_between_staff_and_a_student_of_the_course(small_centre: Centre, who: str) -> None:
    c = small_centre
    person = c.amaru if who == "amaru" else newcomer(c)
    told = refused(
        c, lambda: noting.note_interest(c.ledger, c.lead, c.course, person, c.zoe, day="2026-10-20", note="Tie.")
    )
    assert "Choose somebody of the staff and a student" in told


# --- 31: two people of one name --------------------------------------------------------------------------------------


def add(c: Centre, name: str, born: str | None, others: tuple[str, ...] = ()) -> str:
    return founding.add_person(c.ledger, c.lead, name=name, roles=[Role.STUDENT], birth_date=born, others=others)


def test_case_31_who_is_born_on_the_same_day_with_nearly_the_same_name_is_asked_about(small_centre: Centre) -> None:
    c = small_centre
    told = refused(c, lambda: add(c, "amaru TENDELE", "1998-02-03"))
    assert told.startswith("Amaru Tendelle, born on the same day, is in the centre already.")
    (known,) = alike(c.ledger, "amaru TENDELE", "1998-02-03")
    twin = add(c, "amaru TENDELE", "1998-02-03", others=(known.id,))
    assert person_fact(c, twin).birth_date == "1998-02-03"


@pytest.mark.parametrize("born", ["1998-02-04", None])
def test_case_31_nobody_is_taken_for_another_by_the_name_alone(small_centre: Centre, born: str | None) -> None:
    twin = add(small_centre, "Amaru Tendelle", born)
    assert twin != small_centre.amaru


def test_case_31_nobody_is_taken_for_another_by_the_birth_date_alone(small_centre: Centre) -> None:
    add(small_centre, "Nkechi Brandvold", "1998-02-03")


# --- what a doctor said ----------------------------------------------------------------------------------------------


def test_what_a_doctor_said_stands_on_no_page_of_the_student_and_no_paper(small_centre: Centre) -> None:
    c = small_centre
    proof(c, c.amaru, "pq-med", cleared=False)
    seen = c.view()
    told = [
        repr(student_page(seen, c.amaru, LAST_DAY)),
        repr(competency_record(c.ledger, seen, c.amaru, LAST_DAY)),
        repr(readiness(seen, LAST_DAY)),
        take_home(seen, c.amaru),
    ]
    assert [text for text in told if "cleared" in text] == []
    assert "ask the lead instructor" in told[0]
    stages = student_stages(seen, c.amaru, LAST_DAY)
    pool = next(stage for stage in stages.stages if stage.stage == "pool")
    (gate,) = [one for one in pool.gates if not one.open]
    assert gate.for_lead.endswith("not cleared")
    assert "cleared" not in gate.words
