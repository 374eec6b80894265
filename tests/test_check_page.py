"""The page Check a paper: by file and by keyboard, the sentence first."""

from __future__ import annotations

import pytest
from centre_builder import LAST_DAY, Centre
from streamlit.testing.v1 import AppTest
from test_pages import page, words
from test_paper_check import edited, picture_of

from course.actions import keys as keeping
from course.actions.pad import take
from course.answers.centre_keys import paper_key
from course.answers.competency import competency_record
from course.answers.paper_verdict import Verdict
from course.exchange.paper_file import read_paper
from course.paper.competency_record import print_competency_record
from course.screens import preview, serve


@pytest.fixture
def centre(small_centre: Centre) -> Centre:
    keeping.make_key(small_centre.ledger, small_centre.lead)
    serve.start(small_centre.ledger, take)
    return small_centre


def printed(centre: Centre) -> bytes:
    """A record as the Papers page gives it out."""
    record = competency_record(centre.ledger, centre.view(), centre.amaru, LAST_DAY)
    return preview.as_bytes(print_competency_record, centre.ledger, record, "A4")


def typed(app: AppTest, text: str) -> AppTest:
    app.segmented_control(key="check-how").set_value("Typed").run()
    app.text_area(key="check-typed").set_value(text).run()
    assert not app.exception
    return app


def heading(app: AppTest) -> str:
    return next(str(part.value) for part in app.markdown if str(part.value).startswith("## ")).replace("\\", "")


def test_a_typed_code_is_checked_against_the_ledger(centre: Centre) -> None:
    code = read_paper(printed(centre)).code
    app = typed(page("check.py"), "\n".join(code.rows()))
    assert heading(app) == "## The paper's code is as it was signed, and the ledger still says exactly this."
    assert "Competency record of Amaru Tendelle" in words(app)


def test_a_row_that_was_typed_wrong_is_told_and_what_was_typed_stays(centre: Centre) -> None:
    rows = list(read_paper(printed(centre)).code.rows())
    rows[1] = rows[1][:7] + ("2" if rows[1][7] != "2" else "3") + rows[1][8:]
    app = typed(page("check.py"), "\n".join(rows))
    assert "A character in row 2 is wrong" in words(app)
    assert app.text_area(key="check-typed").value == "\n".join(rows)


def test_a_hash_from_the_foot_of_a_page_is_a_witness(centre: Centre) -> None:
    assert heading(typed(page("check.py"), centre.ledger.head().hash[:16])) == f"## {Verdict.HASH_KNOWN}"


def test_a_file_or_a_picture_is_checked_and_it_is_told_what_changed_since(centre: Centre) -> None:
    pdf = printed(centre)
    centre.hold()
    app = page("check.py")
    app.file_uploader(key="check-file").upload("record.pdf", pdf, "application/pdf").run()
    assert heading(app) == f"## {Verdict.CHANGED}"
    assert "state word" in words(app)
    app.file_uploader(key="check-file").upload("record.jpg", picture_of(pdf), "image/jpeg").run()
    assert heading(app) == "## The paper's code is as it was signed, and the ledger says something else now."
    assert "Competency record of Amaru Tendelle" in words(app)
    app.file_uploader(key="check-file").upload("torn.jpg", picture_of(pdf)[:300], "image/jpeg").run()
    assert "no picture that can be read here" in words(app)


def test_pages_that_were_changed_are_told_by_what_stands_on_them(centre: Centre) -> None:
    app = page("check.py")
    app.file_uploader(key="check-file").upload("record.pdf", edited(printed(centre)), "application/pdf").run()
    assert heading(app) == f"## {Verdict.PAGES_EDITED}"
    assert "“50 of 50” was added" in words(app)


def test_the_keys_stand_there_to_be_compared_and_no_key_is_told(centre: Centre) -> None:
    key = paper_key(centre.ledger)
    assert key
    assert ", in use." in words(page("check.py"))
    (centre.ledger.key_folder / "centre.key").unlink()
    for shown in (page("check.py"), page("papers.py").button_group(key="paper-student").set_value(centre.amaru).run()):
        assert "The centre's key is not on this machine: bring it by its copy" in words(shown)
