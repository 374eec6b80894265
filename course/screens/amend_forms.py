"""Amend a closed attempt: another mark, another student, it never took place, a reading is set aside. With a reason."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from course.access import Act
from course.actions import amending, settling
from course.answers.amendable import Amendable, amendable
from course.answers.marking import deciders, observers
from course.answers.skill_detail import SkillDetail
from course.asker import may_ask
from course.moments import now, observed_at
from course.screens import choices, controls
from course.screens.frame import Screen, telling

MARK, MOVE, WITHDRAW = "a mark on a sheet", "it belongs to another student", "it never took place"
ASIDE = "nothing: a tick holds although the unit was read otherwise"
ELSEWHERE = "nothing: it was seen elsewhere, and is accepted here or not"


def amend(screen: Screen, detail: SkillDetail) -> None:
    """Offer to amend one of the attempts behind a standing."""
    if not detail.attempts or not may_ask(Act.PRACTISE):
        return
    with st.expander("Something in an attempt is wrong"):
        heads = {a.attempt: f"{a.head} · {a.outcome}" for a in reversed(detail.attempts)}
        attempt = st.selectbox("Attempt", list(heads), format_func=heads.__getitem__, key="amend-attempt")
        found = telling(amendable)(screen.ledger, screen.course, attempt)
        ways = {MARK: _mark}
        if may_ask(Act.AMEND):
            ways |= {MOVE: _move, WITHDRAW: _withdraw}
        if found is not None and found.elsewhere and may_ask(Act.SIGN):
            ways = {ELSEWHERE: _elsewhere} | ways
        if found is not None and found.overruled and may_ask(Act.AMEND):
            ways |= {ASIDE: _aside}
        wrong = st.radio("What is wrong?", list(ways), key="amend-what")
        if found is not None:
            ways[wrong](screen, found)


def _mark(screen: Screen, found: Amendable) -> None:
    sheets = {s.sheet: s for s in found.sheets}
    steps = {s.step: s for s in found.steps}
    step = st.selectbox("Step", list(steps), format_func=lambda s: steps[s].words, key="amend-step")
    marks = dict(steps[step].marks)
    with st.form("amend-mark"):
        sheet = st.selectbox("Sheet of", list(sheets), format_func=lambda s: sheets[s].name)
        line = st.selectbox("What was seen", list(marks))
        actor = choices.acting("Who amends? Only its observer does.", observers(screen.course), "amend-observer")
        reason = st.text_area("Reason", max_chars=1000)
        if controls.submit(Act.PRACTISE, "Amend the mark", type="primary") and _said(actor):
            seen_at = observed_at(now(), screen.course.course.zone)
            given = (found.attempt, sheet, marks[line], reason, seen_at)
            _done(lambda: amending.amend_marks(screen.ledger, str(actor), *given))


def _move(screen: Screen, found: Amendable) -> None:
    with st.form("amend-student"):
        student = st.selectbox("It was", list(found.others), format_func=found.others.__getitem__, index=None)
        actor, reason = _who_and_why(screen)
        if controls.submit(Act.AMEND, "Move the attempt", type="primary") and _said(actor):
            _done(
                lambda: amending.correct(screen.ledger, str(actor), found.opened, reason, change={"student": student})
            )


def _withdraw(screen: Screen, found: Amendable) -> None:
    with st.form("amend-withdraw"):
        st.text("For a try that took place but not by the student's doing, close it as void instead.")
        actor, reason = _who_and_why(screen)
        if controls.submit(Act.AMEND, "Withdraw the attempt", type="primary") and _said(actor):
            _done(lambda: amending.withdraw(screen.ledger, str(actor), found.opened, reason))


def _elsewhere(screen: Screen, found: Amendable) -> None:
    with st.form("amend-elsewhere"):
        st.text(f"Seen at {found.elsewhere}. It counts only while somebody who decides here accepts it.")
        actor, reason = _who_and_why(screen)
        accept, refuse = st.columns(2)
        accepted = controls.submit(Act.SIGN, "Accept it", at=accept, type="primary", width="stretch")
        refused = controls.submit(Act.SIGN, "Do not accept it", at=refuse, width="stretch")
    if (accepted or refused) and _said(actor):
        answer = (screen.ledger, str(actor), found.attempt, reason)
        _done(lambda: settling.answer_elsewhere(*answer, accepted=accepted))


def _aside(screen: Screen, found: Amendable) -> None:
    steps = {one.step: one for one in found.overruled}
    with st.form("amend-aside"):
        step = st.selectbox("Step whose tick holds", list(steps), format_func=lambda one: steps[one].words)
        st.text("The reading stays in the unit's history. Another one that comes later overrules the tick again.")
        actor, reason = _who_and_why(screen)
        if controls.submit(Act.AMEND, "Set the reading aside", type="primary") and _said(actor):
            seen_at = observed_at(now(), screen.course.course.zone)
            given = (found.attempt, step, steps[step].readings, reason, seen_at)
            _done(lambda: settling.set_reading_aside(screen.ledger, str(actor), *given))


def _who_and_why(screen: Screen) -> tuple[str | None, str]:
    actor = choices.acting("Who amends?", deciders(screen.course), "amend-actor")
    return actor, st.text_area("Reason", max_chars=1000)


def _said(choice: str | None) -> bool:
    if choice is None:
        st.warning("Something is not chosen yet; nothing was changed.")
    return choice is not None


def _done(act: Callable[[], object]) -> None:
    st.session_state.pop("told", None)
    telling(act)()
    if "told" not in st.session_state:
        st.session_state["told"] = ("done", "Amended: the line before it stays to be read.")
    st.rerun()
