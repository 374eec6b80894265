"""The parts of a skill's form: its words, where it may be tried, its rule, its steps."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import get_args

import streamlit as st

from course.screens import controls
from course.screens.drafts import Drawn
from course.screens.form_fields import flaws, folded, own_flaws, some_of_many, unmoved
from course.screens.rule_fields import rule_fields
from course.screens.step_forms import Act, Pressed, step_fields
from course.standards import skill_form
from course.standards.editing import Edited
from course.standards.field_labels import LABELS, SOURCE_WORDS
from course.standards.rubric import Setting
from course.standards.skill_form import NeedsForm, SkillForm, SourceForm
from course.standards.standards import Standards
from course.words import SETTING_WORDS


def words(form: SkillForm, key: str, shown: Edited | None) -> Drawn[SkillForm]:
    """Title, purpose, caution and sources."""
    title = st.text_input(LABELS["title"], form.title, max_chars=90, key=f"{key}-title")
    flaws(shown, "title")
    purpose = st.text_area(LABELS["purpose"], form.purpose, max_chars=600, key=f"{key}-purpose")
    flaws(shown, "purpose")
    caution = st.text_area(LABELS["caution"], form.caution, max_chars=600, key=f"{key}-caution")
    flaws(shown, "caution")
    typed = replace(form, title=folded(title), purpose=folded(purpose), caution=folded(caution))
    return _sources(typed, key, shown)


def _sources(form: SkillForm, key: str, shown: Edited | None) -> Drawn[SkillForm]:
    st.subheader(LABELS["sources"], anchor=False)
    own_flaws(shown, "sources")
    kinds = list(SOURCE_WORDS)
    typed, gone = [], None
    for number, source in enumerate(form.sources):
        kind = st.selectbox(
            f"Source {number + 1}", kinds, kinds.index(source.kind), format_func=SOURCE_WORDS.__getitem__,
            key=f"{key}-source-{number}",
        )  # fmt: skip
        ref = st.text_input(LABELS["sources.ref"], source.ref, max_chars=300, key=f"{key}-source-{number}-ref")
        flaws(shown, "sources", number)
        typed.append(SourceForm(kind, folded(ref)))
        if len(form.sources) > 1 and controls.turn("Take this source out", key=f"{key}-source-{number}-out"):
            gone = number
    form = replace(form, sources=tuple(typed))
    if controls.turn("Add a source", key=f"{key}-source-more"):
        return form, lambda now: replace(now, sources=(*now.sources, SourceForm()))
    if gone is not None:
        return form, partial(_without_source, number=gone)
    return form, None


def _without_source(form: SkillForm, number: int) -> SkillForm:
    return replace(form, sources=(*form.sources[:number], *form.sources[number + 1 :]))


def where(standards: Standards, skill: str, form: SkillForm, key: str, shown: Edited | None) -> Drawn[SkillForm]:
    """Settings, unit features and the skills to show first."""
    settings = list(get_args(Setting))
    chosen = st.pills(
        LABELS["setting"], settings, selection_mode="multi", format_func=SETTING_WORDS.__getitem__,
        default=list(form.setting), key=f"{key}-setting",
    )  # fmt: skip
    flaws(shown, "setting")
    features = {feature.id: feature.title for feature in standards.features.values()}
    needs = {
        name: some_of_many(LABELS[f"needs.{name}"], features, getattr(form.needs, name), f"{key}-needs-{name}")
        for name in ("all", "any", "none")
    }
    flaws(shown, "needs")
    others = {one.id: one.title for one in standards.skills.values() if one.id != skill}
    before = some_of_many(LABELS["before"], others, form.before, f"{key}-before")
    flaws(shown, "before")
    in_order = [name for name in settings if name in chosen]
    return replace(form, setting=unmoved(in_order, form.setting), needs=NeedsForm(**needs), before=before), None


def rule(form: SkillForm, key: str, shown: Edited | None) -> Drawn[SkillForm]:
    """The numbers of the rule, and for how long it is good."""
    own_flaws(shown, "rule")
    numbers = rule_fields(form.setting, form.rule, f"{key}-rule")
    for name in numbers:
        flaws(shown, "rule", name)
    days = st.number_input(LABELS["currency_days"], 7, 1095, form.currency_days, key=f"{key}-currency")
    flaws(shown, "currency_days")
    return replace(form, rule=numbers, currency_days=int(days)), None


def steps(form: SkillForm, key: str, shown: Edited | None) -> Drawn[SkillForm]:
    """The steps, each closed until it is opened."""
    own_flaws(shown, "steps")
    typed, pressed = [], None
    for number, step in enumerate(form.steps):
        one, act = step_fields(form, number, step, key, shown)
        typed.append(one)
        pressed = pressed or act
    form = replace(form, steps=tuple(typed))
    return form, partial(_acted, pressed=pressed) if pressed else None


def _acted(form: SkillForm, pressed: Pressed) -> SkillForm:
    number = next(number for number, step in enumerate(form.steps, 1) if step.id == pressed.step)
    match pressed.act:
        case Act.UP | Act.DOWN:
            return skill_form.step_moved(form, pressed.step, -1 if pressed.act == Act.UP else 1)
        case Act.ADD_BELOW:
            return skill_form.with_step(form, number)
        case Act.REMOVE:
            return skill_form.without_step(form, pressed.step)
        case Act.ADD_ERROR:
            return skill_form.with_error(form, pressed.step)
        case Act.REMOVE_ERROR:
            return skill_form.without_error(form, pressed.step, pressed.error)
