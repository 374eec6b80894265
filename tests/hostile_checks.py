"""Files that are shown on Check a paper: what is none, broken, far too large, or carries more than a paper does."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import pypdf
import pytest
from centre_builder import LAST_DAY, Centre
from hostile_desk import Drive, Said
from hostile_fields import from_elsewhere
from hostile_screens import BYTES
from PIL import Image
from pypdf.generic import DictionaryObject, NameObject, TextStringObject

from course.actions import keys as keeping
from course.answers.centre_keys import centre_keys
from course.answers.competency import competency_record
from course.answers.paper_verdict import Shown
from course.errors import CourseError
from course.exchange import paper_file
from course.exchange.paper_file import read_paper
from course.exchange.paper_pages import check_shown
from course.paper.attachment import attached
from course.paper.competency_record import print_competency_record
from course.record.paper_code import PaperCode, read_paper_code
from course.record.paper_document import MEMBER, Pages, PaperDocument, Place
from course.record.slate_code import READ_AS, check_character
from course.screens import preview


def _pdf(data: bytes | None = None, pages: int = 1, side: float = 200) -> bytes:
    writer, out = pypdf.PdfWriter(), io.BytesIO()
    for _ in range(pages):
        writer.add_blank_page(side, side)
    if data is not None:
        writer.add_attachment(MEMBER, data)
    script = {
        NameObject("/S"): NameObject("/JavaScript"),
        NameObject("/JS"): TextStringObject("app.launchURL('http://a')"),
    }
    writer.root_object[NameObject("/OpenAction")] = DictionaryObject(script)
    writer.write(out)
    return out.getvalue()


MADE = {
    "a PDF that would run a script": _pdf(),
    "a PDF of 3000 pages": _pdf(pages=3000),
    "a PDF of one page of 14 km": _pdf(side=4e7),
    "data that are no paper's": _pdf(b"<script>alert(1)</script>"),
    "data nested without end": _pdf(b"[" * 100_000),
    "a PDF that ends at once": b"%PDF-1.7\n%%EOF\n",
    "a PDF of nothing but its sign": b"%PDF-1.7",
    "a PDF that leads round in a circle": (
        b"%PDF-1.7\n1 0 obj<</Type/Pages/Kids[1 0 R]/Count 9>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF"
    ),
}


def checked(c: Centre, text: str) -> Said:
    """What the page Check a paper says to a file, by the functions that it calls."""
    with pytest.MonkeyPatch.context() as patch:
        if text in LONG:
            patch.setattr(paper_file, "_SECONDS", 2)  # it waits longer for a file that may be a paper
        return _told(c, lambda: read_paper(content_of(text)))


def _told(c: Centre, read: Callable[[], Shown]) -> Said:
    try:
        found = check_shown(read(), centre_keys(c.ledger), c.ledger)
    except CourseError as error:
        return Said(refused=error.sentence)
    return Said(kept=found.sentence)


# --- files that are made so that whoever reads them is busy without end, or out of memory ---------------------------


def content_of(text: str) -> bytes:
    """A file by its name."""
    return MADE.get(text) or (LARGE[text]() if text in LARGE else BYTES[text])


def _png(dots: Any) -> bytes:
    out = io.BytesIO()
    Image.fromarray(dots).save(out, "PNG", compress_level=1)
    return out.getvalue()


@cache
def _corner_marks() -> bytes:
    """A picture of nothing but corner marks of square codes: a reader tries each with each."""
    mark = np.full((9, 9), 255, np.uint8)
    mark[1:8, 1:8], mark[2:7, 2:7], mark[3:6, 3:6] = 0, 255, 0
    return _png(np.tile(mark, (600, 600)))


@cache
def _bomb() -> bytes:
    """64 million dots, packed small."""
    return _png(np.zeros((8000, 8000), np.uint8))


def _searched(unit: bytes, end: bytes = b"") -> Callable[[], bytes]:
    """Data in the form of our own, in pages in which a search begins anew at every few bytes, and never ends."""

    def made() -> bytes:
        pages = b"%PDF-1.7\n" + unit * 40_000 + end
        size = Pages(bytes=len(pages), sha256=hashlib.sha256(pages).hexdigest())
        place = Place(centre="x", chain="x", seq=1, hash="0" * 64)
        document = PaperDocument(paper="x", asked={}, says=1, ledger=place, code="x", pages=size)
        good = attached(_pdf_of_ours(), MEMBER, document.written())
        return pages + good[good.index(b"<< /Type /EmbeddedFile") :]

    return cache(made)


def _pdf_of_ours() -> bytes:
    return b"%PDF-1.7\n1 0 obj\n<< /Type /Catalog >>\nendobj\ntrailer\n<< /Root 1 0 R /Size 2 >>\nstartxref\n9\n%%EOF\n"


_END = b"\ntrailer\n<< /Root 1 0 R /Size 2 >>\nstartxref\n9\n%%EOF\n"
LARGE: dict[str, Callable[[], bytes]] = {
    "a picture of corner marks": _corner_marks,
    "a picture of 64 million dots": _bomb,
    "a PDF of many trailers": _searched(b"trailer<<"),
    "a PDF of many catalogues": _searched(b"\n1 0 obj<<", _END),
}
LONG = ("a picture of corner marks",)


# --- codes of papers that are typed, or read by something else than this program -------------------------------------


@dataclass(frozen=True)
class Coded:
    """The small centre, and codes of papers by a word."""

    centre: Centre
    codes: dict[str, str]


def with_papers(c: Centre) -> Coded:
    """A record that was printed before something was added and after it, and a paper of another centre."""
    elsewhere = from_elsewhere()
    keeping.make_key(c.ledger, c.lead)

    def code() -> PaperCode:
        record = competency_record(c.ledger, c.view(), c.amaru, LAST_DAY)
        return read_paper(preview.as_bytes(print_competency_record, c.ledger, record, "A4")).code

    older = code()
    c.enter("pool-22")
    good = code()
    flipped = good.signature[:-1] + ("0" if good.signature[-1] != "0" else "1")
    return Coded(c, {
        "$good": good.text(), "$older": older.text(), "$rows": "\n".join(good.rows()), "$wrong": _misread(good),
        "$cut": "\n".join(good.rows()[:-1]), "$forged": replace(good, signature=flipped).text(),
        "$says": replace(good, says="0" * 64).text(), "$unsigned": replace(good, key="", signature="").text(),
        "$elsewhere": read_paper(elsewhere.signed).code.text(),
    })  # fmt: skip


def _misread(code: PaperCode) -> str:
    """The code with one character of its first row read as another, one that the row's check character tells."""
    row, at = code.rows()[0], 12
    others = (row[:at] + one + row[at + 1 :] for one in "23456789" if one != row[at])
    told = next(one for one in others if check_character(one[:-1]).translate(READ_AS) != one[-1])
    return code.text().replace(row, told)


def typed(made: Coded, text: str) -> Said:
    """What comes of a typed code."""
    for name, own in made.codes.items():
        text = text.replace(name, own)
    return _told(made.centre, lambda: Shown(read_paper_code(text)))


CHECKS = {"Check a paper: file": Drive("checks", lambda c: c, checked, again=True)}
PAPER_CODES = {"a paper's code": Drive("paper codes", with_papers, typed)}
