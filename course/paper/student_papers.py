"""Papers about one student by their names: for one, and for everybody of a course."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import BinaryIO

from course.answers.centre_keys import paper_key
from course.answers.competency import competency_record
from course.answers.course_view import CourseView
from course.answers.filed_paper import STATEMENT
from course.answers.statement import statement
from course.paper.competency_record import PAPER_NAME, print_competency_record
from course.paper.filed_sheet import print_filed
from course.paper.frame import PaperSize
from course.storage.ledger import Ledger

Printing = Callable[[Ledger, CourseView, str, date, "Path | BinaryIO", PaperSize], int]
"""Prints the paper of a student as of a day to a file and returns its pages."""


def _record(ledger: Ledger, seen: CourseView, student: str, day: date, out: Path | BinaryIO, size: PaperSize) -> int:
    return print_competency_record(competency_record(ledger, seen, student, day), out, size, paper_key(ledger))


def _take_home(ledger: Ledger, seen: CourseView, student: str, day: date, out: Path | BinaryIO, size: PaperSize) -> int:
    from course.answers.student_page import student_page  # noqa: PLC0415 - statistics load slowly; others need none
    from course.paper.take_home import print_take_home  # noqa: PLC0415

    return print_take_home(student_page(seen, student, day), out, size, paper_key(ledger))


def _statement(ledger: Ledger, seen: CourseView, student: str, day: date, out: Path | BinaryIO, size: PaperSize) -> int:
    return print_filed(statement(ledger, seen, student, day), out, size, paper_key(ledger))


OF_EVERYBODY: dict[str, Printing] = {"record": _record, "take-home": _take_home, "statement": _statement}
"""What is printed of every student at once, by the name that the command line asks for."""
TITLES = {"record": PAPER_NAME, "take-home": "Sheet to take home", "statement": STATEMENT}
"""The same as a person reads it."""
