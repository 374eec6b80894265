"""Two people who edit at once, requirements and unit types by form: nothing is lost, nothing is written by itself."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from centre_builder import Centre, shipped_standards
from event_examples import ONE, THREE, TWO
from hypothesis import given, settings
from hypothesis import strategies as st

from course.actions import amending
from course.actions.standards import adopt_revision
from course.answers.standards_answer import adoption_contest
from course.errors import RefusedError
from course.record.chain import content_hash
from course.record.events import RubricAdoptedAfter
from course.standards import profile_editing as forms
from course.standards.editing import copied, edited, held_by, without_skill
from course.standards.editors import profile_editor, skill_editor
from course.standards.merging import GONE, ORDER, Choice, joined
from course.standards.skill_form import SkillForm, form_from, form_of, plain_form, without_step
from course.storage.ledger import Draft
from course.storage.lookup import adoption_heads

SKILL, PROFILE = "mp-close-out", "ex-first-unit"
TODAY = date(2026, 11, 25)

fields = st.dictionaries(st.sampled_from("abcdef"), st.integers(0, 3), max_size=6)
things = st.lists(st.fixed_dictionaries({"id": st.sampled_from("stuvw"), "n": st.integers(0, 2)}),
                  unique_by=lambda item: item["id"], max_size=4)  # fmt: skip
plain = st.fixed_dictionaries({"fields": fields, "things": things, "word": st.sampled_from(["one", "two", "three"])})


# --- the law ---------------------------------------------------------------------------------------------------------


@settings(max_examples=300, deadline=None)
@given(plain, plain, plain)
def test_who_saves_second_makes_no_difference(base: Any, one: Any, other: Any) -> None:
    """The same fields are in conflict either way; where none is, the same comes out."""
    there, back = joined(base, one, other), joined(base, other, one)
    assert {c.path for c in there.conflicts} == {c.path for c in back.conflicts}
    if not there.conflicts:
        assert there.value == back.value


@settings(max_examples=200, deadline=None)
@given(plain, plain, plain)
def test_once_every_conflict_is_settled_none_is_open(base: Any, one: Any, other: Any) -> None:
    found = joined(base, one, other)
    choices = dict.fromkeys((c.path for c in found.conflicts), Choice.THEIRS)
    assert not joined(base, one, other, choices).conflicts


@given(plain, plain)
def test_what_one_alone_changed_is_kept_whole(base: Any, mine: Any) -> None:
    assert joined(base, mine, base).value == mine
    assert joined(base, base, mine).value == mine
    assert not joined(base, mine, base).conflicts


@given(st.lists(st.tuples(st.sampled_from("abcdef"), st.integers(10, 99)), unique_by=lambda pair: pair[0], max_size=6))
def test_disjoint_fields_are_both_kept(changes: list[tuple[str, int]]) -> None:
    base = dict.fromkeys("abcdef", 0)
    mine, theirs = base | dict(changes[::2]), base | dict(changes[1::2])
    assert joined(base, mine, theirs).value == base | dict(changes)


def test_a_list_of_names_can_take_both_changes() -> None:
    base, mine, theirs = {"n": ["a", "b"]}, {"n": ["a", "b", "c"]}, {"n": ["b", "d"]}
    (conflict,) = joined(base, mine, theirs).conflicts
    assert conflict.can_be_both
    assert joined(base, mine, theirs, {("n",): Choice.BOTH}).value == {"n": ["b", "d", "c"]}


def test_two_orders_of_one_list_are_a_conflict_of_their_order() -> None:
    items = [{"id": name} for name in "abc"]
    found = joined(items, [items[1], items[0], items[2]], [items[0], items[2], items[1]])
    assert [c.path for c in found.conflicts] == [(ORDER,)]


# --- a skill ---------------------------------------------------------------------------------------------------------


def skill_form(**changes: Any) -> SkillForm:
    return replace(form_of(shipped_standards().skill(SKILL)), **changes)


def test_a_form_as_plain_data_and_back_is_the_same() -> None:
    assert plain_form(form_from(plain_form(skill_form()))) == plain_form(skill_form())


def test_a_step_that_one_took_out_and_the_other_changed_is_asked_about_and_comes_back_whole() -> None:
    """What the form does not show of a step comes back with it too, such as its limit's unit."""
    standards = shipped_standards()
    skill = next(s for s in standards.skills.values() if any(step.limit for step in s.steps))
    step = next(step for step in skill.steps if step.limit)
    form = form_of(skill)
    without = replace(without_step(form, step.id), rule=form.rule)
    loose = tuple(
        replace(s, limit=replace(s.limit, from_="cue")) if s.limit and s.limit.from_ == step.id else s
        for s in without.steps
    )
    taken_out = edited(standards, replace(without, steps=loose), "example-7")
    if taken_out.standards is None:
        pytest.fail(str((taken_out.flaws, taken_out.elsewhere)))
    mine = replace(form, steps=tuple(replace(s, why="It takes time to be seen.") if s.id == step.id else s
                                     for s in form.steps))  # fmt: skip
    editor = skill_editor(skill.id)
    found = editor.join(standards, taken_out.standards, mine, {})
    assert found is not None
    conflict = next(c for c in found.conflicts if c.path == ("steps", step.id))
    assert conflict.theirs is GONE
    chosen = dict.fromkeys((c.path for c in found.conflicts), Choice.MINE)
    settled = editor.join(standards, taken_out.standards, mine, chosen)
    assert settled is not None
    back = edited(taken_out.standards, editor.form(settled.value), "example-8")
    assert back.standards is not None, (back.flaws, back.elsewhere)
    again = back.standards.skill(skill.id).step(step.id)
    assert again is not None
    assert (again.why, again.limit) == ("It takes time to be seen.", step.limit)


