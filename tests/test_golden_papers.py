"""What every paper says, word by word, that has no golden text of its own beside its other tests."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pypdf
import pytest
from centre_builder import LAST_DAY, Centre
from day_builder import Day
from filed_examples import GOLDEN, told_centre, told_words
from slate_examples import example

from course.answers.day_paper import day_paper
from course.answers.incident_paper import incident_paper
from course.answers.origin_of import standing_origin
from course.answers.student_page import student_page
from course.paper.day_sheet import print_day_sheet
from course.paper.incident_sheet import print_incident_sheet
from course.paper.origin_sheet import print_origin
from course.paper.slate_sheet import print_slates
from course.paper.take_home import print_take_home
from course.standards.standards import Standards
from course.words import SpanRole


def _incidents(c: Centre) -> Any:
    return [incident_paper(c.ledger, c.view(), c.sessions["pool-22"], Day(c).session.incidents[0].id)]


def _day(c: Centre) -> Any:
    seen = c.view()
    return day_paper(c.ledger, seen, [seen.sessions[c.sessions["pool-22"]]])


PAPERS: dict[str, tuple[Callable[..., int], Callable[[Centre], Any]]] = {
    "take_home": (print_take_home, lambda c: student_page(c.view(), c.zoe, LAST_DAY)),
    "day_sheet": (print_day_sheet, _day),
    "incident_sheet": (print_incident_sheet, _incidents),
    "show_why": (print_origin, lambda c: standing_origin(c.ledger, c.view(), c.zoe, c.skill(), LAST_DAY)),
}  # fmt: skip


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory, standards: Standards) -> Iterator[Centre]:
    """One centre for all of this file: a pool day that was frozen, and something of everything else."""
    base = tmp_path_factory.mktemp("golden")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        with told_centre(base / "centre", standards, patch) as centre:
            Day(centre).comes(centre.amaru)
            Day(centre).comes(centre.lead, SpanRole.TEACHING)
            Day(centre).freeze(note="All are out.")
            yield centre


def golden_of(c: Centre, paper: str) -> str:
    """The text of a paper; after a wanted change write it to its file anew and read the difference."""
    printing, ask = PAPERS[paper]
    out = io.BytesIO()
    printing(ask(c), out)
    return told_words(pypdf.PdfReader(out))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_paper_says_what_it_said_before(told: Centre, paper: str) -> None:
    assert golden_of(told, paper) == (GOLDEN / f"{paper}.txt").read_text("utf-8")


def slate_text() -> str:
    """The text of a sheet for the water with four students."""
    pages = pypdf.PdfReader(io.BytesIO(print_slates([example()]))).pages
    return "".join(f"{' '.join(line.split())}\n" for page in pages for line in page.extract_text().splitlines())


def test_a_sheet_for_the_water_says_what_it_said_before() -> None:
    assert slate_text() == (GOLDEN / "slate_sheet.txt").read_text("utf-8")


def test_every_paper_has_a_golden_text() -> None:
    """Whatever is printed through the frame, and the sheets for the water."""
    printing = {
        path.stem
        for path in (Path(__file__).parent.parent / "course" / "paper").glob("*.py")
        if "print_paper(" in path.read_text("utf-8") and path.stem != "frame"
    }
    names = {
        "competency_record",
        "audit_file",
        "filed_sheet",
        "take_home",
        "day_sheet",
        "incident_sheet",
        "origin_sheet",
    }
    assert printing == names
    kept = {path.stem for path in GOLDEN.glob("*.txt")}
    filed = {"course_file", "statement", "unit_history", "bench_sheet", "candidate_file"}
    assert kept >= {*PAPERS, *filed, "competency_record", "audit_file", "slate_sheet"}
