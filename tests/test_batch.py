"""Many papers at once: a file for each person, whose is which, progress, and failures that stop nobody else's."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import BinaryIO

import pypdf
import pytest
from centre_builder import ZONE, Centre
from click.testing import CliRunner
from opened_page import app_at
from streamlit.testing.v1 import AppTest

from course.actions import amending
from course.actions import courses as planning
from course.actions.pad import take
from course.commands import main
from course.errors import ExitCode, PaperError
from course.paper.batch import CONTENTS, print_batch, zip_batch
from course.screens import serve
from course.screens.batch_parts import SEVERAL

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
    names = ["001-record.pdf", "002-record.pdf", "003-record.pdf"]
    assert [path.name for path, _ in batch.files] == names
    assert sorted(path.name for path in (tmp_path / "new" / "out").iterdir()) == [*names, CONTENTS]
    assert [done for done, _, _ in told] == [0, 1, 1, 2, 2, 3]
    assert batch.text().endswith("3 papers, 6 pages.")


def test_no_files_name_tells_whose_it_is_and_what_stands_beside_them_does(tmp_path: Path) -> None:
    batch = print_batch(PEOPLE, "record", tmp_path, _failing, lambda *_: None)
    told = [
        "001-record.pdf  Amaru Tendelle",
        "003-record.pdf  李小龍",
        "not printed  Zoë/O'Brien: A letter has no font here.",
    ]
    assert [line.split(" Nothing")[0] for line in (tmp_path / CONTENTS).read_text("utf-8").splitlines()] == told
    assert f"{tmp_path / '003-record.pdf'}: 李小龍, 2 pages" in batch.text()


def test_one_paper_that_fails_is_named_and_the_others_are_printed(tmp_path: Path) -> None:
    batch = print_batch(PEOPLE, "record", tmp_path, _failing, lambda *_: None)
    assert [path.name[:3] for path, _ in batch.files] == ["001", "003"]
    assert "Not printed: Zoë/O'Brien: A letter has no font here." in batch.text()


def test_a_file_in_the_folders_place_is_told_and_kept(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("kept")
    with pytest.raises(PaperError, match="Nothing was printed"):
        print_batch(PEOPLE, "record", tmp_path / "out", _writing, lambda *_: None)
    assert (tmp_path / "out").read_text() == "kept"


def _in_memory(person: str, out: BinaryIO) -> int:
    if person == "b":
        raise PaperError("A letter has no font here. Nothing was printed.")
    out.write(person.encode())
    return 2


def test_in_one_file_names_are_plain_letters_whose_is_which_is_told_and_bytes_repeat() -> None:
    files = (io.BytesIO(), io.BytesIO())
    told: list[int] = []
    for out in files:
        batch = zip_batch(PEOPLE, "record", out, _in_memory, lambda done, *_: told.append(done))
    assert files[0].getvalue() == files[1].getvalue()
    assert told[:6] == [0, 1, 1, 2, 2, 3]
    with zipfile.ZipFile(files[0]) as packed:
        assert packed.namelist() == ["001-record.pdf", "003-record.pdf", "contents.txt"]
        assert packed.read("003-record.pdf") == b"c"
        contents = packed.read("contents.txt").decode()
    assert contents.splitlines() == [
        "001-record.pdf  Amaru Tendelle",
        "003-record.pdf  李小龍",
        "not printed  Zoë/O'Brien: A letter has no font here.",
    ]
    assert batch.failed == ("Zoë/O'Brien: A letter has no font here.",)


def several(c: Centre) -> AppTest:
    """The Papers page as it asks for several papers at once."""
    serve.start(c.ledger, take)
    app = app_at("papers").run()
    return app.segmented_control(key="paper-name").set_value(SEVERAL).run()


@pytest.mark.parametrize("paper", ["record", "take-home", "statement"])
def test_the_page_prints_for_everybody_and_shows_one_page_at_a_time(small_centre: Centre, paper: str) -> None:
    c = small_centre
    app = several(c)
    app.button_group(key="batch-paper").set_value(paper).run()
    app.button(key="batch-print-BATCH_FILE").click().run()
    assert not app.exception
    (button,) = app.get("download_button")
    assert button.label == "Download them as one file"
    (asked, (batch, packed)) = app.session_state["batch-made"]
    assert asked.students == (c.amaru, c.zoe)
    files = zipfile.ZipFile(io.BytesIO(packed))
    assert files.namelist() == [f"001-{paper}.pdf", f"002-{paper}.pdf", "contents.txt"]
    pages = [len(pypdf.PdfReader(io.BytesIO(files.read(name))).pages) for name in files.namelist()[:2]]
    assert pages == [count for _, count in batch.files]
    assert any(f"2 papers, {sum(pages)} pages." in one.value for one in app.markdown)
    assert captions(app) == [f"Page 1 of {pages[0]}"]
    if pages[0] > 1:
        app.button(key="batch-preview-next").click().run()
        assert captions(app) == [f"Page 2 of {pages[0]}"]
        app.button(key="batch-preview-before").click().run()
        assert captions(app) == [f"Page 1 of {pages[0]}"]


def captions(app: AppTest) -> list[str]:
    """What stands under the pictures."""
    return [one.proto.imgs[0].caption for one in app.image]


def test_on_the_page_somebody_whose_name_has_no_letters_here_is_told_and_the_others_are_printed(
    small_centre: Centre,
) -> None:
    c = small_centre
    event = next(one.id for one in c.ledger.events(c.zoe) if one.kind.startswith("person_added"))
    amending.correct(c.ledger, c.lead, event, "Misread.", private_change={"name": "สมชาย"})
    app = several(c)
    app.button(key="batch-print-BATCH_FILE").click().run()
    assert not app.exception
    assert any("Not printed: สมชาย" in one.value and "THAI" in one.value for one in app.warning)
    _, (_, packed) = app.session_state["batch-made"]
    assert zipfile.ZipFile(io.BytesIO(packed)).namelist() == ["001-record.pdf", "contents.txt"]


def test_a_batch_for_other_students_is_not_offered_as_the_one_that_was_printed(small_centre: Centre) -> None:
    app = several(small_centre)
    app.button(key="batch-print-BATCH_FILE").click().run()
    app.multiselect(key="batch-students").set_value([small_centre.zoe]).run()
    assert not app.get("download_button")
    assert app.button(key="batch-print-BATCH_FILE").label == "Print 1 paper"


@pytest.mark.parametrize("paper", ["record", "take-home", "statement"])
def test_the_command_prints_a_paper_of_every_student(small_centre: Centre, tmp_path: Path, paper: str) -> None:
    folder = small_centre.ledger.folder
    small_centre.ledger.close()
    result = CliRunner().invoke(main, ["print-all", str(folder), "--out", str(tmp_path / "out"), "--paper", paper])
    assert result.exit_code == ExitCode.FINE, result.output
    files = sorted((tmp_path / "out").glob("*.pdf"))
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
