"""Every paper that goes through the frame carries its code and its data, whatever it is about."""

from __future__ import annotations

import ast
import io
import re
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import pypdfium2
import pytest
from centre_builder import CRITICAL_ERROR, LAST_DAY, Centre, critical_mark, seen_at
from day_builder import Day
from pypdf import PdfReader

from course.actions import amending, arrivals, signing, unit_care
from course.actions import keys as keeping
from course.answers.audit import audit_answer
from course.answers.bench_sheet import bench_sheet
from course.answers.candidate_file import candidate_file
from course.answers.centre_keys import centre_keys, paper_key
from course.answers.competency import competency_record
from course.answers.course_file import course_file
from course.answers.day_paper import day_paper
from course.answers.decisions import to_sign
from course.answers.findings import course_findings
from course.answers.incident_paper import incident_paper
from course.answers.ledger_then import without_names
from course.answers.origin import event_origin
from course.answers.origin_finding import finding_origin
from course.answers.origin_of import minute_origin, session_origin, signed_origin, standing_origin
from course.answers.paper_check import check_paper
from course.answers.paper_data import plain_of
from course.answers.paper_verdict import FileState, Shown, Verdict
from course.answers.statement import statement
from course.answers.student_page import student_page
from course.answers.transfer import transfer_file
from course.answers.unit_history import unit_history
from course.exchange.audit_file import seal
from course.exchange.paper_file import read_paper
from course.exchange.paper_pages import printed_again
from course.paper.audit_file import print_audit_file
from course.paper.competency_record import print_competency_record
from course.paper.day_sheet import print_day_sheet
from course.paper.filed_sheet import print_filed
from course.paper.incident_sheet import print_incident_sheet
from course.paper.origin_sheet import print_origin
from course.paper.take_home import print_take_home
from course.record.chain import canonical
from course.record.events import MarkGiven
from course.record.paper_code import read_paper_code
from course.words import DecisionKind, Mark

ROOT = Path(__file__).parent.parent
PRINTING = sorted((ROOT / "course" / "paper").glob("*.py"))


def _incidents(c: Centre) -> Any:
    Day(c).comes(c.amaru)
    which = Day(c).freeze()
    return [incident_paper(c.ledger, c.view(), c.sessions["pool-22"], which)]


def _transfer(c: Centre) -> Any:
    arrivals.note_consent(c.ledger, c.lead, c.course, c.amaru, day="2026-10-25", given_to="Saltmarsh")
    return transfer_file(c.ledger, c.view(), c.amaru, LAST_DAY)


PAPERS: dict[str, tuple[Callable[..., int], Callable[[Centre], Any], Verdict]] = {
    "competency record": (
        print_competency_record, lambda c: competency_record(c.ledger, c.view(), c.amaru, LAST_DAY), Verdict.SAME,
    ),
    "sheet to take home": (print_take_home, lambda c: student_page(c.view(), c.amaru, LAST_DAY), Verdict.SAME),
    "day sheet": (
        print_day_sheet, lambda c: day_paper(c.ledger, c.view(), list(c.view().sessions.values())), Verdict.SAME,
    ),
    "incident sheet": (print_incident_sheet, _incidents, Verdict.SAME),
    "show why": (
        print_origin, lambda c: standing_origin(c.ledger, c.view(), c.amaru, c.skill(), LAST_DAY), Verdict.SAME,
    ),
    "audit file": (
        print_audit_file, lambda c: audit_answer(c.ledger, [(c.course, LAST_DAY)], "the agency"), Verdict.SAME,
    ),
    "course file": (print_filed, lambda c: course_file(c.ledger, c.view(), LAST_DAY), Verdict.SAME),
    "statement": (print_filed, lambda c: statement(c.ledger, c.view(), c.amaru, LAST_DAY), Verdict.SAME),
    "transfer file": (print_filed, _transfer, Verdict.SAME),
    "unit history": (print_filed, lambda c: unit_history(c.ledger, c.view(), c.unit_a, LAST_DAY), Verdict.SAME),
    "bench sheet": (print_filed, lambda c: bench_sheet(c.ledger), Verdict.SAME),
    "candidate's file": (
        print_filed, lambda c: candidate_file(c.ledger, c.view(), c.candidate, LAST_DAY), Verdict.SAME,
    ),
}  # fmt: skip


