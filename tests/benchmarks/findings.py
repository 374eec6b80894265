"""What the findings of the demo centre cost, against reading its course view from the ledger.

Run: `python tests/benchmarks/findings.py [RUNS]`. Prints the median milliseconds of reading the view, of making the
ground and running the rules on a fresh view, of the rules alone, and of the whole answer asked for a second time, each
with its ratio to the floor: reading the view, measured in the same run.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

os.environ["LOOPLEDGER_STATE"] = tempfile.mkdtemp()

from course import sample
from course.answers import course_view
from course.answers.course_view import CourseView, view
from course.answers.finding_ground import finding_ground
from course.answers.findings import course_findings
from course.findings.rules import RULES, findings
from course.storage.ledger import Ledger, open_ledger

RUNS = 7


def fresh(ledger: Ledger, course: str) -> CourseView:
    """The view, read anew: nothing of it is kept."""
    course_view._KEPT.clear()
    return view(ledger, course)


def median_ms(act: Callable[[], object], before: Callable[[], object] = lambda: None, runs: int = RUNS) -> float:
    """Median of some runs; what is done before each is not in it."""
    times = []
    for _ in range(runs):
        before()
        begin = time.perf_counter()
        act()
        times.append((time.perf_counter() - begin) * 1000)
    return statistics.median(times)


def main() -> None:
    """Load the demo, measure, and print."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else RUNS
    loaded = sample.load(Path(tempfile.mkdtemp()) / "demo", lambda done, of, what: None)
    with open_ledger(loaded.folder) as ledger:
        floor = median_ms(partial(fresh, ledger, loaded.course), runs=runs)
        held = [fresh(ledger, loaded.course)]
        again = lambda: held.__setitem__(0, fresh(ledger, loaded.course))  # noqa: E731
        day = held[0].last_day
        rows = {
            "the ground and every rule": median_ms(
                lambda: findings(finding_ground(ledger, held[0], day)), before=again, runs=runs
            ),
            "the ground alone": median_ms(lambda: finding_ground(ledger, held[0], day), before=again, runs=runs),
        }
        ground = finding_ground(ledger, held[0], day)
        rows["every rule alone"] = median_ms(partial(findings, ground), runs=runs)
        slowest = max(RULES, key=lambda rule: median_ms(lambda: list(rule(ground)), runs=runs))
        course_findings(ledger, held[0], day)
        rows["the answer, asked again"] = median_ms(lambda: course_findings(ledger, held[0], day), runs=runs)
    sys.stdout.write(f"reading the course view: {floor:.1f} ms\n")
    for what, ms in rows.items():
        sys.stdout.write(f"{what}: {ms:.1f} ms, {ms / floor:.2f} x the view\n")
    sys.stdout.write(f"slowest rule: {slowest.__name__}\n")


if __name__ == "__main__":
    main()
