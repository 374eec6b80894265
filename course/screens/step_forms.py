"""The fields of one step of a skill: what to do and why, order, errors, limit; and what can be done with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import streamlit as st

from course.screens import controls
from course.screens.form_fields import flaws, folded, one_of_these, own_flaws, some_of_many
from course.standards.editing import Edited
from course.standards.field_labels import LABELS
from course.standards.order import CUE
from course.standards.skill_form import ErrorForm, LimitForm, SkillForm, StepForm


class Act(StrEnum):
    """What a button of a step does."""

    UP = "Move up"
    DOWN = "Move down"
    ADD_BELOW = "Add a step below"
    REMOVE = "Take this step out"
    ADD_ERROR = "Add an error"
    REMOVE_ERROR = "Take this error out"


@dataclass(frozen=True)
class Pressed:
    """A button that was pressed, and of which step and error."""

    act: Act
    step: str
    error: str = ""


def step_fields(
    form: SkillForm, number: int, step: StepForm, key: str, shown: Edited | None
) -> tuple[StepForm, Pressed | None]:
    """Draw a step; return it as typed, and the button that was pressed in it."""
    key = f"{key}-{step.id}"
    bar = "▌ " if step.left_out_critical or any(error.critical for error in step.errors) else ""
    wrong = bool(shown and shown.at("steps", number))
    with st.expander(f"{bar}{number + 1}. {_escaped(step.do) or 'a new step'}", expanded=wrong or not step.do):
        own_flaws(shown, "steps", number)
        do = st.text_area(LABELS["do"], step.do, max_chars=600, key=f"{key}-do")
        flaws(shown, "steps", number, "do")
        why = st.text_area(LABELS["why"], step.why, max_chars=600, key=f"{key}-why")
        flaws(shown, "steps", number, "why")
        typed = _order(form, number, replace(step, do=folded(do), why=folded(why)), key, shown)
        typed = _left_out(typed, number, key, shown)
        typed, pressed = _errors(typed, number, key, shown)
        typed = _limit(form, typed, number, key, shown)
        return typed, pressed or _buttons(step.id, key)


def _order(form: SkillForm, number: int, step: StepForm, key: str, shown: Edited | None) -> StepForm:
    """Only order that matters for safety: which steps have to come first, and which of these must never be wrong."""
    names = {s.id: f"{n}. {s.do}" for n, s in enumerate(form.steps, 1) if s.id != step.id}
    after = some_of_many(LABELS["after"], names, step.after, f"{key}-after")
    flaws(shown, "steps", number, "after")
    critical = some_of_many(LABELS["after_critical"], names, step.after_critical, f"{key}-after-critical")
    flaws(shown, "steps", number, "after_critical")
    return replace(step, after=after, after_critical=critical)


def _left_out(step: StepForm, number: int, key: str, shown: Edited | None) -> StepForm:
    critical = st.checkbox(LABELS["left_out_critical"], step.left_out_critical, key=f"{key}-left-out")
    why = st.text_input(
        LABELS["left_out_why"], step.left_out_why, max_chars=600,
        key=f"{key}-left-out-why",
    )  # fmt: skip
    flaws(shown, "steps", number, "left_out_why")
    return replace(step, left_out_critical=critical, left_out_why=folded(why))


def _errors(step: StepForm, number: int, key: str, shown: Edited | None) -> tuple[StepForm, Pressed | None]:
    typed, pressed = [], None
    for place, error in enumerate(step.errors):
        st.markdown(f"**Error {chr(ord('a') + place)}**")
        typed.append(_error(error, number, place, f"{key}-{error.id}", shown))
        if controls.turn(Act.REMOVE_ERROR, key=f"{key}-{error.id}-out"):
            pressed = Pressed(Act.REMOVE_ERROR, step.id, error.id)
    return replace(step, errors=tuple(typed)), pressed


def _error(error: ErrorForm, number: int, place: int, key: str, shown: Edited | None) -> ErrorForm:
    path = ("steps", number, "errors", place)
    label = st.text_input(LABELS["errors.label"], error.label, max_chars=90, key=f"{key}-label")
    flaws(shown, *path, "label")
    consequence = st.text_area(LABELS["consequence"], error.consequence, max_chars=600, key=f"{key}-consequence")
    flaws(shown, *path, "consequence")
    critical = st.checkbox(LABELS["critical"], error.critical, key=f"{key}-critical")
    own_flaws(shown, *path)
    flaws(shown, *path, "id")
    return replace(error, label=folded(label), consequence=folded(consequence), critical=critical)


def _limit(form: SkillForm, step: StepForm, number: int, key: str, shown: Edited | None) -> StepForm:
    """Bounds of a measured value, where the step has one; and which error a prompt stands for."""
    labels = {"": "none", **{error.id: error.label for error in step.errors}}
    if step.limit is not None:
        starts = {CUE: "the observer's sign", **{s.id: s.do for s in form.steps[:number]}}
        left, right = st.columns(2)
        limit = LimitForm(
            at_least=left.text_input(LABELS["at_least"], step.limit.at_least, max_chars=24, key=f"{key}-least").strip(),
            at_most=right.text_input(LABELS["at_most"], step.limit.at_most, max_chars=24, key=f"{key}-most").strip(),
            from_=one_of_these(LABELS["from_"], starts, step.limit.from_, f"{key}-from"),
            error=one_of_these(LABELS["limit.error"], labels, step.limit.error, f"{key}-limit-error"),
        )
        flaws(shown, "steps", number, "limit")
        step = replace(step, limit=limit)
    if step.errors:
        prompt = one_of_these(LABELS["prompt_error"], labels, step.prompt_error, f"{key}-prompt")
        flaws(shown, "steps", number, "prompt_error")
        step = replace(step, prompt_error=prompt)
    return step


def _buttons(step: str, key: str) -> Pressed | None:
    pressed = None
    acts = (Act.ADD_ERROR, Act.ADD_BELOW, Act.UP, Act.DOWN, Act.REMOVE)
    for row in (acts[:2], acts[2:]):
        for column, act in zip(st.columns(len(row)), row, strict=True):
            if controls.turn(act, at=column, key=f"{key}-{act.name}", width="stretch"):
                pressed = Pressed(act, step)
    return pressed


def _escaped(text: str) -> str:
    return text.replace("[", "\\[").replace("*", "\\*").replace("$", "\\$")
