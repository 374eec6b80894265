"""On the Papers page: papers for the file, previewed as they print."""

from __future__ import annotations

import streamlit as st

from course.access import Sight
from course.answers.bench_sheet import bench_sheet
from course.answers.candidate_file import candidate_file
from course.answers.course_file import course_file
from course.answers.filed_paper import (
    BENCH_SHEET,
    CANDIDATE_FILE,
    COURSE_FILE,
    STATEMENT,
    TRANSFER_FILE,
    UNIT_HISTORY,
    FiledPaper,
)
from course.answers.statement import statement
from course.answers.transfer import transfer_file
from course.answers.unit_history import unit_history
from course.paper.filed_sheet import print_filed
from course.screens import choices, offers, preview, transfer_forms
from course.screens.frame import Screen, choose_day, plain, show_told, telling
from course.words import Role


def names(screen: Screen) -> tuple[str, ...]:
    """Papers for the file that this course can have."""
    units = (UNIT_HISTORY,) if screen.course.units else ()
    candidates = (CANDIDATE_FILE,) if screen.course.course.people(Role.CANDIDATE) else ()
    return (COURSE_FILE, STATEMENT, TRANSFER_FILE, *units, *candidates, BENCH_SHEET)


def show(screen: Screen, paper: str) -> None:
    """Ask whom or what it is about, and show it as it prints."""
    whom = _whom(screen, paper)
    size = st.segmented_control("Paper size", ["A4", "Letter"], default="A4", key="paper-size") or "A4"
    if whom is None:
        st.markdown("Choose whom or what it is about; the paper is shown here as it prints.")
        return
    if paper == TRANSFER_FILE and not transfer_forms.agreed(screen, whom):
        return
    answer = telling(_ask)(screen, paper, whom)
    pdf = telling(preview.as_bytes)(print_filed, screen.ledger, answer, size) if answer else None
    if answer is None or pdf is None:
        show_told()
        return
    st.markdown(f"## {plain(answer.sentence)}")
    st.caption(plain(answer.caution))
    preview.tell_unsigned(screen.ledger)
    name = f"{paper.lower().replace(' ', '-')}.pdf"
    offers.offer(Sight.FILED_FILE, "Download the PDF", pdf, name, "application/pdf", type="primary")
    preview.show(pdf)


def _whom(screen: Screen, paper: str) -> str | None:
    """The id that it is about; empty for a paper of the whole course or centre, None while nobody is chosen."""
    seen = screen.course
    if paper == UNIT_HISTORY:
        units = {one.id: one.label for one in sorted(seen.units.values(), key=lambda unit: unit.label)}
        return choices.one_of("Unit", units, "paper-unit")
    if paper in (STATEMENT, TRANSFER_FILE, CANDIDATE_FILE):
        people = seen.course.people(Role.CANDIDATE) if paper == CANDIDATE_FILE else seen.students
        label = "Candidate" if paper == CANDIDATE_FILE else "Student"
        return choices.one_of(label, {one: seen.name(one) for one in people}, f"paper-{label.lower()}")
    return ""


def _ask(screen: Screen, paper: str, whom: str) -> FiledPaper:
    ledger, seen = screen.ledger, screen.course
    if paper == BENCH_SHEET:
        return bench_sheet(ledger)
    as_of = choose_day(seen)
    if paper == UNIT_HISTORY:
        return unit_history(ledger, seen, whom, as_of)
    if paper == COURSE_FILE:
        return course_file(ledger, seen, as_of)
    asking = {STATEMENT: statement, TRANSFER_FILE: transfer_file, CANDIDATE_FILE: candidate_file}[paper]
    return asking(ledger, seen, whom, as_of)
