"""Every action: it works, and each refusal says its sentence and changes nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from centre_builder import (
    CRITICAL_ERROR,
    LAST_DAY,
    POOL_SKILL,
    ZONE,
    Centre,
    critical_mark,
    note_papers,
    seen_at,
    sheet_of,
)

from course.actions import amending, settling
from course.actions import attempts as trying
from course.actions import centre as founding
from course.actions import courses as planning
from course.actions.attempts import SheetContent, Value
from course.actions.signing import sign, sign_all
from course.answers.decisions import evidence, to_sign
from course.errors import CourseError, NotFoundError, RefusedError
from course.moments import new_id
from course.record.events import MarkGiven
from course.record.facts import Course, Person, Session, Unit
from course.standards.standards import Standards
from course.words import Capacity, Closing, DecisionKind, Mark, Role, SpanRole

STRANGER = "0192d000-0000-7000-8000-00000000ffff"
Act = Callable[[Centre], Any]


def event_of(centre: Centre, kind: str, subject: str | None = None) -> str:
    """The last event of a kind."""
    return [e.id for e in centre.ledger.events(subject) if e.kind == kind][-1]


def refused(centre: Centre, act: Act) -> str:
    """The sentence of a refusal, after which nothing is changed."""
    before = centre.count()
    with pytest.raises(CourseError) as error:
        act(centre)
    assert isinstance(error.value, RefusedError | NotFoundError)
    assert centre.count() == before
    return error.value.sentence


# --- centre ---------------------------------------------------------------------------------------------------------


def test_a_centre_has_its_lead_from_the_first_moment(small_centre: Centre) -> None:
    person = small_centre.ledger.fact("person", small_centre.lead)
    assert isinstance(person, Person)
    assert person.roles == (Role.LEAD,)
    assert small_centre.ledger.private(person)["name"] == "Tamsin Okoro-Vale"


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"zone": "Atlantic/Azorez"}, "There is no time zone 'Atlantic/Azorez'."),
        ({"name": "  "}, "“Name of the centre” is empty. Nothing was changed."),
        ({"lead_name": ""}, "“Name” is empty. Nothing was changed."),
        ({"lead_name": "Tam\u202esin"}, "a mark that nobody can see (U+202E RIGHT-TO-LEFT OVERRIDE)"),
    ],
)
def test_a_centre_that_cannot_be_made_leaves_no_folder(tmp_path: Path, fields: dict[str, str], told: str) -> None:
    with pytest.raises(RefusedError) as error:
        founding.make_centre(tmp_path / "new", **({"name": "Kelp", "lead_name": "Tamsin", "zone": ZONE} | fields))
    assert told in error.value.sentence
    assert not (tmp_path / "new").exists()


def test_a_unit_has_a_label_of_its_own(small_centre: Centre) -> None:
    made = founding.add_unit(small_centre.ledger, small_centre.lead, label="A-06", unit_type="type-a", serial="77")
    unit = small_centre.ledger.fact("unit", made)
    assert isinstance(unit, Unit)
    assert (unit.label, small_centre.ledger.private(unit)["serial"]) == ("A-06", "77")


def test_the_same_rubric_files_are_adopted_once(small_centre: Centre, standards: Standards) -> None:
    before = small_centre.count()
    assert founding.adopt_standards(small_centre.ledger, small_centre.lead, standards) == small_centre.adoption
    assert small_centre.count() == before


def test_what_is_adopted_is_what_was_written(small_centre: Centre, standards: Standards) -> None:
    """With its empty fields and without defaults: the hash of a skill is that of what its author wrote."""
    fact = small_centre.ledger.fact("adoption", small_centre.adoption)
    assert fact is not None
    assert fact.model_dump()["files"] == dict(standards.written)


def test_enrolling_again_in_the_same_role_adds_nothing(small_centre: Centre) -> None:
    before = small_centre.count()
    planning.enrol(small_centre.ledger, small_centre.lead, small_centre.course, small_centre.amaru, Role.STUDENT)
    assert small_centre.count() == before


def test_groups_spans_and_water_times_are_of_their_session(small_centre: Centre) -> None:
    c, session = small_centre, small_centre.sessions["pool-22"]
    group = planning.make_group(c.ledger, c.lead, session, name="Left", staff=[c.lead], students=[c.amaru, c.zoe])
    span = planning.span(c.lead, session=session, person=c.amaru, role=SpanRole.STUDENT, start=seen_at(22), group=group)
    water = planning.water_time(c.lead, session=session, person=c.amaru, loop_minutes=31, max_depth_m="4.5")
    planning.record_times(c.ledger, c.lead, [span, water])
    fact = c.ledger.fact("session", session)
    assert isinstance(fact, Session)
    assert fact.spans[0].end is None
    planning.end_span(c.ledger, c.lead, session, fact.spans[0].id, seen_at(22, 15))
    fact = c.ledger.fact("session", session)
    assert isinstance(fact, Session)
    assert (fact.groups[0].students, fact.spans[0].end) == ((c.amaru, c.zoe), seen_at(22, 15))
    assert (fact.water[0].loop_minutes, fact.water[0].max_depth_m) == (31, "4.5")
    again = refused(c, lambda c: planning.end_span(c.ledger, c.lead, session, fact.spans[0].id, seen_at(22, 16)))
    assert again == "This time has an end already; correct that one. Nothing was changed."


_SET_UP: list[tuple[str, Act, str]] = [
    ("stranger", lambda c: founding.add_person(c.ledger, STRANGER, name="A", roles=[Role.STUDENT]), "no such acting"),
    (
        "student",
        lambda c: founding.add_person(c.ledger, c.amaru, name="A", roles=[Role.STUDENT]),
        ("Only somebody who is lead instructor or instructor may set up people, units, courses and sessions; this "
        "person is student. Nothing was changed."),
    ),
    ("no name", lambda c: founding.add_person(c.ledger, c.lead, name="", roles=[Role.STUDENT]), "“Name” is empty."),
    ("no role", lambda c: founding.add_person(c.ledger, c.lead, name="A", roles=[]), "“Role” is empty."),
    (
        "birth date",
        lambda c: founding.add_person(c.ledger, c.lead, name="A", roles=[Role.STUDENT], birth_date="2026-02-30"),
        "“Birth date” is no day of the calendar, written as 2026-10-25. Nothing was changed.",
    ),
    (
        "label",
        lambda c: founding.add_unit(c.ledger, c.lead, label="a-05", unit_type="type-a"),
        "There is a unit a-05 already. Give this one another label. Nothing was changed.",
    ),
    (
        "check of nobody",
        lambda c: founding.record_check_out(c.ledger, c.lead, STRANGER, "type-a", "2026-01-01"),
        "There is no such person in this centre.",
    ),
    (
        "revision",
        lambda c: planning.make_course(
            c.ledger, c.lead, title="KW", zone=ZONE, adoption=c.adoption, profile="ex-first-unit", revision="r9",
            first_day="2026-10-20", last_day="2026-10-25",
        ),
        'There is no revision of ex-first-unit "r9".',
    ),
    (
        "days",
        lambda c: planning.make_course(
            c.ledger, c.lead, title="KW", zone=ZONE, adoption=c.adoption, profile="ex-first-unit", revision="r1",
            first_day="2026-10-25", last_day="2026-10-20",
        ),
        "the last day of the course is before its first day. Nothing was changed.",
    ),
    (
        "adoption",
        lambda c: planning.make_course(
            c.ledger, c.lead, title="KW", zone=ZONE, adoption=STRANGER, profile="ex-first-unit", revision="r1",
            first_day="2026-10-20", last_day="2026-10-25",
        ),
        "There is no such adopted rubric in this centre.",
    ),
    (
        "student as instructor",
        lambda c: planning.enrol(c.ledger, c.lead, c.course, c.amaru, Role.INSTRUCTOR),
        "This person is student in the centre, and cannot be instructor of a course. Nothing was changed.",
    ),
    (
        "unit for a stranger",
        lambda c: planning.assign_unit(c.ledger, c.lead, c.course, STRANGER, c.unit_a, "2026-10-20"),
        "This person is not on the course. Put them on it first. Nothing was changed.",
    ),
    (
        "unknown unit type",
        lambda c: planning.assign_unit(
            c.ledger, c.lead, c.course, c.amaru, c.ledger.facts("unit")[-1].id, "2026-10-20"
        ),
        'There is no unit type "type-z".',
    ),
    (
        "session backwards",
        lambda c: planning.plan_session(
            c.ledger, c.lead, course=c.course, title="P", setting="pool", start=seen_at(22, 15), end=seen_at(22, 14)
        ),
        "the session ends before it begins. Nothing was changed.",
    ),
    (
        "setting",
        lambda c: planning.plan_session(
            c.ledger, c.lead, course=c.course, title="P", setting="cave", start=seen_at(22), end=seen_at(22, 15)
        ),
        "“Setting” is none of",
    ),
    (
        "both in one group",
        lambda c: planning.make_group(
            c.ledger, c.lead, c.sessions["pool-22"], name="G", staff=[c.lead], students=[c.lead]
        ),
        "Somebody is named as staff and as student of the same group. Nothing was changed.",
    ),
    (
        "no such span",
        lambda c: planning.end_span(c.ledger, c.lead, c.sessions["pool-22"], STRANGER, seen_at(22)),
        "There is no such time in this session. Nothing was changed.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("act", "told"), [case[1:] for case in _SET_UP], ids=[case[0] for case in _SET_UP])
def test_setting_up_refuses_and_changes_nothing(small_centre: Centre, act: Act, told: str) -> None:
    founding.add_unit(small_centre.ledger, small_centre.lead, label="Z-01", unit_type="type-z")
    assert told in refused(small_centre, act)


# --- attempts -------------------------------------------------------------------------------------------------------


def test_an_attempt_is_opened_with_the_student_s_unit_of_that_day(small_centre: Centre) -> None:
    c = small_centre
    planning.assign_unit(c.ledger, c.lead, c.course, c.amaru, c.unit_b, "2026-10-23")
    first, later = c.attempt(c.open("pool-22").attempt), c.attempt(c.open("pool-23").attempt)
    assert (first.unit, first.unit_type) == (c.unit_a, "type-a")
    assert (later.unit, later.unit_type) == (c.unit_b, "type-b")
    assert (first.number, later.number, first.setting) == (1, 2, "pool")


def test_the_next_number_is_free_also_after_a_withdrawal(small_centre: Centre) -> None:
    c = small_centre
    one, two = c.open(), c.open()
    amending.withdraw(c.ledger, c.lead, event_of(c, "attempt_opened/1", one.attempt), "entered twice")
    assert c.attempt(two.attempt).number == 2
    assert c.attempt(c.open().attempt).number == 3


@pytest.mark.parametrize(
    ("who", "capacity"),
    [("lead", "evaluating"), ("second", "evaluating"), ("assistant", "practice"), ("candidate", "practice")],
)
def test_only_a_lead_s_or_an_instructor_s_sheet_evaluates(small_centre: Centre, who: str, capacity: str) -> None:
    c = small_centre
    opened = c.open()
    sheet = trying.start_sheet(c.ledger, getattr(c, who), opened.attempt, seen_at(22))
    found = next(s for s in c.attempt(opened.attempt).sheets if s.id == sheet)
    assert found.capacity == Capacity(capacity)
    assert (sheet == opened.sheet) is (who == "lead")


_OPENING: list[tuple[str, Act, str]] = [
    ("no such course", lambda c: trying.open_attempt(
        c.ledger, c.lead, course=STRANGER, session=c.sessions["pool-22"], student=c.amaru, skill=POOL_SKILL,
        observed=seen_at(22),
    ), "There is no such course in this centre."),
    ("no student", lambda c: c.open(student=c.second),
     "This person is no student of the course. Put them on it on People first. Nothing was changed."),
    ("candidate", lambda c: c.open(student=c.candidate), "This person is no student of the course."),
    ("setting", lambda c: c.open("pool-22", skill="asm-head"),
     "Seat the head on the canister is for dry, and Pool Of The 22 is pool. Nothing was changed."),
    ("unit", lambda c: c.open("dry-21", skill="asm-scrubber-cartridge"),
     "is not for this student's unit. Assign the unit on People first, or choose another skill. Nothing was changed."),
    ("skill", lambda c: c.open(skill="mp-close-oat"), 'There is no skill "mp-close-oat".'),
    ("observer", lambda c: c.open(by=c.zoe), "may fill a practice sheet; this person is student."),
    ("step", lambda c: c.enter("pool-22", MarkGiven(step="co-gone", mark=Mark.DONE)),
     ("Close before it leaves the mouth has no step 'co-gone' in the rubric that this attempt is marked by. "
     "It was NOT saved; reload the page.")),
    ("error", lambda c: c.enter("pool-22", MarkGiven(step="co-out", mark=Mark.ERROR, errors=("co-half",))),
     "The step 'co-out' has no error 'co-half'. The mark was NOT saved; reload the page."),
    ("x", lambda c: c.enter("pool-22", MarkGiven(step="co-out", mark=Mark.ERROR, errors=("x",))),
     "Say in a few words what went wrong in: Only then take it out of the mouth. The mark was NOT saved."),
    ("order", lambda c: trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["pool-22"], student=c.amaru, skill=POOL_SKILL,
        observed=seen_at(22), sheets=[(c.lead, SheetContent(out_of_order=(("co-out", "co-gone"),)))],
    ), "has no step 'co-gone'"),
    ("value", lambda c: trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["pool-22"], student=c.amaru, skill=POOL_SKILL,
        observed=seen_at(22), sheets=[(c.lead, SheetContent(values=(Value("co-out", "3"),)))],
    ), "Close before it leaves the mouth asks for no value in step 'co-out'. The value was NOT saved."),
    ("first sheet", lambda c: trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["pool-22"], student=c.amaru, skill=POOL_SKILL,
        observed=seen_at(22), sheets=[(c.second, SheetContent())],
    ), "Each observer has one sheet, and the first is that of whoever enters. Nothing was changed."),
    ("no sheet", lambda c: trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["pool-22"], student=c.amaru, skill=POOL_SKILL,
        observed=seen_at(22), sheets=[],
    ), "Each observer has one sheet"),
    ("stopped by nobody", lambda c: c.enter("pool-22", closing=Closing.STOPPED),
     "a stopped attempt says who stopped it, and no other does. Nothing was changed."),
    ("void without reason", lambda c: c.enter("pool-22", closing=Closing.VOID),
     "A reason is needed, in a few words. Nothing was changed."),
    ("void over critical", lambda c: c.enter("pool-22", critical_mark(), closing=Closing.VOID, reason="boat"),
     ("A critical error was marked in this attempt: voiding it needs the name of a second instructor. "
     "Nothing was changed.")),
    ("void, second is the first", lambda c: c.enter(
        "pool-22", critical_mark(), closing=Closing.VOID, reason="boat", second=c.lead), "a second instructor"),
    ("void, second is an assistant", lambda c: c.enter(
        "pool-22", critical_mark(), closing=Closing.VOID, reason="boat", second=c.assistant), "a second instructor"),
    ("void over a critical order", lambda c: trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["pool-22"], student=c.amaru, skill=POOL_SKILL,
        observed=seen_at(22), sheets=[(c.lead, SheetContent(out_of_order=(("co-out", "co-close"),)))],
        closing=Closing.VOID, reason="boat",
    ), "a second instructor"),
    ("accepted here", lambda c: c.enter("pool-22", accepted=True),
     "Only an attempt from elsewhere is accepted or not. Nothing was changed."),
]  # fmt: skip


@pytest.mark.parametrize(("act", "told"), [case[1:] for case in _OPENING], ids=[case[0] for case in _OPENING])
def test_an_attempt_that_does_not_fit_is_refused(small_centre: Centre, act: Act, told: str) -> None:
    assert told in refused(small_centre, act)


def test_the_same_attempt_is_not_entered_twice(small_centre: Centre) -> None:
    small_centre.enter("dry-21", number=1)
    assert refused(small_centre, lambda c: c.enter("pool-22", number=1)) == (
        "Attempt 1 of this student at Close before it leaves the mouth is in the ledger already. Nothing was changed."
    )


def test_nobody_marks_their_own_attempt(small_centre: Centre) -> None:
    """An instructor who learns a unit as a student of the same course."""
    c = small_centre
    note_papers(c.ledger, c.lead, c.course, c.second)
    planning.enrol(c.ledger, c.lead, c.course, c.second, Role.STUDENT)
    planning.assign_unit(c.ledger, c.lead, c.course, c.second, c.unit_a, "2026-10-20")
    told = refused(c, lambda c: c.open(student=c.second, by=c.second))
    assert told == "Nobody marks their own attempt. Nothing was changed."
    assert c.attempt(c.open(student=c.second).attempt).student == c.second


def test_candidates_are_the_ones_who_learn_on_a_course_for_candidates(small_centre: Centre) -> None:
    c = small_centre
    course = planning.make_course(
        c.ledger, c.lead, title="IC", zone=ZONE, adoption=c.adoption, profile="ex-candidate", revision="r1",
        first_day="2026-10-20", last_day="2026-10-25",
    )  # fmt: skip
    note_papers(c.ledger, c.lead, course, c.candidate)
    planning.enrol(c.ledger, c.lead, course, c.candidate, Role.CANDIDATE)
    planning.assign_unit(c.ledger, c.lead, course, c.candidate, c.unit_a, "2026-10-20")
    session = planning.plan_session(
        c.ledger, c.lead, course=course, title="Bench", setting="dry", start=seen_at(21), end=seen_at(21, 16)
    )
    opened = trying.open_attempt(
        c.ledger, c.lead, course=course, session=session, student=c.candidate, skill="ic-show", observed=seen_at(21)
    )
    assert c.attempt(opened.attempt).student == c.candidate


def test_an_entered_attempt_has_every_observer_s_sheet_and_its_end(small_centre: Centre) -> None:
    c = small_centre
    note = MarkGiven(step="co-out", mark=Mark.ERROR, errors=("x",))
    content = SheetContent(
        marks=(note,), whole_clean=True, out_of_order=(("co-hold", "co-out"),), notes={"co-out": "ü"}
    )
    attempt = c.attempt(c.enter("pool-22", others=((c.second, content),), closing=Closing.VOID, reason="a swimmer"))
    assert [sheet.observer for sheet in attempt.sheets] == [c.lead, c.second]
    assert attempt.sheets[1].whole_clean is not None
    assert [(o.first_done, o.should_come_first) for o in attempt.sheets[1].orders] == [("co-hold", "co-out")]
    assert attempt.ending is not None
    assert (attempt.ending.how, attempt.ending.closed_by) == (Closing.VOID, c.lead)
    private = c.ledger.private(attempt)
    assert private["by_event"][attempt.ending.event] == {"reason": "a swimmer"}
    assert {"notes": {"co-out": "ü"}} in private["by_event"].values()


def test_a_void_over_a_critical_error_names_the_second_instructor(small_centre: Centre) -> None:
    c = small_centre
    entered = c.enter("pool-22", critical_mark(), closing=Closing.VOID, reason="a swimmer", second=c.second)
    ending = c.attempt(entered).ending
    assert ending is not None
    assert ending.second == c.second


# --- settling -------------------------------------------------------------------------------------------------------


def _two_sheets(c: Centre, second: str = "") -> str:
    by = second or c.second
    return c.enter("pool-22", critical_mark(), others=((by, sheet_of(c.skill())),))


def test_a_joint_line_stands_with_its_reason_and_can_be_agreed_anew(small_centre: Centre) -> None:
    c = small_centre
    attempt, both = _two_sheets(c), [c.lead, c.second]
    done = MarkGiven(step="co-out", mark=Mark.DONE)
    settling.agree_joint_line(c.ledger, c.lead, attempt, done, both, "seen on the film", seen_at(22, 17))
    other = MarkGiven(step="co-out", mark=Mark.ERROR, errors=("x",))
    settling.agree_joint_line(c.ledger, c.lead, attempt, other, both, "it slipped", seen_at(22, 18))
    (line,) = c.attempt(attempt).joint
    assert (line.mark, line.errors, line.observers) == (Mark.ERROR, ("x",), (c.lead, c.second))


def test_a_joint_line_carries_the_value_agreed_on(small_centre: Centre) -> None:
    c = small_centre
    skill = c.skill("chk-negative")
    step = next(step for step in skill.steps if step.limit)
    attempt = c.enter("dry-21", skill="chk-negative", others=((c.second, sheet_of(skill)),))
    line = MarkGiven(step=step.id, mark=Mark.DONE)

    def agree(value: str, on: MarkGiven = line) -> None:
        settling.agree_joint_line(c.ledger, c.lead, attempt, on, [c.lead, c.second], "film", seen_at(21), value)

    agree("61.5")
    assert c.attempt(attempt).joint[0].value == "61.5"
    assert "“Value” is no plain decimal number" in refused(c, lambda c: agree("a minute"))
    other = next(step for step in skill.steps if not step.limit)
    assert "asks for no value" in refused(c, lambda c: agree("3", MarkGiven(step=other.id, mark=Mark.DONE)))


def test_a_joint_line_is_for_two_who_evaluate(small_centre: Centre) -> None:
    c = small_centre
    attempt = _two_sheets(c, c.candidate)
    line = MarkGiven(step="co-out", mark=Mark.DONE)
    for observers in ([c.lead, c.candidate], [c.lead, c.lead], [c.lead, c.second]):
        told = refused(
            c, lambda c, o=observers: settling.agree_joint_line(c.ledger, c.lead, attempt, line, o, "film", seen_at(22))
        )
        assert told.startswith("A joint line is agreed by two observers who each hold an evaluating sheet")


def test_attempts_that_were_one_try_share_a_joint_line(small_centre: Centre) -> None:
    """Two laptops: the second instructor's sheet stands on an attempt of its own."""
    c = small_centre
    one, two = c.enter("pool-22", critical_mark()), c.enter("pool-22", by=c.second)
    settling.join_attempts(c.ledger, c.lead, [one, two], "one try, two tablets")
    line = MarkGiven(step="co-out", mark=Mark.DONE)
    settling.agree_joint_line(c.ledger, c.second, two, line, [c.lead, c.second], "film", seen_at(22, 17))
    (kept,) = c.view().attempts
    assert (kept.id, len(kept.sheets), len(kept.joint)) == (one, 2, 1)


