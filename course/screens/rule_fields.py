"""The numbers of a rule as fields, the same where a rule is tried, edited or asked "what if"."""

from __future__ import annotations

from typing import Any

import streamlit as st

from course.standards.rubric import Rule, Skill
from course.words import SETTING_WORDS


def rule_fields(skill: Skill, rule: Rule | dict[str, Any], key: str) -> dict[str, Any]:
    """Draw the fields of a rule and return what stands in them, by the names of the rule's fields."""
    now = rule.model_dump() if isinstance(rule, Rule) else rule
    left, right = st.columns(2)
    typed: dict[str, Any] = {
        "in_a_row": left.number_input("In a row", 1, 10, now["in_a_row"], key=f"{key}-row"),
        "distinct_days": right.number_input("Over so many days", 1, 10, now["distinct_days"], key=f"{key}-days"),
    }
    chosen = st.pills(
        "At least one in each of",
        list(skill.setting),
        format_func=SETTING_WORDS.__getitem__,
        selection_mode="multi",
        default=[name for name in now["settings"] if name in skill.setting],
        key=f"{key}-settings",
    )
    typed["settings"] = tuple(name for name in skill.setting if name in chosen)
    if set(typed["settings"]) == set(now["settings"]):
        typed["settings"] = tuple(now["settings"])  # the order they were written in is no change
    left, right = st.columns(2)
    typed["minor_errors_allowed"] = left.number_input(
        "Minor errors allowed in each", 0, 5, now["minor_errors_allowed"], key=f"{key}-minors"
    )
    typed["prompts_allowed"] = right.number_input(
        "Prompts allowed in each", 0, 5, now["prompts_allowed"], key=f"{key}-prompts"
    )
    typed["reteach"] = left.number_input(
        "Re-teach attempts after a critical error", 0, 5, now["reteach"], key=f"{key}-reteach"
    )
    typed["assessors"] = right.number_input("Different observers", 1, 3, now["assessors"], key=f"{key}-observers")
    typed["budget"] = left.number_input("Meant for about so many attempts", 1, 60, now["budget"], key=f"{key}-budget")
    typed["same_unit_type"] = right.checkbox("Each unit type by itself", now["same_unit_type"], key=f"{key}-type")
    return typed
