"""Kill a program again and again while it saves, and see what is left. Run by tests, or by hand for longer:

    PYTHONPATH=.:tests python tests/kill_harness.py --kills 200

Each round forks a process that saves lists of one to twenty events and writes down each list's number once it was
acknowledged; after a random while it is killed (SIGKILL, which nothing can catch). Then the ledger must open, hold
every acknowledged list whole and no other list in part, and stand its full check.
Limits: the system goes on, so this shows nothing of a power cut.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from ledger_examples import a_unit, new_centre

from course.record.facts import Unit
from course.storage.inspection import verify
from course.storage.ledger import open_ledger


def save_until_killed(folder: Path, number: int, ready: int, seed: int) -> None:
    """Save lists for ever; a list's number and size are in each of its events."""
    chance = random.Random(seed)  # noqa: S311 - chance, not secrecy
    with open_ledger(folder, write=True) as ledger:
        while True:
            number += 1
            size = chance.randint(1, 20)
            ledger.append([a_unit(f"{number} {size}") for _ in range(size)])
            os.write(ready, f"{number}\n".encode())


def acknowledged_before_kill(folder: Path, number: int, seed: int) -> tuple[list[int], int]:
    """Fork, let it save for a while, kill it; return the lists it was told were saved, and how it ended."""
    chance = random.Random(seed)  # noqa: S311 - chance, not secrecy
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        try:
            save_until_killed(folder, number, write, seed)
        finally:
            os._exit(1)
    os.close(write)
    told = os.read(read, 1 << 16)  # at least one list was saved
    time.sleep(chance.uniform(0, 0.25))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    while more := os.read(read, 1 << 16):
        told += more
    os.close(read)
    whole = told[: told.rfind(b"\n") + 1]
    return [int(line) for line in whole.split()], os.waitstatus_to_exitcode(status)


def run(kills: int, folder: Path) -> dict[str, object]:
    """Kill so many times in one folder; return what was seen."""
    new_centre(folder).close()
    acknowledged: set[int] = set()
    codes: Counter[int] = Counter()
    lost, half, damaged, unacknowledged = 0, 0, 0, 0
    for seed in range(kills):
        told, code = acknowledged_before_kill(folder, 10_000 * seed, seed)
        codes[code] += 1
        acknowledged.update(told)
        with open_ledger(folder, write=True) as ledger:
            damaged += ledger.damage is not None
            labels = Counter(fact.label for fact in ledger.facts("unit") if isinstance(fact, Unit))
        there = {int(label.split()[0]) for label in labels}
        half += sum(count != int(label.split()[1]) for label, count in labels.items())
        lost += len(acknowledged - there)
        unacknowledged = len(there - acknowledged)
    report = verify(folder)
    return {
        "codes": dict(codes), "acknowledged": len(acknowledged), "lost": lost, "half": half, "damaged": damaged,
        "saved_unacknowledged": unacknowledged, "findings": report.findings, "chains": len(report.chains),
    }  # fmt: skip


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Kill a program while it saves, and see what is left.")
    parser.add_argument("--kills", type=int, default=15)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        os.environ["LOOPLEDGER_STATE"] = f"{place}/device"
        json.dump(run(arguments.kills, Path(place) / "centre"), sys.stdout)