def test_needs_settings_and_sources_are_written_only_where_they_differ() -> None:
    changed = replace(skill_form(), needs=replace(skill_form().needs, any=("hud", "second_handset")))
    found = edited(shipped_standards(), changed, "example-2")
    assert found.standards is not None, (found.flaws, found.elsewhere)
    was, now = shipped_standards().written_skill(SKILL), found.standards.written_skill(SKILL)
    assert now == {**was, "needs": {"any": ["hud", "second_handset"]}}


def test_a_skill_that_nothing_holds_is_taken_out_of_older_requirements_too() -> None:
    """rs-after is optional in r1, which r2 has followed; r2 requires it."""
    standards = shipped_standards()
    assert any("r2 asks for" in told for told in held_by(standards, "rs-after", TODAY))
    form = forms.next_profile(standards, PROFILE, TODAY)
    assert form is not None
    without = forms.with_asked(form, {"rs-after": forms.NOT_ASKED})
    next_set = forms.edited_profile(standards, {**without, "in_force_from": TODAY.isoformat()}, "r3").standards
    assert next_set is not None
    found = without_skill(next_set, "rs-after", TODAY)
    assert found.standards is not None, found.elsewhere
    assert "rs-after" not in found.standards.skills
    assert all("rs-after" not in (*p.required_skills, *p.optional_skills) for p in found.standards.profiles)


# --- requirements and unit types -------------------------------------------------------------------------------------


def next_form() -> dict[str, Any]:
    form = forms.next_profile(shipped_standards(), PROFILE, TODAY)
    assert form is not None
    return form


def test_requirements_saved_with_nothing_changed_leave_every_byte() -> None:
    found = forms.edited_profile(shipped_standards(), next_form(), "r3")
    assert content_hash(found.files) == content_hash(copied(shipped_standards()))
    assert not found.changes


@pytest.mark.parametrize("unit_type", ["type-a", "type-b"])
def test_a_unit_type_saved_with_nothing_changed_leaves_every_byte(unit_type: str) -> None:
    form = forms.written_unit_type(shipped_standards(), unit_type)
    assert form is not None
    same = forms.with_features(form, reversed(form["features"]))
    found = forms.edited_unit_type(shipped_standards(), same)
    assert content_hash(found.files) == content_hash(copied(shipped_standards()))


