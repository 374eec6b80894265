"""Nothing personal in addresses, file names and the data that a PDF carries beside its pages."""

from __future__ import annotations

import ast
import re
from io import BytesIO
from pathlib import Path

import pytest
from centre_builder import Centre
from pypdf import PdfReader

from course.answers.competency import competency_record
from course.answers.student_page import student_page
from course.exchange.audit_file import seal
from course.paper.competency_record import print_competency_record
from course.paper.take_home import print_take_home
from course.storage.backup import backup

ROOT = Path(__file__).parent.parent
SHOWN = [*sorted((ROOT / "course" / "screens").glob("*.py")), *sorted((ROOT / "pages").glob("*.py"))]
NAMES = ("Amaru", "Tendelle", "Okoro", "Zoë", "1998-02-03")


@pytest.mark.parametrize("paper", ["record", "take-home"])
def test_the_data_of_a_pdf_name_nobody(small_centre: Centre, paper: str) -> None:
    """The name is on the page; it is not in what a search or a list of files shows of it."""
    small_centre.hold()
    seen, out = small_centre.view(), BytesIO()
    if paper == "record":
        print_competency_record(
            competency_record(small_centre.ledger, seen, small_centre.amaru, seen.last_day), out, "A4"
        )
    else:
        print_take_home(student_page(seen, small_centre.amaru, seen.last_day), out, "A4")
    read = PdfReader(out)
    assert "Amaru" in read.pages[0].extract_text()
    told = f"{read.metadata} {read.xmp_metadata} {read.outline} {list(read.attachments)}"
    assert [name for name in NAMES if name in told] == []


def test_no_file_that_the_program_names_by_itself_has_a_persons_name(small_centre: Centre, tmp_path: Path) -> None:
    small_centre.hold()
    backup(small_centre.ledger.folder, tmp_path / "b.tar")
    seal(small_centre.ledger, tmp_path / "a.zip")
    for place in (small_centre.ledger.folder, tmp_path):
        for file in place.rglob("*"):
            assert not any(name in str(file) for name in NAMES)


def _calls(name: str) -> list[tuple[str, ast.Call]]:
    return [
        (path.name, node)
        for path in SHOWN
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == name
    ]


def test_what_a_page_offers_for_download_is_called_after_its_kind() -> None:
    """By the syntax tree: no part of a file's name is what a person is called."""
    found = _calls("offer")
    assert len(found) > 3
    assert [where for where, _ in _calls("download_button")] == ["offers.py"]
    for where, call in found:
        for part in [*call.args[3:4], *(k.value for k in call.keywords if k.arg == "file_name")]:
            told = ast.unparse(part)
            assert not re.search(r"shown|seen\.name|student\b|person|\.names", told), f"{where}: {told}"


def test_an_address_holds_ids_and_never_a_name() -> None:
    """What the pages write into addresses, by the syntax tree."""
    written = [
        (path.name, ast.unparse(node.value))
        for path in SHOWN
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Assign) and any("query_params" in ast.unparse(target) for target in node.targets)
    ]
    assert written
    for where, value in written:
        assert not re.search(r"\.shown|\.name\b|\.names|\.title\b", value), f"{where}: {value}"
