"""What a million points of registered quantities cost, against the bare numpy expression of each.

Run: `python tests/benchmarks/physics_points.py [POINTS]`. Prints, for a million points unless told otherwise, the
median of seven runs in milliseconds and the ratio to the bare expression on the same arrays, measured in the same
run (goal: under 3). A quantity also looks whether every input is in its range and every rule holds.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from course.physics.registry import quantity

RUNS = 7
K = 1.01325 / 273.15
Numbers = NDArray[np.float64]


def milliseconds(call: Callable[[], object]) -> float:
    begin = time.perf_counter()
    call()
    return (time.perf_counter() - begin) * 1000


def bare_shrinking(po2: Numbers, limit: Numbers, ambient: Numbers, vo2: Numbers, volume: Numbers) -> Numbers:
    return (po2 * volume - (ambient - po2) * volume * limit / (ambient - limit)) / (vo2 * K * 310.15)


def bare_valve(
    po2: Numbers, minutes: Numbers, ambient: Numbers, inflow: Numbers, vo2: Numbers, volume: Numbers
) -> Numbers:
    return ambient - (ambient - po2) * np.exp(-(inflow - vo2) * K * 310.15 / volume * minutes / ambient)


def bare_ascent(po2: Numbers, start: Numbers, end: Numbers, vo2: Numbers, volume: Numbers) -> Numbers:
    return end * (1 - (1 - po2 / start) * (start / end) ** (vo2 * K * 310.15 / volume / 0.9))


def bare_density(po2: Numbers, ambient: Numbers, oxygen: Numbers, helium: Numbers) -> Numbers:
    inert = ambient - po2
    of_helium = inert * helium / (1 - oxygen)
    mass = po2 * 31.9988 + (inert - of_helium) * 28.154 + of_helium * 4.0026
    return mass * 100 / (8.314462618 * 273.15)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    random = np.random.default_rng(926)
    po2, limit = random.uniform(0.7, 1.3, count), random.uniform(0.1, 0.2, count)
    vo2, volume = random.uniform(0.5, 1.2, count), random.uniform(6, 8, count)
    depth, share = random.uniform(10, 40, count), random.uniform(0, 0.3, count)
    helium = random.uniform(0.2, 0.6, count)
    pairs: dict[str, tuple[Callable[[], object], Callable[[], object]]] = {
        "oxygen-off-minutes": (
            lambda: quantity("oxygen-off-minutes").over(
                po2=po2, limit=limit, diluent_oxygen=share, vo2=vo2, volume=volume
            ),
            lambda: (po2 - limit) / (vo2 * K * 310.15 / volume * (1 - share)),
        ),
        "oxygen-off-shrinking-minutes": (
            lambda: quantity("oxygen-off-shrinking-minutes").over(
                po2=po2, limit=limit, depth=depth, vo2=vo2, volume=volume
            ),
            lambda: bare_shrinking(po2, limit, 1.01325 + depth * 0.1, vo2, volume),
        ),
        "valve-open-po2": (
            lambda: quantity("valve-open-po2").over(
                po2=po2, minutes=limit, inflow=volume, depth=depth, vo2=vo2, volume=volume
            ),
            lambda: bare_valve(po2, limit, 1.01325 + depth * 0.1, volume, vo2, volume),
        ),
        "ascent-po2": (
            lambda: quantity("ascent-po2").over(po2=po2, depth=depth, depth_to=depth / 2, vo2=vo2, volume=volume),
            lambda: bare_ascent(po2, 1.01325 + depth * 0.1, 1.01325 + depth / 2 * 0.1, vo2, volume),
        ),
        "loop-density": (
            lambda: quantity("loop-density").over(
                set_point=po2, depth=depth, diluent_oxygen=share, diluent_helium=helium
            ),
            lambda: bare_density(po2, 1.01325 + depth * 0.1, share, helium),
        ),
    }
    told = [f"{count} points"]
    for name, (ours, bare) in pairs.items():
        runs = [(milliseconds(bare), milliseconds(ours)) for _ in range(RUNS)]  # in turn: a busy machine slows both
        floor, ms = (statistics.median(column) for column in zip(*runs, strict=True))
        told.append(f"{name} {ms:.0f} ms, bare {floor:.0f} ms, ratio {ms / floor:.1f}")
    print("\n".join(told))  # noqa: T201


if __name__ == "__main__":
    main()
