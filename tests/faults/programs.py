"""Two programs want to write one chain. The second is sent away; where a disk knows no locks nothing forks either."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from unittest import mock

from ledger_examples import a_unit, new_centre

from course.errors import BusyError, CourseError
from course.storage import ledger as opening
from course.storage.ledger import open_ledger
from faults.tally import Run, Tally, device, ids_in, refuse_findings


def run(wanted: Run) -> Tally:
    """Both at once, so many times with locks and without."""
    tally, times = Tally(), wanted.some(2, 60)
    place = wanted.folder("programs")
    with device(place / "device"):
        new_centre(place / "centre").close()
        for number in range(times):
            _sent_away(place / "centre", tally)
            _without_locks(place / "centre", tally, wanted.some(25, 60))
            wanted.tell(number + 1, times)
        refuse_findings(place / "centre", tally, "in the end")
        with open_ledger(place / "centre") as ledger:
            if len(ledger.heads()) != 1:
                tally.wrong("there is more than one chain")
    return tally


def _sent_away(folder: Path, tally: Tally) -> None:
    with open_ledger(folder, write=True) as first:
        told = _in_others(1, lambda _, tell: _try_to_open(folder, tell))
        saved = [event.id for event in first.append([a_unit()])]
    tally.tried += 1
    tally.acknowledged += 1
    tally.named += told == ["busy"]
    if told != ["busy"]:
        tally.wrong(f"a second program was let in: {told}")
    tally.refuse_loss(saved, ids_in(folder), "beside a second program")


def _try_to_open(folder: Path, tell: Callable[[str], None]) -> None:
    try:
        open_ledger(folder, write=True).close()
    except BusyError:
        tell("busy")


def _without_locks(folder: Path, tally: Tally, count: int) -> None:
    def save(number: int, tell: Callable[[str], None]) -> None:
        with mock.patch.object(opening, "locked", nullcontext), open_ledger(folder, write=True) as ledger:
            for _ in range(count):
                try:
                    tell(ledger.append([a_unit(f"Unit {number}")])[0].id)
                except CourseError:
                    tell("refused")

    told = _in_others(2, save)
    saved = [one for one in told if one != "refused"]
    tally.tried += 1
    tally.acknowledged += len(saved)
    tally.named += len(told) - len(saved)
    if len(told) != 2 * count:
        tally.wrong(f"{2 * count - len(told)} saves had no answer")
    tally.refuse_loss(saved, Counter(ids_in(folder)), "two programs without locks")


def _in_others(count: int, act: Callable[[int, Callable[[str], None]], None]) -> list[str]:
    """Have so many other processes do something at once; return the lines that they told."""
    read, write = os.pipe()
    children = []
    for number in range(count):
        child = os.fork()
        if child == 0:
            os.close(read)
            try:
                act(number, lambda told: _tell(write, told))
            finally:
                os._exit(0)
        children.append(child)
    os.close(write)
    told = b""
    while more := os.read(read, 1 << 16):
        told += more
    os.close(read)
    for child in children:
        os.waitpid(child, 0)
    return told.decode().split()


def _tell(write: int, told: str) -> None:
    os.write(write, f"{told}\n".encode())