def test_only_attempts_of_one_student_and_skill_can_have_been_one_try(small_centre: Centre) -> None:
    c = small_centre
    one, other = c.enter("pool-22"), c.enter("pool-22", student=c.zoe)
    told = refused(c, lambda c: settling.join_attempts(c.ledger, c.lead, [one, other], "one try"))
    assert told.startswith("Only attempts of one student at one skill on one course can have been one try.")
    told = refused(c, lambda c: settling.join_attempts(c.ledger, c.lead, [one, one], "one try"))
    assert told == "Name two attempts or more that were one try. Nothing was changed."


def test_an_attempt_from_elsewhere_counts_as_accepted_and_the_lead_may_think_again(small_centre: Centre) -> None:
    c = small_centre
    entered = c.enter("pool-22", elsewhere="Basalt Rebreathers")
    assert c.attempt(entered).accepted is None
    for accepted in (False, True):
        settling.answer_elsewhere(c.ledger, c.lead, entered, "spoke with them", accepted=accepted)
        assert c.attempt(entered).accepted is accepted
    here = c.enter("pool-23")
    told = refused(c, lambda c: settling.answer_elsewhere(c.ledger, c.lead, here, "why", accepted=True))
    assert told == "This attempt was seen here; there is nothing to accept. Nothing was changed."


