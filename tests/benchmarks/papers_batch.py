"""What a batch of competency records costs, against as many bare ReportLab documents with as many strings and lines.

Run: `python tests/benchmarks/papers_batch.py [RECORDS]`, 200 unless given. Each record is of another student, with
fifty skills and every step, some sixteen pages. A bare document sets the same texts, each as one of ReportLab's own
paragraphs in the same face and width, draws as many loose strings, lines and shapes on as many pages, and writes the
file: no head, grid, bookmarks, repeated heads, square code or data. Prints the medians of both, in milliseconds of this
process alone, their ratio, and the memory of the process after a quarter of the batch and at its end.
"""

from __future__ import annotations

import io
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).parent.parent))

from record_examples import large_record
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject
from reportlab.platypus import Frame, PageTemplate, Paragraph
from reportlab.platypus.doctemplate import BaseDocTemplate

from course.paper.batch import print_batch
from course.paper.competency_record import print_competency_record
from course.paper.fonts import REGULAR
from course.paper.frame import MARGIN, Row

PAGE_OF_MEMORY = 4096


@dataclass
class Drawn:
    """What stands on one record: texts that are set, loose strings, and how many lines and shapes are drawn."""

    texts: list[str] = field(default_factory=list)
    strings: list[str] = field(default_factory=list)
    lines: int = 0
    shapes: int = 0
    pages: int = 0


def counted(record: Any) -> Drawn:
    """Print once and note what was drawn."""
    found = Drawn()
    row = Row.__init__

    def made(self: Any, *given: Any, **named: Any) -> None:
        found.texts.append(given[0])
        row(self, *given, **named)

    def loose(draw: Callable[..., Any], place: int) -> Callable[..., Any]:
        def drawn(self: Any, *given: Any, **named: Any) -> Any:
            found.strings.append(given[place])
            return draw(self, *given, **named)

        return drawn

    def more(what: str, draw: Callable[..., Any]) -> Callable[..., Any]:
        def drawn(self: Any, *given: Any, **named: Any) -> Any:
            setattr(found, what, getattr(found, what) + 1)
            return draw(self, *given, **named)

        return drawn

    with (
        patch.object(Row, "__init__", made),
        patch.object(Canvas, "drawString", loose(Canvas.drawString, 2)),
        patch.object(Canvas, "drawRightString", loose(Canvas.drawRightString, 2)),
        patch.object(Canvas, "drawCentredString", loose(Canvas.drawCentredString, 2)),
        patch.object(Canvas, "line", more("lines", Canvas.line)),
        patch.object(Canvas, "drawPath", more("shapes", Canvas.drawPath)),
        patch.object(Canvas, "rect", more("shapes", Canvas.rect)),
        patch.object(PDFPathObject, "rect", more("shapes", PDFPathObject.rect)),
        patch.object(Canvas, "doForm", more("shapes", Canvas.doForm)),
    ):
        found.pages = print_competency_record(record, io.BytesIO())
    return found


def bare(drawn: Drawn, out: Path) -> int:
    """Write the bare document."""
    told = ParagraphStyle("bare", fontName=REGULAR, fontSize=9.5, leading=12.5)
    share = -(-len(drawn.strings) // drawn.pages), -(-drawn.lines // drawn.pages), -(-drawn.shapes // drawn.pages)
    strings, lines, shapes = share

    def loose(canvas: Any, document: Any) -> None:
        canvas.setFont(REGULAR, 8)
        for text in drawn.strings[(document.page - 1) * strings : document.page * strings]:
            canvas.drawString(50, 50, text)
        for _ in range(lines):
            canvas.line(50, 50, 100, 50)
        for _ in range(shapes):
            path = canvas.beginPath()
            path.moveTo(50, 50)
            path.lineTo(52, 52)
            path.lineTo(54, 50)
            canvas.drawPath(path, stroke=1, fill=0)

    document = BaseDocTemplate(str(out), pagesize=A4, initialFontName=REGULAR, invariant=1)
    room = Frame(MARGIN, MARGIN, A4[0] - 2 * MARGIN, A4[1] - 2 * MARGIN)
    document.addPageTemplates([PageTemplate(frames=[room], onPage=loose)])
    document.build([Paragraph(text, told) for text in drawn.texts])
    return int(document.page)


def seconds(call: Callable[[], object]) -> float:
    begin = time.process_time()
    call()
    return time.process_time() - begin


def memory_mb() -> float:
    """What the process holds, as Linux tells it."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * PAGE_OF_MEMORY / 1e6


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    drawn = counted(large_record())
    ours: list[float] = []
    floor: list[float] = []
    held: list[float] = []
    with tempfile.TemporaryDirectory() as place:

        def one(person: str, out: Path) -> int:
            record = large_record(student=f"Student {person}")
            ours.append(seconds(partial(print_competency_record, record, out)))
            floor.append(seconds(partial(bare, drawn, out.with_suffix(".bare"))))
            held.append(memory_mb())
            return drawn.pages

        print_batch([(str(n), f"Student {n}") for n in range(count)], "record", Path(place), one, lambda *_: None)
    ms, bare_ms = statistics.median(ours) * 1000, statistics.median(floor) * 1000
    print(  # noqa: T201
        f"{count} records of {drawn.pages} pages: {len(drawn.texts)} texts, {len(drawn.strings)} strings, "
        f"{drawn.lines} lines, {drawn.shapes} shapes each; {ms:.0f} ms, bare {bare_ms:.0f} ms, "
        f"ratio {ms / bare_ms:.2f}; "
        f"memory after {max(1, count // 4)}: {held[count // 4 - 1]:.0f} MB, after {count}: {held[-1]:.0f} MB"
    )


if __name__ == "__main__":
    main()
