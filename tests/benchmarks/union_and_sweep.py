"""What the union and the ratio sweep of very many spans cost, against numpy's own sort of the same arrays.

Run: `python tests/benchmarks/union_and_sweep.py [SPANS]`. Prints, for a million spans unless told otherwise, the
median of seven runs in milliseconds and the ratio to numpy sorting the same starts and ends, measured in the same run:
union (goal: under 4), each body counted once, and sweep (goal: under 10).
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np

from course.hours import vectors

RUNS = 7
PEOPLE, GROUPS, SECONDS = 5_000, 20_000, 365 * 24 * 3600


def median_ms(call: Callable[[], object]) -> float:
    times = []
    for _ in range(RUNS):
        begin = time.perf_counter()
        call()
        times.append((time.perf_counter() - begin) * 1000)
    return statistics.median(times)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    random = np.random.default_rng(926)
    person, group = random.integers(0, PEOPLE, count), random.integers(0, GROUPS, count)
    role, place = random.integers(0, 3, count), random.integers(0, GROUPS, count)
    start = 1_790_000_000 + random.integers(0, SECONDS, count)
    end = start + random.integers(60, 6 * 3600, count)
    floor = median_ms(lambda: (np.sort(start), np.sort(end)))
    told = [f"{count} spans; numpy's sort of starts and ends {floor:.0f} ms"]
    for name, call in (
        ("union", lambda: vectors.union(person, start, end)),
        ("each body once", lambda: vectors.counted(person, start, end, place)),
        ("sweep", lambda: vectors.sweep(group, role, start, end)),
    ):
        ms = median_ms(call)
        told.append(f"{name} {ms:.0f} ms, ratio {ms / floor:.1f}")
    print("; ".join(told))  # noqa: T201


if __name__ == "__main__":
    main()