# --- amending -------------------------------------------------------------------------------------------------------


def test_a_correction_stands_beside_the_old_line_and_a_second_one_takes_its_place(small_centre: Centre) -> None:
    c = small_centre
    session = c.sessions["pool-22"]
    event = event_of(c, "session_planned/1", session)
    for title in ("Pool A", "Pool B"):
        amending.correct(c.ledger, c.lead, event, "typing", private_change={"title": title, "place": title})
    amending.correct(c.ledger, c.lead, event, "typing", private_change={"title": "Pool C"})
    fact = c.ledger.fact("session", session)
    assert isinstance(fact, Session)
    assert (fact.title, fact.place, fact.contested) == ("Pool C", "Pool B", ())
    stored = c.ledger.event(event)
    assert stored is not None
    assert c.ledger.private_of(stored)["title"] == "Pool Of The 22"
    told = refused(c, lambda c: amending.correct(c.ledger, c.lead, event, "typing", private_change={"title": None}))
    assert told == "“Name of the session” cannot be empty. Nothing was changed."


def test_no_label_stands_readable_in_the_ledger(small_centre: Centre) -> None:
    """Titles, places and names of groups are free text, and somebody may put a name there."""
    c = small_centre
    event = event_of(c, "session_planned/1")
    amending.correct(c.ledger, c.lead, event, "typing", private_change={"title": "Canary Pool", "place": "Canary Bay"})
    c.enter("pool-22", elsewhere="Canary Centre")
    planning.make_group(c.ledger, c.lead, c.sessions["pool-22"], name="Canary Group", staff=[c.lead], students=[])
    stored = b"".join(file.read_bytes() for file in c.ledger.folder.glob("ledger.*"))
    assert b"Canary" not in stored
    session = c.ledger.fact("session", c.sessions["pool-22"])
    assert isinstance(session, Session)
    assert session.groups[-1].name == "Canary Group"