def test_rows_typed_as_they_are_leave_the_form_alone() -> None:
    form = next_form()
    for name, key in (("hours", "of"), ("counts", "of"), ("ratios", "setting")):
        assert forms.with_rows(form, name, key, dict(forms.rows(form, name, key))) == form
    assert forms.with_asked(form, forms.asked(form)) == form
    assert [forms.with_number(row, "valid_days", row["valid_days"] or 0) for row in form["prerequisites"]] == form[
        "prerequisites"
    ]


def test_what_the_form_does_not_show_is_kept_as_written() -> None:
    form = {**next_form(), "something_else": {"kept": 1}}
    assert forms.with_rows(form, "hours", "of", {"pool": {"of": "pool", "at_least_minutes": 1}})["something_else"]


def test_two_who_change_other_fields_of_requirements_make_one_revision_of_both() -> None:
    standards, editor = shipped_standards(), profile_editor(PROFILE, TODAY)
    theirs = forms.edited_profile(standards, {**next_form(), "max_depth_m": 21}, "r3").standards
    assert theirs is not None
    mine = forms.with_rows(next_form(), "hours", "of", {"pool": {"of": "pool", "at_least_minutes": 400}})
    found = editor.join(standards, theirs, mine, {})
    assert found is not None
    assert not found.conflicts
    both = editor.judge(theirs, found.value, editor.suggest(theirs)).standards
    assert both is not None
    newest = both.revisions(PROFILE)[-1]
    minutes = {rule.of: rule.at_least_minutes for rule in newest.hours}
    assert (newest.revision, newest.supersedes, newest.max_depth_m, minutes["pool"]) == ("r4", "r3", 21, 400)


def test_the_same_number_of_requirements_changed_by_both_is_a_conflict() -> None:
    standards, editor = shipped_standards(), profile_editor(PROFILE, TODAY)
    theirs = forms.edited_profile(standards, {**next_form(), "max_depth_m": 21}, "r3").standards
    assert theirs is not None
    found = editor.join(standards, theirs, {**next_form(), "max_depth_m": 18}, {})
    assert found is not None
    assert [(c.path, c.base, c.mine, c.theirs) for c in found.conflicts] == [(("max_depth_m",), 27, 18, 21)]


# --- what disagrees --------------------------------------------------------------------------------------------------


def test_two_devices_that_adopt_without_knowing_of_each_other_are_told_until_one_takes_the_place_of_both(
    small_centre: Centre,
) -> None:
    c = small_centre
    first = edited(shipped_standards(), skill_form(caution="Mark it in every break as well."), "example-2").files
    other = edited(shipped_standards(), skill_form(currency_days=60), "example-2").files
    for event, adoption, files in ((ONE, TWO, first), (THREE, "0192d000-0000-7000-8000-0000000000aa", other)):
        body = RubricAdoptedAfter(adoption=adoption, files=json.loads(json.dumps(files)), replaces=(c.adoption,))
        c.ledger.append([Draft(id=event, actor=c.lead, body=body)])
    contest = adoption_contest(c.ledger)
    assert contest is not None
    assert "without knowing of each other" in contest.sentence
    assert any("days it stays in date" in told for told in contest.differs)
    last = adoption_heads(c.ledger)[-1]
    adopt_revision(c.ledger, c.lead, last.files, last.id)
    assert adoption_contest(c.ledger) is None


@pytest.mark.parametrize("change", [{"adoption": ONE}, {"profile": "ex-refresher"}, {"revision": "r2"}])
def test_the_standards_of_a_course_are_moved_and_not_corrected(small_centre: Centre, change: dict[str, str]) -> None:
    c = small_centre
    made = next(event.id for event in c.ledger.events(c.course) if event.kind == "course_made/1")
    with pytest.raises(RefusedError, match="its lead moves the course on Standards"):
        amending.correct(c.ledger, c.lead, made, "Typed wrong.", change=change)
    amending.correct(c.ledger, c.lead, made, "Typed wrong.", change={"last_day": "2026-10-26"})
