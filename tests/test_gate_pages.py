"""Gates, Ready, the door of a session on Today, and a new person on People, without a browser."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from centre_builder import ZONE, Centre
from streamlit.testing.v1 import AppTest
from test_gate_papers import exam, newcomer, person_fact, proof, without
from test_pages import page, words

from course.actions import courses as planning
from course.actions import gate_papers as noting
from course.actions.pad import take
from course.moments import now, observed_at
from course.record.facts import Session
from course.screens import serve
from course.words import Role


@pytest.fixture
def shown(small_centre: Centre) -> Centre:
    """The small centre, on the screens."""
    serve.start(small_centre.ledger, take)
    return small_centre


def press(app: AppTest, label: str) -> AppTest:
    """Press the first button of a name."""
    next(button for button in app.button if button.label == label).click().run()
    assert not app.exception
    return app


def tell(app: AppTest, label: str, value: object) -> None:
    """Fill in one field, by how its label begins; nothing is sent yet."""
    fields = [*app.text_input, *app.text_area, *app.date_input, *app.button_group, *app.selectbox]
    next(field for field in fields if field.label.startswith(label)).set_value(value)


def choose(app: AppTest, label: str, value: object) -> AppTest:
    """Fill in one field outside a form."""
    tell(app, label, value)
    app.run()
    assert not app.exception
    return app


def gates_page(c: Centre, looking: str, of: str = "") -> AppTest:
    """The page as somebody looks at it."""
    app = choose(page("gates.py"), "Who is looking", looking)
    return choose(app, "Of whom?", of) if of else app


# --- Gates ----------------------------------------------------------------------------------------------------------


def test_gates_opens_with_whose_stages_are_shut_and_shows_which_paper(shown: Centre) -> None:
    student = without(shown, "pq-med")
    app = page("gates.py")
    assert "## Shut for Ravi Soltmere: the pool." in words(app).replace("\\", "")
    assert any("Ravi Soltmere" in box.label and "the pool shut" in box.label for box in app.expander)
    assert "not seen by" in words(app)
    assert student in shown.view().students


def test_only_the_lead_reads_that_a_doctor_did_not_clear_somebody(shown: Centre) -> None:
    proof(shown, shown.amaru, "pq-med", cleared=False)
    assert "not cleared" in words(gates_page(shown, shown.lead))
    for app in (page("gates.py"), gates_page(shown, shown.second), page("ready.py"), page("today.py")):
        assert "not cleared" not in words(app)


def test_a_paper_is_noted_as_seen_by_whoever_is_looking(shown: Centre) -> None:
    student = without(shown, "pq-waiver")
    app = choose(gates_page(shown, shown.second, student), "Which paper?", "pq-waiver")
    tell(app, "Seen on", date(2026, 10, 20))
    tell(app, "Name and revision", "Risk statement 4")
    press(app, "Note that I saw it")
    (kept,) = [one for one in person_fact(shown, student).proofs if one.prerequisite == "pq-waiver"]
    assert (kept.by, kept.day, kept.paper) == (shown.second, "2026-10-20", "Risk statement 4")
    assert "Every stage is open" in words(app)


def test_a_medical_paper_asks_for_the_clearance_and_for_nothing_of_the_answers(shown: Centre) -> None:
    student = without(shown, "pq-med")
    app = choose(gates_page(shown, shown.lead, student), "Which paper?", "pq-med")
    assert any("The answers" in str(one.value) or "Answers stay" in str(one.value) for one in app.caption)
    press(app, "Note that I saw it")
    assert "say whether it clears the person" in words(app)
    tell(app, "Does it clear", "yes")
    tell(app, "Seen on", date(2026, 10, 20))
    press(app, "Note that I saw it")
    (kept,) = [one for one in person_fact(shown, student).proofs if one.prerequisite == "pq-med"]
    assert kept.cleared == "yes"


def test_consent_exam_gap_adjustment_leaving_and_a_tie_are_noted_on_gates(shown: Centre) -> None:
    c = shown
    app = gates_page(c, c.lead, c.amaru)
    tell(app, "Agreed to", ["pool", "open_water"])
    tell(app, "Who agreed", "Marit")
    press(app, "Note the consent")
    tell(app, "Right", "48")
    tell(app, "Out of", "50")
    tell(app, "Items missed", "Oxygen\nScrubber")
    press(app, "Note the exam")
    press(app, "Talked through: Oxygen")
    tell(app, "How it is done", "With the other hand.")
    press(app, "Approve the adjustment")
    tell(app, "Tie to this student", "Her aunt.")
    press(app, "Note the tie")
    tell(app, "Why, in a few words", "Ill.")
    press(app, "Leaves the course unfinished")
    fact = person_fact(c, c.amaru)
    assert fact.consents[0].stages == ("pool", "open_water")
    assert (fact.exams[0].items, [gap.gap for gap in fact.exams[0].closed]) == (("Oxygen", "Scrubber"), [1])
    assert fact.adjustments[0].how == "With the other hand."
    assert [turn.left for turn in fact.turns] == [True]
    assert "Her aunt" in words(app)
    assert "Comes back to the course" in [button.label for button in app.button]


def test_a_refused_form_keeps_what_was_typed(shown: Centre) -> None:
    app = gates_page(shown, shown.lead, shown.amaru)
    tell(app, "Right", "60")
    tell(app, "Out of", "50")
    press(app, "Note the exam")
    assert "the mark is not between 0" in words(app)
    assert next(box for box in app.text_input if box.label == "Right").value == "60"


def test_a_birth_date_that_is_missing_is_entered_on_gates(shown: Centre) -> None:
    student = newcomer(shown, born=None, papers=True)
    planning.enrol(shown.ledger, shown.lead, shown.course, student, Role.STUDENT)
    app = gates_page(shown, shown.lead, student)
    tell(app, "Birth date", date(1999, 9, 9))
    press(app, "Enter the birth date")
    assert person_fact(shown, student).birth_date == "1999-09-09"


# --- Ready ----------------------------------------------------------------------------------------------------------


def test_ready_says_on_top_how_many_can_be_signed_off_and_of_each_what_is_short(shown: Centre) -> None:
    exam(shown)
    app = page("ready.py")
    assert "## Nobody can be signed off yet\\." in words(app)
    amaru = next(box for box in app.expander if "Amaru" in box.label)
    assert "not yet" in amaru.label
    assert "2 gaps of the exam not talked through" in amaru.label
    assert "short by 3 pool sessions of at least 41 minutes" in words(app)


def test_ready_leads_to_the_first_open_skill_and_to_gates(shown: Centre) -> None:
    app = page("ready.py")
    labels = [button.label for button in app.button]
    assert {"First open skill", "Gates"} <= set(labels)


@pytest.mark.parametrize("name", ["today.py", "course.py", "ready.py"])
@pytest.mark.parametrize(
    ("today", "told"),
    [
        (date(2027, 1, 10), ""),
        (date(2027, 1, 11), "14 days left to finish in: 25 Jan 2027 is the last day that counts."),
        (date(2027, 1, 20), "5 days left to finish in: 25 Jan 2027 is the last day that counts."),
        (
            date(2027, 1, 26),
            (
                "The days to finish in ended on 25 Jan 2027: later attempts are kept and do not count by these "
                "requirements."
            ),
        ),
    ],
)
def test_the_end_of_the_days_to_finish_in_is_told_14_days_ahead_on_today_course_and_ready(
    shown: Centre, monkeypatch: pytest.MonkeyPatch, name: str, today: date, told: str
) -> None:
    """Whatever day the page is as of: usually the course's last, when the end was far away."""
    from course.answers import course_view

    monkeypatch.setattr(course_view, "now", lambda: datetime.combine(today, time(12), tzinfo=UTC))
    text = words(page(name)).replace("\\", "")
    assert told in text
    assert ("to finish in" in text) == bool(told)


