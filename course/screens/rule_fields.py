"""The numbers of a rule as fields, the same where a rule is tried, edited or asked "what if"."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

from course.standards.field_labels import LABELS
from course.standards.rubric import Rule
from course.words import SETTING_WORDS


def rule_fields(settings: Sequence[str], rule: Rule | dict[str, Any], key: str) -> dict[str, Any]:
    """Draw the fields of a rule and return what stands in them, by the names of the rule's fields.

    Args:
        settings: those in which the skill may be tried.
        rule: a rule, or its numbers as typed.
        key: begins the key of each field.
    """
    now = rule.model_dump() if isinstance(rule, Rule) else rule
    rows = ("in_a_row", LABELS["in_a_row"], 1, 10), ("distinct_days", LABELS["distinct_days"], 1, 10)
    typed: dict[str, Any] = dict(_pair(*rows, now, key))
    chosen = st.pills(
        LABELS["settings"],
        list(settings),
        format_func=SETTING_WORDS.__getitem__,
        selection_mode="multi",
        default=[name for name in now["settings"] if name in settings],
        key=f"{key}-settings",
    )
    typed["settings"] = tuple(name for name in settings if name in chosen)
    if set(typed["settings"]) == set(now["settings"]):
        typed["settings"] = tuple(now["settings"])  # the order they were written in is no change
    typed |= _pair(
        ("minor_errors_allowed", LABELS["minor_errors_allowed"], 0, 5),
        ("prompts_allowed", LABELS["prompts_allowed"], 0, 5),
        now,
        key,
    )
    typed |= _pair(
        ("reteach", LABELS["reteach"], 0, 5),
        ("assessors", LABELS["assessors"], 1, 3),
        now,
        key,
    )
    left, right = st.columns(2, vertical_alignment="bottom")
    typed["budget"] = left.number_input(LABELS["budget"], 1, 60, now["budget"], key=f"{key}-budget")
    typed["same_unit_type"] = right.checkbox(LABELS["same_unit_type"], now["same_unit_type"], key=f"{key}-type")
    return typed


Field = tuple[str, str, int, int]
"""A field of the rule: its name, its words, its least and its greatest number."""


def _pair(one: Field, other: Field, now: dict[str, Any], key: str) -> dict[str, int]:
    """Two numbers side by side, one under the other on a phone."""
    return {
        name: int(column.number_input(words, least, most, now[name], key=f"{key}-{name}"))
        for column, (name, words, least, most) in zip(st.columns(2), (one, other), strict=True)
    }
