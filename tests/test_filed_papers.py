"""Papers for the file: their words, what they hold back, and that their totals are those of the pages."""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pypdf
import pytest
from centre_builder import FIRST_DAY, LAST_DAY, ZONE, Centre, seen_at
from click.testing import CliRunner
from filed_examples import GOLDEN, printed, told_centre, words_of

from course.actions import gate_papers, unit_care
from course.answers.bench_sheet import bench_sheet
from course.answers.candidate_file import candidate_file, find_candidate
from course.answers.course_file import course_file
from course.answers.filed_paper import FiledLine, FiledPaper, FiledSection
from course.answers.hours import hours
from course.answers.statement import statement
from course.answers.unit_history import find_unit, unit_history
from course.commands import main
from course.errors import ExitCode, NotFoundError, PaperError
from course.moments import observed_at
from course.paper import frame
from course.paper.filed_sheet import print_filed
from course.paper.proof import QR_SIDE
from course.standards.standards import Standards
from course.words import Care

PAPERS: dict[str, Callable[[Centre], FiledPaper]] = {
    "course_file": lambda c: course_file(c.ledger, c.view(), LAST_DAY),
    "statement": lambda c: statement(c.ledger, c.view(), c.amaru, LAST_DAY),
    "unit_history": lambda c: unit_history(c.ledger, c.view(), c.unit_b, LAST_DAY),
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
    assert (
        "held back by Bruno Ashkenar on 2 Nov 2026, not confirmed by a password or PIN: One more on Sunday; a later "
        "one took its place."
    ) in text
    assert "Seen once more." in text
    assert "Tamsin Okoro-Vale, 2 Nov 2026: Known; noted." in text


SCRIPTS = ["Ábç" * 26, "Ωμέγ" * 20, "Щука" * 20, "李小龍" * 26, "김민준" * 26, "Nguyễn Thị " * 7, "<b>&" * 20]


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_names_of_eighty_letters_in_six_scripts_read_back_whole(told: Centre, size: str) -> None:
    """Read back by pypdf; a text in every place of every line, with and without a label, figures and a bar."""
    lines = tuple(
        FiledLine(f"text {name}", name, "label" if number % 2 else "", ("1",) * 3, critical=number % 3 == 0)
        for number, name in enumerate(SCRIPTS)
    )
    section = FiledSection("A heading", lines, note=SCRIPTS[3], captions=("one", "two", "three"))
    odd = replace(
        PAPERS["course_file"](told), about=SCRIPTS[1], sentence=SCRIPTS[2], facts=(("Fact", SCRIPTS[4]),),
        sections=(section, *(replace(section, lines=lines * 20) for _ in range(2))),
    )  # fmt: skip
    reader = printed(odd, size)  # type: ignore[arg-type]
    text = unicodedata.normalize("NFC", "".join("".join(page.extract_text().split()) for page in reader.pages))
    for name in SCRIPTS:
        assert "".join(unicodedata.normalize("NFC", name).split()) in text


def test_the_square_code_stays_above_a_foot_of_three_lines_wherever_the_text_ends(
    told: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some of these texts end just where the code's rows would fit and the code drawn beside them would not."""
    low: list[float] = []

    def noted(canvas: Any, text: str, x: float, top: float) -> None:
        low.append(canvas.absolutePosition(x, top - QR_SIDE)[1])

    monkeypatch.setattr(frame, "draw_square_code", noted)
    paper = PAPERS["unit_history"](told)
    assert "names planted faults" in paper.caution
    for lines in range(30, 46):
        section = FiledSection("Readings", (FiledLine("One line."),) * lines)
        print_filed(replace(paper, sections=(section,)), io.BytesIO())
    foot = frame.MARGIN + 3 * 10.5 + 15.5
    assert len(low) == 16
    assert min(low) > foot, "three lines of caution, the code of the page below them, and the rule above"


def test_no_page_holds_the_code_alone_and_what_goes_with_it_has_its_captions(told: Centre) -> None:
    line, ends = FiledLine("One line.", figures=("7",)), []
    paper = replace(PAPERS["unit_history"](told), asked={"unit": "of this test"})
    for lines in range(30, 46):
        section = FiledSection("Readings", (line,) * lines, captions=("counted",))
        last = printed(replace(paper, sections=(section,))).pages[-1]
        ends.append(" ".join(last.extract_text().split()))
    assert all("It shows what the ledger said" in end for end in ends)
    assert all(end.count("One line.") >= 2 and end.count("counted") == 1 for end in ends)
    assert any(end.count("One line.") == 4 for end in ends), "one of them ended where only the code went over"


def test_a_letter_without_a_font_is_told_and_nothing_is_written(told: Centre, tmp_path: Path) -> None:
    odd = replace(PAPERS["statement"](told), sentence="\U00012000")
    with pytest.raises(PaperError, match="Nothing was printed"):
        print_filed(odd, tmp_path / "paper.pdf")
    assert list(tmp_path.iterdir()) == []


def test_a_student_who_left_is_told_with_the_day_and_one_before_it_says_still_there(small_centre: Centre) -> None:
    gate_papers.leave_course(
        small_centre.ledger, small_centre.lead, small_centre.course, small_centre.zoe, day="2026-10-23", why="illness"
    )
    seen = small_centre.view()
    assert (
        "left the course unfinished on 23 Oct 2026"
        in statement(small_centre.ledger, seen, small_centre.zoe, LAST_DAY).sentence
    )
    assert "still on the course" in statement(small_centre.ledger, seen, small_centre.zoe, FIRST_DAY).sentence


@pytest.mark.parametrize("asked", ["", "nobody", "X-99"])
def test_a_unit_or_candidate_that_is_not_there_is_told_with_those_that_are(told: Centre, asked: str) -> None:
    with pytest.raises(NotFoundError, match="A-05, B-05"):
        find_unit(told.view(), asked)
    with pytest.raises(NotFoundError, match="Jorun Vask"):
        find_candidate(told.view(), asked)
    with pytest.raises(NotFoundError, match="no candidate"):
        candidate_file(told.ledger, told.view(), told.amaru, LAST_DAY)


@pytest.mark.parametrize(
    ("paper", "whom"),
    [
        *(("course-file", "KW-1026"), ("statement", "Amaru"), ("unit-history", "b-05")),
        *(("bench-sheet", "KW-1026"), ("candidate-file", "Jorun")),
    ],
)
def test_the_command_prints_each_by_its_name(small_centre: Centre, tmp_path: Path, paper: str, whom: str) -> None:
    folder, out = small_centre.ledger.folder, tmp_path / "paper.pdf"
    small_centre.ledger.close()
    result = CliRunner().invoke(main, ["print", str(folder), whom, "--paper", paper, "--out", str(out)])
    assert result.exit_code == ExitCode.FINE, result.output
    pages = len(pypdf.PdfReader(out).pages)
    assert f"{pages} page" in result.stdout


def test_a_course_that_is_not_there_has_no_file_and_nothing_is_written(small_centre: Centre, tmp_path: Path) -> None:
    folder, out = small_centre.ledger.folder, tmp_path / "paper.pdf"
    small_centre.ledger.close()
    result = CliRunner().invoke(main, ["print", str(folder), "KW-9", "--paper", "course-file", "--out", str(out)])
    assert result.exit_code == ExitCode.NOT_FOUND
    assert "There are: KW-1026" in result.stderr
    assert not out.exists()


def test_what_was_done_to_a_unit_in_another_year_says_the_year(small_centre: Centre) -> None:
    c = small_centre
    earlier = observed_at(datetime(2025, 3, 2, 12, tzinfo=UTC), ZONE, "minute")
    unit_care.record_care(c.ledger, c.lead, c.unit_b, Care.SERVICE, earlier, good_until="2027-03-02")
    unit_care.record_care(c.ledger, c.lead, c.unit_b, Care.CELLS, seen_at(21, 11), good_until="2027-10-21")
    unit_care.hold(c.ledger, c.lead, c.unit_b, earlier, "Cell 2 reads low.")
    lines = {one.title: one.lines for one in unit_history(c.ledger, c.view(), c.unit_b, LAST_DAY).sections}
    assert [one.label for one in lines["Care, the newest first"]] == ["Wed 21 Oct 11:00", "Sun 2 Mar 2025 11:00"]
    assert lines["Holds"][0].text.startswith("On hold since Sun 2 Mar 2025 11:00, by Tamsin Okoro-Vale")


def test_a_unit_s_history_is_as_of_a_day_whatever_came_later(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    c = small_centre
    hold = unit_care.hold(c.ledger, c.lead, c.unit_b, seen_at(22, 12), "Cell 2 reads low.")
    unit_care.release(c.ledger, c.lead, c.unit_b, hold, seen_at(24, 12), why="A new cell went in.")
    unit_care.record_care(c.ledger, c.lead, c.unit_b, Care.CELLS, seen_at(24, 11), good_until="2027-10-24")

    def told(day: int) -> tuple[list[str], list[str]]:
        paper = unit_history(c.ledger, c.view(), c.unit_b, date(2026, 10, day))
        lines = {one.title: [line.text for line in one.lines] for one in paper.sections}
        return lines["Holds"], lines["Care, the newest first"]

    assert told(21) == ([], [])
    ((held,), none) = told(23)
    assert held.startswith("On hold since Thu 22 Oct 12:00, by Tamsin Okoro-Vale: Cell 2 reads low.")
    assert none == []
    ((lifted,), (care,)) = told(24)
    assert lifted.endswith("lifted by Tamsin Okoro-Vale. A new cell went in.")
    assert "24 Oct 2027" in care
    before = unit_history(c.ledger, c.view(), c.unit_b, date(2026, 10, 23))
    monkeypatch.setattr("course.answers.units.now", lambda: datetime(2031, 1, 1, tzinfo=UTC))
    assert unit_history(c.ledger, c.view(), c.unit_b, date(2026, 10, 23)) == before, (
        "printed years later it is the same"
    )