# --- the door of a session ------------------------------------------------------------------------------------------


def today_session(c: Centre, setting: str = "pool") -> str:
    """A session that is on now."""
    at = now().replace(second=0, microsecond=0)
    start, end = (observed_at(at + timedelta(hours=h), ZONE, "minute") for h in (-1, 2))
    return planning.plan_session(
        c.ledger, c.lead, course=c.course, title="Pool now", setting=setting, start=start, end=end
    )


def press_in(app: AppTest, student: str) -> AppTest:
    next(button for button in app.button if button.key and button.key.startswith("in-") and student in button.key
         ).click().run()  # fmt: skip
    assert not app.exception
    return app


def spans(c: Centre, session: str) -> list[str]:
    fact = c.ledger.fact("session", session)
    assert isinstance(fact, Session)
    return [span.person for span in fact.spans]


def test_at_a_shut_gate_today_says_why_and_lets_only_who_is_there_already_be_noted(shown: Centre) -> None:
    student = without(shown, "pq-med")
    session = today_session(shown)
    app = page("today.py", session=session)
    assert "a gate is shut" in words(app)
    press_in(app, student)
    assert spans(shown, session) == []
    assert "not seen by" in words(app)
    assert "Open Gates" in [button.label for button in app.button]
    press(app, "They are there already: note the time")
    assert spans(shown, session) == [student]