def test_two_corrections_that_only_fit_one_by_one_are_refused_here(small_centre: Centre) -> None:
    """The second is checked against the session as it stands with the first."""
    c = small_centre
    event = event_of(c, "session_planned/1", c.sessions["pool-22"])
    late = seen_at(22, 16).model_dump(mode="json")
    amending.correct(c.ledger, c.lead, event, "typing", change={"start": late})
    early = seen_at(22, 15).model_dump(mode="json")
    told = refused(c, lambda c: amending.correct(c.ledger, c.lead, event, "typing", change={"end": early}))
    assert told == "the session ends before it begins. Nothing was changed."


def test_a_corrected_name_is_sealed_with_the_person_s_own_key(small_centre: Centre) -> None:
    """Else erasing the person would leave the name readable."""
    c = small_centre
    event = event_of(c, "person_added/1", c.amaru)
    amending.correct(c.ledger, c.lead, event, "misheard", private_change={"name": "Amaru Tendelli"})
    person = c.ledger.fact("person", c.amaru)
    assert person is not None
    assert c.ledger.private(person)["name"] == "Amaru Tendelli"
    assert {piece.of for piece in person.private} == {c.amaru}
    c.ledger.forget(c.amaru)
    assert c.ledger.private(person) == {"by_event": {}}


