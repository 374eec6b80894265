"""The Standards page and "what if" without a browser: what they say first, and what an act on them does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from centre_builder import Centre, critical_mark, shipped_standards
from opened_page import app_at
from streamlit.testing.v1 import AppTest

from course.actions import centre as founding
from course.actions.pad import take
from course.actions.standards import adopt_revision
from course.answers.rule_strictness import CurvePoint, rule_strictness
from course.places import SCREENS
from course.screens import serve
from course.screens.drafts import LOOK, SAVE
from course.screens.strictness_chart import BudgetMark, CurveLine, curve_chart, curve_csv, dodged
from course.standards.editing import copied, edited
from course.standards.merging import Choice
from course.standards.skill_form import form_of
from course.standards.standards import standards_from
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
    app = app_at(name)
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


def go(app: AppTest, part: str) -> AppTest:
    """Press a part of the form."""
    next(b for b in app.button if b.label.removeprefix("▸ ").split(" · ")[0] == part).click()
    app.run()
    assert not app.exception
    return app


def test_a_skill_is_edited_by_form_and_saved_as_a_new_revision(served: Centre) -> None:
    app = go(page("edit"), "Rule")
    field(app.number_input, "In a row").set_value(4)
    app = go(app, LOOK)
    assert "Close before it leaves the mouth: rule: in a row: 5 becomes 4." in words(app)
    assert in_force(served.ledger).id == served.adoption  # type: ignore[union-attr]
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    assert "is saved as revision example-2, in force for new courses" in words(app)
    assert len(adoptions(served.ledger)) == 2
    assert served.view().course.adoption == served.adoption


def choose(app: AppTest, label: str, value: Any) -> None:
    next(group for group in app.button_group if group.label == label).set_value(value)


def test_every_flaw_stands_at_its_field_and_what_was_typed_is_kept(served: Centre) -> None:
    app = page("edit")
    field(app.text_area, "Caution").set_value("short")
    app = go(app, "Rule")
    field(app.number_input, "In a row").set_value(2)
    app = go(app, LOOK)
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    told = words(app)
    assert "3 to put right first; each is told at its field. What you typed is kept." in told
    assert "Words: The text has 5 characters; at least 8 are needed." in told
    assert "Rule · 2 to put right" in [button.label for button in app.button]
    app = go(app, "Rule")
    assert "This rule cannot be met: 3 days in 2 in a row. Raise “In a row”, or ask for fewer." in words(app)
    assert "This rule cannot be met: 3 settings in 2 in a row." in words(app)
    app = go(app, "Words")
    assert field(app.text_area, "Caution").value == "short"
    assert "The text has 5 characters" in words(app)
    assert len(adoptions(served.ledger)) == 1


def test_a_step_is_added_filled_moved_and_taken_out(served: Centre) -> None:
    app = go(page("edit"), "Steps")
    app = press(app, "Add a step below", 0)
    field(app.text_area, "What to do", 1).set_value("Look at the lever again.")
    field(app.text_area, "Why", 1).set_value("It may have slipped back.")
    app = go(app, LOOK)
    assert "step added: “Look at the lever again”." in words(app)
    app = press(go(app, "Steps"), "Move down", 1)
    assert field(app.text_area, "What to do", 2).value == "Look at the lever again."
    app = press(app, "Add an error", 2)
    assert "The text has 0 characters" in words(app)
    app = press(app, "Take this step out", 2)
    assert "Nothing differs from what is in force." in words(go(app, LOOK))


def test_two_people_editing_at_once_lose_nothing(served: Centre) -> None:
    app = page("edit")
    field(app.text_area, "Caution").set_value("Mark it in every break and on the boat as well.")
    app = go(app, LOOK)
    standards = shipped_standards()
    other = form_of(standards.skill("mp-reentry"))
    found = edited(standards, _with_caution(other), "example-7")
    adopt_revision(served.ledger, served.second, found.files, served.adoption)
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    assert "Both changes are in the form now. Look at what would change, then save." in words(app)
    assert "caution:" in words(app)
    assert len(adoptions(served.ledger)) == 2
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    assert "is saved as revision example-8" in words(app)
    last = in_force(served.ledger)
    assert last is not None
    text = str(last.files)
    assert "Mark it in every break and on the boat as well." in text
    assert "The unit manual decides in every case." in text


def test_one_field_that_two_people_changed_is_shown_side_by_side_and_saved_only_once_chosen(served: Centre) -> None:
    app = page("edit")
    field(app.text_area, "Caution").set_value("Mark it in every break and on the boat as well.")
    app = go(app, "Rule")
    standards = shipped_standards()
    other = replace(form_of(standards.skill(SKILL)), caution="Mark it on land too, each time.", currency_days=60)
    adopt_revision(served.ledger, served.second, edited(standards, other, "example-7").files, served.adoption)
    field(app.number_input, "In a row").set_value(4)
    app = go(app, LOOK)
    told = words(app)
    assert "A newer revision was saved while you were editing" in told
    assert "Bruno Ashkenar" in told
    assert "1 field changed by both of you. Nothing is saved until you choose." in told
    assert "Mark it in every break and on the boat as well." in told
    assert "Mark it on land too, each time." in told
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    assert "Choose for 1 field first. Nothing was saved; what you typed is kept." in words(app)
    assert len(adoptions(served.ledger)) == 2
    choose(app, "Keep for Caution", Choice.MINE)
    app = press(app, SAVE)
    assert "Both changes are in the form now." in words(app)
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    skill = standards_from(in_force(served.ledger).files).skill(SKILL)  # type: ignore[union-attr]
    assert (skill.rule.in_a_row, skill.currency_days) == (4, 60)
    assert skill.caution == "Mark it in every break and on the boat as well."


def test_what_somebody_took_out_meanwhile_is_told_and_what_was_typed_stays(served: Centre) -> None:
    app = page("edit", skill="bo-share")
    field(app.text_area, "Caution").set_value("Say it aloud before, every time.")
    adopt_revision(served.ledger, served.second, _without(served, "bo-share"), served.adoption)
    app = go(app, LOOK)
    assert "They took out what you are editing" in words(app)
    assert field(go(app, "Words").text_area, "Caution").value == "Say it aloud before, every time."


def _without(centre: Centre, skill: str) -> dict[str, Any]:
    """The files in force without an optional skill."""
    files = copied(shipped_standards())
    for content in files.values():
        content["skills"] = [one for one in content.get("skills", ()) if one["id"] != skill]
        if not content["skills"]:
            del content["skills"]
        for profile in content.get("profiles", ()):
            for name in ("required_skills", "optional_skills"):
                profile[name] = [one for one in profile.get(name, ()) if one != skill]
    return files


def test_requirements_are_changed_by_form_as_their_next_revision(served: Centre) -> None:
    app = go(page("requirements"), "Minutes")
    field(app.number_input, "Minutes on the loop in the water, at least").set_value(600)
    app = go(app, LOOK)
    head = "Requirements “Example: first unit course, no stops” r3: "
    assert f"{head}Minutes on the loop in the water: 556 becomes 600." in words(app)
    assert f"{head}added, after r2, in force from " in words(app)
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    assert "is saved as revision r3, in force for new courses from " in words(app)
    now = standards_from(in_force(served.ledger).files)  # type: ignore[union-attr]
    assert [profile.revision for profile in now.revisions("ex-first-unit")] == ["r1", "r2", "r3"]
    assert served.view().course.adoption == served.adoption


def test_requirements_that_do_not_fit_are_told_at_their_part(served: Centre) -> None:
    app = go(page("requirements"), "Skills")
    choose(app, "Close before it leaves the mouth", "not asked")
    app = go(app, LOOK)
    told = words(app)
    assert "asks for “Close before it leaves the mouth” first, which this profile does not require." in told
    assert "required_skills" not in told
    assert any(button.label.startswith("Skills · ") for button in app.button)
    assert "Add “Close before it leaves the mouth” to “Required skills”" in words(go(app, "Skills"))


def test_a_proof_is_added_and_an_empty_one_is_told(served: Centre) -> None:
    app = press(go(page("requirements"), "Proofs"), "Add a proof")
    app = go(app, LOOK)
    assert "Proofs: The text has 0 characters; at least 3 are needed." in words(app)
    app = go(app, "Proofs")
    field(app.text_input, "What has to be seen", 6).set_value("Oxygen handling read and signed")
    app = go(app, LOOK)
    assert "Proof: “Oxygen handling read and signed”, signed form, without it no dry session, which is new." in words(
        app
    )


def test_other_requirements_are_made_from_a_copy(served: Centre) -> None:
    app = page("requirements")
    choose(app, "What to do", "Make others from a copy")
    app.run()
    field(app.text_input, "Title").set_value("House course with two more pool days")
    app = go(app, LOOK)
    assert "Requirements “House course with two more pool days” r1: added, in force from " in words(app)
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    now = standards_from(in_force(served.ledger).files)  # type: ignore[union-attr]
    assert "house-course-with-two" in {profile.id for profile in now.profiles}


def test_a_unit_type_is_changed_and_the_skills_that_follow_are_told(served: Centre) -> None:
    app = page("unit-types")
    has = [f for f in shipped_standards().unit_types["type-a"].features if f != "bailout_valve"]
    choose(app, "What it has", has)
    app = go(app, LOOK)
    assert "Unit type “Unit type A”: features: taken out “Bailout valve built into the mouthpiece”." in words(app)
    assert "apply no more" in words(app)
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    assert "Unit type A is saved" in words(app)


def test_a_whole_skill_is_added_by_form(served: Centre) -> None:
    app = page("edit")
    choose(app, "What to do", "Add one")
    app.run()
    app = go(app, LOOK)
    assert "Words: The text has 0 characters; at least 3 are needed." in words(app)
    app = go(app, "Words")
    field(app.text_input, "Title").set_value("Hand the spare mask over")
    field(app.text_area, "What it is for").set_value("A buddy without a mask sees nothing.")
    field(app.text_area, "Caution").set_value("The unit manual decides in every case.")
    app = go(app, "Steps")
    for number, (do, why) in enumerate((("Show the mask.", "They know what comes."), ("Put it into the hand.",
        "A hand feels what eyes miss."), ("Wait for the sign.", "Then both go on."))):  # fmt: skip
        field(app.text_area, "What to do", number).set_value(do)
        field(app.text_area, "Why", number).set_value(why)
    app = go(app, LOOK)
    assert "Hand the spare mask over: added." in words(app)
    assert "No requirements ask for it yet" in words(app)
    choose(app, "Who saves?", served.lead)
    app = press(app, SAVE)
    assert "Hand the spare mask over is saved as revision example-2" in words(app)
    now = standards_from(in_force(served.ledger).files)  # type: ignore[union-attr]
    assert [step.id for step in now.skill("hand-the-spare-mask").steps] == [
        "show-the-mask", "put-it-into-the", "wait-for-the-sign"
    ]  # fmt: skip


def test_a_skill_that_others_need_is_not_taken_out_and_each_reason_is_told(served: Centre) -> None:
    app = page("edit")
    choose(app, "What to do", "Take one out")
    app.run()
    told = words(app)
    assert "Close before it leaves the mouth cannot be taken out yet." in told
    assert "r2 asks for “Close before it leaves the mouth”: save a new revision of these requirements" in told
    assert (
        "“Go back on the loop in order” has “Close before it leaves the mouth” among its skills to show first" in told
    )
    assert "Take the skill out" not in [button.label for button in app.button]


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
