"""Parts of the Findings page: the list, what each rests on, ways to it, and the answer."""

from __future__ import annotations

from datetime import date

import streamlit as st

from course.access import Act
from course.actions.findings import answer_finding
from course.answers.csv_text import csv_text
from course.answers.findings import EvidenceLine, FindingsAnswer, ShownFinding, findings_sentence
from course.asker import may_ask
from course.findings.finding import Severity
from course.places import PAGES
from course.screens import controls
from course.screens.frame import Screen, plain, telling
from course.words import plural

_MARKS = {Severity.DANGER: "▌▌▌", Severity.RULE: "▌▌", Severity.LOOK: "▌"}
"""The more bars, the heavier; the words stand beside them."""
_MOST_SHOWN = 12


def count_line(screen: Screen, looker: str) -> None:
    """On another page: how many findings there are, the worst of them, and the way there."""
    seen = screen.course
    if sentence := findings_sentence(screen.ledger, seen, seen.usual_day, looker):
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(plain(sentence), width="stretch")
            if controls.way("Open Findings", page="findings", key="open-findings"):
                st.switch_page(PAGES / "findings.py")


def listed_findings(screen: Screen, answer: FindingsAnswer, looker: str | None, as_of: date) -> None:
    """Every finding, the worst first, those that are answered after the others; each opens to what it rests on."""
    if not answer.findings:
        st.markdown("Nothing to answer. The rules look again each time something is saved.")
    for one in sorted(answer.findings, key=lambda found: found.answered):
        mark = "✓" if one.answered else _MARKS[one.severity]
        follow = f" · {plural(len(one.follow), 'more follows', 'more follow')} from it" if one.follow else ""
        head = f"{mark} **{one.severity.value.capitalize()}** · {one.state}{follow}  \n{plain(one.sentence)}"
        wanted = st.query_params.get("finding", "") in (one.key, one.code)
        with st.expander(head, expanded=wanted, key=f"finding-{one.code}"):
            _one(screen, one, looker, as_of)


def _one(screen: Screen, one: ShownFinding, looker: str | None, as_of: date) -> None:
    st.markdown(f"Looked for: {plain(one.looks_for)}  \nCode {one.code}.")
    for other in one.follow:
        st.markdown(f"**Follows from it.** {plain(other.sentence)}")
    for given in one.answers:
        st.markdown(f"**{'Earlier answer' if given.replaced else 'Answer'}.** {plain(given.sentence)}")
    st.markdown(f"It rests on {plural(len(one.evidence), 'thing')} in the ledger:")
    st.markdown("\n".join(f"- {plain(line.words)}" for line in one.evidence[:_MOST_SHOWN]))
    if len(one.evidence) > _MOST_SHOWN:
        st.markdown(f"And {len(one.evidence) - _MOST_SHOWN} more, which “Show why” lists with every entry.")
    _ways(one)
    if not may_ask(Act.ANSWER):
        return
    if looker is None:
        st.markdown("Say who is looking to answer it.")
    else:
        _answer_form(screen, one, looker, as_of)


def _ways(one: ShownFinding) -> None:
    """Where it can be looked at, each place once."""
    with st.container(horizontal=True, gap="small"):
        if controls.way("Show why", page="why", key=f"why-{one.code}"):
            st.switch_page(PAGES / "why.py", query_params={"finding": one.key})
        for kind, (label, page) in _PLACES.items():
            line = next((line for line in one.evidence if line.kind == kind), None)
            if line and controls.way(label, page=page, key=f"go-{kind}-{one.code}"):
                st.switch_page(PAGES / f"{page}.py", query_params=_address(line))


_PLACES = {
    "session": ("The session on Hours", "hours"),
    "attempt": ("The skill on Course", "course"),
    "unit": ("Units", "units"),
    "course": ("Standards", "standards"),
}
"""Kind of evidence to the button's words and the page."""


def _address(line: EvidenceLine) -> dict[str, str]:
    if line.student and line.skill:
        return {"student": line.student, "skill": line.skill}
    return {"session": line.id} if line.kind == "session" else {}


def _answer_form(screen: Screen, one: ShownFinding, looker: str, as_of: date) -> None:
    with st.form(f"answer-{one.code}", border=False):
        label = "What is there to it? It stays beside the finding, with your name and the day."
        reason = st.text_area(label, key=f"reason-{one.code}-{len(one.answers)}", max_chars=2000)
        if controls.submit(
            Act.ANSWER, "Answer it" if not one.answers else "Answer it anew", key=f"answer-{one.code}", type="primary"
        ):
            made = telling(answer_finding)(
                screen.ledger, looker, course=screen.course.course.id, finding=one.key, rests_on=one.rests_on,
                reason=reason, as_of=as_of,
            )  # fmt: skip
            if made:
                st.session_state["told"] = ("done", "Answered. The finding stays, with the answer beside it.")
            st.rerun()


def found_no_more(answer: FindingsAnswer) -> None:
    """Answers to what is found no more."""
    if answer.gone:
        with st.expander(f"{plural(len(answer.gone), 'answer')} to what is found no more"):
            st.markdown("\n".join(f"- {plain(line)}" for line in answer.gone))


def as_csv(answer: FindingsAnswer) -> str:
    """Every finding as a table to take away; those that follow from another stand below it."""
    rows = [
        (one.code, one.rule, one.severity.value, whole.code if one is not whole else "", one.state, one.sentence,
         "; ".join(given.sentence for given in one.answers), one.rests_on)
        for whole in answer.findings
        for one in (whole, *whole.follow)
    ]  # fmt: skip
    return csv_text(("code", "rule", "weight", "follows_from", "state", "finding", "answers", "rests_on"), rows)
