"""The logic of the pages, without a browser: what they say first, and what an act on them does."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from centre_builder import note_papers, shipped_standards
from opened_page import app_at
from streamlit.testing.v1 import AppTest

from course.actions import amending, attempts, centre, courses
from course.actions.pad import take
from course.answers.course_view import view
from course.answers.skill_detail import skill_detail
from course.moments import from_wall_clock, observed_at
from course.places import SCREENS
from course.record.events import MarkGiven
from course.screens import serve
from course.storage.ledger import Ledger
from course.words import Mark, Role

APP = str(SCREENS / "app.py")
ZONE = "Atlantic/Azores"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """An empty centre that the pages work on."""
    with centre.make_centre(tmp_path / "centre", name="Harbour House", lead_name="Ines Duarte", zone=ZONE) as made:
        serve.start(made, take)
        yield made


@pytest.fixture
def with_attempt(ledger: Ledger) -> tuple[Ledger, str, str]:
    """A course with one student who holds one skill; returns course and student."""
    lead = ledger.fact("centre", ledger.centre_id).lead
    adoption = centre.adopt_standards(ledger, lead, shipped_standards())
    course = courses.make_course(
        ledger, lead, title="First *course*", zone=ZONE, adoption=adoption, profile="ex-first-unit", revision="r1",
        first_day="2026-10-20", last_day="2026-10-25",
    )  # fmt: skip
    unit = centre.add_unit(ledger, lead, label="A-05", unit_type="type-a")
    student = centre.add_person(ledger, lead, name="Amaru <b>Tendelle</b>", roles=[Role.STUDENT])
    note_papers(ledger, lead, course, student)
    courses.enrol(ledger, lead, course, student, Role.STUDENT)
    courses.assign_unit(ledger, lead, course, student, unit, "2026-10-20")
    start, end = (observed_at(from_wall_clock(datetime(2026, 10, 22, hour), ZONE), ZONE, "minute") for hour in (9, 12))
    session = courses.plan_session(
        ledger, lead, course=course, title="Bench", setting="dry", start=start, end=end, place="Bench room"
    )
    marks = tuple(MarkGiven(step=step, mark=Mark.DONE) for step in ("sr-loose", "sr-fault", "sr-cyl"))
    attempts.enter_attempt(
        ledger, lead, course=course, session=session, student=student, skill="po-store", observed=start,
        sheets=[(lead, attempts.SheetContent(marks=marks))],
    )  # fmt: skip
    return ledger, course, student


def page(name: str = "mark.py", **query: str) -> AppTest:
    app = AppTest.from_file(APP, default_timeout=60)
    for key, value in query.items():
        app.query_params[key] = value
    app.run()
    if name != "today.py" and not query:
        app.switch_page(f"../../pages/{name}").run()
    assert not app.exception
    return app


def words(app: AppTest) -> str:
    parts = [*app.title, *app.subheader, *app.markdown, *app.text, *app.info, *app.warning, *app.error, *app.success]
    return "\n".join(str(part.value) for part in parts)


def test_the_first_screen_tells_a_newcomer_what_to_do(ledger: Ledger) -> None:
    app = page()
    assert "Start here" in words(app)
    assert app.button[0].label == "Make a course"


@pytest.mark.parametrize("name", ["course.py", "papers.py"])
def test_pages_without_a_course_teach_the_next_act(ledger: Ledger, name: str) -> None:
    app = page(name)
    assert len(app.button) == 1
    assert "People" in words(app) or "course" in words(app)


def test_a_course_without_students_says_so_on_every_page(ledger: Ledger) -> None:
    lead = ledger.fact("centre", ledger.centre_id).lead
    adoption = centre.adopt_standards(ledger, lead, shipped_standards())
    courses.make_course(
        ledger, lead, title="Empty", zone=ZONE, adoption=adoption, profile="ex-first-unit", revision="r1",
        first_day="2026-10-20", last_day="2026-10-25",
    )  # fmt: skip
    assert "needs a student and a session" in words(page())
    assert "Nobody is enrolled yet" in words(page("course.py"))
    assert "needs a course with students" in words(page("papers.py"))
    assert "Enter your students" in words(page("people.py"))


def test_a_name_with_markup_is_shown_as_it_stands(with_attempt: tuple[Ledger, str, str]) -> None:
    app = page("people.py")
    assert any(text.value.startswith("Amaru <b>Tendelle</b>") for text in app.text)
    assert "\\<b\\>" in words(page("course.py"))


def test_a_name_that_no_paper_can_hold_is_told_where_people_are_entered(with_attempt: tuple[Ledger, str, str]) -> None:
    ledger, _, _ = with_attempt
    lead = ledger.fact("centre", ledger.centre_id).lead
    assert not page("people.py").warning
    centre.add_person(ledger, lead, name="\u0633\u0644\u0645\u0649", roles=[Role.STUDENT])
    (told,) = page("people.py").warning
    assert told.value.startswith("No paper can name this person. The name")
    assert "write it in letters that can" in told.value
    assert "Nothing was printed" not in told.value


def test_an_opened_cell_shows_rule_and_attempt_and_offers_to_sign(with_attempt: tuple[Ledger, str, str]) -> None:
    _, _, student = with_attempt
    app = app_at("course")
    app.query_params["student"], app.query_params["skill"] = student, "po-store"
    app.run()
    assert not app.exception
    told = words(app)
    assert "The rule" in told
    assert "Met on 22 Oct 2026" in told
    assert {"Sign as met", "Hold back"} <= {button.label for button in app.button}


def sign_page(student: str) -> AppTest:
    app = app_at("course")
    app.query_params["student"], app.query_params["skill"] = student, "po-store"
    return app.run()


def press(app: AppTest, label: str) -> AppTest:
    next(button for button in app.button if button.label == label).click()
    return app.run()


def test_a_decision_with_a_pin_that_nobody_chose_says_where_one_is_chosen(
    with_attempt: tuple[Ledger, str, str],
) -> None:
    app = sign_page(with_attempt[2])
    next(field for field in app.text_input if field.label == "PIN for signing, of whoever signs").set_value("471108")
    app = press(app, "Sign as met")
    assert "This person has no PIN for signing yet. It is chosen on Ready" in words(app)
    assert "both fields" not in words(app)


def test_signing_puts_the_decision_in_the_ledger(with_attempt: tuple[Ledger, str, str]) -> None:
    ledger, course, student = with_attempt
    app = press(sign_page(student), "Sign as met")
    assert "The decision is in the ledger" in words(app)
    seen = view(ledger, course)
    decision = seen.decision(student, seen.adopted.skill("po-store"), seen.last_day)
    assert decision is not None
    assert decision.decided == "agreed"


def test_holding_back_without_a_reason_is_refused_in_words(with_attempt: tuple[Ledger, str, str]) -> None:
    ledger, course, student = with_attempt
    app = press(sign_page(student), "Hold back")
    assert "A reason is needed" in words(app)
    seen = view(ledger, course)
    assert seen.decision(student, seen.adopted.skill("po-store"), seen.last_day) is None


def test_a_stale_address_of_an_attempt_is_told_and_leads_back(with_attempt: tuple[Ledger, str, str]) -> None:
    app = page(attempt="01a21335-5362-72bd-9891-590b262ae6ed", sheet="01a21335-5362-72bd-9891-590c0124b2b9")
    assert "There is no such attempt" in words(app)
    assert "Mark another attempt" in {button.label for button in app.button}


def test_choosing_a_skill_opens_the_pad_and_no_attempt(with_attempt: tuple[Ledger, str, str]) -> None:
    """A mis-tapped skill leaves nothing behind: an attempt begins with its first mark."""
    ledger, _, student = with_attempt
    before = len(list(ledger.events()))
    app = page()
    app.button(key="skill-asm-bench").click().run()
    assert not app.exception
    assert len(list(ledger.events())) == before
    assert app.query_params["students"] == student
    assert app.query_params["skill"] == "asm-bench"
    press(app, "Mark another attempt")
    assert "students" not in app.query_params
    assert len(list(ledger.events())) == before


def test_a_person_entered_on_people_is_on_the_course(with_attempt: tuple[Ledger, str, str]) -> None:
    ledger, course, _ = with_attempt
    app = page("people.py")
    next(box for box in app.text_input if box.label == "Name").set_value("Ravi Soltmere")
    papers = next(box for box in app.button_group if box.label.startswith("Papers of a student"))
    papers.set_value(["pq-age", "pq-cert"])
    press(app, "Enter the person")
    assert "Ravi Soltmere is entered." in words(app)
    seen = view(ledger, course)
    assert "Ravi Soltmere" in {seen.name(s) for s in seen.students}


def test_a_direction_mark_in_a_name_is_refused_by_its_name(with_attempt: tuple[Ledger, str, str]) -> None:
    app = page("people.py")
    next(box for box in app.text_input if box.label == "Name").set_value("Ravi \u202eSoltmere")
    press(app, "Enter the person")
    assert "RIGHT-TO-LEFT OVERRIDE" in words(app)


def test_an_hour_that_comes_twice_is_asked_for(with_attempt: tuple[Ledger, str, str]) -> None:
    """Clocks went back in Atlantic/Azores on 25 Oct 2026 at 01:00 (IANA time zone database)."""
    from datetime import date, time

    app = page("people.py")
    next(box for box in app.text_input if box.label.startswith("Name of the session")).set_value("Late bench")
    next(box for box in app.date_input if box.label == "Day").set_value(date(2026, 10, 25))
    next(box for box in app.time_input if box.label == "From").set_value(time(0, 30))
    next(box for box in app.time_input if box.label == "To").set_value(time(3, 0))
    press(app, "Plan the session")
    assert "came twice" in words(app)


def test_a_mark_is_amended_with_a_reason_and_the_standing_follows(with_attempt: tuple[Ledger, str, str]) -> None:
    ledger, course, student = with_attempt
    app = sign_page(student)
    box = next(b for b in app.selectbox if b.label == "What was seen")
    box.set_value(next(option for option in box.options if option.startswith("error:")))
    next(area for area in app.text_area if area.label == "Reason").set_value("Read from the slate again.")
    app = press(app, "Amend the mark")
    assert "Amended" in words(app)
    told = words(app)
    assert "amended from done, or no occasion to error (" in told
    assert "by Ines Duarte on" in told
    assert "Read from the slate again." in told
    (attempt,) = view(ledger, course).attempts
    assert [mark.mark for mark in attempt.sheets[0].marks].count("error") == 1
    assert len([e for e in ledger.events(attempt.id) if e.kind == "marks_given/1"]) == 2


def test_signing_all_of_a_student_signs_what_is_met(with_attempt: tuple[Ledger, str, str]) -> None:
    ledger, course, _ = with_attempt
    app = press(page("course.py"), "Sign 1 standing as met")
    assert "1 decision is in the ledger." in words(app)
    seen = view(ledger, course)
    assert [d.skill for d in seen.decisions] == ["po-store"]


def test_marking_into_a_session_of_another_day_is_said_before_it_happens(with_attempt: tuple[Ledger, str, str]) -> None:
    assert "what you mark here counts for that day" in words(page())


def test_an_attempt_moved_to_another_student_leaves_its_trace_on_both(with_attempt: tuple[Ledger, str, str]) -> None:
    ledger, course, student = with_attempt
    lead = ledger.fact("centre", ledger.centre_id).lead
    other = centre.add_person(ledger, lead, name="Nkechi Brandvold", roles=[Role.STUDENT])
    note_papers(ledger, lead, course, other)
    courses.enrol(ledger, lead, course, other, Role.STUDENT)
    unit = centre.add_unit(ledger, lead, label="A-07", unit_type="type-a")
    courses.assign_unit(ledger, lead, course, other, unit, "2026-10-20")
    (attempt,) = view(ledger, course).attempts
    amending.move_attempt(ledger, lead, attempt.id, other, "The slate's columns were mixed up.")
    seen = view(ledger, course)
    assert [(a.student, a.unit) for a in seen.attempts] == [(other, unit)]
    before, after = (skill_detail(ledger, seen, s, "po-store", seen.last_day) for s in (student, other))
    assert before.attempts == ()
    assert "was entered here by mistake. Moved to Nkechi Brandvold, by Ines Duarte on" in before.not_counted[0]
    assert before.not_counted[0].endswith("The slate's columns were mixed up.")
    assert after.attempts[0].amended[0].startswith("Moved to Nkechi Brandvold, by Ines Duarte on")
