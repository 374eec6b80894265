"""The parts of the requirements' form: what it is, minutes and numbers, ratios, proofs, skills, signing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from functools import partial
from typing import Any, get_args

import streamlit as st

from course.screens import controls
from course.screens.drafts import Drawn
from course.screens.form_fields import flaws, folded, one_of_these, own_flaws, some_of_many
from course.screens.frame import literal
from course.screens.frame import plain as escaped
from course.standards import profile_editing as forms
from course.standards.editing import Edited
from course.standards.field_labels import (
    COUNT_WORDS,
    HOUR_WORDS,
    LABELS,
    PROOF_WORDS,
    SIGNER_WORDS,
    STAGE_WORDS,
    WHOM_WORDS,
)
from course.standards.profile_editing import Plain
from course.standards.rubric import Setting
from course.standards.standards import Standards
from course.words import SETTING_WORDS

_ASKED = (forms.NOT_ASKED, forms.OPTIONAL, forms.REQUIRED)
_AGE, _DEPTH, _FINISH, _CURRENCY = (
    ("minimum_age_years", 10, 30), ("max_depth_m", 1, 100), ("finish_within_days", 1, 730),
    ("instructor_currency_days", 30, 730),
)  # fmt: skip


def what(form: Plain, key: str, shown: Edited | None, *, is_new: bool) -> Drawn[Plain]:
    """Title, notice, day, and for whom."""
    title = st.text_input(LABELS["title"], form["title"], max_chars=90, key=f"{key}-title")
    flaws(shown, "title")
    notice = st.text_area(LABELS["notice"], form["notice"], max_chars=600, key=f"{key}-notice")
    flaws(shown, "notice")
    first_day = date.fromisoformat(form["in_force_from"])
    day = st.date_input(LABELS["in_force_from"], first_day, format="YYYY-MM-DD", key=f"{key}-from")
    flaws(shown, "in_force_from")
    flaws(shown, "supersedes")
    values: dict[str, Any] = {"title": folded(title), "notice": folded(notice), "in_force_from": str(day)}
    if is_new:
        values["for_whom"] = one_of_these(LABELS["for_whom"], WHOM_WORDS, form["for_whom"], f"{key}-whom")
    values["unit_bound"] = st.checkbox(LABELS["unit_bound"], form["unit_bound"], key=f"{key}-unit")
    return forms.with_values(form, values), None


def limits(form: Plain, key: str, shown: Edited | None) -> Drawn[Plain]:
    """Least age, greatest depth, time to finish, instructors' currency."""
    values = {}
    for pair in ((_AGE, _DEPTH), (_FINISH, _CURRENCY)):
        for column, (name, least, most) in zip(st.columns(2, vertical_alignment="bottom"), pair, strict=True):
            values[name] = _number(column, LABELS[name], least, most, form[name], f"{key}-{name}")
    for name in values:
        flaws(shown, name)
    return forms.with_values(form, values), None


def minutes(form: Plain, key: str, shown: Edited | None) -> Drawn[Plain]:
    """Minutes of each kind, and numbers of sessions, dives and days."""
    st.caption("0 stands for nothing asked.")
    now, typed = forms.rows(form, "hours", "of"), {}
    for name, words in HOUR_WORDS.items():
        row = now.get(name, {"of": name})
        asked = _number(
            st, f"Minutes {words}, at least", 0, 100_000, row.get("at_least_minutes", 0), f"{key}-hours-{name}"
        )
        typed[name] = {**row, "at_least_minutes": asked} if asked else None
    flaws(shown, "hours")
    form = forms.with_rows(form, "hours", "of", typed)
    form = forms.with_rows(form, "counts", "of", _counts(form, key))
    flaws(shown, "counts")
    return form, None


def _counts(form: Plain, key: str) -> dict[str, Plain | None]:
    now, typed = forms.rows(form, "counts", "of"), {}
    twice = len(form["counts"]) != len(now)
    if twice:
        st.caption("Two numbers of one kind are written here; they are kept as they are.")
    for name, words in COUNT_WORDS.items() if not twice else ():
        row = now.get(name, {"of": name})
        left, right = st.columns(2, vertical_alignment="bottom")
        least = _number(left, f"{words.capitalize()}, at least", 0, 500, row.get("at_least", 0), f"{key}-count-{name}")
        each = _number(
            right,
            f"Minutes in each of these {words}",
            0,
            600,
            row.get("each_at_least_minutes", 0),
            f"{key}-each-{name}",
        )
        typed[name] = {**row, "at_least": least, "each_at_least_minutes": each} if least else None
    return typed


def ratios(form: Plain, key: str, shown: Edited | None) -> Drawn[Plain]:
    """How many students one group may have in each setting."""
    st.caption("0 students to one instructor: no ratio is stated for that setting.")
    now, typed = forms.rows(form, "ratios", "setting"), {}
    own_flaws(shown, "ratios")
    for name in get_args(Setting):
        row = now.get(name, {"setting": name})
        st.markdown(f"**{SETTING_WORDS[name].capitalize()}**")
        typed[name] = _ratio(row, f"{key}-ratio-{name}")
        kept = [setting for setting in now if typed.get(setting, True)]
        if name in kept:
            flaws(shown, "ratios", kept.index(name))
    return forms.with_rows(form, "ratios", "setting", typed), None


