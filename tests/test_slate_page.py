"""The Slate page without a browser: what it says first, giving out, finding a sheet, setting one aside."""

from __future__ import annotations

import pytest
from centre_builder import Centre
from opened_page import app_at
from slate_centre import PoolDay, add_pool_day
from streamlit.testing.v1 import AppTest
from test_slate_entry import column, done

from course.actions.pad import take
from course.actions.slate_entry import enter_slate
from course.answers.slate_copy import CopiedSheet
from course.moments import now
from course.record.facts import Session
from course.screens import serve


@pytest.fixture
def day(small_centre: Centre) -> PoolDay:
    serve.start(small_centre.ledger, take)
    return add_pool_day(small_centre)


def slate_page(**query: str) -> AppTest:
    app = app_at("slate")
    for key, value in query.items():
        app.query_params[key] = value
    app.run()
    assert not app.exception
    return app


def words(app: AppTest) -> str:
    return "\n".join(str(part.value) for part in (*app.title, *app.markdown, *app.warning, *app.error, *app.success))


def test_an_empty_page_teaches_and_offers_to_give_out(day: PoolDay) -> None:
    app = slate_page()
    assert "No sheet is out." in words(app)
    assert app.expander[0].label == "Give out sheets"
    assert app.expander[0].proto.expanded


def test_sheets_are_given_out_by_number_and_stand_on_the_page_until_they_are_in(day: PoolDay) -> None:
    app = slate_page()
    app.selectbox(key="slate-session").set_value(day.session).run()
    app.multiselect[0].set_value(["bas-entry", "mp-close-out"])
    next(b for b in app.button if b.label == "Give out").click().run()
    assert not app.exception
    session = day.centre.ledger.fact("session", day.session)
    assert isinstance(session, Session)
    codes = [slate.code for slate in session.slates]
    assert len(codes) == 2
    assert session.slates[0].students == day.centre.view().students
    assert all(f"**{code}**" in words(app) for code in codes)
    assert "2 sheets are still out" in words(app)
    app.button_group(key=f"slate-size-given-{session.slates[0].id}").set_value("small").run()
    assert not app.exception  # the new sheets stand under "Given out" and among those to print again
    assert "2 sheets are still out" in words(slate_page())


def test_nothing_chosen_gives_nothing_out(day: PoolDay) -> None:
    app = slate_page()
    next(b for b in app.button if b.label == "Give out").click().run()
    assert "Choose at least one skill and one student. Nothing was given out." in words(app)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("K7QF", "nine letters and digits"),
        ("course-slate/1|somewhere-else|E8YF-ZD8HQ|0", "belongs to another centre"),
    ],
)
def test_a_number_of_no_sheet_here_is_told(day: PoolDay, typed: str, told: str) -> None:
    app = slate_page()
    app.text_input(key="sheet-number").set_value(typed)
    next(b for b in app.button if b.label == "Copy this sheet in").click().run()
    assert told in words(app)


def test_a_typed_number_opens_its_sheet_in_the_address(day: PoolDay) -> None:
    slate = day.sheet("bas-entry")
    app = slate_page()
    app.text_input(key="sheet-number").set_value(day.code(slate).lower().replace("-", ""))
    next(b for b in app.button if b.label == "Copy this sheet in").click().run()
    assert not app.exception
    assert app.query_params["slate"] == slate
    assert [b.label for b in app.button] == ["All sheets"]


def test_an_address_of_no_sheet_is_told_and_leads_back(day: PoolDay) -> None:
    app = slate_page(session=day.session, slate="nothing")
    assert "gave out no such sheet" in words(app)
    app.button(key="all-sheets").click().run()
    assert "Paper sheets" in words(app)


def test_a_sheet_that_will_not_be_entered_is_set_aside_with_why(day: PoolDay) -> None:
    slate = day.sheet("bas-entry")
    app = slate_page()
    app.radio[0].set_value("lost")
    next(b for b in app.button if b.label == "Set aside").click().run()
    assert not app.exception
    session = day.centre.ledger.fact("session", day.session)
    assert isinstance(session, Session)
    assert [(one.id, one.set_aside) for one in session.slates] == [(slate, "lost")]
    assert "is set aside: lost." in words(app)


def test_a_sheet_of_which_some_is_in_says_how_much_and_is_set_aside_because_the_others_did_not_try(
    day: PoolDay,
) -> None:
    slate = day.sheet("bas-entry")
    own = column(day.students[0], *done(day.centre.skill("bas-entry")))
    copy = CopiedSheet(slate=slate, session=day.session, observer=day.centre.lead, columns=(own,))
    enter_slate(day.centre.ledger, copy, now())
    app = slate_page()
    assert "1 sheet is still out" in words(app)
    assert "1 of 6 columns in; not yet: " in words(app).replace("\\", "")
    assert app.radio[0].options[0] == "The others did not try"
    next(b for b in app.button if b.label == "Set aside").click().run()
    assert not app.exception
    session = day.centre.ledger.fact("session", day.session)
    assert isinstance(session, Session)
    assert [one.set_aside for one in session.slates] == ["not_used"]
    assert "is set aside: the others did not try." in words(app)
    assert "No sheet is out." in words(app)


def test_the_sheets_that_are_out_are_printed_on_the_page_in_the_chosen_size(day: PoolDay) -> None:
    """The same sheets, the same numbers, however often."""
    slate = day.sheet("bas-entry")
    app = slate_page()
    app.button_group(key="print-again").set_value(day.session).run()
    assert not app.exception
    assert len(app.get("download_button")) == 1
    app.button_group(key=f"slate-size-again-{slate}").set_value("small").run()
    assert not app.exception
    assert app.get("download_button")[0].proto.label == "Sheets as PDF"
