"""What 30 slate sheets cost, against a bare ReportLab file with as many strings, lines and areas on as many pages.

Run: `python tests/benchmarks/slate_sheets.py [SHEETS]`. Prints, for each size, the first print of the process in
milliseconds (cold: every line is wrapped), the median of five more (wrapped lines are kept), the bare file's median,
and both ratios. The bare file is drawn in the same run from the same items, without measuring, wrapping, square codes
or hatching.
"""

from __future__ import annotations

import io
import statistics
import sys
import time
from collections.abc import Callable
from functools import partial
from itertools import cycle, islice
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from centre_builder import shipped_standards
from reportlab.pdfgen.canvas import Canvas
from slate_examples import example

from course.paper.fonts import REGULAR
from course.paper.slate_layout import lay_out
from course.paper.slate_page import SlatePage
from course.paper.slate_sheet import print_slates
from course.paper.slate_text import Words

RUNS = 5


def bare(pages: list[SlatePage]) -> None:
    canvas = Canvas(io.BytesIO(), pagesize=(pages[0].width, pages[0].height), initialFontName=REGULAR)
    for page in pages:
        for item in page.items:
            if isinstance(item, Words):
                canvas.setFont(item.font, item.size)
                canvas.drawString(item.x, item.y, item.text)
            elif hasattr(item, "area"):
                canvas.rect(item.area.x, item.area.y, item.area.width, item.area.height)
            else:
                canvas.line(item.x, item.y, item.x + item.width, item.y)
        canvas.showPage()
    canvas.save()


def median_ms(call: Callable[[], object], runs: int = RUNS) -> float:
    times = []
    for _ in range(runs):
        begin = time.perf_counter()
        call()
        times.append((time.perf_counter() - begin) * 1000)
    return statistics.median(times)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    sheets = [example(skill, 4) for skill in islice(cycle(shipped_standards().skills), count)]
    print_slates(sheets[:1], "a5")  # fonts are read once
    for size in ("a4", "a5", "small"):
        whole = partial(print_slates, sheets, size)
        first, again = median_ms(whole, 1), median_ms(whole)
        pages = [page for sheet in sheets for page in lay_out(sheet, size)]
        floor = median_ms(partial(bare, pages))
        told = [f"{size}: {count} sheets on {len(pages)} pages, bare {floor:.0f} ms"]
        told += [f"{word} {ms:.0f} ms, ratio {ms / floor:.1f}" for word, ms in (("first", first), ("again", again))]
        print("; ".join(told))  # noqa: T201


if __name__ == "__main__":
    main()