def test_a_withdrawn_correction_of_a_name_no_longer_speaks(small_centre: Centre) -> None:
    c = small_centre
    event = event_of(c, "person_added/1", c.amaru)
    change = amending.correct(c.ledger, c.lead, event, "misheard", private_change={"name": "Wrong"})
    amending.withdraw(c.ledger, c.lead, change, "it was right")
    assert c.view().people[c.amaru].name == "Amaru Tendelle"


def test_what_is_written_about_an_attempt_is_sealed_with_the_student_s_key(small_centre: Centre) -> None:
    c = small_centre
    one, two = c.enter("pool-22"), c.enter("pool-22")
    settling.join_attempts(c.ledger, c.lead, [one, two], "one try")
    join = c.ledger.facts("join")[0]
    withdrawal = amending.withdraw(c.ledger, c.lead, event_of(c, "attempt_opened/1", two), "never happened")
    stored = c.ledger.event(withdrawal)
    assert stored is not None
    assert {piece.of for piece in join.private} == {c.amaru}
    assert f'"of":"{c.amaru}"' in stored.body


def test_an_attempt_moves_to_the_right_student(small_centre: Centre) -> None:
    c = small_centre
    entered = c.enter("pool-22")
    event = event_of(c, "attempt_opened/1", entered)
    amending.correct(c.ledger, c.lead, event, "initials alike", change={"student": c.zoe})
    seen = c.view()
    assert c.attempt(entered).student == c.zoe
    assert seen.seen(c.amaru, c.skill()) == ()
    assert [s.attempt.id for s in seen.seen(c.zoe, c.skill())] == [entered]


