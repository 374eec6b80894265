"""Files that are shown on Check a paper: what is none, broken, far too large, or carries more than a paper does."""

from __future__ import annotations

import io

import pypdf
from centre_builder import Centre
from hostile_desk import Drive, Said
from hostile_screens import BYTES
from pypdf.generic import DictionaryObject, NameObject, TextStringObject

from course.answers.centre_keys import centre_keys
from course.errors import CourseError
from course.exchange.paper_file import read_paper
from course.exchange.paper_pages import check_shown
from course.record.paper_document import MEMBER


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
    try:
        found = check_shown(read_paper(MADE.get(text) or BYTES[text]), centre_keys(c.ledger), c.ledger)
    except CourseError as error:
        return Said(refused=error.sentence)
    return Said(kept=found.sentence)


CHECKS = {"Check a paper: file": Drive("checks", lambda c: c, checked, again=True)}
