"""The Papers page with papers for the file: each is asked for, previewed and offered, without an error."""

from __future__ import annotations

import pytest
from centre_builder import Centre
from streamlit.testing.v1 import AppTest

from course.actions.pad import take
from course.answers.filed_paper import BENCH_SHEET, CANDIDATE_FILE, COURSE_FILE, STATEMENT, UNIT_HISTORY
from course.places import SCREENS
from course.screens import serve

CHOICES = {COURSE_FILE: "", STATEMENT: "paper-student", UNIT_HISTORY: "paper-unit", BENCH_SHEET: "", CANDIDATE_FILE: ""}
SAYS = {
    COURSE_FILE: "2 students are short",
    STATEMENT: "is still on the course",
    UNIT_HISTORY: "It is not said to be fit",
    BENCH_SHEET: "requirements in force",
    CANDIDATE_FILE: "has written no practice sheet yet",
}


@pytest.mark.parametrize("paper", CHOICES)
def test_the_paper_is_asked_for_and_shown_with_its_caution(small_centre: Centre, paper: str) -> None:
    serve.start(small_centre.ledger, take)
    app = AppTest.from_file(str(SCREENS / "app.py"), default_timeout=120).run()
    app.switch_page("../../pages/papers.py").run()
    app.segmented_control(key="paper-name").set_value(paper).run()
    if key := CHOICES[paper]:
        assert any("Choose whom or what it is about" in one.value for one in app.markdown)
        app.button_group(key=key).set_value({"paper-student": small_centre.zoe}.get(key, small_centre.unit_a)).run()
    assert not app.exception
    assert any(SAYS[paper] in one.value for one in app.markdown), [one.value for one in app.markdown]
    assert any("It certifies nobody" in one.value for one in app.caption)
    assert [one.label for one in app.get("download_button")] == ["Download the PDF"]