_AMENDING: list[tuple[str, Act, str]] = [
    ("no event", lambda c: amending.withdraw(c.ledger, c.lead, STRANGER, "why"),
     "There is no such line in the ledger. Nothing was changed."),
    ("no reason", lambda c: amending.withdraw(c.ledger, c.lead, event_of(c, "attempt_opened/1"), " "),
     "A reason is needed, in a few words. Nothing was changed."),
    ("assistant", lambda c: amending.withdraw(c.ledger, c.assistant, event_of(c, "attempt_opened/1"), "why"),
     "may correct or withdraw what stands in the ledger; this person is assistant."),
    ("centre", lambda c: amending.withdraw(c.ledger, c.lead, event_of(c, "centre_made/1"), "why"),
     "centre_made/1 is not withdrawn: the ledger began with it. Nothing was changed."),
    ("rubric", lambda c: amending.withdraw(c.ledger, c.lead, event_of(c, "rubric_adopted/1"), "why"),
     "rubric_adopted/1 is not withdrawn: courses and attempts rest on its very words"),
    ("member", lambda c: amending.withdraw(c.ledger, c.lead, event_of(c, "person_added/1", c.zoe), "why"),
     "This person is on a course, or leads the centre. Withdraw or move these first. Nothing was changed."),
    ("unit", lambda c: amending.withdraw(c.ledger, c.lead, event_of(c, "unit_added/1", c.unit_a), "why"),
     "This unit is assigned on a course. Withdraw or move these first. Nothing was changed."),
    ("course", lambda c: amending.withdraw(c.ledger, c.lead, event_of(c, "course_made/1"), "why"),
     "This course has sessions."),
    ("session", lambda c: amending.withdraw(
        c.ledger, c.lead, event_of(c, "session_planned/1", c.sessions["pool-22"]), "why"),
     "Attempts were seen in this session."),
    ("unknown field", lambda c: amending.correct(
        c.ledger, c.lead, event_of(c, "session_planned/1"), "why", change={"colour": "red"}),
     "session_planned/1 has no field colour to correct. Nothing was changed."),
    ("nothing", lambda c: amending.correct(c.ledger, c.lead, event_of(c, "session_planned/1"), "why"),
     "session_planned/1 has no field named to correct. Nothing was changed."),
    ("own id", lambda c: amending.correct(
        c.ledger, c.lead, event_of(c, "session_planned/1"), "why", change={"session": STRANGER}), "no field session"),
    ("private in plain", lambda c: amending.correct(
        c.ledger, c.lead, event_of(c, "person_added/1"), "why", change={"name": "Open"}), "no field name"),
    ("misfit", lambda c: amending.correct(
        c.ledger, c.lead, event_of(c, "session_planned/1"), "why", change={"setting": "cave"}), "“Setting” is none of"),
    ("skill", lambda c: amending.correct(
        c.ledger, c.lead, event_of(c, "attempt_opened/1"), "why", change={"skill": "mp-reentry"}),
     "An attempt stays with its skill and course. Withdraw it and enter it where it belongs. Nothing was changed."),
    ("moved to nobody", lambda c: amending.correct(
        c.ledger, c.lead, event_of(c, "attempt_opened/1"), "why", change={"student": c.assistant}),
     "This person is no student of the course."),
    ("moved to no session", lambda c: amending.correct(
        c.ledger, c.lead, event_of(c, "attempt_opened/1"), "why", change={"session": STRANGER}),
     "There is no such session in this centre."),
]  # fmt: skip


