"""The Standards page and "what if" without a browser: what they say first, and what an act on them does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from centre_builder import Centre, critical_mark, shipped_standards
from streamlit.testing.v1 import AppTest

from course.actions import centre as founding
from course.actions.pad import take
from course.actions.standards import adopt_revision
from course.answers.rule_strictness import CurvePoint, rule_strictness
from course.places import SCREENS
from course.screens import serve
from course.screens.rubric_forms import CHECK, SAVE
from course.screens.strictness_chart import BudgetMark, CurveLine, curve_chart, curve_csv, dodged
from course.standards.editing import edited, form_of
from course.storage.ledger import Ledger
from course.storage.lookup import adoptions, in_force

APP = str(SCREENS / "app.py")
SKILL = "mp-close-out"


@pytest.fixture
def served(small_centre: Centre) -> Centre:
    """The small centre behind the pages."""
    serve.start(small_centre.ledger, take)
    return small_centre


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Ledger]:
    """A centre without rubrics."""
    with founding.make_centre(tmp_path / "centre", name="Harbour House", lead_name="Ines Duarte") as ledger:
        serve.start(ledger, take)
        yield ledger


def page(view: str = "in-force", name: str = "standards.py", **query: str) -> AppTest:
    app = AppTest.from_file(APP, default_timeout=60)
    app.run()
    app.switch_page(f"../../pages/{name}")
    for key, value in {"view": view, "skill": SKILL, **query}.items():
        app.query_params[key] = value
    app.run()
    assert not app.exception
    return app


def words(app: AppTest) -> str:
    parts = [*app.title, *app.subheader, *app.markdown, *app.text, *app.warning, *app.error, *app.success, *app.caption]
    return "\n".join(str(part.value).replace("\\", "") for part in parts)


def press(app: AppTest, label: str, number: int = 0) -> AppTest:
    [button for button in app.button if button.label == label][number].click()
    app.run()
    assert not app.exception
    return app


def field(kind: Any, label: str, number: int = 0) -> Any:
    return [one for one in kind if one.label == label][number]


def test_a_centre_without_rubrics_is_shown_how_to_begin(empty: Ledger) -> None:
    app = page()
    assert "No rubrics are in use yet" in words(app)
    app = press(app, "Take them into use")
    assert "62 skills and 5 sets of requirements in force since" in words(app)
    assert len(adoptions(empty)) == 1


def test_in_force_leads_with_one_sentence_and_lists_rules_requirements_and_unit_types(served: Centre) -> None:
    told = words(page())
    assert "62 skills and 5 sets of requirements in force since" in told
    assert "KW-1026 is on them" in told
    assert "5 in a row over 3 days, at least one each dry, in the pool and in open water" in told
    assert "Unit type A" in told
    assert "are examples" in told


def test_try_a_rule_says_how_strict_it_is_and_what_it_would_change(served: Centre) -> None:
    served.hold()
    count = served.count()
    app = page("try")
    assert "A student whose attempts count 7 times in 10 meets this rule within 20 attempts 54 times in 100" in words(
        app
    )
    assert "Under this rule 0 of 1 standing would differ." in words(app)
    field(app.number_input, "In a row").set_value(6)
    app.run()
    assert not app.exception
    assert "Under this rule 1 of 1 standing would differ." in words(app)
    assert "Beside the rule in force" in words(app)
    assert "this rule within 20 attempts" in words(app)
    assert served.count() == count


def test_a_rule_that_cannot_be_met_is_told_when_it_is_written(served: Centre) -> None:
    app = page("try")
    field(app.number_input, "In a row").set_value(2)
    app.run()
    assert "This rule cannot be met: 3 days in 2 in a row." in words(app)
    assert "Nothing is worked out" in words(app)
    field(app.number_input, "In a row").set_value(6)
    field(app.number_input, "Over so many days").set_value(6)
    app.run()
    assert "it asks for 6 days, and there are only 5 with a session in a setting of this skill" in words(app)


def test_nobody_attempted_is_told_in_the_trial(served: Centre) -> None:
    assert "Nobody has attempted this skill here yet" in words(page("try"))


def test_a_skill_is_edited_by_form_and_saved_as_a_new_revision(served: Centre) -> None:
    app = page("edit")
    field(app.number_input, "In a row").set_value(4)
    app = press(app, CHECK)
    assert "Close before it leaves the mouth: rule: in a row: 5 becomes 4." in words(app)
    assert in_force(served.ledger).id == served.adoption  # type: ignore[union-attr]
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    assert "is saved as revision example-2, in force for new courses" in words(app)
    assert len(adoptions(served.ledger)) == 2
    assert served.view().course.adoption == served.adoption


def choose(app: AppTest, label: str, value: str) -> None:
    next(group for group in app.button_group if group.label == label).set_value(value)


def test_every_flaw_stands_at_its_field_and_what_was_typed_is_kept(served: Centre) -> None:
    app = page("edit")
    field(app.text_area, "Caution").set_value("short")
    field(app.number_input, "In a row").set_value(2)
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    told = words(app)
    assert "3 to put right first; each is told at its field. What you typed is kept." in told
    assert "The text has 5 characters; at least 8 are needed." in told
    assert "This rule cannot be met: 3 days in 2 in a row. Raise “In a row”, or ask for fewer." in told
    assert "This rule cannot be met: 3 settings in 2 in a row." in told
    assert field(app.text_area, "Caution").value == "short"
    assert len(adoptions(served.ledger)) == 1


def test_a_step_is_added_filled_moved_and_taken_out(served: Centre) -> None:
    app = page("edit")
    app = press(app, "Add a step below", 0)
    field(app.text_area, "What to do", 1).set_value("Look at the lever again.")
    field(app.text_area, "Why", 1).set_value("It may have slipped back.")
    app = press(app, CHECK)
    assert "step added: “Look at the lever again”." in words(app)
    app = press(app, "Move down", 1)
    assert field(app.text_area, "What to do", 2).value == "Look at the lever again."
    app = press(app, "Add an error", 2)
    app = press(app, CHECK)
    assert "The text has 0 characters" in words(app)
    app = press(app, "Take this step out", 2)
    app = press(app, CHECK)
    assert "Nothing differs from what is in force." in words(app)


def test_two_people_editing_at_once_lose_nothing(served: Centre) -> None:
    app = page("edit")
    field(app.text_area, "Caution").set_value("Mark it in every break and on the boat as well.")
    app = press(app, CHECK)
    standards = shipped_standards()
    other = form_of(standards.skill("mp-reentry"))
    found = edited(standards, _with_caution(other), "example-7")
    adopt_revision(served.ledger, served.second, found.files, served.adoption)
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    told = words(app)
    assert "Nothing of yours is lost" in told
    assert "Go back on the loop in order: caution:" in told
    assert field(app.text_area, "Caution").value == "Mark it in every break and on the boat as well."
    assert len(adoptions(served.ledger)) == 2
    app = press(app, "Go on with mine on top of the newer revision")
    assert field(app.text_area, "Caution").value == "Mark it in every break and on the boat as well."
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    assert "is saved as revision example-8" in words(app)
    last = in_force(served.ledger)
    assert last is not None
    text = str(last.files)
    assert "Mark it in every break and on the boat as well." in text
    assert "The unit manual decides in every case." in text


def _with_caution(form: Any) -> Any:
    return replace(form, caution="The unit manual decides in every case.")


def test_history_tells_who_when_and_what_changed(served: Centre) -> None:
    save_stricter(served)
    told = words(page("history"))
    assert "In force for new courses" in told
    assert "rule: in a row: 5 becomes 6." in told
    labels = [box.label.replace("\\", "") for box in page("history").expander]
    assert any("Tamsin Okoro-Vale · 2 changes" in label for label in labels)


def save_stricter(centre: Centre) -> str:
    standards = shipped_standards()
    form = form_of(standards.skill(SKILL))
    rule = standards.skill(SKILL).rule.model_copy(update={"in_a_row": 6})
    found = edited(standards, replace(form, rule=rule), "example-2")
    return adopt_revision(centre.ledger, centre.lead, found.files, centre.adoption)


def test_a_course_is_moved_only_after_what_would_change_was_shown(served: Centre) -> None:
    served.hold()
    adoption = save_stricter(served)
    app = page("move")
    assert "The record of 1 of 2 students would change." in words(app)
    assert "5 attempts by the other form kept and shown, not counted" in words(app)
    app = press(app, "Move the course")
    assert "A reason is needed" in words(app)
    assert served.view().course.adoption == served.adoption
    field(app.text_area, "Reason").set_value("The agency asks for six now.")
    app = press(app, "Move the course")
    assert "The course is moved" in words(app)
    assert "The agency asks for six now." in words(app)
    assert served.view().course.adoption == adoption
    assert "The course is on these already." in words(page("move"))


def test_new_courses_are_made_on_what_is_in_force(served: Centre) -> None:
    adoption = save_stricter(served)
    app = page(name="people.py")
    field(app.text_input, "Name of the course").set_value("Next one")
    press(app, "Make the course")
    made = [course for course in served.ledger.facts("course") if course.id != served.course]
    assert [course.adoption for course in made] == [adoption]  # type: ignore[attr-defined]


def test_what_if_stands_in_the_detail_and_writes_nothing(served: Centre) -> None:
    served.hold()
    served.enter("open-25", critical_mark())
    count = served.count()
    app = page(name="course.py", student=served.amaru)
    told = words(app)
    assert "Beside the standing" in [box.label for box in app.expander]
    assert "A critical error in 1 of 6 attempts" in told
    assert "If attempt 6 were void: Met on 25 Oct 2026" in told
    assert "Nothing was written" in told
    assert served.count() == count


def test_a_rule_can_be_supposed_in_the_detail(served: Centre) -> None:
    served.hold()
    app = page(name="course.py", student=served.amaru)
    next(group for group in app.button_group if group.label == "Suppose another").set_value("the rule")
    app.run()
    field(app.number_input, "In a row").set_value(6)
    app.run()
    assert "Under the other rule (6 in a row over 3 days" in words(app)
    assert "Not yet: 5 in a row of 6; missing 1." in words(app)


# --- the chart ------------------------------------------------------------------------------------------------------


def lines() -> list[CurveLine]:
    answer = rule_strictness(shipped_standards().skill(SKILL).rule)
    return [
        CurveLine(f"{share}", tuple(point for point in answer.curve if point.share == share))
        for share in (0.5, 0.7, 0.9)
    ]


def test_lines_are_told_apart_by_dashes_and_words_and_never_by_colour() -> None:
    plain = curve_chart(lines(), [BudgetMark(20, "meant for")]).to_dict()
    curves = [layer["mark"] for layer in plain["layer"] if layer["mark"].get("strokeDash")]
    assert len({tuple(mark["strokeDash"]) for mark in curves}) == 3
    assert {mark["color"] for mark in curves} == {"#111111"}
    labels = [row["label"] for rows in plain["datasets"].values() for row in rows if "label" in row]
    assert {"0.5", "0.7", "0.9", "meant for"} <= set(labels)
    assert plain["usermeta"]["embedOptions"]["actions"] is False


def test_labels_keep_apart_and_stay_inside() -> None:
    placed = dodged({"a": 100.0, "b": 99.9, "c": 99.0, "d": 2.0, "e": 1.0}, 7.5)
    heights = sorted(placed.values())
    assert all(higher - lower >= 7.5 - 1e-9 for lower, higher in pairwise(heights))
    assert max(heights) <= 100 + 7.5
    assert min(heights) >= 0


def test_the_data_can_be_read_again() -> None:
    text = curve_csv([CurveLine("7 in 10", (CurvePoint(1, 0.7, 0.0), CurvePoint(2, 0.7, 0.49)))])
    assert text.splitlines() == [
        "line,share_of_attempts_that_count,attempt,chance_to_have_met_the_rule",
        "7 in 10,0.7,1,0.000000",
        "7 in 10,0.7,2,0.490000",
    ]
