"""Part of Ready: sign one student off, line by line; exceptions by two instructors; every issue with its history."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import streamlit as st

from course.access import Act
from course.actions import exceptions
from course.actions import sign_off as signing_off
from course.answers.marking import deciders
from course.answers.sign_off import (
    RuleLine,
    SignOffSheet,
    apart_words,
    exception_rules,
    sign_off_sheet,
    still_asked,
    who_signs,
    who_signs_too,
)
from course.asker import may_ask
from course.record.signing_events import Confirmed
from course.screens import choices, confirming, controls
from course.screens.arrival_forms import arrival_part
from course.screens.components import taps_waiting
from course.screens.frame import Screen, fresh, plain
from course.standards.field_labels import SIGNER_WORDS
from course.words import plural

_MET, _SHORT = "■", "□"
_FOLDED = 6


def sign_off_part(screen: Screen, as_of: date) -> None:
    """Choose a student; everything that whoever signs has to see, then the forms for those who may sign.

    Reasons and what came from elsewhere are theirs alone too: assistants and candidates see the lines.
    """
    seen = screen.course
    st.subheader("Sign off", anchor=False)
    student = choices.one_of("Student", {one: seen.name(one) for one in seen.students}, "sign-off-student")
    if student is None:
        return
    sheet = sign_off_sheet(screen.ledger, seen, student, as_of)
    _lines(sheet)
    if not may_ask(Act.SIGN):
        return
    for issue in sheet.issues:
        st.markdown(f"{_MET if issue.stands and not issue.older else _SHORT} {plain(issue.sentence)}")
    if waiting := taps_waiting():
        st.warning(f"{plural(waiting, 'tap')} on this tablet still to be saved. Open Mark until all are saved.")
        return
    _decide(screen, sheet)
    with st.expander("Exceptions: two instructors let a requirement be"):
        _exceptions(screen, sheet)
    arrival_part(screen, student, as_of)


def _lines(sheet: SignOffSheet) -> None:
    short = [line for line in sheet.lines if not line.met]
    st.markdown(f"**{sheet.rules_met} of {plural(len(sheet.lines), 'line')} met.** {plain(sheet.assessed)}")
    for line in short[:_FOLDED]:
        st.markdown(f"{_SHORT} **{plain(line.what)}**: {plain(line.words)}")
    with st.expander("Every line of the requirements"):
        st.markdown("\n".join(f"- {_line(line)}" for line in sheet.lines))


def _line(line: RuleLine) -> str:
    signed = f" · {line.signed}" if line.signed else ""
    return f"{_MET if line.met else _SHORT} {plain(line.what)}: {plain(line.words)}{signed}"


def _decide(screen: Screen, sheet: SignOffSheet) -> None:
    """Sign off, where no issue stands on the record as it is; what stands is signed too or taken back."""
    issue = sheet.standing_issue
    if issue is None or issue.older:
        _sign(screen, sheet, again=bool(sheet.issues))
    else:
        for role in still_asked(screen.course, sheet.student):
            _countersign(screen, sheet, issue.id, role)
    if issue is not None:
        _take_back(screen, sheet, issue.id)


def _sign(screen: Screen, sheet: SignOffSheet, *, again: bool) -> None:
    if sheet.to_do:
        st.text(f"Not to be signed off yet: {'; '.join(sheet.to_do[:3])}{' and more' if len(sheet.to_do) > 3 else ''}.")
        return
    seen = screen.course
    signer = choices.acting("Who decides?", who_signs(seen), "sign-off-signer")
    with st.form(fresh(f"sign-off-{sheet.student}")):
        reason = st.text_input("Why another issue", max_chars=500, key=fresh("sign-off-reason")) if again else ""
        given = confirming.given(screen, "sign-off")
        if signer:
            st.caption(plain(apart_words(seen, sheet.student, signer, sheet.day)))
        st.caption("You sign that all of these lines are met as this page shows them. The agency certifies.")
        if not controls.submit(Act.SIGN, f"Sign {plain(sheet.name)} off", key="sign-off", type="primary"):
            return
    confirming.do(
        screen, signer, given,
        lambda who, how: signing_off.sign_off(
            screen.ledger, who, course=seen.course.id, student=sheet.student, as_of=sheet.day,
            rests_on=sheet.rests_on, reason=reason, confirmed_with=how,
        ),
        "The sign-off is in the ledger.",
    )  # fmt: skip


def _countersign(screen: Screen, sheet: SignOffSheet, issue: str, role: str) -> None:
    people = who_signs_too(screen.course, sheet.student, role)
    if not people:
        st.text(f"Still to sign: {SIGNER_WORDS[role]}. Everybody on this course who could has signed this issue.")
        return
    with st.form(fresh(f"beside-{role}-{sheet.student}")):
        asked = "Who takes the initials?" if role == "student" else f"Who signs too, as {SIGNER_WORDS[role]}?"
        who = choices.acting(asked, people, f"beside-{role}")
        initials = (
            st.text_input("Initials of the student", max_chars=12, key=fresh(f"initials-{role}"))
            if role == "student"
            else ""
        )
        given = confirming.given(screen, f"beside-{role}")
        label = "Take the student's initials" if role == "student" else f"Sign too, as {SIGNER_WORDS[role]}"
        if not controls.submit(Act.SIGN, label, key=f"beside-{role}"):
            return
    confirming.do(
        screen, who, given,
        lambda one, how: signing_off.countersign(screen.ledger, one, issue, role, initials, how),
        "It stands under this issue.",
    )  # fmt: skip


def _take_back(screen: Screen, sheet: SignOffSheet, issue: str) -> None:
    with st.expander("Take this issue back"), st.form(fresh(f"back-{sheet.student}")):
        who = choices.acting("Who takes it back?", deciders(screen.course), "back-signer")
        reason = st.text_input("Reason", max_chars=500, key=fresh("back-reason"))
        given = confirming.given(screen, "back")
        st.caption("What was signed stays to be read, with who took it back and why.")
        if not controls.submit(Act.SIGN, "Take it back", key="back-issue"):
            return
    confirming.do(
        screen, who, given, lambda one, how: signing_off.take_back(screen.ledger, one, issue, reason, how),
        "The sign-off is taken back.",
    )  # fmt: skip


def _exceptions(screen: Screen, sheet: SignOffSheet) -> None:
    """What was let be, what waits for the second word, and the form to propose one."""
    st.caption(
        "Looser than the tool takes a reason and two instructors, each with their own word. Never over a critical "
        "error that nothing has cleared, and never over a paper or the exam."
    )
    for one in sheet.exceptions:
        st.markdown(f"{_MET if one.stands else _SHORT} {plain(one.sentence)}")
        if one.waits:
            _word(
                screen, f"second-{one.id}", "Agree as the second instructor",
                {p: name for p, name in deciders(screen.course).items() if p != one.proposed_by},
                lambda who, how, reason, one=one: exceptions.second(  # type: ignore[misc]
                    screen.ledger, who, one.id, as_of=sheet.day, rests_on=one.rests_on, reason=reason,
                    confirmed_with=how,
                ),
            )  # fmt: skip
    for told in sheet.exceptions_back:
        st.markdown(f"{_SHORT} {plain(told)}")
    _exception_back(screen, sheet)
    rules = exception_rules(screen.course, sheet)
    if not rules:
        st.text("Nothing is short that an exception could be made to.")
        return
    words = {rule: f"{what}: {line}" for rule, (what, line, _) in rules.items()}
    rule = choices.one_of_many("What is let be?", words, "exception-rule")
    _word(
        screen, "exception", "Propose the exception", deciders(screen.course),
        lambda who, how, reason: exceptions.propose(
            screen.ledger, who, course=screen.course.course.id, student=sheet.student, rule=rule, as_of=sheet.day,
            rests_on=rules[rule][2], reason=reason, confirmed_with=how,
        ),
    )  # fmt: skip


def _exception_back(screen: Screen, sheet: SignOffSheet) -> None:
    if not sheet.exceptions:
        return
    made = {one.id: one.what for one in sheet.exceptions}
    back = choices.one_of_many("Which exception is taken back?", made, "exception-back-which")
    _word(
        screen, "exception-back", "Take the exception back", deciders(screen.course),
        lambda who, how, reason: exceptions.take_back(screen.ledger, who, back, reason, how),
    )  # fmt: skip


def _word(
    screen: Screen, key: str, label: str, people: dict[str, str],
    act: Callable[[str, Confirmed | None, str], object],
) -> None:  # fmt: skip
    """One person's word with their reason."""
    with st.form(fresh(key)):
        who = choices.acting("Who decides?", people, f"{key}-who")
        reason = st.text_area("Reason", max_chars=1000, key=fresh(f"{key}-reason"))
        given = confirming.given(screen, key)
        if not controls.submit(Act.SIGN, label, key=key):
            return
    confirming.do(screen, who, given, lambda one, how: act(one, how, reason), "It is in the ledger.")
