"""Edit a skill by form, add one, take one out. Saved as a new revision of the whole set, never in place."""

from __future__ import annotations

from functools import partial

import streamlit as st

from course.access import Act
from course.actions.standards import adopt_revision
from course.answers.rule_strictness import strictness_sentence
from course.answers.rule_trial import rule_trial
from course.answers.standards_answer import skill_titles
from course.moments import now, zone_named
from course.screens import choices, controls, skill_fields
from course.screens.drafts import Desk, Part, edit, left_over
from course.screens.frame import Screen, literal, plain, telling
from course.standards.editing import Edited, without_skill
from course.standards.editors import new_skill_editor, skill_editor
from course.standards.profile_editing import application_changes
from course.standards.skill_form import SkillForm
from course.standards.standards import Standards
from course.storage.lookup import adopted

CHANGE, ADD, REMOVE = "Change one", "Add one", "Take one out"
TAKE_OUT = "Take the skill out"


def edit_skills(screen: Screen, in_force: str) -> None:
    """Change a skill, add one or take one out."""
    standards = adopted(screen.ledger, in_force).standards
    what = st.pills("What to do", [CHANGE, ADD, REMOVE], default=CHANGE, key="skills-what") or CHANGE
    if what == ADD:
        phases = {phase.id: phase.title for phase in standards.phases}
        phase = st.selectbox("Phase", list(phases), format_func=phases.__getitem__, key="new-skill-phase")
        edit(Desk(screen, in_force, new_skill_editor(phase), _parts(standards, ""), _saved, partial(_follows, screen)))
        return
    titles = skill_titles(standards) | (left_over("skill", standards.skills) if what == CHANGE else {})
    asked = st.query_params.get("skill", "")
    place = list(titles).index(asked) if asked in titles else 0
    name = st.selectbox("Skill", list(titles), format_func=titles.__getitem__, index=place, key="edit-skill")
    if what == REMOVE:
        _take_out(screen, in_force, standards, name)
    else:
        edit(Desk(screen, in_force, skill_editor(name), _parts(standards, name), _saved, partial(_follows, screen)))


def _parts(standards: Standards, skill: str) -> tuple[Part[SkillForm], ...]:
    return (
        Part("Words", skill_fields.words, ("title", "purpose", "caution", "sources")),
        Part("Where", partial(skill_fields.where, standards, skill), ("setting", "needs", "before")),
        Part("Rule", skill_fields.rule, ("rule", "currency_days")),
        Part("Steps", skill_fields.steps, ("steps",)),
    )


def _saved(form: SkillForm, revision: str) -> str:
    return (
        f"{plain(form.title)} is saved as revision {plain(revision)}, in force for new courses. "
        "Courses that run stay on theirs until their lead moves them."
    )


def _follows(screen: Screen, found: Edited, began: Standards) -> None:
    """Where the rule changed: courses whose days cannot meet it, and how strict it is; which units gain or lose."""
    if found.standards is None:
        return
    for told in application_changes(began, found.standards):
        st.text(told)
    for skill in found.standards.skills.values():
        was = began.skills.get(skill.id)
        if was is None:
            st.text("No requirements ask for it yet: add it to them under Requirements, as a new revision.")
        if was is None or was.rule != skill.rule:
            for course in rule_trial(screen.ledger, skill.id, skill.rule).days_short:
                st.warning(literal(course.sentence))
            st.text(strictness_sentence(skill.rule))


def _take_out(screen: Screen, in_force: str, standards: Standards, name: str) -> None:
    """What a skill's going would break, or would change; only then the button."""
    today = now().astimezone(zone_named(screen.centre.zone)).date()
    found = without_skill(standards, name, today)
    title = standards.skill(name).title
    if not found.sound:
        st.markdown(f"### {plain(title)} cannot be taken out yet.")
        for told in (*(told for flaws in found.flaws.values() for told in flaws), *found.elsewhere):
            st.text(told)
        return
    st.markdown("### This would change:")
    for sentence in found.changes.sentences:
        st.text(sentence)
    st.caption("Courses that run keep the skill until their lead moves them. Nothing that was marked is lost.")
    who = choices.acting("Who takes it out?", {p.id: p.shown for p in screen.centre.evaluators}, "edit-who")
    if not controls.button(Act.SET_UP, TAKE_OUT, type="primary", key=f"take-out-{name}"):
        return
    if who is None:
        st.session_state["told"] = ("warning", "Say who takes it out. Nothing was changed.")
    elif telling(adopt_revision)(screen.ledger, who, found.files, in_force):
        st.session_state["told"] = ("done", f"{title} is taken out for new courses.")
    st.rerun()
