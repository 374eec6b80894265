"""Ask what a standing would be if one attempt had been another, or under another rule. Writes nothing."""

from __future__ import annotations

import streamlit as st

from course.answers.skill_detail import SkillDetail
from course.answers.what_if import (
    NOTHING_WRITTEN,
    SUPPOSED_WORDS,
    WhatIf,
    attempts_by_number,
    if_attempt,
    if_rule,
    suppositions,
)
from course.screens.frame import Screen, literal, plain
from course.screens.rule_fields import rule_fields
from course.standards.editing import checked_rule

ATTEMPT, RULE = "one attempt", "the rule"


def what_if(screen: Screen, detail: SkillDetail) -> None:
    """A small form under a standing; its answer stands in place."""
    with st.expander("What if …"):
        about = st.segmented_control("Suppose another", [ATTEMPT, RULE], default=ATTEMPT, key="if-about") or ATTEMPT
        answer = (_attempt if about == ATTEMPT else _rule)(screen, detail)
        if answer is not None:
            st.markdown(f"**{plain(answer.sentence)}**")
            st.text(f"As it is: {answer.before}")
            st.caption(NOTHING_WRITTEN)


def _attempt(screen: Screen, detail: SkillDetail) -> WhatIf | None:
    seen = screen.course
    skill = seen.adopted.skill(detail.skill)
    numbers = attempts_by_number(seen, detail.student_id, skill, detail.day)
    if not numbers:
        st.text("There is no closed attempt to suppose anything of.")
        return None
    heads = {a.attempt: f"{a.head} · {a.outcome}" for a in detail.attempts}
    attempt = st.selectbox(
        "If", list(numbers), format_func=lambda a: heads.get(a, f"attempt {numbers[a]}"), index=len(numbers) - 1,
        key="if-attempt",
    )  # fmt: skip
    supposed = st.selectbox("it", suppositions(skill), format_func=SUPPOSED_WORDS.__getitem__, key="if-supposed")
    return if_attempt(seen, detail.student_id, skill, attempt, supposed, detail.day)


def _rule(screen: Screen, detail: SkillDetail) -> WhatIf | None:
    seen = screen.course
    skill = seen.adopted.skill(detail.skill)
    rule, reasons = checked_rule(skill, rule_fields(skill.setting, skill.rule, f"if-{skill.id}"))
    for reason in reasons:
        st.warning(literal(reason))
    return if_rule(seen, detail.student_id, skill, rule, detail.day) if rule else None
