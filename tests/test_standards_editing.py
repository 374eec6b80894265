"""Rubrics as a form and back: nothing changed stays as it was, what was typed is read, and two editors lose nothing."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from centre_builder import Centre, critical_mark, shipped_standards
from event_examples import FIVE, FOUR, ONE, THREE, TWO, at, event
from event_examples import history as events_of
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies_rubrics import rubric_files

from course.actions import amending
from course.actions.standards import adopt_revision, move_course
from course.answers.course_view import view
from course.answers.rule_trial import rule_trial
from course.answers.standards_answer import changes_between, history, standards_in_force
from course.answers.standards_move import move_preview, moves_made
from course.errors import NotFoundError, RefusedError, StandardsError
from course.record.chain import content_hash
from course.record.events import CourseMade, CourseStandardsMoved
from course.record.projection import project
from course.standards import editing, skill_form
from course.standards.difference import difference
from course.standards.editing import Edited, edited
from course.standards.skill_form import ErrorForm, SkillForm, form_of
from course.standards.standards import Standards, standards_from
from course.storage.lookup import in_force
from course.words import Role, StandingState

SKILL = "mp-close-out"


def form(**changes: Any) -> SkillForm:
    return replace(form_of(shipped_standards().skill(SKILL)), **changes)


def saved(found: Edited) -> Standards:
    assert found.standards is not None, (found.flaws, found.elsewhere)
    return found.standards


def with_rule(**numbers: Any) -> SkillForm:
    plain = form()
    return replace(plain, rule={**shipped_standards().skill(SKILL).rule.model_dump(), **numbers})


def save(centre: Centre, what: SkillForm, began_from: str | None = None, revision: str = "example-2") -> str:
    """What saving the form does."""
    began = began_from or centre.adoption
    found = edited(standards_of(centre, began), what, revision)
    assert found.sound, (found.flaws, found.elsewhere)
    return adopt_revision(centre.ledger, centre.lead, found.files, began)


def standards_of(centre: Centre, adoption: str) -> Standards:
    return standards_from(centre.ledger.fact("adoption", adoption).files)  # type: ignore[union-attr]


# --- the difference -------------------------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(rubric_files())
def test_a_set_does_not_differ_from_itself(files: dict[str, dict[str, Any]]) -> None:
    one, other = standards_from(files), standards_from(json.loads(json.dumps(files)))
    assert not difference(one, other)
    assert difference(one, other).sentences == ()


@settings(max_examples=40, deadline=None)
@given(rubric_files(), rubric_files())
def test_two_sets_without_a_difference_are_the_same_as_written(
    first: dict[str, dict[str, Any]], second: dict[str, dict[str, Any]]
) -> None:
    one, other = standards_from(first), standards_from(second)
    if not difference(one, other):
        assert {s: one.written_skill(s) for s in one.skills} == {s: other.written_skill(s) for s in other.skills}
        assert one.profiles == other.profiles
        assert one.unit_types == other.unit_types


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"in_a_row": 4}, "rule: in a row: 5 becomes 4."),
        ({"settings": ("dry", "pool")}, "rule: settings asked for: dry, pool and open water becomes dry and pool."),
        ({"minor_errors_allowed": 0}, "rule: minor errors allowed: 1 becomes 0."),
        ({"same_unit_type": False}, "rule: each unit type by itself: yes becomes no."),
    ],
)
def test_numbers_of_a_rule_are_told_from_what_to_what(change: dict[str, Any], told: str) -> None:
    found = edited(shipped_standards(), with_rule(**change), "example-2")
    assert found.changes.skills[0].sentences == (told,)
    assert found.changes.skills[0].other_form


def test_steps_errors_criticality_and_order_are_told_in_plain_sentences() -> None:
    plain = form()
    steps = list(plain.steps)
    steps[0] = replace(
        steps[0],
        errors=(*steps[0].errors, ErrorForm("new", "Uses the wrong hand", "The other hand is needed for the light.")),
    )
    steps[1] = replace(steps[1], errors=(replace(steps[1].errors[0], critical=False),))
    steps[3] = replace(steps[3], after=())
    told = edited(shipped_standards(), replace(plain, steps=tuple(steps)), "example-2").changes.skills[0].sentences
    hand = "step “Put a hand on the lever while the mouthpiece is still in the mouth”"
    assert told == (
        f"{hand}: error added: “Uses the wrong hand”.",
        "step “Close it fully and feel the stop”: error “Closed only part way” is not critical any more.",
        "step “Keep hold of it, or clip it off high”: no longer comes after “Only then take it out of the mouth”.",
    )


def test_a_step_added_taken_out_and_moved() -> None:
    plain = skill_form.without_step(form(), "co-hold")
    assert "step taken out: “Keep hold of it, or clip it off high”." in told_of(plain)
    loose = tuple(replace(step, after=(), after_critical=()) for step in form().steps)
    moved = skill_form.step_moved(form(steps=loose), "co-hold", -1)
    assert any(sentence.startswith("steps in another order:") for sentence in told_of(moved))


def told_of(what: SkillForm) -> tuple[str, ...]:
    found = edited(shipped_standards(), what, "example-2")
    assert found.sound, (found.flaws, found.elsewhere)
    return found.changes.skills[0].sentences


def test_a_skill_that_came_or_went_is_told() -> None:
    files = json.loads(json.dumps(dict(shipped_standards().written)))
    skills = next(content["skills"] for content in files.values() if content["kind"] == "skills")
    extra = {**skills[0], "id": "brand-new", "title": "A brand new skill"}
    skills.append(extra)
    other = standards_from(files)
    assert difference(shipped_standards(), other).sentences == ("A brand new skill: added.",)
    assert difference(other, shipped_standards()).sentences == (
        "A brand new skill: taken out; its attempts are kept and shown.",
    )


# --- the form -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("skill", list(shipped_standards().skills)[::4])
def test_a_form_saved_with_nothing_changed_leaves_every_byte(skill: str) -> None:
    """Else attempts that are pinned to the form's hash would stop counting for nothing."""
    standards = shipped_standards()
    found = edited(standards, form_of(standards.skill(skill)), "another name")
    assert content_hash(found.files) == content_hash(dict(standards.written))
    assert not found.changes