@pytest.mark.parametrize(("act", "told"), [case[1:] for case in _AMENDING], ids=[case[0] for case in _AMENDING])
def test_amending_refuses_and_changes_nothing(small_centre: Centre, act: Act, told: str) -> None:
    small_centre.enter("pool-22")
    assert told in refused(small_centre, act)


def test_neither_a_correction_nor_a_decision_is_corrected(small_centre: Centre) -> None:
    c = small_centre
    event = event_of(c, "session_planned/1")
    amending.correct(c.ledger, c.lead, event, "why", private_change={"title": "P"})
    c.hold()
    _sign(c)
    for kind, told in (("corrected/1", "correct the line that it corrects once more"), ("signed/1", "decide anew")):
        assert told in refused(
            c,
            lambda c, k=kind: amending.correct(c.ledger, c.lead, event_of(c, k), "why", change={"as_of": "2026-10-25"}),
        )


def test_an_amended_mark_takes_the_place_of_the_old_one_with_its_reason(small_centre: Centre) -> None:
    c = small_centre
    entered = c.enter("pool-22", critical_mark())
    sheet = c.attempt(entered).sheets[0].id
    line = MarkGiven(step="co-out", mark=Mark.ERROR, errors=("x",))
    amending.amend_marks(c.ledger, c.lead, entered, sheet, line, "wrong letter", seen_at(22, 18), note="it slipped")
    (mark,) = [m for m in c.attempt(entered).sheets[0].marks if m.step == "co-out"]
    assert (mark.errors, mark.late) == (("x",), True)
    told = refused(c, lambda c: amending.amend_marks(c.ledger, c.second, entered, sheet, line, "no", seen_at(22), "n"))
    assert told.startswith("Only its observer amends a sheet; another observer starts a sheet of their own.")
    told = refused(c, lambda c: amending.amend_marks(c.ledger, c.lead, entered, new_id(), line, "no", seen_at(22), "n"))
    assert told == "This attempt has no such sheet. Nothing was changed."


