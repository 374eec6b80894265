"""On the Papers page: one kind of paper of several students, printed one after another into one file."""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import date
from typing import Any, BinaryIO

import streamlit as st

from course.access import Sight
from course.paper.batch import Batch, zip_batch
from course.paper.frame import PaperSize
from course.paper.student_papers import OF_EVERYBODY, TITLES
from course.screens import choices, controls, offers, preview
from course.screens.frame import Screen, choose_day, literal, plain, show_told, telling
from course.words import plural

SEVERAL = "Several at once"
_KEPT = "batch-made"


@dataclass(frozen=True)
class _Asked:
    """What was asked for; a batch that was made for something else is not offered."""

    head: str
    paper: str
    students: tuple[str, ...]
    as_of: date
    size: str


def show(screen: Screen) -> None:
    """Ask which paper of whom, print with progress, offer the file, and preview one page at a time."""
    seen = screen.course
    st.markdown("## One file with a paper for each student.")
    paper = choices.one_of("Paper of each", TITLES, "batch-paper", "record") or "record"
    names = {student: seen.name(student) for student in seen.students}
    chosen = st.multiselect("Students, or everybody", list(names), format_func=names.__getitem__, key="batch-students")
    students = tuple(one for one in seen.students if one in chosen) or seen.students
    as_of = choose_day(seen)
    size = st.segmented_control("Paper size", ["A4", "Letter"], default="A4", key="paper-size") or "A4"
    asked = _Asked(screen.ledger.head().hash, paper, students, as_of, size)
    if controls.button(Sight.BATCH_FILE, f"Print {plural(len(students), 'paper')}", type="primary", key="batch-print"):
        made = telling(_printed)(screen, asked)
        st.session_state[_KEPT] = (asked, made) if made else None
    show_told()
    kept = st.session_state.get(_KEPT)
    if kept and kept[0] == asked:
        _offer(*kept[1])
        _preview(screen, asked)


def _printed(screen: Screen, asked: _Asked) -> tuple[Batch, bytes]:
    bar, out = st.progress(0.0, "Printing"), io.BytesIO()

    def step(done: int, of: int, what: str) -> None:
        bar.progress(done / of, f"Printing {done} of {of}{f': {literal(what)}' if what else ''}")

    people = [(student, screen.course.name(student)) for student in asked.students]
    batch = zip_batch(people, asked.paper, out, lambda student, file: _print(screen, asked, student, file), step)
    bar.empty()
    return batch, out.getvalue()


def _print(screen: Screen, asked: _Asked, student: str, file: BinaryIO) -> int:
    size: PaperSize = "Letter" if asked.size == "Letter" else "A4"
    return OF_EVERYBODY[asked.paper](screen.ledger, screen.course, student, asked.as_of, file, size)


def _offer(batch: Batch, packed: bytes) -> None:
    pages = sum(count for _, count in batch.files)
    st.markdown(
        f"**{plural(len(batch.files), 'paper')}, {plural(pages, 'page')}.** Whose is which: contents.txt in it."
    )
    for one in batch.failed:
        st.warning(f"Not printed: {literal(one)}")
    offers.offer(Sight.BATCH_FILE, "Download them as one file", packed, "papers.zip", "application/zip", type="primary")


def _preview(screen: Screen, asked: _Asked) -> None:
    """One of the papers, page by page: printed again, since only the whole file is kept."""
    names = {student: screen.course.name(student) for student in asked.students}
    student = choices.one_of_many("Look at", names, "batch-look")
    pdf = telling(_alone)(screen, asked, student)
    if pdf is None:
        show_told()
        return
    st.caption(plain(f"{TITLES[asked.paper]} of {names[student]}, as it prints."))
    preview.tell_unsigned(screen.ledger)
    preview.show(pdf, "batch-preview")


def _alone(screen: Screen, asked: _Asked, student: str) -> bytes:
    out: Any = io.BytesIO()
    _print(screen, asked, student, out)
    content: bytes = out.getvalue()
    return content