words = st.from_regex(r"[A-Z][a-z]{7,20}( [a-z]{2,9}){3,6}\.", fullmatch=True)


@st.composite
def edits(draw: st.DrawFn) -> SkillForm:
    """A skill with other numbers, words and errors, such as a person might type."""
    plain = form()
    row = draw(st.integers(3, 10))
    numbers = {
        "in_a_row": row, "distinct_days": draw(st.integers(1, 3)), "budget": draw(st.integers(row, 60)),
        "minor_errors_allowed": draw(st.integers(0, 5)), "prompts_allowed": draw(st.integers(0, 5)),
        "reteach": draw(st.integers(1, 5)), "same_unit_type": draw(st.booleans()),
    }  # fmt: skip
    steps = list(plain.steps)
    at = draw(st.integers(0, len(steps) - 1))
    extra = ErrorForm("fresh", draw(words)[:90], f"{draw(words)} And that can hurt somebody.", draw(st.booleans()))
    steps[at] = replace(
        steps[at],
        do=draw(words),
        why=draw(words),
        errors=(*steps[at].errors, extra),
        left_out_why=steps[at].left_out_why or ("" if steps[at].left_out_critical else draw(words)),
    )
    rule = {**shipped_standards().skill(SKILL).rule.model_dump(), **numbers}
    return replace(plain, purpose=draw(words), caution=draw(words), rule=rule, steps=tuple(steps))


@settings(max_examples=25, deadline=None)
@given(edits())
def test_what_was_typed_is_what_is_read(typed: SkillForm) -> None:
    standards = shipped_standards()
    found = saved(edited(standards, typed, "example-2"))
    read = form_of(found.skill(SKILL))
    assert replace(read, rule=read.rule.model_dump()) == skill_form.named(typed)  # type: ignore[union-attr]
    assert {name for name in standards.skills if standards.written_skill(name) != found.written_skill(name)} <= {SKILL}
    assert found.revision_of[SKILL] == "example-2"


def test_a_new_step_and_a_new_error_get_ids_of_their_own_words() -> None:
    with_new = skill_form.with_step(form(), 1)
    new = next(step.id for step in with_new.steps if step.id not in {s.id for s in form().steps})
    steps = tuple(
        replace(s, do="Look at the lever again.", why="It may have slipped.") if s.id == new
        else replace(s, after=(*s.after, new)) if s.id == "co-close" else s
        for s in with_new.steps
    )  # fmt: skip
    skill = saved(edited(shipped_standards(), replace(with_new, steps=steps), "example-2")).skill(SKILL)
    assert [step.id for step in skill.steps][1] == "look-at-the-lever"
    assert skill.step("co-close").after == ("co-hand", "look-at-the-lever")  # type: ignore[union-attr]


def test_two_new_things_of_the_same_words_get_different_ids() -> None:
    assert skill_form.fresh_id("Look again", ["look-again", "look-again-2"]) == "look-again-3"
    assert skill_form.fresh_id("x", []) == "x-2"  # kept for an error that the rubric does not list
    assert skill_form.fresh_id("ÄÖ", []) == "new"


