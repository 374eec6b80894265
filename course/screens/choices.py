"""Choosing on a page: large buttons, one thing at a time."""

from __future__ import annotations

import streamlit as st

from course.answers.marking import SkillChoice
from course.words import plural


def one_of(label: str, options: dict[str, str], key: str) -> str | None:
    """Choose one of a few by tapping; a single option is chosen already."""
    if not options:
        return None
    only = next(iter(options)) if len(options) == 1 else None
    return st.pills(label, list(options), format_func=options.__getitem__, key=key, default=only)


def skill_button(skill: SkillChoice) -> bool:
    """A skill with its standing and what is missing; True when it was tapped."""
    count = f"{plural(skill.attempts, 'attempt')} of about {skill.budget}" if skill.attempts else "no attempt yet"
    text = (
        f"**{skill.title}**  \n{skill.word}: {skill.line or count}"
        if skill.attempts
        else f"**{skill.title}**  \n{count}"
    )
    return st.button(text, key=f"skill-{skill.skill}", width="stretch")


def go_to_attempt(attempt: str, sheet: str) -> None:
    """Open the pad on an attempt; the address holds it, so that a reload resumes."""
    st.query_params["attempt"] = attempt
    st.query_params["sheet"] = sheet
    st.rerun()