@pytest.fixture
def centre(small_centre: Centre) -> Centre:
    keeping.make_key(small_centre.ledger, small_centre.lead)
    small_centre.hold()
    return small_centre


def decoded(pdf: bytes) -> str:
    """The square code on the last page, read by OpenCV."""
    document = pypdfium2.PdfDocument(pdf)
    page = document[len(document) - 1]
    half = (0, 0, page.get_size()[0] / 2, 0)
    pictures = (page.render(scale=dots / 72, crop=half).to_numpy() for dots in (250, 300, 200, 400))
    tried = (cv2.QRCodeDetectorAruco().detectAndDecode(picture)[0] for picture in pictures)
    return str(next(filter(None, tried), ""))


CAUTIONS = {
    "competency record": "Your agency's standards and the unit manual decide.",
    "sheet to take home": "This sheet proposes; your instructor decides.",
    "day sheet": "The local emergency plan comes first; this sheet does not replace it.",
    "incident sheet": "Confidential. The lead decides who may see it.",
    "show why": "Certification, standards and limits are the certifying agency's",
    "audit file": "This file holds names, and texts that people wrote about people. It was made for the agency.",
    "course file": "Confidential: for whoever leads the course and whoever audits the centre.",
    "statement": "It says what was done on these days, not that anybody may dive on it.",
    "transfer file": "The receiving lead decides what counts; every skill is shown again there.",
    "unit history": "For trainers: it names planted faults.",
    "bench sheet": "The maker's manual of the unit rules at the bench.",
    "candidate's file": "Practice sheets never count for a student.",
}
"""What each paper alone has to say, beside what stands on all."""
ONCE = {"competency record", "sheet to take home", "day sheet", "audit file"}
"""They say it in their text, the others at the foot of every page."""
UNDECIDED = {
    "competency record": "Decided by: nobody yet.",
    "course file": "Nobody has decided on a standing yet.",
    "transfer file": "The student was not signed off.",
}
"""What papers say of decisions where there is none."""
SIZES = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}
"""In points: ISO 216 (210 by 297 mm), and 8.5 by 11 inches."""


def look_at_pages(pdf: bytes, paper: str, size: str) -> None:
    """Every page of every paper carries its place, its number, its limits and its own caution."""
    reader = PdfReader(io.BytesIO(pdf))
    pages, told = len(reader.pages), [" ".join(page.extract_text().split()) for page in reader.pages]
    assert reader.metadata is not None
    assert reader.metadata.title
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.outline, "bookmarks, on a paper of one page too"
    assert any(CAUTIONS[paper] in one for one in told) if paper in ONCE else all(CAUTIONS[paper] in one for one in told)
    assert UNDECIDED.get(paper, "") in " ".join(told)
    for number, page in enumerate(reader.pages, 1):
        assert tuple(round(float(side), 2) for side in page.mediabox[2:]) == SIZES[size]
        assert f"page {number} of {pages}" in told[number - 1]
        assert re.search(r"chain [0-9a-f]{8} · event \d+ · hash [0-9a-f]{16}", told[number - 1])
        assert "certifies nobody" in told[number - 1]
        for font in page["/Resources"]["/Font"].values():
            described = font.get_object().get("/FontDescriptor")
            assert described is not None, "one of the reader's own typefaces"
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & described.get_object().keys()


@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize("paper", PAPERS)
def test_every_paper_is_signed_carries_its_data_and_is_the_same_twice(centre: Centre, paper: str, size: str) -> None:
    """The square code is read by OpenCV, a decoder of its own."""
    printing, ask, verdict = PAPERS[paper]
    answer, files = ask(centre), (io.BytesIO(), io.BytesIO())
    for file in files:
        printing(answer, file, size, paper_key(centre.ledger))
    pdf = files[0].getvalue()
    assert files[1].getvalue() == pdf
    shown = read_paper(pdf)
    assert shown.file is FileState.AS_PRINTED
    assert shown.document is not None
    assert shown.document.says == plain_of(answer)
    found = check_paper(shown, centre_keys(centre.ledger), centre.ledger)
    assert found.verdict is verdict, found.text()
    assert read_paper_code(decoded(pdf)) == shown.code
    again = printed_again(shown.document, shown.code, centre_keys(centre.ledger)[0], centre.ledger, SIZES[size])
    assert again is not None
    assert again.pages == shown.document.pages, "what was printed is made again, to be compared with what is shown"
    look_at_pages(pdf, paper, size)


