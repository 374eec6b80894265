"""The Privacy and Health pages, without a browser: what they say first, and what an act on them does."""

from __future__ import annotations

import io
import json
import zipfile
from typing import Any

import pytest
from centre_builder import Centre
from opened_page import app_at
from streamlit.testing.v1 import AppTest

from course.actions.pad import take
from course.record.facts import Person
from course.screens import serve


@pytest.fixture
def shown(small_centre: Centre) -> Centre:
    """The small centre, behind the pages."""
    serve.start(small_centre.ledger, take)
    return small_centre


def page(name: str) -> AppTest:
    app = app_at(name).run()
    assert not app.exception
    return app


def words(app: AppTest) -> str:
    parts = [*app.title, *app.markdown, *app.text, *app.info, *app.warning, *app.error, *app.success, *app.caption]
    return "\n".join(str(part.value) for part in parts)


def box(app: AppTest, label: str) -> Any:
    every = [*app.selectbox, *app.text_input, *app.text_area, *app.number_input]
    return next(one for one in every if one.label.startswith(label))


def press(app: AppTest, label: str) -> AppTest:
    next(button for button in app.button if button.label == label).click()
    app.run()
    assert not app.exception
    return app


def choose(app: AppTest, person: str) -> AppTest:
    return box(app, "Whose data?").set_value(person).run()


def test_the_page_leads_with_what_is_set_and_says_that_nothing_goes_by_itself(shown: Centre) -> None:
    told = words(page("privacy"))
    assert "No time is set for keeping people's data" in told
    assert "Nothing is erased by itself" in told


def test_what_is_not_reached_is_said_before_erasing_and_a_wrong_name_erases_nothing(shown: Centre) -> None:
    app = choose(page("privacy"), shown.zoe)
    assert "Papers that were printed" in words(app)
    box(app, "Reason").set_value("asked in writing")
    box(app, "To be sure").set_value("Amaru Tendelle")
    assert "typed is another one" in words(press(app, "Erase for good"))
    assert not shown.ledger.vault.is_forgotten(shown.zoe)


def test_erasing_by_the_page_puts_it_in_the_ledger_and_tells_what_is_left_to_do(shown: Centre) -> None:
    app = choose(page("privacy"), shown.amaru)
    box(app, "Reason").set_value("asked in writing")
    box(app, "To be sure").set_value("Amaru Tendelle")
    told = words(press(app, "Erase for good"))
    assert f"erased person {shown.amaru[-6:]}" in told
    assert "Backups that were made before" in told
    assert "Amaru" not in told
    fact = shown.ledger.fact("person", shown.amaru)
    assert isinstance(fact, Person)
    assert fact.erased is not None
    assert "were erased on" in words(choose(app, shown.amaru))


def test_own_data_are_put_together_when_asked_for(shown: Centre) -> None:
    app = choose(page("privacy"), shown.amaru)
    app = press(app, "Put it together")
    (button,) = app.get("download_button")
    from course.exchange.own_data import own_data_bytes

    with zipfile.ZipFile(io.BytesIO(own_data_bytes(shown.ledger, shown.lead, shown.amaru))) as file:
        assert json.loads(file.read("own-data.json"))["person"]["name"] == "Amaru Tendelle"
    assert button.proto.label == "Download own-data.zip"


def test_the_time_for_keeping_is_set_and_shown(shown: Centre) -> None:
    app = page("privacy")
    box(app, "Days for students").set_value(3650)
    told = words(press(app, "Keep for so long"))
    assert "The time is set" in told
    assert "3650 days after their last course: students and candidates." in told


def test_the_page_of_health_tells_each_thing_with_its_word(shown: Centre) -> None:
    told = words(page("health"))
    assert "4 things to look at\\: Full check, Backup, Restore drill, Signing" in told
    assert "◪ look · Backup: None was made on this machine." in told
    assert "■ ok · Sharing: This machine only" in told
    assert "Tamsin" not in told
