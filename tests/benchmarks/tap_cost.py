"""What a tap costs: one mark posted and acknowledged, against an empty request to the same server in the same run.

Run: `python tests/benchmarks/tap_cost.py [TAPS]`. Prints p50 and p95 of both in milliseconds and their ratio.
"""

from __future__ import annotations

import http.client
import itertools
import json
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))
os.environ.setdefault("LOOPLEDGER_STATE", tempfile.mkdtemp())

from running_centre import RunningCentre

from course import sample
from course.actions.attempts import open_attempt
from course.answers.centre_answer import centre
from course.answers.course_view import view
from course.moments import new_id, observed_at
from course.storage.ledger import open_ledger

ATTEMPTS = 20


def prepare(folder: Path) -> list[dict[str, str]]:
    """The demo centre with more attempts open: the ledger that a tap meets on the last day of a course."""
    sample.load(folder, lambda *_: None)
    with open_ledger(folder, write=True) as ledger:
        seen = view(ledger, centre(ledger).courses[0].id)
        session = next(s for s in seen.sessions.values() if s.setting == "dry")
        found = []
        for number in range(ATTEMPTS):
            student = seen.students[number % len(seen.students)]
            opened = open_attempt(
                ledger, seen.centre.lead, course=seen.course.id, session=session.id, student=student,
                skill="asm-bench", observed=observed_at(session.start.moment, seen.course.zone),
            )  # fmt: skip
            found.append({"attempt": opened.attempt, "sheet": opened.sheet, "student": student})
    return found


def timed(calls: int, call: Callable[[], None]) -> list[float]:
    times = []
    for _ in range(calls):
        begin = time.perf_counter()
        call()
        times.append((time.perf_counter() - begin) * 1000)
    return times


def main() -> None:
    taps = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    folder = Path(tempfile.mkdtemp()) / "centre"
    turn = itertools.cycle([(attempt, list[str]()) for attempt in prepare(folder)])
    running = RunningCentre(folder)
    running.start()

    def ask(*request: Any) -> bytes:
        """One request on a connection of its own: on one kept open, delayed acknowledgement adds 40 ms to both."""
        connection = http.client.HTTPConnection("127.0.0.1", running.port)
        connection.request(*request)
        told = connection.getresponse().read()
        connection.close()
        return told

    headers = {"Content-Type": "application/json", "X-Course": "pad"}

    def tap() -> None:
        attempt, last = next(turn)
        item = {
            **attempt, "id": new_id(), "kind": "marks_given/1", "clock_offset_ms": None,
            "tapped_at": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%f")[:-3] + "Z",  # noqa: TID251
            "body": {"marks": [{"step": "list-out", "mark": "done", "replaces": last[-1:]}]},
        }  # fmt: skip
        answer = json.loads(ask("POST", "/course/marks", json.dumps({"items": [item]}), headers))
        if answer["saved"] != [item["id"]]:
            raise SystemExit(f"not saved: {answer}")
        last.append(item["id"])

    def nothing() -> None:
        ask("GET", "/course/pulse")

    timed(20, tap), timed(20, nothing)
    with_tap, empty = timed(taps, tap), timed(taps, nothing)
    running.stop()
    for name, place in (("p50", 49), ("p95", 94)):
        one, floor = (statistics.quantiles(times, n=100)[place] for times in (with_tap, empty))
        print(f"{name}: tap {one:.2f} ms, empty request {floor:.2f} ms, ratio {one / floor:.1f}")  # noqa: T201


if __name__ == "__main__":
    main()