def test_at_an_open_gate_one_tap_signs_in(shown: Centre) -> None:
    session = today_session(shown)
    press_in(page("today.py", session=session), shown.amaru)
    assert spans(shown, session) == [shown.amaru]


def test_everyone_in_says_who_stays_out_and_why(shown: Centre) -> None:
    student = without(shown, "pq-med")
    session = today_session(shown)
    app = press(page("today.py", session=session), "Everyone in")
    assert student not in spans(shown, session)
    assert shown.amaru in spans(shown, session)
    assert "Ravi Soltmere stays out" in words(app)


def test_mark_tells_of_a_shut_gate_and_offers_no_skill_until_the_student_is_signed_in(shown: Centre) -> None:
    student = without(shown, "pq-med")
    session = today_session(shown)
    app = choose(page("mark.py"), "Who is marking?", shown.lead)
    choose(app, "Session", session)
    choose(app, "Student", student)
    assert "This holds the pool shut" in words(app)
    assert [button for button in app.button if (button.key or "").startswith("skill-")] == []
    choose(app, "Student", shown.amaru)
    assert [button for button in app.button if (button.key or "").startswith("skill-")] != []


# --- a new person ---------------------------------------------------------------------------------------------------


def enter(app: AppTest, name: str, born: date, papers: list[str]) -> AppTest:
    next(box for box in app.text_input if box.label == "Name").set_value(name)
    tell(app, "Birth date", born)
    tell(app, "Papers of a student", papers)
    return press(app, "Enter the person")


def test_a_person_whose_papers_were_not_seen_is_entered_and_not_on_the_course(shown: Centre) -> None:
    app = enter(page("people.py"), "Ravi Soltmere", date(1985, 12, 2), ["pq-age"])
    told = words(app)
    assert "Ravi Soltmere is entered. This person is not put on the course. Entry certificate" in told
    assert "Ravi Soltmere" not in {shown.view().name(student) for student in shown.view().students}
    assert "Ravi Soltmere" in {known.name for known in shown.view().people.everybody().values()}


def test_somebody_who_may_be_in_the_centre_already_is_asked_about_before_they_are_entered(shown: Centre) -> None:
    both = ["pq-age", "pq-cert"]
    before = len(shown.view().people.everybody())
    app = enter(page("people.py"), "Amaru Tendele", date(1998, 2, 3), both)
    assert "Amaru Tendelle, born on the same day, is in the centre already" in words(app)
    assert len(shown.view().people.everybody()) == before
    other = next(box for box in app.checkbox if box.label.startswith("It is somebody else than Amaru"))
    other.check()
    press(app, "Enter the person")
    assert "Amaru Tendele is entered." in words(app)
    assert len(shown.view().people.everybody()) == before + 1


def test_gates_says_of_whom_it_is_that_they_left(shown: Centre) -> None:
    noting.leave_course(shown.ledger, shown.lead, shown.course, shown.amaru, day="2026-10-22", why="Ill.")
    assert "left unfinished on 22 Oct 2026" in " ".join(box.label for box in page("gates.py").expander)
