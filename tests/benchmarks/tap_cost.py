"""What a tap costs on a tablet: from the tap until the server has acknowledged it, against an empty request.

Both go by the same route from the same page of the same browser in the same run: `POST /course/marks` with one mark,
made by a tap on the pad, and with an empty list. With 1, 6 and 12 browsers that mark at once, each on a student's
attempt of its own in the demo centre. Ratios say what saving costs; milliseconds belong to this machine, on which the
browsers run too.

Run: `python tests/benchmarks/tap_cost.py [TAPS] [BROWSERS ...]`. Prints p50 and p95 of both and their ratio.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))
os.environ.setdefault("LOOPLEDGER_STATE", tempfile.mkdtemp())

from playwright.sync_api import Browser, Page
from running_centre import TABLET, RunningCentre, chromium

from course import sample
from course.answers.centre_answer import centre
from course.answers.course_view import view
from course.answers.line import Line
from course.moments import new_id
from course.storage.ledger import open_ledger

TAPS, BROWSERS = 60, (1, 6, 12)
SKILL = "asm-bench"
PAUSE_MS = 500
"""Between two taps of one browser: a person does not tap faster."""

MEASURE = """async ([taps, pause]) => {
    const root = document.querySelector("[data-testid=stBidiComponentIsolated]").shadowRoot;
    const wait = (ms) => new Promise((done) => setTimeout(done, ms));
    const strokes = [...root.querySelectorAll(".acts .done, .acts .prompted")];
    const isWaiting = () => Object.keys(localStorage).some((key) => key.startsWith("course.out."));
    const times = { tap: [], empty: [] };
    const post = () => fetch("/course/marks", {
        method: "POST", headers: { "Content-Type": "application/json", "X-Course": "pad" }, body: '{"items": []}',
    }).then((answer) => answer.json());
    const remove = Storage.prototype.removeItem;
    let settled = () => {};
    Storage.prototype.removeItem = function (key) {
        remove.call(this, key);
        if (key.startsWith("course.out.") && !isWaiting()) settled();
    };
    for (let turn = 0; turn < taps + 5; turn++) {
        for (const kind of ["tap", "empty"]) {
            await wait(pause * (0.5 + Math.random()) / 2);
            const begin = performance.now();
            if (kind === "empty") await post();
            else await new Promise((done) => {
                settled = done;
                strokes[turn % strokes.length].click();
                setTimeout(done, 15000);
            });
            if (turn >= 5) times[kind].push(performance.now() - begin);
        }
    }
    Storage.prototype.removeItem = remove;
    return times;
}"""


def prepare(folder: Path, most: int) -> list[str]:
    """The demo centre, and for each browser the address of a line that nothing is marked of."""
    sample.load(folder, lambda *_: None)
    with open_ledger(folder) as ledger:
        seen = view(ledger, centre(ledger).courses[0].id)
        session = next(s.id for s in seen.sessions.values() if s.setting == "dry")
        lines = [
            Line(new_id(), session, SKILL, seen.centre.lead, (seen.students[number % len(seen.students)],))
            for number in range(most)
        ]
    return ["&".join(f"{name}={value}" for name, value in line.address().items()) for line in lines]


def open_pads(browser: Browser, address: str, lines: list[str]) -> list[Page]:
    """A pad for each line, every one in a browser context of its own."""
    pages = []
    for line in lines:
        page = browser.new_context(viewport=TABLET).new_page()
        page.goto(f"{address}/mark?{line}", timeout=120_000)
        page.locator(".pad").wait_for(timeout=120_000)
        pages.append(page)
    return pages


def measure(pages: list[Page], taps: int) -> dict[str, list[float]]:
    """All pages tap at once; what each of them measured, together."""
    for page in pages:  # started without waiting, so that they run beside each other
        page.evaluate(f"(of) => {{ window.measured = ({MEASURE})(of); }}", [taps, PAUSE_MS])
    found: list[dict[str, Any]] = [page.evaluate("window.measured") for page in pages]
    return {kind: [time for one in found for time in one[kind]] for kind in ("tap", "empty")}


def main() -> None:
    taps, *browsers = (int(text) for text in sys.argv[1:] or (TAPS,))
    folder = Path(tempfile.mkdtemp()) / "centre"
    lines = prepare(folder, sum(browsers or BROWSERS))
    running = RunningCentre(folder)
    running.start()
    with chromium() as browser:
        for count in browsers or BROWSERS:
            pages = open_pads(browser, running.address, [lines.pop() for _ in range(count)])
            times = measure(pages, taps)
            for page in pages:
                page.context.close()
            if max(times["tap"]) >= 15_000:
                raise SystemExit("a tap was not acknowledged within 15 s")
            cuts = {kind: statistics.quantiles(of, n=100) for kind, of in times.items()}
            for name, place in (("p50", 49), ("p95", 94)):
                tap, empty = cuts["tap"][place], cuts["empty"][place]
                print(  # noqa: T201
                    f"{count:>2} browsers, {name}: tap to acknowledged {tap:.1f} ms, empty request {empty:.1f} ms, "
                    f"ratio {tap / empty:.1f} (n {len(times['tap'])})"
                )
    running.stop()


if __name__ == "__main__":
    main()
