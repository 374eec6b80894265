"""The Mark page without a browser: one student or several, beside another observer, sessions that take no more."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from centre_builder import POOL_SKILL, Centre, seen_at
from opened_page import app_at
from streamlit.testing.v1 import AppTest
from test_pages import APP, words

from course.actions import courses as planning
from course.actions.drafting import draft
from course.actions.pad import take
from course.answers.pad import state_now
from course.errors import StorageError
from course.record.events import SessionClosed
from course.screens import serve, tablets


@pytest.fixture
def centre(small_centre: Centre) -> Iterator[Centre]:
    serve.start(small_centre.ledger, take, state=state_now)
    tablets.forget_all()
    yield small_centre
    tablets.forget_all()


def choose(app: AppTest, label: str, *values: str) -> AppTest:
    """Tap on pills, one after another."""
    group = next(group for group in app.button_group if group.label == label)
    group.set_value(list(values) if label.startswith("Students") else values[0]).run()
    assert not app.exception
    return app


def at_the_pool(c: Centre, observer: str = "") -> AppTest:
    app = app_at("mark").run()
    choose(app, "Who is marking?", observer or c.lead)
    next(box for box in app.selectbox if box.label == "Session").set_value(c.sessions["pool-22"]).run()
    return app


def test_one_student_is_usual_and_a_skill_opens_the_pad_of_a_line_of_one(centre: Centre) -> None:
    before = centre.count()
    app = choose(at_the_pool(centre), "Student", centre.amaru)
    app.button(key=f"skill-{POOL_SKILL}").click().run()
    assert not app.exception
    assert (app.query_params["students"], app.query_params["skill"]) == (centre.amaru, POOL_SKILL)
    assert centre.count() == before


def test_a_line_goes_in_the_order_in_which_its_students_were_tapped(centre: Centre) -> None:
    app = choose(at_the_pool(centre), "How many?", "Several, one after another")
    choose(app, "Students, tapped in the order in which they go", centre.zoe, centre.amaru)
    app.button(key=f"line-{POOL_SKILL}").click().run()
    assert not app.exception
    assert app.query_params["students"] == f"{centre.zoe},{centre.amaru}"


def test_a_whole_group_is_one_tap(centre: Centre) -> None:
    session = centre.sessions["pool-22"]
    who = [centre.zoe, centre.amaru]
    planning.make_group(centre.ledger, centre.lead, session, name="Group P", staff=[centre.lead], students=who)
    app = choose(at_the_pool(centre), "How many?", "Several, one after another")
    app.button(key=f"group-{session}-Group P").click().run()
    assert not app.exception
    app.button(key=f"line-{POOL_SKILL}").click().run()
    assert app.query_params["students"] == f"{centre.zoe},{centre.amaru}"


def test_a_second_observer_finds_what_others_mark_now(centre: Centre) -> None:
    opened = centre.open()
    app = at_the_pool(centre, centre.second)
    (button,) = [b for b in app.button if b.label.startswith("Beside ")]
    assert button.label.startswith("Beside Tamsin Okoro-Vale, on your own sheet: Amaru Tendelle · ")
    button.click().run()
    assert not app.exception
    assert (app.query_params["attempt"], app.query_params["by"]) == (opened.attempt, centre.second)
    assert [sheet.observer for sheet in centre.attempt(opened.attempt).sheets] == [centre.lead]


def test_a_closed_session_says_so_before_anything_is_chosen(centre: Centre) -> None:
    closing = SessionClosed(session=centre.sessions["pool-22"], observed=seen_at(22, 16, 20))
    centre.ledger.append([draft(centre.lead, closing)])
    assert "Pool Of The 22 was closed at 16:20." in words(at_the_pool(centre))


def test_tablets_are_in_one_line(centre: Centre) -> None:
    tablets.heard("3F7AQ0ZK", "2", "0", centre.lead, "0")
    told = [caption.value for caption in at_the_pool(centre).caption]
    assert any("tablet 3F7A" in text and "2 marks waiting" in text for text in told)


def test_an_address_that_holds_no_line_leads_back(centre: Centre, tmp_path: Path) -> None:
    app = AppTest.from_file(APP, default_timeout=60)
    app.query_params["line"] = str(tmp_path)
    app.run()
    assert not app.exception
    assert "This address names no line of students." in words(app)
    assert "Mark another attempt" in {button.label for button in app.button}


def test_a_ledger_that_cannot_be_read_is_told_over_the_pad_which_stays(
    centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As when a database server stops; another page says it alone. Once it answers, the page is whole again."""
    app = choose(at_the_pool(centre), "Student", centre.amaru)
    app.button(key=f"skill-{POOL_SKILL}").click().run()
    shown = app.get("bidi_component")
    with monkeypatch.context() as stopped:
        stopped.setattr(centre.ledger, "heads", not_answering)
        stopped.setattr(centre.ledger, "facts", not_answering)
        app.run()
        assert not app.exception
        assert [one.value for one in app.error] == [
            "The server does not answer. You can go on marking: taps wait on this tablet until they can be saved."
        ]
        assert len(app.get("bidi_component")) == len(shown) == 1
        app.query_params.clear()  # as a browser does when it goes to another page
        app.switch_page("../../pages/course.py").run()
        assert [one.value for one in app.error] == ["The server does not answer."]
        assert not app.get("bidi_component")
    app.button(key="try-again").click().run()
    assert not app.error


def not_answering(*_: object, **__: object) -> None:
    raise StorageError("The server does not answer.")
