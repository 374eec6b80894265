"""Papers for the file: their words, what they hold back, and that their totals are those of the pages."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from centre_builder import LAST_DAY, Centre
from filed_examples import GOLDEN, printed, told_centre, words_of

from course.answers.bench_sheet import bench_sheet
from course.answers.candidate_file import candidate_file
from course.answers.course_file import course_file
from course.answers.filed_paper import FiledPaper
from course.answers.hours import hours
from course.answers.statement import statement
from course.answers.unit_history import unit_history
from course.standards.standards import Standards

PAPERS: dict[str, Callable[[Centre], FiledPaper]] = {
    "course_file": lambda c: course_file(c.ledger, c.view(), LAST_DAY),
    "statement": lambda c: statement(c.ledger, c.view(), c.amaru, LAST_DAY),
    "unit_history": lambda c: unit_history(c.ledger, c.view(), c.unit_b),
    "bench_sheet": lambda c: bench_sheet(c.ledger),
    "candidate_file": lambda c: candidate_file(c.ledger, c.view(), c.candidate, LAST_DAY),
}


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory, standards: Standards) -> Iterator[Centre]:
    """One centre for all of this file: papers only read."""
    base = tmp_path_factory.mktemp("filed")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        with told_centre(base / "centre", standards, patch) as centre:
            yield centre


@pytest.mark.parametrize("paper", PAPERS)
def test_the_paper_says_what_it_said_before(told: Centre, paper: str) -> None:
    """After a wanted change: write `words_of` to the file anew and read the difference."""
    assert words_of(PAPERS[paper](told)) == (GOLDEN / f"{paper}.txt").read_text("utf-8")


@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize("paper", PAPERS)
def test_title_language_bookmarks_and_fonts_are_in_the_file(told: Centre, paper: str, size: str) -> None:
    answer = PAPERS[paper](told)
    reader = printed(answer, size)  # type: ignore[arg-type]
    assert reader.metadata is not None
    assert reader.metadata.title == answer.kind
    assert reader.trailer["/Root"]["/Lang"] == "en"
    marks = [one for part in reader.outline for one in (part if isinstance(part, list) else [part])]
    assert [mark["/Title"] for mark in marks] == [answer.about, *(section.title for section in answer.sections)]
    for number, page in enumerate(reader.pages, 1):
        text = page.extract_text()
        assert f"page {number} of {len(reader.pages)}" in text
        assert "It certifies nobody." in " ".join(text.split())
        for font in page["/Resources"]["/Font"].values():
            descriptor = font.get_object().get("/FontDescriptor")
            assert descriptor is None or "/FontFile2" in descriptor.get_object()


def test_minutes_of_the_course_file_are_those_of_the_hours_page(told: Centre) -> None:
    (section,) = [one for one in PAPERS["course_file"](told).sections if one.title == "Minutes"]
    totals = hours(told.view(), LAST_DAY).totals
    assert [(line.strong, line.figures) for line in section.lines[: len(totals)]] == [
        (one.name, (str(one.session), str(one.loop), str(one.bailout))) for one in totals
    ]


def test_a_decision_whose_place_another_took_stays_on_paper_and_so_does_the_answer_to_a_finding(told: Centre) -> None:
    text = " ".join(words_of(PAPERS["course_file"](told)).split())
    assert "held back by Bruno Ashkenar on 2 Nov 2026: One more on Sunday; a later one took its place." in text
    assert "Seen once more." in text
    assert "Tamsin Okoro-Vale, 2 Nov 2026: Known; noted." in text