# --- signing --------------------------------------------------------------------------------------------------------


def _rests_on(c: Centre) -> str:
    seen = c.view()
    return evidence(seen, c.skill(), seen.standing(c.amaru, c.skill(), LAST_DAY))


def _sign(c: Centre, **more: Any) -> str:
    plain: dict[str, Any] = {
        "course": c.course, "student": c.amaru, "skill": POOL_SKILL, "decided": DecisionKind.AGREED, "as_of": LAST_DAY,
        "rests_on": _rests_on(c),
    }  # fmt: skip
    by = more.pop("by", c.lead)
    return sign(c.ledger, by, **(plain | more))


def test_a_signature_keeps_what_it_rests_on(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    decision = c.ledger.fact("decision", _sign(c))
    assert decision is not None
    told = decision.model_dump()
    assert (told["standing"], told["decided_by"], told["rests_on"]) == ("met", c.lead, _rests_on(c))
    assert told["sentence"] == "Met on 25 Oct 2026, good until 23 Jan 2027."
    assert told["as_of"] == "2026-10-25"


def test_signing_refuses_and_changes_nothing(small_centre: Centre) -> None:
    c = small_centre
    told = refused(c, _sign)
    assert told == (
        "Close before it leaves the mouth: Not started. Only a standing that is met is signed. Nothing was signed."
    )
    c.hold()
    assert refused(c, lambda c: _sign(c, rests_on="0" * 64)) == (
        "Close before it leaves the mouth: the record changed since this page showed it. "
        "Look at it again; nothing was signed."
    )
    assert "may sign a standing; this person is candidate" in refused(c, lambda c: _sign(c, by=c.candidate))
    assert refused(c, lambda c: _sign(c, decided=DecisionKind.STRICTER)) == (
        "A reason is needed, in a few words. Nothing was changed."
    )
    outside = founding.add_person(c.ledger, c.lead, name="Ines", roles=[Role.INSTRUCTOR])
    assert refused(c, lambda c: _sign(c, by=outside)) == (
        "Only a lead or an instructor of this course signs. Nothing was signed."
    )


def test_all_that_a_student_holds_is_signed_together_or_not_at_all(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    c.hold(skill="mp-reentry")

    def shown() -> dict[str, str]:
        return {one.skill: one.rests_on for one in to_sign(c.view(), c.amaru, LAST_DAY)}

    def all_of_it(c: Centre, rests_on: dict[str, str], by: str = "") -> tuple[str, ...]:
        return sign_all(c.ledger, by or c.lead, course=c.course, student=c.amaru, as_of=LAST_DAY, rests_on=rests_on)

    seen = shown()
    assert seen.keys() == {POOL_SKILL, "mp-reentry"}
    for wrong, told in (
        (seen | {"mp-reentry": "0" * 64}, "the record changed since this page showed it."),
        ({}, "There is nothing to sign for this student now."),
    ):
        assert told in refused(c, lambda c, w=wrong: all_of_it(c, w))
    assert "may sign a standing" in refused(c, lambda c: all_of_it(c, seen, c.assistant))
    assert len(all_of_it(c, seen)) == 2
    assert shown() == {}
    _sign(c, decided=DecisionKind.STRICTER, reason="once more")
    assert shown() == {}, "what somebody held back is not offered"


def test_what_this_version_cannot_read_or_is_contested_is_not_signed(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    c = small_centre
    c.hold()
    rests_on, seen = _rests_on(c), c.view()
    for update, told in (
        ({"unread": ("marks_given/9",)}, "The record holds what this version cannot read (marks_given/9)."),
        ({"unread": ("unit_assigned/9",), "id": c.course}, "cannot read (unit_assigned/9)"),
    ):
        with monkeypatch.context() as patch:
            if isinstance(update.get("id"), str):
                fact = c.ledger.fact("course", c.course)
                assert isinstance(fact, Course)
                patch.setitem(seen.__dict__, "course", fact.model_copy(update=update))
            else:
                first = seen.attempts[0].model_copy(update=update)
                patch.setitem(seen.__dict__, "attempts", (first, *seen.attempts[1:]))
                patch.delitem(seen.__dict__, "by_student_and_skill")
            assert told in refused(c, lambda c: _sign(c, rests_on=rests_on))
            seen.__dict__.pop("by_student_and_skill", None)
    assert _sign(c)


def test_an_error_id_of_the_rubric_is_what_the_builder_says() -> None:
    """The examples above rest on a shipped rubric; a change of it shows here first."""
    assert CRITICAL_ERROR == ("co-out", "co-open-out")
