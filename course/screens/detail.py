"""What stands behind a cell of the course: rule, history, attempts with their sheets, and signing."""

from __future__ import annotations

import streamlit as st

from course.actions.signing import sign
from course.answers.marking import observers
from course.answers.skill_detail import AttemptDetail, SkillDetail
from course.places import PAGES
from course.screens import choices
from course.screens.drawing import history_svg
from course.screens.frame import Screen, plain, telling
from course.words import DecisionKind, plural


def show(screen: Screen, detail: SkillDetail, waiting: int) -> None:
    """Show why a standing is what it is, then let a person decide."""
    st.subheader(f"{plain(detail.student)} · {plain(detail.title)}", anchor=False)
    st.markdown(f"### {plain(detail.sentence)}")
    st.markdown(f"**The rule:** {plain(detail.rule)}")
    if detail.outcomes:
        st.html(history_svg(list(detail.outcomes), list(detail.streaks), detail.in_a_row))
    for still_open, sheet in detail.open_attempts:
        if st.button("Go on with the open attempt", key=f"go-{still_open}"):
            st.switch_page(PAGES / "mark.py", query_params={"attempt": still_open, "sheet": sheet})
    for attempt in reversed(detail.attempts):
        _attempt(attempt, detail.in_a_row)
    for line in detail.not_counted:
        st.text(line)
    st.caption(plain(detail.caution))
    _decide(screen, detail, waiting)


def _attempt(attempt: AttemptDetail, in_a_row: int) -> None:
    head = f"{attempt.head} · **{attempt.outcome}** · {attempt.effect} · {attempt.streak} of {in_a_row}"
    with st.expander(head.replace("[", "\\["), expanded=False):
        for reason in (*attempt.reasons, attempt.ending, attempt.entered):
            if reason:
                st.text(reason)
        for sheet in attempt.sheets:
            st.markdown(f"**{plain(sheet.observer)}** · {sheet.capacity} · {sheet.source}")
            for mark in sheet.marks:
                bar = "▌critical · " if mark.critical else ""
                st.text(f"{mark.number}. {bar}{mark.words} — {mark.do}")


def _decide(screen: Screen, detail: SkillDetail, waiting: int) -> None:
    """Agree when the rule is met, or hold back with a reason; nothing is signed over waiting taps."""
    st.subheader("Decision", anchor=False)
    st.text(detail.decision.sentence if detail.decision else "Not signed.")
    if not detail.can_sign:
        st.text("The rule is not met, so there is nothing to sign yet.")
        return
    if waiting:
        st.warning(
            f"{plural(waiting, 'tap')} on this tablet still to be saved. Open Mark until all are saved, then sign."
        )
        return
    with st.form(f"sign-{detail.student_id}-{detail.skill}"):
        signer = choices.one_of("Who decides?", observers(screen.course), "signer")
        reason = st.text_area("Reason (needed for holding back)", max_chars=1000, key="sign-reason")
        st.caption(
            f"The signature rests on {plural(detail.events, 'event')}. You sign a standing; the agency certifies."
        )
        agree, hold = st.columns(2)
        agreed = agree.form_submit_button("Sign as met", type="primary", width="stretch")
        held = hold.form_submit_button("Hold back", width="stretch")
    if agreed or held:
        _sign(screen, detail, signer, DecisionKind.AGREED if agreed else DecisionKind.STRICTER, reason)


def _sign(screen: Screen, detail: SkillDetail, signer: str | None, decided: DecisionKind, reason: str) -> None:
    if signer is None:
        st.warning("Say who decides; nothing was signed.")
        return
    done = telling(sign)(
        screen.ledger,
        signer,
        course=screen.course.course.id,
        student=detail.student_id,
        skill=detail.skill,
        decided=decided,
        as_of=detail.day,
        rests_on=detail.rests_on,
        reason=reason,
    )
    if done:
        st.session_state["told"] = ("done", "The decision is in the ledger.")
    st.rerun()
