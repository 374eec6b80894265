"""Show why on a page: choose what is asked about, read it down to its entries, take it away as paper."""

from __future__ import annotations

from datetime import date

import streamlit as st

from course.access import Sight
from course.answers.findings import course_findings
from course.answers.origin import Origin, OriginLine, OriginPart, event_origin
from course.answers.origin_finding import finding_origin
from course.answers.origin_of import decided_skills, minute_origin, session_origin, signed_origin, standing_origin
from course.asker import only_own
from course.hours.requirements import KIND_WORDS
from course.paper.origin_sheet import print_origin
from course.screens import choices, offers, preview
from course.screens.frame import Screen, plain, telling

STANDING, SIGNED, MINUTES, SESSION = "A standing", "A signed record", "Minutes", "A session"
FINDING, EVENT = "A finding", "An entry"
_MOST_PARTS, _LONGEST = 40, 600


def choose(screen: Screen) -> str:
    """What is asked about; an address can say it."""
    asked = st.query_params
    named = {"event": EVENT, "finding": FINDING, "session": SESSION, "signed": SIGNED}
    usual = next((kind for name, kind in named.items() if name in asked), STANDING)
    kinds = [STANDING, SIGNED, MINUTES, SESSION, FINDING, EVENT]
    if only_own(Sight.WHY):  # the others speak of several people
        kinds, usual = kinds[:3], usual if usual in kinds[:3] else STANDING
    return st.segmented_control("Show why", kinds, default=usual, key="why-what") or STANDING


def ask(screen: Screen, what: str, as_of: date) -> Origin | None:
    """Let the person name it; None while something is not chosen yet, or is not there (which is told)."""
    if what == EVENT:
        return _entry(screen)
    if what == SESSION:
        return _session(screen)
    return _finding(screen, as_of) if what == FINDING else _of_student(screen, what, as_of)


def _entry(screen: Screen) -> Origin | None:
    wanted = st.text_input(
        "Its id, or chain and place as they stand on a paper, such as 01a2147d:812",
        value=st.query_params.get("event", ""), key="why-event",
    )  # fmt: skip
    return telling(event_origin)(screen.ledger, screen.course, wanted) if wanted else None


def _session(screen: Screen) -> Origin | None:
    seen, usual = screen.course, st.query_params.get("session", "")
    titles = {one.id: f"{one.title} · {one.start.local:%d %b %H:%M}" for one in seen.sessions.values()}
    if not titles:
        return None
    names = sorted(titles, key=lambda one: one != usual)
    chosen = choices.one_of_many("Session", {n: titles[n] for n in names}, "why-session")
    return session_origin(screen.ledger, seen, chosen)


def _of_student(screen: Screen, what: str, as_of: date) -> Origin | None:
    ledger, seen = screen.ledger, screen.course
    named, students = st.query_params.get("student"), screen.students(Sight.WHY)
    student = choices.one_of("Student", students, "why-student", named if named in students else None)
    if student is None:
        return None
    if what == MINUTES:
        kind = choices.one_of("Minutes", KIND_WORDS, "why-kind")
        return minute_origin(ledger, seen, student, kind, as_of) if kind else None
    named = st.query_params.get("skill")
    told = decided_skills(seen, student, as_of) if what == SIGNED else {one.id: one.title for one in seen.skills()}
    if not told:
        st.text(f"Nobody decided on a standing of {seen.name(student)} yet.")
        return None
    skills = {one: told[one] for one in sorted(told, key=lambda one: one != named)}
    skill = choices.one_of_many("Skill", skills, "why-signed" if what == SIGNED else "why-skill")
    tell = signed_origin if what == SIGNED else standing_origin
    return telling(tell)(ledger, seen, student, seen.adopted.skill(skill), as_of)


def _finding(screen: Screen, as_of: date) -> Origin | None:
    """One of what does not fit; what is for the lead alone is shown on Findings to the lead."""
    seen, usual = screen.course, st.query_params.get("finding", "")
    looker = st.session_state.get("kept-choices", {}).get("findings-looker") or ""
    found = course_findings(screen.ledger, seen, as_of, looker).findings
    told = {one.key: one.sentence for whole in found for one in (whole, *whole.follow)}
    if not told:
        st.markdown("Nothing that does not fit was found.")
        return None
    names = sorted(told, key=lambda key: key != usual)
    key = choices.one_of_many("Finding", {name: told[name] for name in names}, f"why-finding-{usual[-12:]}")
    return telling(finding_origin)(screen.ledger, seen, key, as_of, looker)


def show(screen: Screen, answer: Origin) -> None:
    """Show it: the sentence, what stands around it, then every entry; the paper has the same."""
    st.markdown(f"## {plain(answer.sentence)}")
    st.markdown("  \n".join(f"**{name}:** {plain(_short(value))}" for name, value in answer.facts))
    pdf = telling(preview.as_bytes)(print_origin, screen.ledger, answer, "A4")
    if pdf:
        offers.offer(Sight.WHY_FILE, "Download as paper (PDF)", pdf, "show-why.pdf", "application/pdf")
    for part in answer.parts[:_MOST_PARTS]:
        _part(part)
    if len(answer.parts) > _MOST_PARTS:
        st.markdown(f"{len(answer.parts) - _MOST_PARTS} more are on the paper.")
    st.caption(f"Times are of {plain(answer.zone)}. {plain(answer.note)}")


def _short(value: str) -> str:
    return value if len(value) <= _LONGEST else f"{value[:_LONGEST]}… (the paper has all of it)"


def _part(part: OriginPart) -> None:
    with st.expander(plain(part.title)):
        for note in part.notes:
            if note:
                st.text(note)
        st.markdown("\n".join(f"- {_line(line)}" for line in part.lines))


def _line(line: OriginLine) -> str:
    bar = "▌ **critical** " if line.critical else ""
    struck = " (taken back)" if not line.holds else ""
    seen = f"seen {plain(line.observed)}, " if line.observed else ""
    return (
        f"{bar}{plain(line.words)}{struck}  \n  {seen}recorded {plain(line.recorded)} by {plain(line.who)} · "
        f"{plain(line.place)}"
    )
