"""What one change on the Figures page costs until its picture is there, against an empty rerun of the same page.

Run: `python tests/benchmarks/figures_page.py [RUNS]`. In a real Chromium on this machine: an input is changed and left,
and the clock stops when the new number and a drawn picture stand on the page. The empty rerun is the same page run
again for the same number, written as 37 and 37.0 in turn. Prints the median milliseconds of each and their ratio,
measured in the same run.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("LOOPLEDGER_STATE", tempfile.mkdtemp())
sys.path.insert(0, str(Path(__file__).parent.parent))

from playwright.sync_api import Page, expect
from running_centre import TABLET, RunningCentre, chromium
from screen_measures import settled

from course import sample

RUNS = 7
SLOW = 60_000
PO2 = (("1.3", "2.0 to 20.0 min"), ("0.7", "0.9 to 9.5 min"))
"""What is typed in turn, and what then stands on the page."""


def changed(page: Page, run: int) -> float:
    """Milliseconds from leaving a changed field to the number and a picture."""
    typed, told = PO2[run % len(PO2)]
    field = page.get_by_label("PO2: in the loop at the start")
    field.fill(typed)
    begin = time.perf_counter()
    field.press("Enter")
    expect(page.get_by_text(told, exact=True)).to_be_visible(timeout=SLOW)
    expect(page.locator('[data-testid="stVegaLiteChart"] .marks').last).to_be_visible(timeout=SLOW)
    return (time.perf_counter() - begin) * 1000


_COUNT_ENDS = """() => {
    const app = document.querySelector('[data-testid="stApp"]');
    window.runsEnded = 0;
    const seen = () => { if (app.dataset.testScriptState === "notRunning") window.runsEnded += 1; };
    new MutationObserver(seen).observe(app, { attributes: true, attributeFilter: ["data-test-script-state"] });
}"""


def empty(page: Page, run: int) -> float:
    """Milliseconds of a rerun in which nothing changes, to the end that Streamlit itself tells."""
    ended = page.evaluate("window.runsEnded")
    field = page.get_by_label("Temperature: of the gas in loop and lungs")
    field.fill(("37.0", "37")[run % 2])
    begin = time.perf_counter()
    field.press("Enter")
    page.wait_for_function("before => window.runsEnded > before", arg=ended)
    return (time.perf_counter() - begin) * 1000


def main() -> None:
    """Serve the demo centre, measure, print."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else RUNS
    loaded = sample.load(Path(tempfile.mkdtemp()) / "demo", lambda done, of, what: None)
    server = RunningCentre(loaded.folder)
    server.start()
    try:
        with chromium() as browser:
            page = browser.new_page(viewport=TABLET)  # type: ignore[arg-type]
            page.goto(f"{server.address}/figures?figure=oxygen-off-minutes")
            expect(page.get_by_text("0.9 to 9.5 min", exact=True)).to_be_visible(timeout=SLOW)
            settled(page)
            page.evaluate(_COUNT_ENDS)
            changes, empties = [], []
            for run in range(runs):
                changes.append(changed(page, run))
                settled(page)
                empties.append(empty(page, run))
                settled(page)
    finally:
        server.stop()
    change, floor = statistics.median(changes), statistics.median(empties)
    sys.stdout.write(f"empty rerun          {floor:8.1f} ms\n")
    sys.stdout.write(f"change to picture    {change:8.1f} ms   {change / floor:.2f} x the empty rerun\n")


if __name__ == "__main__":
    main()
