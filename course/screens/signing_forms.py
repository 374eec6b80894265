"""A person decides: one standing, or all that a student holds. Nothing is signed over taps that wait to be saved."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import streamlit as st

from course.access import Act
from course.actions.signing import sign, sign_all
from course.answers.decisions import ToSign, to_sign
from course.answers.marking import deciders
from course.answers.skill_detail import SkillDetail
from course.asker import may_ask
from course.screens import choices, confirming, controls
from course.screens.components import taps_waiting
from course.screens.frame import Screen, plain, telling
from course.words import DecisionKind, plural, with_optional


def decide(screen: Screen, detail: SkillDetail) -> None:
    """Agree when the rule is met, or hold back with a reason."""
    st.subheader("Decision", anchor=False)
    st.text(detail.decision.sentence if detail.decision else "Not signed.")
    if detail.decision:
        st.text(detail.decision.apart)
    if not may_ask(Act.SIGN):
        return
    if not detail.can_sign:
        st.text("The rule is not met, so there is nothing to sign yet.")
        return
    if _taps_wait():
        return
    with st.form(f"sign-{detail.student_id}-{detail.skill}"):
        signer = choices.acting("Who decides?", deciders(screen.course), "signer")
        reason = st.text_area(
            "Reason (needed for holding back)", max_chars=1000, key=f"sign-reason-{detail.student_id}-{detail.skill}"
        )
        st.caption(
            f"The signature rests on {plural(detail.events, 'event')}. You sign a standing; the agency certifies."
        )
        given = confirming.given(screen, f"sign-{detail.student_id}-{detail.skill}", decision=True)
        agree, hold = st.columns(2)
        agreed = controls.submit(Act.SIGN, "Sign as met", at=agree, type="primary", width="stretch")
        held = controls.submit(Act.SIGN, "Hold back", at=hold, width="stretch")
    if agreed or held:
        _sign(screen, detail, signer, given, DecisionKind.AGREED if agreed else DecisionKind.STRICTER, reason)


def decide_for_student(screen: Screen, as_of: date, first: str | None = None) -> None:
    """Sign everything that one student holds, after reading what it is; `first` is whom somebody came to sign for."""
    if not may_ask(Act.SIGN):
        return
    seen = screen.course
    st.subheader(f"Sign for {plain(seen.name(first))}" if first else "Sign for one student", anchor=False)
    chosen = [first] if first else list(seen.students)
    open_for = {student: to_sign(seen, student, as_of) for student in chosen}
    names = {s: f"{seen.name(s)}: {_counted(ready, 'standing')} to sign" for s, ready in open_for.items() if ready}
    if not names:
        st.text("Nothing is met and unsigned now.")
        return
    student = first or choices.one_of("Student", names, "sign-student")
    if not student or _taps_wait():
        return
    ready = open_for[student]
    with st.form(f"sign-all-{student}"):
        for standing in ready:
            st.markdown(f"**{plain(standing.title)}** {plain(standing.sentence)}")
        signer = choices.acting("Who decides?", deciders(seen), "signer-all")
        st.caption("You sign standings; the agency certifies. To hold one back, open its cell instead.")
        given = confirming.given(screen, f"sign-all-{student}", decision=True)
        if controls.submit(Act.SIGN, f"Sign {_counted(ready, 'standing')} as met", key="sign-all", type="primary"):
            _sign_all(screen, student, signer, given, as_of, {standing.skill: standing.rests_on for standing in ready})


def _counted(ready: Sequence[ToSign], thing: str) -> str:
    return with_optional(sum(one.required for one in ready), len(ready), thing)


def _taps_wait() -> bool:
    waiting = taps_waiting()
    if waiting:
        st.warning(
            f"{plural(waiting, 'tap')} on this tablet still to be saved. Open Mark until all are saved, then sign."
        )
    return bool(waiting)


def _sign(
    screen: Screen, detail: SkillDetail, signer: str | None, given: confirming.Typed, decided: DecisionKind, reason: str
) -> None:
    if signer is None:
        st.warning("Say who decides; nothing was signed.")
        return

    def act() -> str:
        return sign(
            screen.ledger, signer, course=screen.course.course.id, student=detail.student_id, skill=detail.skill,
            decided=decided, as_of=detail.day, rests_on=detail.rests_on, reason=reason,
            confirmed_with=confirming.confirmed_with(screen, signer, given, decision=True),
        )  # fmt: skip

    done = telling(act)()
    if done:
        st.session_state["told"] = ("done", "The decision is in the ledger.")
    st.rerun()


def _sign_all(
    screen: Screen, student: str, signer: str | None, given: confirming.Typed, as_of: date, rests_on: dict[str, str]
) -> None:
    if signer is None:
        st.warning("Say who decides; nothing was signed.")
        return

    def act() -> tuple[str, ...]:
        return sign_all(
            screen.ledger, signer, course=screen.course.course.id, student=student, as_of=as_of, rests_on=rests_on,
            confirmed_with=confirming.confirmed_with(screen, signer, given, decision=True),
        )  # fmt: skip

    done = telling(act)()
    if done:
        st.session_state["told"] = ("done", f"{plural(len(done), 'decision is', 'decisions are')} in the ledger.")
    st.rerun()
