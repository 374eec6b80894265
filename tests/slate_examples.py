"""Slate sheets for tests: every shipped skill, for any number of invented students."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from centre_builder import shipped_standards

from course.answers.slate_sheet import SlateColumn, SlateSheet, _row
from course.record.chain import content_hash
from course.record.day_facts import Slate
from course.record.slate_code import code_of

STUDENTS = (
    ("Amaru Tendelle", "", "type-a"),
    ("Nkechi Brandvold", "", "type-b"),
    ("Ravi Soltmere", "", "type-a"),
    ("Mei-Lin Oakhurst", "", "type-b"),
    ("Jonas Vey", "1998", "type-a"),
    ("Jonas Vance", "2001", "type-b"),
    ("Zoë O'Brien-Ünal", "", "type-a"),
    ("Bartholomaea Wroclawska-Mbeki", "", "type-b"),
)
CENTRE_ID = "0192d000-0000-7000-8000-0000000000aa"


def column(
    name: str, tag: str = "", *, student: str = "student", not_here: frozenset[str] = frozenset()
) -> SlateColumn:
    """One student's column."""
    initials = "".join(part[0] for part in name.replace("-", " ").split())[:4].upper()
    return SlateColumn(student, 1, name.split(maxsplit=1)[0], initials, tag, name, "A-05", "type-a", 3, not_here)


def example(skill_id: str = "mp-close-out", students: int = 4, tries: int = 1, **more: Any) -> SlateSheet:
    """A sheet of a shipped skill; students have units of type A and B in turn."""
    standards = shipped_standards()
    skill = standards.skill(skill_id)
    rubric = content_hash(standards.written_skill(skill_id))
    ids = tuple(f"student-{number}" for number in range(students))
    slate = Slate(
        id=skill_id, event="e", code=code_of(skill_id), skill=skill_id, rubric=rubric, students=ids, tries=tries,
        group=None, issued_by="lead",
    )  # fmt: skip
    columns = []
    for student, (name, tag, unit_type) in zip(ids, STUDENTS, strict=False):
        here = {step.id for step in skill.steps_for(standards.unit_types[unit_type].feature_set)}
        lacks = frozenset(step.id for step in skill.steps if step.id not in here)
        first = column(name, tag, student=student, not_here=lacks)
        columns += [replace(first, attempt_try=turn, next_number=2 + turn) for turn in range(1, tries + 1)]
    numbers = {step.id: number for number, step in enumerate(skill.steps, 1)}
    sheet = SlateSheet(
        slate=slate, centre_id=CENTRE_ID, centre="Kelpwater", course_id="course", course="KW-1026",
        session_id="session", session="Pool 1: basics, mouthpiece", day="Thu 22 Oct 2026", where="pool · Tide Pool",
        group="P", staff=("Tamsin Okoro-Vale", "Lien Ito"), skill=skill.id, title=skill.title, caution=skill.caution,
        columns=tuple(columns), rows=tuple(_row(step, numbers) for step in skill.steps),
    )  # fmt: skip
    return replace(sheet, **more)
