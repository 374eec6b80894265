"""How papers look: pages drawn by Poppler against small stored pictures, by likeness and not to the last dot.

Likeness is the structural similarity of Wang, Bovik, Sheikh and Simoncelli 2004 (IEEE Transactions on Image Processing
13(4), from memory), over pages that were softened first, so that other digits in a number are no other page, and told
by its worst place, so that one block that moved is. The foot and the proof hold ids and are left out.
"""

from __future__ import annotations

import io
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from centre_builder import LAST_DAY, Centre
from day_builder import Day
from filed_examples import told_centre
from numpy.typing import NDArray
from record_examples import skill, small_record
from slate_examples import example
from test_audit_file import an_answer

from course.actions import arrivals
from course.answers.bench_sheet import bench_sheet
from course.answers.candidate_file import candidate_file
from course.answers.course_file import course_file
from course.answers.day_paper import day_paper
from course.answers.incident_paper import incident_paper
from course.answers.origin_of import standing_origin
from course.answers.record_answer import PhaseLines
from course.answers.statement import statement
from course.answers.student_page import student_page
from course.answers.transfer import transfer_file
from course.answers.unit_history import unit_history
from course.paper import frame
from course.paper.audit_file import print_audit_file
from course.paper.competency_record import print_competency_record
from course.paper.day_sheet import print_day_sheet
from course.paper.filed_sheet import print_filed
from course.paper.incident_sheet import print_incident_sheet
from course.paper.origin_sheet import print_origin
from course.paper.slate_sheet import print_slates
from course.paper.take_home import print_take_home
from course.standards.standards import Standards
from course.words import SpanRole, StandingState

STORED = Path(__file__).parent / "golden" / "pictures"
DOTS = 40
ALIKE = 0.75
"""Worst place of the same page made twice, with other ids: above 0.9. A block that moved by 5 mm: below 0.4."""
FOOT_MM = 34
BIGGEST = 20_000
Picture = NDArray[np.uint8]


def _made(printing: Callable[..., int], answer: Any, size: str = "A4") -> bytes:
    out = io.BytesIO()
    printing(answer, out, size)
    return out.getvalue()


def _crowded() -> Any:
    line = skill("Close before it leaves the mouth", StandingState.MET, "Met.", "cccxmcsciv" * 11 + "c" * 10, budget=20)
    return small_record(phases=(PhaseLines("Many attempts", (line,)),))


def _day(c: Centre) -> Any:
    seen = c.view()
    return day_paper(c.ledger, seen, [seen.sessions[c.sessions["pool-22"]]])


def _incidents(c: Centre) -> Any:
    return [incident_paper(c.ledger, c.view(), c.sessions["pool-22"], Day(c).session.incidents[0].id)]


