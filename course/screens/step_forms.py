"""The fields of one step of a skill: what to do and why, order, errors, limit; and what can be done with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import streamlit as st

from course.standards.editing import Edited, ErrorForm, LimitForm, SkillForm, StepForm
from course.standards.order import CUE


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
        _told(shown, "steps", number, exactly=True)
        do = st.text_area("What to do", step.do, max_chars=600, key=f"{key}-do")
        _told(shown, "steps", number, "do")
        why = st.text_area("Why", step.why, max_chars=600, key=f"{key}-why")
        _told(shown, "steps", number, "why")
        typed = _order(form, number, replace(step, do=_folded(do), why=_folded(why)), key, shown)
        typed = _left_out(typed, number, key, shown)
        typed, pressed = _errors(typed, number, key, shown)
        typed = _limit(form, typed, number, key, shown)
        return typed, pressed or _buttons(step.id, key)


def _order(form: SkillForm, number: int, step: StepForm, key: str, shown: Edited | None) -> StepForm:
    """Only order that matters for safety: which steps have to come first, and which of these must never be wrong."""
    names = {s.id: f"{n}. {s.do}" for n, s in enumerate(form.steps, 1) if s.id != step.id}
    after = st.multiselect(
        "Has to come after", list(names), [name for name in step.after if name in names],
        format_func=names.__getitem__, key=f"{key}-after",
    )  # fmt: skip
    _told(shown, "steps", number, "after")
    critical = st.multiselect(
        "Critical when it comes before", list(names), [name for name in step.after_critical if name in names],
        format_func=names.__getitem__, key=f"{key}-after-critical",
    )  # fmt: skip
    _told(shown, "steps", number, "after_critical")
    return replace(step, after=_kept(after, step.after), after_critical=_kept(critical, step.after_critical))


def _kept(chosen: list[str], before: tuple[str, ...]) -> tuple[str, ...]:
    """The same names in another order are no change."""
    return before if set(chosen) == set(before) and len(chosen) == len(before) else tuple(chosen)


def _left_out(step: StepForm, number: int, key: str, shown: Edited | None) -> StepForm:
    critical = st.checkbox("Leaving it out is critical", step.left_out_critical, key=f"{key}-left-out")
    why = st.text_input(
        "Else, where something here can be critical: why leaving it out is not", step.left_out_why, max_chars=600,
        key=f"{key}-left-out-why",
    )  # fmt: skip
    _told(shown, "steps", number, "left_out_why")
    return replace(step, left_out_critical=critical, left_out_why=_folded(why))


def _errors(step: StepForm, number: int, key: str, shown: Edited | None) -> tuple[StepForm, Pressed | None]:
    typed, pressed = [], None
    for place, error in enumerate(step.errors):
        st.markdown(f"**Error {chr(ord('a') + place)}**")
        typed.append(_error(error, number, place, f"{key}-{error.id}", shown))
        if st.form_submit_button(Act.REMOVE_ERROR, key=f"{key}-{error.id}-out"):
            pressed = Pressed(Act.REMOVE_ERROR, step.id, error.id)
    return replace(step, errors=tuple(typed)), pressed


def _error(error: ErrorForm, number: int, place: int, key: str, shown: Edited | None) -> ErrorForm:
    path = ("steps", number, "errors", place)
    label = st.text_input("What went wrong", error.label, max_chars=90, key=f"{key}-label")
    _told(shown, *path, "label")
    consequence = st.text_area("What comes of it", error.consequence, max_chars=600, key=f"{key}-consequence")
    _told(shown, *path, "consequence")
    critical = st.checkbox("Critical: one miss can injure on this dive", error.critical, key=f"{key}-critical")
    _told(shown, *path, exactly=True)
    _told(shown, *path, "id")
    return ErrorForm(error.id, _folded(label), _folded(consequence), critical)


def _limit(form: SkillForm, step: StepForm, number: int, key: str, shown: Edited | None) -> StepForm:
    """Bounds of a measured value, where the step has one; and which error a prompt stands for."""
    labels = {"": "none", **{error.id: error.label for error in step.errors}}
    if step.limit is not None:
        starts = {CUE: "the observer's sign", **{s.id: s.do for s in form.steps[:number]}}
        left, right = st.columns(2)
        limit = LimitForm(
            at_least=left.text_input("At least", step.limit.at_least, max_chars=24, key=f"{key}-least").strip(),
            at_most=right.text_input("At most", step.limit.at_most, max_chars=24, key=f"{key}-most").strip(),
            from_=_one_of("Watched from", starts, step.limit.from_, f"{key}-from"),
            error=_one_of("A value outside stands for", labels, step.limit.error, f"{key}-limit-error"),
        )
        _told(shown, "steps", number, "limit")
        step = replace(step, limit=limit)
    if step.errors:
        prompt = _one_of("A prompt stands for", labels, step.prompt_error, f"{key}-prompt")
        _told(shown, "steps", number, "prompt_error")
        step = replace(step, prompt_error=prompt)
    return step


def _one_of(label: str, options: dict[str, str], now: str, key: str) -> str:
    """A choice; what is chosen now and has gone stays among the options, so that its flaw can be told."""
    known = options if now in options else {**options, now: f"{now} (gone)"}
    return str(st.selectbox(label, list(known), list(known).index(now), format_func=known.__getitem__, key=key))


def _buttons(step: str, key: str) -> Pressed | None:
    pressed = None
    acts = (Act.ADD_ERROR, Act.ADD_BELOW, Act.UP, Act.DOWN, Act.REMOVE)
    for row in (acts[:2], acts[2:]):
        for column, act in zip(st.columns(len(row)), row, strict=True):
            if column.form_submit_button(act, key=f"{key}-{act.name}", width="stretch"):
                pressed = Pressed(act, step)
    return pressed


def _told(shown: Edited | None, *path: Any, exactly: bool = False) -> None:
    if shown is not None:
        for told in shown.exactly_at(*path) if exactly else shown.at(*path):
            st.warning(told)


def _folded(text: str) -> str:
    return " ".join(text.split())


def _escaped(text: str) -> str:
    return text.replace("[", "\\[").replace("*", "\\*").replace("$", "\\$")