@pytest.mark.parametrize(
    ("what", "path", "told"),
    [
        (lambda: form(title=""), ("title",), "The text has 0 characters"),
        (lambda: with_rule(in_a_row=2), ("rule",), "This rule cannot be met: 3 days in 2 in a row."),
        (lambda: with_rule(budget=3), ("rule", "budget"), "5 in a row within a budget of 3"),
        (lambda: with_rule(settings=()), ("rule", "settings"), "The list has 0"),
        (lambda: with_rule(reteach=0), ("rule", "reteach"), "A critical error can happen here"),
    ],
)
def test_each_flaw_is_told_at_its_field(what: Any, path: tuple[str, ...], told: str) -> None:
    found = edited(shipped_standards(), what(), "example-2")
    assert not found.sound
    assert any(told in sentence for sentence in found.at(*path)), found.flaws


def test_a_critical_error_that_is_not_defended_is_told_beside_its_consequence() -> None:
    steps = list(form().steps)
    steps[3] = replace(steps[3], errors=(replace(steps[3].errors[0], critical=True, consequence="It snags"),))
    found = edited(shipped_standards(), form(steps=tuple(steps)), "example-2")
    assert "is not defended" in found.at("steps", 3, "errors", 0, "consequence")[0]
    assert "does not say what leaving it out is" in found.exactly_at("steps", 3)[0]


def test_order_in_a_circle_is_told_where_it_stands() -> None:
    steps = list(form().steps)
    steps[0] = replace(steps[0], after=("co-hold",))
    found = edited(shipped_standards(), form(steps=tuple(steps)), "example-2")
    assert any("circle" in told for told in found.at("steps", 0, "after"))


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(["in_a_row", "distinct_days", "budget", "reteach"]), st.integers(0, 10))
def test_no_flaw_speaks_of_the_keys_of_a_file(name: str, number: int) -> None:
    found = edited(shipped_standards(), with_rule(**{name: number}), "example-2")
    told = " ".join(sentence for sentences in found.flaws.values() for sentence in sentences)
    assert "_" not in told


def test_a_step_that_vanished_is_taken_out_of_the_order_and_the_difference_says_so() -> None:
    told = told_of(skill_form.without_step(form(), "co-close"))
    assert "step taken out: “Close it fully and feel the stop”." in told
    assert any("no longer comes after “Close it fully and feel the stop”" in sentence for sentence in told)


def test_a_step_that_a_planted_fault_needs_does_not_vanish() -> None:
    standards = shipped_standards()
    fault = next(iter(standards.planted_faults.values()))
    skill, step = fault.found_in[0], fault.found_step[0]
    found = edited(standards, skill_form.without_step(form_of(standards.skill(skill)), step), "example-2")
    assert not found.sound
    assert any(f'"{step}"' in told for told in found.elsewhere)


def test_another_content_needs_another_name_of_the_revision() -> None:
    found = edited(shipped_standards(), with_rule(in_a_row=4), "example-1")
    assert "still called" in found.at("revision")[0]
    assert editing.next_revision("example-1") == "example-2"
    assert editing.next_revision("autumn") == "autumn-2"


# --- saving, and two who edit at once -------------------------------------------------------------------------------


def test_saving_makes_a_new_adoption_in_force_and_leaves_running_courses(small_centre: Centre) -> None:
    adoption = save(small_centre, with_rule(in_a_row=4))
    current = in_force(small_centre.ledger)
    assert current is not None
    assert current.id == adoption
    assert small_centre.view().course.adoption == small_centre.adoption
    newest, first = history(small_centre.ledger)
    assert (newest.in_force, first.in_force, first.courses) == (True, False, ("KW-1026",))
    assert newest.who == "Tamsin Okoro-Vale"
    assert newest.changes[0] == "Close before it leaves the mouth: rule: in a row: 5 becomes 4."
    assert "no course is on them yet" in standards_in_force(small_centre.ledger).sentence  # type: ignore[union-attr]


def test_of_two_who_edit_at_once_the_second_is_told_and_loses_nothing(small_centre: Centre) -> None:
    first = save(small_centre, with_rule(in_a_row=4))
    count = small_centre.count()
    with pytest.raises(RefusedError, match="Nothing of yours is lost"):
        save(small_centre, form(caution="Mark it in every break and on the boat as well."))
    assert small_centre.count() == count
    told = changes_between(small_centre.ledger, small_centre.adoption, first).sentences
    assert told[0] == "Close before it leaves the mouth: rule: in a row: 5 becomes 4."
    mine = replace(
        form_of(standards_of(small_centre, first).skill(SKILL)), caution="Mark it in every break and on the boat."
    )
    second = save(small_centre, mine, first, "example-3")
    skill = standards_of(small_centre, second).skill(SKILL)
    assert (skill.rule.in_a_row, skill.caution) == (4, "Mark it in every break and on the boat.")