def _ratio(row: Plain, key: str) -> Plain | None:
    names = (
        ("students_per_instructor", 0), ("extra_with_assistant", 0), ("most_students", 1),
        ("low_visibility_students_per_instructor", 0),
    )  # fmt: skip
    typed = {}
    columns = (*st.columns(2, vertical_alignment="bottom"), *st.columns(2, vertical_alignment="bottom"))
    for column, (name, least) in zip(columns, names, strict=True):
        most = 10 if name == "extra_with_assistant" else 30
        typed[name] = _number(column, LABELS[name], least, most, row.get(name) or least, f"{key}-{name}")
    low = typed.pop("low_visibility_students_per_instructor")
    if not typed["students_per_instructor"]:
        return None
    return forms.with_number({**row, **typed}, "low_visibility_students_per_instructor", low)


def proofs(form: Plain, key: str, shown: Edited | None) -> Drawn[Plain]:
    """What has to be seen before which stage."""
    own_flaws(shown, "prerequisites")
    typed: list[Plain] = []
    act: Callable[[Plain], Plain] | None = None
    for number, row in enumerate(form["prerequisites"]):
        own = f"{key}-proof-{row['id']}"
        wrong = bool(shown and shown.at("prerequisites", number)) or not row["label"]
        with st.expander(escaped(row["label"]) or "a new proof", expanded=wrong):
            typed.append(_proof(row, own))
            flaws(shown, "prerequisites", number)
            if controls.turn("Take this proof out", key=f"{own}-out"):
                act = partial(forms.without_proof, proof_id=row["id"])
    if controls.turn("Add a proof", key=f"{key}-proof-more"):
        act = forms.with_proof
    return forms.with_values(form, {"prerequisites": typed}), act


def _proof(row: Plain, key: str) -> Plain:
    label = st.text_input(LABELS["prerequisites.label"], row["label"], max_chars=90, key=f"{key}-label")
    proof = one_of_these(LABELS["proof"], PROOF_WORDS, row["proof"], f"{key}-kind")
    blocks = one_of_these(LABELS["blocks"], STAGE_WORDS, row["blocks"], f"{key}-blocks")
    days = _number(st, LABELS["valid_days"], 0, 3660, row.get("valid_days") or 0, f"{key}-days")
    return forms.with_number({**row, "label": folded(label), "proof": proof, "blocks": blocks}, "valid_days", days)


def skills(standards: Standards, form: Plain, key: str, shown: Edited | None) -> Drawn[Plain]:
    """Each skill required, optional or not asked, phase by phase."""
    own_flaws(shown, "required_skills")
    now, chosen = forms.asked(form), {}
    numbers = {name: form.get(name, []) for name in ("required_skills", "optional_skills")}
    for phase in standards.phases:
        own = [s for s in standards.skills_of_phase(phase.id) if s.audience == form["for_whom"] or s.id in now]
        wrong = {s.id for s in own if _skill_flaws(shown, numbers, s.id)}
        required = sum(now.get(skill.id) == forms.REQUIRED for skill in own)
        if not own:
            continue
        with st.expander(f"{escaped(phase.title)} · {required} of {len(own)} required", expanded=bool(wrong)):
            for skill in own:
                usual = now.get(skill.id, forms.NOT_ASKED)
                picked = st.segmented_control(
                    skill.title, _ASKED, default=usual, key=f"{key}-asked-{skill.id}", required=True
                )
                chosen[skill.id] = str(picked)
                for told in _skill_flaws(shown, numbers, skill.id):
                    st.warning(literal(told))
    return forms.with_asked(form, chosen), None


def _skill_flaws(shown: Edited | None, numbers: Mapping[str, list[str]], skill: str) -> tuple[str, ...]:
    """What is wrong with one skill in either list."""
    if shown is None:
        return ()
    places = ((name, names.index(skill)) for name, names in numbers.items() if skill in names)
    return tuple(told for name, number in places for told in shown.at(name, number))


def signing(form: Plain, key: str, shown: Edited | None) -> Drawn[Plain]:
    """Who signs."""
    chosen = some_of_many(LABELS["sign_by"], SIGNER_WORDS, form["sign_by"], f"{key}-sign")
    flaws(shown, "sign_by")
    return forms.with_values(form, {"sign_by": list(chosen)}), None


def unit_type(standards: Standards, form: Plain, key: str, shown: Edited | None) -> Drawn[Plain]:
    """A unit type: its title and what it has."""
    title = st.text_input(LABELS["title"], form["title"], max_chars=90, key=f"{key}-title")
    flaws(shown, "title")
    features = {feature.id: feature.title for feature in standards.features.values()}
    known = {**features, **{name: f"{name} (gone)" for name in form["features"] if name not in features}}
    chosen = st.pills(
        LABELS["features"], list(known), selection_mode="multi", default=form["features"],
        format_func=known.__getitem__, key=f"{key}-features",
    )  # fmt: skip
    flaws(shown, "features")
    return forms.with_features(forms.with_values(form, {"title": folded(title)}), chosen), None


def unit_days(form: Plain, key: str, shown: Edited | None) -> Drawn[Plain]:
    """The days between services, and of an oxygen cell."""
    values = {}
    for column, name in zip(st.columns(2), ("service_days", "cell_days"), strict=True):
        values[name] = _number(column, LABELS[name], 30, 1095, form[name], f"{key}-{name}")
        flaws(shown, name)
    return forms.with_values(form, values), None


def _number(place: Any, words: str, least: int, most: int, now: int, key: str) -> int:
    """A whole number; a column or the page is where it goes."""
    return int(place.number_input(words, least, most, now, key=key))
