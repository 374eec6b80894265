"""A program is killed (SIGKILL, which nothing can catch) at a moment of chance while four hands save through it.

Each round forks a process that saves lists of one to twenty events and writes down each list's number once it was
acknowledged. Then the ledger must open, hold every acknowledged list whole and no other list in part.
Limits: the system goes on, so this shows nothing of a power cut.
"""

from __future__ import annotations

import os
import random
import signal
import threading
import time
from collections import Counter
from itertools import count
from pathlib import Path

from ledger_examples import a_unit, new_centre

from course.record.facts import Unit
from course.storage.ledger import open_ledger
from faults.tally import Run, Tally, device, refuse_findings

_HANDS, _OF_ONE_CENTRE = 4, 50


def save_until_killed(folder: Path, numbers: count[int], ready: int, seed: int) -> None:
    """Save lists for ever; a list's number and size are in each of its events."""

    def save(hand: int) -> None:
        chance = random.Random(f"{seed} {hand}")  # noqa: S311 - chance, not secrecy
        while True:
            number, size = next(numbers), chance.randint(1, 20)
            ledger.append([a_unit(f"{number} {size}") for _ in range(size)])
            os.write(ready, f"{number}\n".encode())

    with open_ledger(folder, write=True) as ledger:
        hands = [threading.Thread(target=save, args=(hand,)) for hand in range(_HANDS)]
        for one in hands:
            one.start()
        for one in hands:
            one.join()


def acknowledged_before_kill(folder: Path, number: int, seed: int) -> tuple[list[int], int]:
    """Fork, let it save for a while, kill it; return the lists it was told were saved, and how it ended."""
    chance = random.Random(seed)  # noqa: S311 - chance, not secrecy
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        try:
            save_until_killed(folder, count(number), write, seed)
        finally:
            os._exit(1)
    os.close(write)
    told = os.read(read, 1 << 16)  # at least one list was saved
    time.sleep(chance.uniform(0, 0.12))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    while more := os.read(read, 1 << 16):
        told += more
    os.close(read)
    whole = told[: told.rfind(b"\n") + 1]
    return [int(line) for line in whole.split()], os.waitstatus_to_exitcode(status)


def run(wanted: Run) -> Tally:
    """Kill so many times, fifty times in one folder."""
    tally, kills = Tally(), wanted.some(16, 1000)
    for first in range(0, kills, _OF_ONE_CENTRE):
        place = wanted.folder(f"centre-{first}")
        with device(place / "device"):
            _one_centre(place / "centre", range(first, min(first + _OF_ONE_CENTRE, kills)), wanted, tally, kills)
    return tally


def _one_centre(folder: Path, rounds: range, wanted: Run, tally: Tally, of: int) -> None:
    new_centre(folder).close()
    acknowledged: set[int] = set()
    for number in rounds:
        told, code = acknowledged_before_kill(folder, 10_000 * number, wanted.seed + number)
        if code != -signal.SIGKILL:
            tally.wrong(f"kill {number}: the program ended by itself ({code})")
        acknowledged.update(told)
        tally.tried += 1
        tally.acknowledged += len(told)
        _look(folder, acknowledged, tally, f"kill {number}")
        wanted.tell(tally.tried, of)
    refuse_findings(folder, tally, f"after kill {rounds[-1]}")
    with open_ledger(folder) as ledger:
        if len(ledger.heads()) != 1:
            tally.wrong(f"after kill {rounds[-1]}: the chain did not go on")


def _look(folder: Path, acknowledged: set[int], tally: Tally, where: str) -> None:
    with open_ledger(folder, write=True) as ledger:
        damage = ledger.damage
        labels = Counter(fact.label for fact in ledger.facts("unit") if isinstance(fact, Unit))
    if damage:
        tally.wrong(f"{where}: {damage}")
    there = Counter({label.split()[0]: 1 for label in labels})
    tally.refuse_loss(map(str, acknowledged), there, where)
    for label, found in labels.items():
        number, size = map(int, label.split())
        if found > size:
            tally.doubled += 1
        if found < size:
            tally.wrong(f"{where}: list {number} is there in part ({found} of {size})")