def test_saving_what_is_in_force_already_is_refused(small_centre: Centre) -> None:
    with pytest.raises(RefusedError, match="Nothing differs"):
        adopt_revision(small_centre.ledger, small_centre.lead, shipped_standards().written, small_centre.adoption)


def test_going_back_to_an_older_revision_is_a_new_adoption(small_centre: Centre) -> None:
    newer = save(small_centre, with_rule(in_a_row=4))
    back = adopt_revision(small_centre.ledger, small_centre.lead, shipped_standards().written, newer)
    assert back != small_centre.adoption
    assert in_force(small_centre.ledger).id == back  # type: ignore[union-attr]


def test_flawed_files_are_never_adopted(small_centre: Centre) -> None:
    files = json.loads(json.dumps(dict(shipped_standards().written)))
    next(c for c in files.values() if c["kind"] == "skills")["skills"][0]["rule"]["in_a_row"] = 0
    with pytest.raises(StandardsError):
        adopt_revision(small_centre.ledger, small_centre.lead, files, small_centre.adoption)


def test_students_and_assistants_do_not_adopt(small_centre: Centre) -> None:
    with pytest.raises(RefusedError, match="Only somebody who is"):
        adopt_revision(small_centre.ledger, small_centre.assistant, shipped_standards().written, small_centre.adoption)


# --- moving a running course ----------------------------------------------------------------------------------------


def moved(centre: Centre, adoption: str, **more: Any) -> None:
    plain = {
        "adoption": adoption, "profile": "ex-first-unit", "revision": "r1", "why": "The agency raised its number.",
        "shown_from": centre.view().course.unreplaced,
    }  # fmt: skip
    actor = more.pop("actor", centre.lead)
    move_course(centre.ledger, actor, centre.course, **(plain | more))


def test_what_a_move_would_change_is_told_per_student_first(small_centre: Centre) -> None:
    small_centre.hold()
    adoption = save(small_centre, with_rule(in_a_row=6))
    count, seen = small_centre.count(), small_centre.view()
    preview = move_preview(small_centre.ledger, seen, adoption, "ex-first-unit", "r1", seen.last_day)
    assert preview.sentence == "The record of 1 of 2 students would change."
    (line,) = next(one.lines for one in preview.students if one.student == small_centre.amaru)
    assert line == (
        "Close before it leaves the mouth: met: 25 Oct 2026 becomes not started "
        "(5 attempts by the other form kept and shown, not counted)."
    )
    assert small_centre.count() == count


def test_a_move_is_recorded_with_its_reason_and_the_preview_was_right(small_centre: Centre) -> None:
    small_centre.hold()
    adoption = save(small_centre, with_rule(in_a_row=6))
    moved(small_centre, adoption)
    seen = small_centre.view()
    skill = seen.adopted.skill(SKILL)
    assert (seen.course.adoption, skill.rule.in_a_row) == (adoption, 6)
    assert seen.standing(small_centre.amaru, skill, seen.last_day).state == StandingState.NOT_STARTED
    assert len(seen.earlier_rubric(small_centre.amaru, skill)) == 5
    (line,) = moves_made(small_centre.ledger, seen)
    assert line.sentence.startswith("Moved to ex-first-unit r1 by Tamsin Okoro-Vale on ")
    assert line.sentence.endswith("The agency raised its number.")


def test_attempts_at_a_skill_whose_form_is_unchanged_go_on_counting(small_centre: Centre) -> None:
    small_centre.enter("dry-21", skill="po-store")
    moved(small_centre, save(small_centre, with_rule(in_a_row=6)))
    seen = small_centre.view()
    standing = seen.standing(small_centre.amaru, seen.adopted.skill("po-store"), seen.last_day)
    assert standing.state == StandingState.MET


