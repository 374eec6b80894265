"""A student's own page: their own record alone, opened for them by an instructor."""

from __future__ import annotations

from dataclasses import replace

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, critical_mark
from click.testing import CliRunner
from opened_page import app_at
from streamlit.testing.v1 import AppTest

from course.actions.pad import take
from course.answers.decisions import to_sign
from course.answers.student_page import StudentPage, student_page
from course.commands import main
from course.screens import serve
from course.words import Closing, with_optional


def own(centre: Centre, student: str = "") -> StudentPage:
    return student_page(centre.view(), student or centre.amaru, LAST_DAY)


def open_page(centre: Centre, name: str = "student.py", **query: str) -> AppTest:
    serve.start(centre.ledger, take)
    app = app_at(name)
    for key, value in query.items():
        app.query_params[key] = value
    app.run()
    assert not app.exception
    return app


def words(app: AppTest) -> str:
    parts = [*app.title, *app.subheader, *app.markdown, *app.caption, *app.warning, *app.error]
    told = [str(part.value) for part in parts] + [box.label for box in app.expander]
    return "\n".join(told).replace("\\", "")


# --- the answer ---


def test_a_student_whom_nobody_saw_holds_nothing_and_begins_somewhere(small_centre: Centre) -> None:
    page = own(small_centre)
    assert (page.held, page.weak, page.attempts, page.seen_by) == ((), (), (), ())
    assert page.sentence.startswith(f"Amaru Tendelle holds 0 of {len(page.missing)} required skills. Next: ")


def test_what_is_held_and_what_is_to_sign_tell_required_and_optional_skills_apart(small_centre: Centre) -> None:
    small_centre.hold()
    seen = small_centre.view()
    asked = tuple(skill for skill in seen.profile.required_skills if skill != POOL_SKILL)
    less = {"required_skills": asked, "optional_skills": (*seen.profile.optional_skills, POOL_SKILL)}
    seen = replace(seen, profile=seen.profile.model_copy(update=less))
    page = student_page(seen, small_centre.amaru, LAST_DAY)
    assert page.sentence.startswith("Amaru Tendelle holds 0 of ")
    assert page.held_words == "0 required and 1 optional skill, 0 signed"
    assert [one.required for one in to_sign(seen, small_centre.amaru, LAST_DAY)] == [False]
    assert own(small_centre).held_words == "1 skill, 0 signed"
    assert with_optional(49, 51, "standing") == "49 required and 2 optional standings"


def test_missing_is_one_line_each(small_centre: Centre) -> None:
    for session in ("dry-21", "pool-22", "pool-22", "pool-23"):
        small_centre.enter(session)
    lines = {one.skill: one.line for one in own(small_centre).missing}
    assert lines[POOL_SKILL] == "not yet: 1 more, in open water"
    assert all(line and "\n" not in line for line in lines.values())


def test_who_saw_an_attempt_stands_beside_it_and_two_observers_are_both_named(small_centre: Centre) -> None:
    """Hard case 3: one attempt, two sheets; it is one attempt on the student's page."""
    from centre_builder import sheet_of

    small_centre.enter("pool-22", others=((small_centre.second, sheet_of(small_centre.skill(), critical_mark())),))
    (attempt,) = own(small_centre).attempts
    assert attempt.seen_by == ("Tamsin Okoro-Vale", "Bruno Ashkenar")
    assert attempt.outcome == "critical", "the stricter sheet counts"
    assert dict(own(small_centre).seen_by) == {"Tamsin Okoro-Vale": 1, "Bruno Ashkenar": 1}


def test_void_and_practice_attempts_are_shown_in_no_standing(small_centre: Centre) -> None:
    """Hard cases 2 and 33: kept and shown, never counted."""
    small_centre.enter("pool-22", closing=Closing.VOID, reason="A real emergency on the surface.")
    small_centre.enter("pool-23", by=small_centre.candidate)
    found = [(one.outcome, one.effect, one.seen_by) for one in own(small_centre).attempts]
    assert found == [
        ("practice sheets only", "in no standing", ("Jorun Vask",)),
        ("void", "in no standing", ("Tamsin Okoro-Vale",)),
    ]


def test_attempts_are_newest_first_by_the_day_they_were_seen(small_centre: Centre) -> None:
    """Hard case 20: entered days later, a slate still stands where it was seen."""
    for session in ("open-24", "dry-21", "pool-22"):
        small_centre.enter(session)
    assert [one.day.day for one in own(small_centre).attempts] == [24, 22, 21]


def test_plain_data_have_days_as_text(small_centre: Centre) -> None:
    small_centre.enter("dry-21")
    assert own(small_centre).plain()["attempts"][0]["day"] == "2026-10-21"


# --- the page ---


def test_the_page_asks_whose_and_says_who_opens_it(small_centre: Centre) -> None:
    app = open_page(small_centre)
    assert "Opened by an instructor" in words(app)
    assert app.button[0].label == "Amaru Tendelle"


def test_an_opened_page_has_no_other_students_name_on_it(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    app = open_page(small_centre, student=small_centre.amaru)
    told = words(app)
    assert "went wrong in 1 of 1" in told
    assert "Zoë" not in told
    assert not any("Zoë" in button.label for button in app.button)
    assert "It certifies nobody." in told


def test_a_student_of_no_such_id_is_asked_for_again(small_centre: Centre) -> None:
    assert "Whose own page?" in words(open_page(small_centre, student="nobody"))


def test_closing_the_page_leads_back_to_the_names(small_centre: Centre) -> None:
    app = open_page(small_centre, student=small_centre.amaru)
    app.button(key="close-own").click().run()
    assert "Whose own page?" in words(app)


# --- the command ---


@pytest.mark.parametrize(("paper", "told"), [("take-home", "1 page, as of"), ("record", "pages, as of")])
def test_each_paper_is_printed_by_its_name(small_centre: Centre, paper: str, told: str) -> None:
    folder = small_centre.ledger.folder
    out = folder.parent / f"{paper}.pdf"
    result = CliRunner().invoke(main, ["print", str(folder), "Amaru", "--paper", paper, "--out", str(out)])
    assert result.exit_code == 0, result.output
    assert f"{paper.replace('-', ' ')} of Amaru Tendelle, " in result.output
    assert told in result.output
    assert out.read_bytes().startswith(b"%PDF")
    out.unlink()
