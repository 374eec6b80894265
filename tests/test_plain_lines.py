"""Plain lines that a page or a paper owes: a hold that is open now, one unit for two, who is in no group, namesakes."""

from __future__ import annotations

from io import BytesIO

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, note_papers, seen_at
from opened_page import app_at
from pypdf import PdfReader
from streamlit.testing.v1 import AppTest

from course.actions import centre as founding
from course.actions import courses as planning
from course.actions import unit_care
from course.actions.pad import take
from course.answers import course_view, units
from course.answers.competency import competency_record
from course.answers.shared_units import shared_units
from course.answers.units import held_in_water
from course.paper.competency_record import print_competency_record
from course.screens import serve, today_parts
from course.words import Role

ZOE = "Zoë <i>O'Brien-Ünal</i> =1+1"


@pytest.fixture
def served(small_centre: Centre, monkeypatch: pytest.MonkeyPatch) -> Centre:
    """The small centre behind the pages, at 14:30 on the 22nd, in the middle of the pool session."""
    for module in (today_parts, course_view, units):
        monkeypatch.setattr(module, "now", lambda: seen_at(22, 14, 30).moment)
    serve.start(small_centre.ledger, take)
    return small_centre


def page(name: str, **query: str) -> AppTest:
    """A page of the app."""
    app = app_at(name)
    for key, value in query.items():
        app.query_params[key] = value
    app.run()
    assert not app.exception
    return app


def words(app: AppTest) -> str:
    """What it says."""
    parts = [*app.title, *app.markdown, *app.text, *app.caption, *app.warning, *app.success]
    return "\n".join(str(part.value).replace("\\", "") for part in parts)


# --- units ----------------------------------------------------------------------------------------------------------


def test_a_hold_that_is_open_is_told_as_open_and_one_that_is_over_as_over(served: Centre) -> None:
    c = served
    unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(22, 9), "A tear.")
    told = {one.title: one.sentence for one in held_in_water(c.ledger, c.course) if one.person == c.amaru}
    assert told["Pool Of The 22"] == (
        "A-05 is on hold since Thu 22 Oct 09:00, and Amaru Tendelle is booked on it (Pool Of The 22, Thu 22 Oct 13:30)."
    )
    assert told["Open Of The 24"].endswith("is booked on it (Open Of The 24, Sat 24 Oct 13:30).")
    (hold,) = c.view().units[c.unit_a].held
    unit_care.release(c.ledger, c.lead, c.unit_a, hold.id, seen_at(22, 14), why="Mended.")
    (over,) = [one.sentence for one in held_in_water(c.ledger, c.course) if one.person == c.amaru]
    assert over == "A-05 was on hold Thu 22 Oct 13:30-14:00, and Amaru Tendelle was booked on it (Pool Of The 22)."


def test_two_students_on_one_unit_are_told_on_units_and_today(served: Centre) -> None:
    c = served
    line = f"A-05 is assigned to Amaru Tendelle and {ZOE} on 5 days, from 21 Oct 2026 on: only one of them dives it at "
    assert line in words(page("units.py"))
    assert f"A-05 is assigned to Amaru Tendelle and {ZOE} on 22 Oct 2026: " in words(page("today.py"))
    planning.assign_unit(c.ledger, c.lead, c.course, c.zoe, c.unit_b, "2026-10-22")
    assert shared_units(c.view()) == (
        f"A-05 is assigned to Amaru Tendelle and {ZOE} on 21 Oct 2026: only one of them dives it at a time.",
    )
    assert "is assigned to" not in words(page("today.py"))


def test_a_refused_hold_keeps_what_was_typed_and_the_next_one_begins_empty(served: Centre) -> None:
    c = served
    app = page("units.py", unit=c.unit_b)
    reason = "Lever of the mouthpiece moves stiffly."

    def put_on_hold() -> None:
        next(one for one in app.button if one.label == "Put on hold").click().run()

    def why() -> str:
        return str(next(one for one in app.text_area if one.label.startswith("Why it stays")).value)

    next(one for one in app.text_area if one.label.startswith("Why it stays")).input(reason)
    put_on_hold()
    assert "Something is not chosen yet" in words(app)
    assert why() == reason
    next(group for group in app.button_group if group.key == "carer").set_value(c.lead).run()
    put_on_hold()
    assert c.view().units[c.unit_b].held
    assert why() == ""


# --- today ----------------------------------------------------------------------------------------------------------


def test_who_is_in_no_group_is_told_that_everyone_in_leaves_them_out(served: Centre) -> None:
    c = served
    session = c.sessions["pool-22"]
    planning.make_group(c.ledger, c.lead, session, name="Group P", staff=[c.lead, c.assistant], students=[c.amaru])
    told = words(page("today.py", session=session))
    assert "“Everyone in” leaves out who is in no group: put them in one below, or tap In for each." in told


# --- attempts from elsewhere ----------------------------------------------------------------------------------------


def test_what_was_seen_elsewhere_is_accepted_on_the_page_behind_its_cell(served: Centre) -> None:
    c = served
    c.enter("dry-21", elsewhere="Driftwood Quay")
    app = page("course.py", student=c.amaru, skill=POOL_SKILL)
    told = "Seen at Driftwood Quay. It counts only while somebody who decides here accepts it."
    assert told in words(app)
    next(one for one in app.text_area if one.label == "Reason").input("I know who saw it.")
    next(one for one in app.button_group if one.label == "Who amends?").set_value(c.lead)
    next(one for one in app.button if one.label == "Accept it").click().run()
    assert not app.exception
    assert "Not yet: 1 in a row of 5" in words(app)
    assert "accepted by Tamsin Okoro-Vale on " in "\n".join(box.label for box in app.expander).replace("\\", "")


# --- namesakes ------------------------------------------------------------------------------------------------------


def test_the_records_title_tells_namesakes_apart(small_centre: Centre) -> None:
    c = small_centre
    twin = founding.add_person(
        c.ledger, c.lead, name="Amaru Tendelle", roles=[Role.STUDENT], birth_date="2003-05-06"
    )  # fmt: skip
    note_papers(c.ledger, c.lead, c.course, twin)
    planning.enrol(c.ledger, c.lead, c.course, twin, Role.STUDENT)
    for student, year in ((c.amaru, "1998"), (twin, "2003")):
        record, out = competency_record(c.ledger, c.view(), student, LAST_DAY), BytesIO()
        print_competency_record(record, out)
        first = " ".join(PdfReader(out).pages[0].extract_text().split())
        assert f"Competency record: Amaru Tendelle (born {year})" in first
    assert competency_record(c.ledger, c.view(), c.zoe, LAST_DAY).student == ZOE