def test_moving_back_makes_the_old_attempts_count_again(small_centre: Centre) -> None:
    small_centre.hold()
    moved(small_centre, save(small_centre, with_rule(in_a_row=6)))
    moved(small_centre, small_centre.adoption, why="The number was a slip.")
    seen = small_centre.view()
    assert seen.standing(small_centre.amaru, seen.adopted.skill(SKILL), seen.last_day).state == StandingState.MET
    assert len(seen.course.moves) == 2


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"why": " "}, "A reason is needed"),
        ({"shown_from": (ONE,)}, "Somebody moved this course meanwhile"),
        ({"actor": "second"}, "Only the lead of this course"),
        ({"actor": "assistant"}, "Only somebody who is"),
    ],
)
def test_a_move_is_refused(small_centre: Centre, more: dict[str, Any], told: str) -> None:
    adoption = save(small_centre, with_rule(in_a_row=6))
    if "actor" in more:
        more = {"actor": getattr(small_centre, more["actor"])}
    count = small_centre.count()
    with pytest.raises(RefusedError, match=told):
        moved(small_centre, adoption, **more)
    assert small_centre.count() == count


def test_a_move_to_where_the_course_is_or_to_nowhere_is_refused(small_centre: Centre) -> None:
    with pytest.raises(RefusedError, match="on these standards already"):
        moved(small_centre, small_centre.adoption)
    with pytest.raises(NotFoundError):
        moved(small_centre, ONE)
    with pytest.raises(NotFoundError):
        moved(small_centre, small_centre.adoption, revision="r99")


def test_a_move_is_neither_corrected_nor_withdrawn_but_made_again_by_the_lead(small_centre: Centre) -> None:
    moved(small_centre, save(small_centre, with_rule(in_a_row=6)))
    (move_,) = small_centre.view().course.moves
    with pytest.raises(RefusedError, match="the lead moves the course again"):
        amending.withdraw(small_centre.ledger, small_centre.second, move_.event, "Decided on the wrong course.")
    with pytest.raises(RefusedError, match="the lead moves the course again"):
        amending.correct(small_centre.ledger, small_centre.second, move_.event, "Slip.", change={"revision": "r2"})


MADE = CourseMade(
    course=ONE, title="x", zone="UTC", adoption=TWO, profile="ex", revision="r1", first_day="2026-10-20",
    last_day="2026-10-25",
)  # fmt: skip


def move(adoption: str, *replaces: str) -> CourseStandardsMoved:
    return CourseStandardsMoved(
        course=ONE, adoption=adoption, profile="ex", revision="r1", replaces=replaces, observed=at(), why="x"
    )


def test_two_laptops_that_move_a_course_differently_leave_it_on_what_both_found() -> None:
    """No stricter side: the field is contested until a move takes the place of both."""
    made, first = events_of(MADE, move(THREE))
    one = event(3, move(FOUR, first.id), chain="a")
    other = event(4, move(FIVE, first.id), chain="b", lamport=3)
    course: Any = project([made, first, one, other])
    assert (course.adoption, course.contested) == (THREE, ("standards",))
    assert set(course.unreplaced) == {one.id, other.id}
    settled = event(5, move(FIVE, one.id, other.id))
    course = project([other, settled, made, one, first])
    assert (course.adoption, course.contested) == (FIVE, ())


def test_two_first_moves_that_differ_leave_the_course_as_it_was_made() -> None:
    made = event(1, MADE)
    course: Any = project([made, event(2, move(FOUR), chain="a"), event(3, move(FIVE), chain="b", lamport=2)])
    assert (course.adoption, course.contested) == (TWO, ("standards",))


def test_two_laptops_that_decide_the_same_agree() -> None:
    made = event(1, MADE)
    course: Any = project([made, event(2, move(FOUR), chain="a"), event(3, move(FOUR), chain="b", lamport=2)])
    assert (course.adoption, course.contested) == (FOUR, ())


def test_a_trial_uses_each_courses_own_form_after_a_step_vanished(small_centre: Centre) -> None:
    """The adoption in force lacks a step; the course that has it is judged by its own form."""
    small_centre.hold()
    small_centre.enter("open-25", critical_mark(), student=small_centre.zoe)
    save(small_centre, skill_form.without_step(form(), "co-close"))
    found = rule_trial(small_centre.ledger, SKILL, small_centre.skill().rule)
    assert found.sentence == "Under this rule 0 of 2 standings would differ."


def test_a_new_course_is_made_on_what_is_in_force(small_centre: Centre) -> None:
    from course.actions.courses import make_course

    adoption = save(small_centre, with_rule(in_a_row=4))
    course = make_course(
        small_centre.ledger, small_centre.lead, title="Next", zone="UTC", adoption=adoption, profile="ex-first-unit",
        revision="r1", first_day="2026-11-20", last_day="2026-11-25",
    )  # fmt: skip
    assert view(small_centre.ledger, course).adopted.skill(SKILL).rule.in_a_row == 4
    assert Role.LEAD in {m.role for m in view(small_centre.ledger, course).course.members}
