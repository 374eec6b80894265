"""Papers for the file by their names: what is asked for in words becomes a printed file and a sentence about it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

from course.answers.bench_sheet import bench_sheet
from course.answers.candidate_file import candidate_file, find_candidate
from course.answers.centre_keys import paper_key
from course.answers.course_file import course_file
from course.answers.course_view import CourseView, find_person
from course.answers.filed_paper import FiledPaper
from course.answers.statement import statement
from course.answers.transfer import transfer_file
from course.answers.unit_history import find_unit, unit_history
from course.paper.filed_sheet import print_filed
from course.paper.frame import PaperSize
from course.storage.ledger import Ledger
from course.words import plural

Asking = Callable[[Ledger, CourseView, str, date], FiledPaper]


def _course_file(ledger: Ledger, seen: CourseView, wanted: str, as_of: date) -> FiledPaper:
    return course_file(ledger, seen, as_of)


def _statement(ledger: Ledger, seen: CourseView, wanted: str, as_of: date) -> FiledPaper:
    return statement(ledger, seen, find_person(seen, wanted), as_of)


def _unit_history(ledger: Ledger, seen: CourseView, wanted: str, as_of: date) -> FiledPaper:
    return unit_history(ledger, seen, find_unit(seen, wanted), as_of)


def _candidate_file(ledger: Ledger, seen: CourseView, wanted: str, as_of: date) -> FiledPaper:
    return candidate_file(ledger, seen, find_candidate(seen, wanted), as_of)


def _bench_sheet(ledger: Ledger, seen: CourseView, wanted: str, as_of: date) -> FiledPaper:
    return bench_sheet(ledger)


def _transfer_file(ledger: Ledger, seen: CourseView, wanted: str, as_of: date) -> FiledPaper:
    return transfer_file(ledger, seen, find_person(seen, wanted), as_of)


FILED_PAPERS: dict[str, Asking] = {
    "course-file": _course_file,
    "statement": _statement,
    "unit-history": _unit_history,
    "bench-sheet": _bench_sheet,
    "candidate-file": _candidate_file,
    "transfer-file": _transfer_file,
}
"""By the name that the command line asks for: whom or what it is about is told in words."""


def print_filed_paper(
    ledger: Ledger, seen: CourseView, asked: tuple[str, str, date], out: Path, size: PaperSize
) -> str:
    """Print one paper for the file; return what was printed.

    Args:
        asked: the paper, one of `FILED_PAPERS`; whom or what it is about, in words; as of which day.

    Raises:
        NotFoundError: there is nobody, or nothing, of that name.
        PaperError: it cannot be printed; no file was written.
    """
    paper, wanted, as_of = asked
    answer = FILED_PAPERS[paper](ledger, seen, wanted, as_of)
    pages = print_filed(answer, out, size, paper_key(ledger))
    return f"{out}: {answer.kind.lower()} of {answer.about}, {plural(pages, 'page')}."
