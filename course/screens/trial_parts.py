"""Try a rule: how strict it is, beside the rule in force, and against this centre's own past attempts."""

from __future__ import annotations

import streamlit as st

from course.answers.rule_strictness import (
    MISSED,
    SHARES,
    USUAL_A_DAY,
    USUAL_SHARE,
    RuleStrictness,
    faults_words,
    rule_strictness,
    times_words,
    two_rules,
)
from course.answers.rule_trial import RuleTrial, rule_trial
from course.answers.standards_answer import current_standards, skill_titles
from course.screens import strictness_chart
from course.screens.frame import Screen, literal, plain
from course.screens.rule_fields import rule_fields
from course.screens.strictness_chart import BudgetMark, CurveLine
from course.standards.editing import checked_rule
from course.standards.rubric import Rule, Skill

_SHORT = {0.95: "95 in 100", **{share: f"{round(share * 10)} in 10" for share in SHARES if share != 0.95}}


def try_a_rule(screen: Screen) -> None:
    """The whole of Try a rule. Nothing in here writes."""
    standards = current_standards(screen.ledger)
    if standards is None:
        return
    titles = skill_titles(standards)
    asked = st.query_params.get("skill", "")
    place = list(titles).index(asked) if asked in titles else 0
    name = st.selectbox("Skill", list(titles), format_func=titles.__getitem__, index=place, key="try-skill")
    skill = standards.skill(name)
    head = st.container()  # the sentence that matters stands above the fields that it follows from
    typed = rule_fields(skill.setting, skill.rule, f"try-{name}")
    a_day = st.number_input("Attempts a day", 1, 10, USUAL_A_DAY, key="try-a-day")
    rule, reasons = checked_rule(skill, typed)
    for reason in reasons:
        st.warning(literal(reason))
    if rule is None:
        st.text("Nothing is worked out for a rule that cannot be met.")
        return
    trial, answer = rule_trial(screen.ledger, name, rule), rule_strictness(rule, int(a_day))
    head.markdown(f"### {plain(answer.sentence)}")
    head.markdown(f"**{plain(trial.sentence)}**")
    for course in trial.days_short:
        head.warning(literal(course.sentence))
    _curve(answer)
    if rule != skill.rule:
        _side_by_side(skill, rule, int(a_day))
    _own_attempts(trial)


def _curve(answer: RuleStrictness) -> None:
    st.markdown(f"**{plain(answer.finding)}**")
    lines = [
        CurveLine(_SHORT[share], tuple(point for point in answer.curve if point.share == share)) for share in SHARES
    ]
    strictness_chart.show(lines, [BudgetMark(answer.rule.budget, "meant for")], answer.finding, "rule")
    st.caption(
        "Each line is an imagined student whose attempts count so often, the same throughout, settings in turn day by "
        "day; attempts that do not count break the row. No real student is in here, and no learner is so steady. "
        "Without a number of attempts that it is meant for, every rule lets everybody through."
    )
    _table(answer, "this rule")


def _table(answer: RuleStrictness, which: str) -> None:
    heads = [f"observer misses {faults_words(missed)}" if missed else "observer sees every fault" for missed in MISSED]
    rows = [{"attempts count": row.words, **dict(zip(heads, row.told, strict=True))} for row in answer.table]
    st.markdown(f"Met within {answer.rule.budget} attempts, {which}:")
    st.table(rows, border="horizontal", hide_index=True)


def _side_by_side(skill: Skill, rule: Rule, a_day: int) -> None:
    st.subheader("Beside the rule in force", anchor=False)
    share = st.pills(
        "A student whose attempts count", list(SHARES), format_func=times_words, default=USUAL_SHARE, key="try-share"
    )
    answer = two_rules(rule, skill.rule, share or USUAL_SHARE, a_day)
    finding = answer.finding.replace("the first rule", "this rule").replace("the second", "the rule in force")
    st.markdown(f"**{plain(finding)}**")
    lines = [CurveLine("this rule", answer.first), CurveLine("in force", answer.second)]
    marks = [BudgetMark(rule.budget, "meant for")]
    if skill.rule.budget != rule.budget:
        marks.append(BudgetMark(skill.rule.budget, "in force"))
    strictness_chart.show(lines, marks, finding, "two-rules")
    _table(rule_strictness(skill.rule, a_day), "the rule in force")


def _own_attempts(trial: RuleTrial) -> None:
    st.subheader("On this centre's own attempts", anchor=False)
    st.markdown(f"**{plain(trial.sentence)}**")
    rows = [
        {"course": one.course, "student": one.name, "is": one.before, "would be": one.after}
        for one in (*trial.differing, *trial.other_days)
    ]
    if rows:
        st.table(rows, border="horizontal", hide_index=True)
    for course in trial.days:
        if course.can_be_met:
            st.text(course.sentence)
    st.caption(
        "Nothing was written. The attempts are taken as if they had been marked under this rule. Once a rule is saved "
        "as a new revision and a course is moved to it, attempts by the older form are kept and shown, but not counted."
    )