def test_a_day_sheet_says_what_changed_since_and_is_not_found_by_its_code_alone(centre: Centre) -> None:
    """A unit that was put on hold after the sheet was printed is what somebody at the pool has to know."""
    printing, ask, _ = PAPERS["day sheet"]
    out = io.BytesIO()
    printing(ask(centre), out, "A4", paper_key(centre.ledger))
    unit_care.hold(centre.ledger, centre.lead, centre.unit_a, seen_at(20), "Cell 2 reads low.")
    shown = read_paper(out.getvalue())
    found = check_paper(shown, centre_keys(centre.ledger), centre.ledger)
    assert found.verdict is Verdict.CHANGED
    assert any("holds: nothing, and now" in line for line in found.changed), found.changed
    alone = check_paper(Shown(shown.code), centre_keys(centre.ledger), centre.ledger)
    assert alone.verdict is Verdict.GENUINE
    assert "From its code alone" in alone.changed[0]


def _whys(c: Centre) -> dict[str, Callable[[], Any]]:
    """Every question that a show-why paper answers."""
    unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(20), "Cell 2 reads low.")
    c.enter("pool-22", critical_mark(), student=c.zoe)
    (ready,) = to_sign(c.view(), c.amaru, LAST_DAY)
    signing.sign(
        c.ledger, c.lead, course=c.course, student=c.amaru, skill=ready.skill, decided=DecisionKind.AGREED,
        as_of=LAST_DAY, rests_on=ready.rests_on,
    )  # fmt: skip
    seen = c.view()
    finding = course_findings(c.ledger, seen, LAST_DAY).findings[0].key
    return {
        "standing": lambda: standing_origin(c.ledger, c.view(), c.zoe, c.skill(), LAST_DAY),
        "signed": lambda: signed_origin(c.ledger, c.view(), c.amaru, c.skill(), LAST_DAY),
        "minutes": lambda: minute_origin(c.ledger, c.view(), c.amaru, "pool", LAST_DAY),
        "session": lambda: session_origin(c.ledger, c.view(), c.sessions["pool-22"]),
        "event": lambda: event_origin(c.ledger, c.view(), f"{seen.head.chain[:8]}:3"),
        "finding": lambda: finding_origin(c.ledger, c.view(), finding, LAST_DAY),
    }


@pytest.mark.parametrize("which", ["standing", "signed", "minutes", "session", "event", "finding"])
def test_show_why_is_asked_again_whatever_it_was_asked_about(centre: Centre, which: str) -> None:
    answer, out = _whys(centre)[which](), io.BytesIO()
    print_origin(answer, out, "A4", paper_key(centre.ledger))
    found = check_paper(read_paper(out.getvalue()), centre_keys(centre.ledger), centre.ledger)
    assert found.verdict is Verdict.SAME, found.text()