PAPERS: dict[str, tuple[Callable[[Centre], bytes], tuple[int, ...]]] = {
    "record": (lambda _: _made(print_competency_record, small_record()), (1, 2, 3, 4)),
    "record-letter": (lambda _: _made(print_competency_record, small_record(), "Letter"), (1,)),
    "record-120-attempts": (lambda _: _made(print_competency_record, _crowded()), (3,)),
    "audit": (lambda _: _made(print_audit_file, an_answer()), (1,)),
    "water-sheet": (lambda _: print_slates([example()]), (1,)),
    "course-file": (lambda c: _made(print_filed, course_file(c.ledger, c.view(), LAST_DAY)), (1,)),
    "unit-history": (lambda c: _made(print_filed, unit_history(c.ledger, c.view(), c.unit_b, LAST_DAY)), (1,)),
    "statement": (lambda c: _made(print_filed, statement(c.ledger, c.view(), c.amaru, LAST_DAY)), (1,)),
    "transfer-file": (lambda c: _made(print_filed, transfer_file(c.ledger, c.view(), c.amaru, LAST_DAY)), (1,)),
    "candidate-file": (
        lambda c: _made(print_filed, candidate_file(c.ledger, c.view(), c.candidate, LAST_DAY)), (1,),
    ),
    "bench-sheet": (lambda c: _made(print_filed, bench_sheet(c.ledger)), (1, 2)),
    "bench-sheet-letter": (lambda c: _made(print_filed, bench_sheet(c.ledger), "Letter"), (1,)),
    "take-home": (lambda c: _made(print_take_home, student_page(c.view(), c.zoe, LAST_DAY)), (1,)),
    "day-sheet": (lambda c: _made(print_day_sheet, _day(c)), (1,)),
    "incident-sheet": (lambda c: _made(print_incident_sheet, _incidents(c)), (1,)),
    "show-why": (
        lambda c: _made(print_origin, standing_origin(c.ledger, c.view(), c.zoe, c.skill(), LAST_DAY)), (1,),
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory, standards: Standards) -> Iterator[Centre]:
    """One centre for all pictures, at fixed moments; papers without their proof."""
    base = tmp_path_factory.mktemp("pictures")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        patch.setattr(frame, "proof_rows", lambda *_: [])
        with told_centre(base / "centre", standards, patch) as centre:
            Day(centre).comes(centre.amaru)
            Day(centre).comes(centre.lead, SpanRole.TEACHING)
            Day(centre).freeze(note="All are out.")
            arrivals.note_consent(
                centre.ledger, centre.lead, centre.course, centre.amaru, day="2026-10-25", given_to="Saltmarsh"
            )  # fmt: skip
            yield centre


def drawn(pdf: bytes, folder: Path, pages: tuple[int, ...]) -> dict[int, Picture]:
    """Pages in grey by Poppler, a library of its own."""
    file = folder / "paper.pdf"
    file.write_bytes(pdf)
    for page in pages:
        only = ["-f", str(page), "-l", str(page), "-singlefile"]
        command = ["pdftoppm", "-r", str(DOTS), "-gray", "-png", *only, file, folder / f"page-{page}"]
        subprocess.run(command, check=True)
    return {page: _read(folder / f"page-{page}.png") for page in pages}


def _read(file: Path) -> Picture:
    picture = cv2.imread(str(file), cv2.IMREAD_GRAYSCALE)
    assert picture is not None, file
    return picture.astype(np.uint8)


def likeness(one: Picture, other: Picture) -> float:
    """Return the structural similarity of two pages at their worst place, 1 for the same; no unit."""
    if one.shape != other.shape:
        return 0.0
    above_foot = one.shape[0] - round(FOOT_MM / 25.4 * DOTS)
    a, b = (_soft(picture[:above_foot].astype(np.float64), 3.0) for picture in (one, other))
    mean_a, mean_b = _soft(a, 6.0), _soft(b, 6.0)
    var_a, var_b = _soft(a * a, 6.0) - mean_a**2, _soft(b * b, 6.0) - mean_b**2
    both = _soft(a * b, 6.0) - mean_a * mean_b
    light, contrast = (0.02 * 255) ** 2, (0.06 * 255) ** 2
    same = (2 * mean_a * mean_b + light) * (2 * both + contrast)
    return float((same / ((mean_a**2 + mean_b**2 + light) * (var_a + var_b + contrast))).min())


def _soft(picture: NDArray[np.float64], sigma: float) -> NDArray[np.float64]:
    return cv2.GaussianBlur(picture, (0, 0), sigma).astype(np.float64)


def stored(name: str, page: int) -> Path:
    """Where the picture of a page is kept."""
    return STORED / f"{name}-{page}.png"


def keep(name: str, pictures: dict[int, Picture]) -> None:
    """Write the pictures of a paper anew, in sixteen greys: look at each before it is kept."""
    STORED.mkdir(exist_ok=True)
    for page, picture in pictures.items():
        coarse = (np.round(picture / 17.0) * 17).astype(np.uint8)
        cv2.imwrite(str(stored(name, page)), coarse, [cv2.IMWRITE_PNG_COMPRESSION, 9])


@pytest.mark.parametrize("paper", PAPERS)
def test_the_pages_look_as_they_did(told: Centre, tmp_path: Path, paper: str) -> None:
    """After a wanted change: `keep(paper, drawn(...))`, and look at the pictures."""
    make, pages = PAPERS[paper]
    for page, picture in drawn(make(told), tmp_path, pages).items():
        assert likeness(picture, _read(stored(paper, page))) > ALIKE, f"{paper}, page {page}"


def test_stored_pictures_are_small_and_each_is_looked_at() -> None:
    files = {file.name: file.stat().st_size for file in STORED.iterdir()}
    assert set(files) == {stored(name, page).name for name, (_, pages) in PAPERS.items() for page in pages}
    assert max(files.values()) < BIGGEST


def test_a_block_that_moved_and_one_that_is_missing_are_seen(tmp_path: Path) -> None:
    """Controls that must not be alike: a block lower by 5 mm, a strip of white, another size, another paper."""
    page = _read(stored("record", 1))
    moved, gone, by = page.copy(), page.copy(), round(5 / 25.4 * DOTS)
    top, low = 130, 190
    moved[top + by : low + by] = page[top:low]
    gone[top:low] = 255
    other = drawn(_made(print_competency_record, small_record(hours=())), tmp_path, (1,))[1]
    changed = (moved, gone, other, page[:, :-1], _read(stored("record", 2)))
    assert [likeness(page, one) > ALIKE for one in changed] == [False] * 5
    assert likeness(page, page) == pytest.approx(1)


def test_another_word_of_the_same_length_is_no_other_page(told: Centre, tmp_path: Path) -> None:
    """What golden texts are for: pictures are about where things stand."""
    record = replace(small_record(), unit="B-06")
    other = drawn(_made(print_competency_record, record), tmp_path, (1,))[1]
    assert likeness(_read(stored("record", 1)), other) > ALIKE
