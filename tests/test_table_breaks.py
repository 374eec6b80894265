"""Where tables go over pages: never fewer than two of their lines on a page, and their captions over each part."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import pytest
from centre_builder import Centre
from filed_examples import told_centre
from pypdf import PdfReader
from record_examples import large_record, small_record
from reportlab.lib.pagesizes import A4, LETTER
from test_every_paper import PAPERS

from course.paper import frame, kept
from course.paper.competency_record import print_competency_record
from course.paper.fonts import MEDIUM
from course.standards.standards import Standards

FULL = {"A4": A4, "Letter": LETTER}
SHORTER_BY = (0, 40, 80, 120, 160)
"""Points off a page's height, so that the same tables break at other places."""


ONE_PAGE = "sheet to take home"
"""It is measured to fit, and refused where it does not."""


@dataclass
class Drawn:
    """What of one table was drawn on each page: its lines, and whether the page repeats captions."""

    name: str
    captions: bool
    pages: dict[int, set[Any]] = field(default_factory=dict)
    repeated: dict[int, bool] = field(default_factory=dict)


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory, standards: Standards) -> Iterator[dict[str, Any]]:
    """What every paper is printed from, of one centre."""
    base = tmp_path_factory.mktemp("breaks")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        with told_centre(base / "centre", standards, patch) as centre:
            yield {name: _asked(centre, name) for name in PAPERS} | {"competency record": large_record()}


def _asked(centre: Centre, name: str) -> Any:
    return PAPERS[name][1](centre)


def _draws(row: frame.Row) -> str:
    """The name of what draws beside a row; "" where nothing does."""
    draws = row.beside.func if isinstance(row.beside, partial) else row.beside
    return getattr(draws, "__qualname__", "")


def _begins(row: frame.Row, captions: bool) -> Drawn | None:  # noqa: FBT001
    """The table that begins with a row: after captions, after a heading, or after a name within a table."""
    draws = _draws(row)
    if any(word in draws for word in ("caption", "head", "lambda", "proof")):
        return Drawn(row.getPlainText() or draws, captions=True)
    within = row.entry is not None and row.entry[0].startswith("phase-")
    if row.style.fontSize >= frame.LEAD and not within:
        return Drawn(row.getPlainText(), captions=False)
    if row.style.fontName == MEDIUM and not draws and not within:
        return Drawn(row.getPlainText(), captions=captions)
    return None


def drawn(patch: pytest.MonkeyPatch, printing: Any, answer: Any, page: tuple[float, float]) -> list[Drawn]:
    """Print on pages of a size; return every table with its lines as they were drawn."""
    tables = [Drawn("the beginning", captions=False)]
    draw, split = frame.Row.draw, frame.Row.split

    def noted_draw(row: Any) -> None:
        if begun := _begins(row, tables[-1].captions):
            tables.append(begun)
        elif row.beside or row.label or type(row) is not frame.Row or hasattr(row, "_part_of"):
            number = row.canv.getPageNumber()
            tables[-1].pages.setdefault(number, set()).add(getattr(row, "_part_of", row))
            tables[-1].repeated[number] = row.canv._doctemplate.pageTemplate.id != "plain"
        draw(row)

    def noted_split(row: Any, width: float, height: float) -> list[Any]:
        parts: list[Any] = split(row, width, height)
        for part in parts if row.beside or row.label else []:
            part._part_of = getattr(row, "_part_of", row)
        return parts

    with patch.context() as inner:
        inner.setattr(frame.Row, "draw", noted_draw)
        inner.setattr(frame.Row, "split", noted_split)
        inner.setitem(frame.PAGES, "A4", page)
        inner.setattr(kept, "_TALLEST_KEPT", kept._TALLEST_KEPT - FULL["A4"][1] + page[1])
        printing(answer, io.BytesIO(), "A4")
    return tables


def broken_badly(tables: list[Drawn]) -> list[str]:
    """Every place where a table that goes over pages has one line alone, or goes on without its captions."""
    found = []
    for table in (one for one in tables if len(one.pages) > 1):
        for number, (page, lines) in enumerate(table.pages.items()):
            if len(lines) < 2:
                found.append(f"{table.name!r} has one line on page {page}")
            if number and table.captions and not table.repeated[page]:
                found.append(f"{table.name!r} goes on without its captions on page {page}")
    return found


@pytest.mark.parametrize("size", FULL)
@pytest.mark.parametrize("paper", PAPERS)
def test_no_table_of_a_paper_leaves_one_line_alone_or_goes_on_without_its_captions(
    answers: dict[str, Any], monkeypatch: pytest.MonkeyPatch, paper: str, size: str
) -> None:
    width, height = FULL[size]
    for less in SHORTER_BY if paper != ONE_PAGE else (0,):
        found = broken_badly(drawn(monkeypatch, PAPERS[paper][0], answers[paper], (width, height - less)))
        assert not found, f"{less} points shorter: {found}"


def test_a_list_of_sentences_leaves_none_of_them_alone_on_its_last_page(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wherever its page ends."""
    said = tuple(f"Paper {number} was seen on 11 Oct 2026 by Tamsin Okoro-Vale." for number in range(1, 9))
    broken = 0
    for less in range(0, 130, 13):
        with monkeypatch.context() as inner:
            inner.setitem(frame.PAGES, "A4", (A4[0], A4[1] - less))
            file = io.BytesIO()
            print_competency_record(small_record(consents=said), file, "A4")
        on_pages = [sum(f"Paper {n} was" in page.extract_text() for n in range(1, 9)) for page in PdfReader(file).pages]
        own = [count for count in on_pages if count]
        assert sum(own) == len(said)
        assert own[-1] > 1, less
        broken += len(own) > 1
    assert broken