def test_show_why_and_the_audit_paper_say_what_changed_since(centre: Centre) -> None:
    """With names and without; a mark that was amended afterwards is what an auditor looks for."""
    attempt = centre.enter("pool-22", critical_mark(), student=centre.zoe)
    papers = []
    for whom in ("the agency", None):
        out = io.BytesIO()
        answer = audit_answer(centre.ledger, [(centre.course, LAST_DAY)], whom)
        if whom is None:
            with without_names(centre.ledger) as nameless:
                answer = audit_answer(nameless, [(centre.course, LAST_DAY)], None)
        print_audit_file(answer, out, "A4", paper_key(centre.ledger))
        papers.append(out.getvalue())
    out = io.BytesIO()
    why = standing_origin(centre.ledger, centre.view(), centre.zoe, centre.skill(), LAST_DAY)
    print_origin(why, out, "A4", paper_key(centre.ledger))
    papers.append(out.getvalue())
    for pdf in papers:
        found = check_paper(read_paper(pdf), centre_keys(centre.ledger), centre.ledger)
        assert found.verdict is Verdict.SAME, found.text()
    line = MarkGiven(step=CRITICAL_ERROR[0], mark=Mark.DONE)
    sheet = centre.attempt(attempt).sheets[0].id
    amending.amend_marks(centre.ledger, centre.lead, attempt, sheet, line, "Wrong column.", seen_at(25))
    for pdf, told in zip(papers, ("corrections", "corrections", "Not yet"), strict=True):
        found = check_paper(read_paper(pdf), centre_keys(centre.ledger), centre.ledger)
        assert found.verdict is Verdict.CHANGED, found.text()
        assert "the ledger said what the paper says" in found.changed[0]
        assert any(told in one for one in found.changed), found.changed
    assert "Zoë" not in check_paper(read_paper(papers[1]), centre_keys(centre.ledger), centre.ledger).text()


def test_a_show_why_that_does_not_say_what_it_was_asked_is_genuine_and_no_more(centre: Centre) -> None:
    """As those were that an earlier version of the program printed."""
    out = io.BytesIO()
    answer = replace(standing_origin(centre.ledger, centre.view(), centre.zoe, centre.skill(), LAST_DAY), asked=())
    print_origin(answer, out, "A4", paper_key(centre.ledger))
    found = check_paper(read_paper(out.getvalue()), centre_keys(centre.ledger), centre.ledger)
    assert found.verdict is Verdict.GENUINE
    assert "cannot be asked" in found.changed[0]


@pytest.mark.parametrize("paper", PAPERS)
def test_what_a_paper_says_has_one_plain_form_without_where_it_was_printed(centre: Centre, paper: str) -> None:
    _, ask, _ = PAPERS[paper]
    says = plain_of(ask(centre))
    assert canonical(says)
    assert all("head" not in one for one in (says if isinstance(says, list) else [says]))


def _calls(tree: ast.AST, name: str) -> list[ast.Call]:
    return [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name
    ]


@pytest.mark.parametrize("path", PRINTING, ids=lambda path: path.name)
def test_no_paper_goes_through_the_frame_without_its_answer_and_the_key(path: Path) -> None:
    """A paper that is new cannot forget either: its sheet holds the answer, and the key is handed on."""
    tree = ast.parse(path.read_text("utf-8"))
    for call in _calls(tree, "Sheet"):
        assert len(call.args) >= 7 or any(one.arg == "answer" for one in call.keywords), path.name
    for call in _calls(tree, "print_paper"):
        assert len(call.args) >= 5 or any(one.arg == "key" for one in call.keywords), path.name


def test_nobody_prints_without_handing_the_key_on() -> None:
    """Pages print through `preview.as_bytes`, which takes it from the ledger; whoever else prints names it."""
    places = [*(ROOT / "course").rglob("*.py"), *(ROOT / "pages").glob("*.py")]
    names = {printing.__name__ for printing, _, _ in PAPERS.values()}
    seen = 0
    for path in places:
        for name in names:
            for call in _calls(ast.parse(path.read_text("utf-8")), name):
                seen += 1
                given = [ast.unparse(one) for one in (*call.args, *(word.value for word in call.keywords))]
                assert "paper_key(ledger)" in given, f"{path.name}: {ast.unparse(call)}"
    assert seen >= len(names)


@pytest.mark.parametrize("whom", ["the agency", None])
def test_the_paper_within_a_sealed_audit_file_is_asked_again_of_the_ledger_itself(
    centre: Centre, tmp_path: Path, whom: str | None
) -> None:
    """It was made from the events laid out anew; the centre's own ledger says the same."""
    seal(centre.ledger, tmp_path / "audit.zip", as_of=LAST_DAY, given_to=whom)
    with zipfile.ZipFile(tmp_path / "audit.zip") as packed:
        (name,) = (one for one in packed.namelist() if one.endswith(".pdf"))
        shown = read_paper(packed.read(name))
    found = check_paper(shown, centre_keys(centre.ledger), centre.ledger)
    assert found.verdict is Verdict.SAME, found.text()
