"""Edit a skill by form: its rule, steps, errors and order. Saved as a new revision of the whole set, never in place.

What was typed is kept in a draft that names the adoption it began from, so that two people who edit at once lose
nothing: whoever saves second is shown what the first one changed, and goes on on top of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import streamlit as st

from course.actions.standards import OVERTAKEN, adopt_revision
from course.answers.rule_strictness import strictness_sentence
from course.answers.rule_trial import rule_trial
from course.answers.standards_answer import changes_between, skill_titles
from course.screens import choices
from course.screens.frame import Screen, plain, telling
from course.screens.rule_fields import rule_fields
from course.screens.step_forms import Act, Pressed, step_fields
from course.standards import editing
from course.standards.editing import Edited, SkillForm
from course.standards.rubric import Skill
from course.standards.standards import Standards
from course.storage import lookup
from course.storage.lookup import adopted

CHECK, SAVE, AGAIN = "Show what would change", "Save as a new revision", "Start again"


@dataclass(frozen=True)
class Draft:
    """One skill as somebody is filling it in, and the adoption it began from."""

    began_from: str
    form: SkillForm
    revision: str
    generation: int = 0
    """Part of every field's key: a new generation draws all fields anew from the form."""
    checked: bool = False


def edit_skill(screen: Screen, in_force: str) -> None:
    """Choose a skill and edit it."""
    standards = adopted(screen.ledger, in_force).standards
    titles = skill_titles(standards)
    asked = st.query_params.get("skill", "")
    place = list(titles).index(asked) if asked in titles else 0
    name = st.selectbox("Skill", list(titles), format_func=titles.__getitem__, index=place, key="edit-skill")
    draft = _drafts().get(name) or _keep(_fresh(standards, in_force, name))
    began = adopted(screen.ledger, draft.began_from).standards
    if draft.began_from != in_force:
        _overtaken(screen, draft, in_force, standards)
    found = editing.edited(began, draft.form, draft.revision)
    if draft.checked:
        _tell(found)
        _tell_of_rule(screen, found, began.skill(name))
    _form(screen, draft, found, began.skill(name))


def _drafts() -> dict[str, Draft]:
    drafts: dict[str, Draft] = st.session_state.setdefault("rubric-drafts", {})
    return drafts


def _keep(draft: Draft) -> Draft:
    _drafts()[draft.form.id] = draft
    return draft


def _fresh(standards: Standards, in_force: str, name: str, generation: int = 0) -> Draft:
    form = editing.form_of(standards.skill(name))
    return Draft(in_force, form, editing.next_revision(standards.revision_of[name]), generation)


def _overtaken(screen: Screen, draft: Draft, in_force: str, standards: Standards) -> None:
    """Somebody adopted a newer revision since this draft began: show what changed, and the two ways on."""
    st.warning(OVERTAKEN)
    for sentence in changes_between(screen.ledger, draft.began_from, in_force).sentences:
        st.text(sentence)
    name = draft.form.id
    if name in standards.skills and st.button("Go on with mine on top of the newer revision", key="edit-on-top"):
        revision = editing.next_revision(standards.revision_of[name])
        _keep(replace(draft, began_from=in_force, revision=revision, generation=draft.generation + 1, checked=True))
        st.rerun()


def _tell(found: Edited) -> None:
    """What the draft would change, or how much is wrong with it."""
    if found.sound and not found.changes:
        st.markdown("### Nothing differs from what is in force.")
    elif found.sound:
        st.markdown("### This would change:")
        for sentence in found.changes.sentences:
            st.text(sentence)
        if any(skill.other_form for skill in found.changes.skills):
            st.caption("Attempts marked by the older form are kept and shown; under the newer one they do not count.")
    else:
        count = sum(map(len, found.flaws.values())) + len(found.elsewhere)
        st.warning(f"{count} to put right first; each is told at its field. What you typed is kept.")
        for told in (*found.elsewhere, *found.exactly_at()):
            st.warning(told)


def _tell_of_rule(screen: Screen, found: Edited, skill: Skill) -> None:
    """Where the rule changed: courses whose days cannot meet it, and how strict it is."""
    rule = found.standards.skill(skill.id).rule if found.standards else skill.rule
    if rule == skill.rule:
        return
    for course in rule_trial(screen.ledger, skill.id, rule).days_short:
        st.warning(course.sentence)
    st.text(strictness_sentence(rule))


