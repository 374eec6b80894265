"""The Papers page with papers for the file: each is asked for, previewed and offered, without an error."""

from __future__ import annotations

import pytest
from centre_builder import Centre
from opened_page import app_at

from course.actions.pad import take
from course.answers.filed_paper import BENCH_SHEET, CANDIDATE_FILE, COURSE_FILE, STATEMENT, TRANSFER_FILE, UNIT_HISTORY
from course.screens import serve

CHOICES = {COURSE_FILE: "", STATEMENT: "paper-student", UNIT_HISTORY: "paper-unit", BENCH_SHEET: "", CANDIDATE_FILE: ""}
SAYS = {
    COURSE_FILE: "2 students are short",
    STATEMENT: "was on the course to its last day",
    UNIT_HISTORY: "It is not said to be fit",
    BENCH_SHEET: "requirements in force",
    CANDIDATE_FILE: "has written no practice sheet yet",
}


@pytest.mark.parametrize("paper", CHOICES)
def test_the_paper_is_asked_for_and_shown_with_its_caution(small_centre: Centre, paper: str) -> None:
    serve.start(small_centre.ledger, take)
    app = app_at("papers").run()
    app.segmented_control(key="paper-name").set_value(paper).run()
    if key := CHOICES[paper]:
        assert any("Choose whom or what it is about" in one.value for one in app.markdown)
        app.button_group(key=key).set_value({"paper-student": small_centre.zoe}.get(key, small_centre.unit_a)).run()
    assert not app.exception
    assert any(SAYS[paper] in one.value for one in app.markdown), [one.value for one in app.markdown]
    assert any("It certifies nobody" in one.value for one in app.caption)
    assert [one.label for one in app.get("download_button")] == ["Download the PDF"]


def test_a_transfer_file_is_offered_once_the_students_consent_is_noted(small_centre: Centre) -> None:
    serve.start(small_centre.ledger, take)
    app = app_at("papers").run()
    app.segmented_control(key="paper-name").set_value(TRANSFER_FILE).run()
    app.button_group(key="paper-student").set_value(small_centre.amaru).run()
    assert any("has to agree before another centre gets this" in one.value for one in app.markdown)
    assert not app.get("download_button")
    app.button_group(key="transfer-by").set_value(small_centre.lead)
    next(one for one in app.button if one.label == "The student agrees").click().run()
    assert [one.value for one in app.warning] == ["Say to which centre. Nothing was changed."]
    app.text_input(key="transfer-to").set_value("Saltmarsh")
    next(one for one in app.button if one.label == "The student agrees").click().run()
    assert not app.exception
    assert any("goes on at another centre" in one.value for one in app.markdown)
    assert [one.label for one in app.get("download_button")] == ["Download the PDF"]
