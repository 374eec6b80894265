"""Many papers at once: a file for each person, names of any script, progress, and failures that stop nobody else's."""

from __future__ import annotations

from pathlib import Path

import pypdf
import pytest
from centre_builder import ZONE, Centre
from click.testing import CliRunner

from course.actions import courses as planning
from course.commands import main
from course.errors import ExitCode, PaperError
from course.paper.batch import file_part, print_batch

PEOPLE = [("a", "Amaru Tendelle"), ("b", "Zoë/O'Brien"), ("c", "李小龍")]


def _writing(person: str, out: Path) -> int:
    out.write_bytes(person.encode())
    return 2


def _failing(person: str, out: Path) -> int:
    if person == "b":
        raise PaperError("A letter has no font here. Nothing was printed.")
    return _writing(person, out)


def test_everybody_gets_a_file_and_progress_ends_at_the_whole(tmp_path: Path) -> None:
    told: list[tuple[int, int, str]] = []
    batch = print_batch(PEOPLE, "record", tmp_path / "new" / "out", _writing, lambda *step: told.append(step))
    names = ["001-record-Amaru-Tendelle.pdf", "002-record-Zoë-O-Brien.pdf", "003-record-李小龍.pdf"]
    assert [path.name for path, _ in batch.files] == names
    assert sorted(path.name for path in (tmp_path / "new" / "out").iterdir()) == sorted(names)
    assert [done for done, _, _ in told] == [0, 1, 1, 2, 2, 3]
    assert batch.text().endswith("3 papers, 6 pages.")


def test_one_paper_that_fails_is_named_and_the_others_are_printed(tmp_path: Path) -> None:
    batch = print_batch(PEOPLE, "record", tmp_path, _failing, lambda *_: None)
    assert [path.name[:3] for path, _ in batch.files] == ["001", "003"]
    assert "Not printed: Zoë/O'Brien: A letter has no font here." in batch.text()


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("../../etc/passwd", "etc-passwd"),
        ("...", "somebody"),
        ("a\x00b\n", "a-b"),
        ("नमस्ते", "नमस्ते"),
        ("Ω" * 80, "Ω" * 60),
    ],
)
def test_a_name_can_be_no_path_and_no_file_name_is_too_long(name: str, part: str) -> None:
    assert file_part(name) == part


def test_a_file_in_the_folders_place_is_told_and_kept(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("kept")
    with pytest.raises(PaperError, match="Nothing was printed"):
        print_batch(PEOPLE, "record", tmp_path / "out", _writing, lambda *_: None)
    assert (tmp_path / "out").read_text() == "kept"


@pytest.mark.parametrize("paper", ["record", "take-home", "statement"])
def test_the_command_prints_a_paper_of_every_student(small_centre: Centre, tmp_path: Path, paper: str) -> None:
    folder = small_centre.ledger.folder
    small_centre.ledger.close()
    result = CliRunner().invoke(main, ["print-all", str(folder), "--out", str(tmp_path / "out"), "--paper", paper])
    assert result.exit_code == ExitCode.FINE, result.output
    files = sorted((tmp_path / "out").iterdir())
    assert [file.name.split("-")[0] for file in files] == ["001", "002"]
    pages = sum(len(pypdf.PdfReader(file).pages) for file in files)
    assert f"2 papers, {pages} pages." in result.stdout
    assert "Printing" not in result.stdout


def test_a_course_without_students_is_told_and_no_folder_is_made(small_centre: Centre, tmp_path: Path) -> None:
    c = small_centre
    planning.make_course(
        c.ledger, c.lead, title="Empty", zone=ZONE, adoption=c.adoption, profile="ex-first-unit", revision="r1",
        first_day="2026-11-20", last_day="2026-11-25",
    )  # fmt: skip
    folder = c.ledger.folder
    c.ledger.close()
    asked = ["print-all", str(folder), "--course", "Empty", "--out", str(tmp_path / "out")]
    result = CliRunner().invoke(main, asked)
    assert result.exit_code == ExitCode.NOT_FOUND
    assert "Nobody learns on Empty yet" in result.stderr
    assert not (tmp_path / "out").exists()