def _form(screen: Screen, draft: Draft, found: Edited, skill: Skill) -> None:
    name, key = draft.form.id, f"{draft.form.id}-{draft.generation}"
    shown = found if draft.checked else None
    with st.form(f"rubric-{name}"):
        form = _head(draft.form, skill, key, shown)
        pressed: Pressed | None = None
        steps = []
        for number, step in enumerate(form.steps):
            typed, act = step_fields(form, number, step, key, shown)
            steps.append(typed)
            pressed = pressed or act
        form = replace(form, steps=tuple(steps))
        st.divider()
        revision = st.text_input("Name of the new revision", draft.revision, max_chars=24, key=f"{key}-revision")
        _flaws(shown, "revision")
        who = choices.one_of("Who saves?", {p.id: p.shown for p in screen.centre.evaluators}, "edit-who")
        check, save, again = st.columns(3)
        checking = check.form_submit_button(CHECK, width="stretch")
        saving = save.form_submit_button(SAVE, type="primary", width="stretch")
        afresh = again.form_submit_button(AGAIN, width="stretch")
    typed_draft = replace(draft, form=form, revision=revision.strip())
    if pressed is not None:
        _keep(replace(typed_draft, form=_acted(form, pressed), generation=draft.generation + 1))
        st.rerun()
    if afresh:
        _drafts().pop(name)
        st.session_state["told"] = ("done", "The form is as what is in force again.")
        _keep(replace(_again(screen, name), generation=draft.generation + 1))
        st.rerun()
    if checking or saving:
        _keep(replace(typed_draft, checked=True))
        if saving:
            _save(screen, typed_draft, who)
        st.rerun()


def _again(screen: Screen, name: str) -> Draft:
    fact = lookup.in_force(screen.ledger)
    if fact is None:
        st.stop()
    return _fresh(adopted(screen.ledger, fact.id).standards, fact.id, name)


def _head(form: SkillForm, skill: Skill, key: str, shown: Edited | None) -> SkillForm:
    title = st.text_input("Title", form.title, max_chars=90, key=f"{key}-title")
    _flaws(shown, "title")
    purpose = st.text_area("What it is for", form.purpose, max_chars=600, key=f"{key}-purpose")
    _flaws(shown, "purpose")
    st.subheader("The rule", anchor=False)
    rule = rule_fields(skill, form.rule, f"{key}-rule")
    _flaws(shown, "rule")
    days = st.number_input("Good for so many days", 7, 1095, form.currency_days, key=f"{key}-currency")
    _flaws(shown, "currency_days")
    caution = st.text_area("Caution", form.caution, max_chars=600, key=f"{key}-caution")
    _flaws(shown, "caution")
    st.subheader("Steps", anchor=False)
    _exactly(shown, "steps")
    return replace(
        form,
        title=folded(title),
        purpose=folded(purpose),
        caution=folded(caution),
        currency_days=int(days),
        rule=rule,
    )


def _flaws(shown: Edited | None, *path: str | int) -> None:
    for told in shown.at(*path) if shown else ():
        st.warning(told)


def _exactly(shown: Edited | None, *path: str | int) -> None:
    for told in shown.exactly_at(*path) if shown else ():
        st.warning(told)


def folded(text: str) -> str:
    """A text as a rubric holds it: one line, no blank at either end."""
    return " ".join(text.split())


def _acted(form: SkillForm, pressed: Pressed) -> SkillForm:
    number = next(number for number, step in enumerate(form.steps, 1) if step.id == pressed.step)
    match pressed.act:
        case Act.UP | Act.DOWN:
            return editing.step_moved(form, pressed.step, -1 if pressed.act == Act.UP else 1)
        case Act.ADD_BELOW:
            return editing.with_step(form, number)
        case Act.REMOVE:
            return editing.without_step(form, pressed.step)
        case Act.ADD_ERROR:
            return editing.with_error(form, pressed.step)
        case Act.REMOVE_ERROR:
            return editing.without_error(form, pressed.step, pressed.error)


def _save(screen: Screen, draft: Draft, who: str | None) -> None:
    if who is None:
        st.session_state["told"] = ("warning", "Say who saves. Nothing was saved; what you typed is kept.")
        return
    found = editing.edited(adopted(screen.ledger, draft.began_from).standards, draft.form, draft.revision)
    if not found.sound:
        return
    if telling(adopt_revision)(screen.ledger, who, found.files, draft.began_from):
        _drafts().pop(draft.form.id, None)
        saved = (
            f"{plain(draft.form.title)} is saved as revision {plain(draft.revision)}, in force for new courses. "
            "Courses that run stay on theirs until their lead moves them."
        )
        st.session_state["told"] = ("done", saved)
