"""The write-ahead log is cut short, or a bit in it turned round, before the program is opened again.

SQLite keeps what is whole in the log and says nothing. Whatever is missing then must be told at opening and by the
check; where nothing is missing, nothing may be told.
"""

from __future__ import annotations

import random
import shutil
from pathlib import Path

from ledger_examples import a_unit, copy_of, new_centre

from course.errors import CourseError
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from faults.tally import Run, Tally, device

_LOG = "ledger.db-wal"
_HEAD_BYTES, _FRAME_BYTES = 32, 24 + 4096
"""Source: sqlite.org, "Database File Format", section 4, for the page size that is SQLite's default."""


def run(wanted: Run) -> Tally:
    """Cut at each frame and anywhere, and turn bits round."""
    tally, place, tries = Tally(), wanted.folder("wal"), wanted.some(45, 600)
    chance = random.Random(wanted.seed)  # noqa: S311 - chance, not secrecy
    with device(place / "device"), new_centre(place / "centre") as ledger:
        saved = {event.id for _ in range(40) for event in ledger.append([a_unit()])}
        whole = copy_of(place / "centre", place / "whole")
    for number in range(tries):
        copy = copy_of(whole, place / "copy")
        where = _harmed(copy / _LOG, number, chance)
        (copy / "ledger.db-shm").unlink()
        tally.tried += 1
        tally.acknowledged += len(saved)
        with device(place / "device"):
            _look(copy, saved, tally, where)
        shutil.rmtree(copy)
        wanted.tell(number + 1, tries)
    return tally


def _harmed(log: Path, number: int, chance: random.Random) -> str:
    content = bytearray(log.read_bytes())
    frames = (len(content) - _HEAD_BYTES) // _FRAME_BYTES
    at = (chance.randrange(len(content)), _HEAD_BYTES + _FRAME_BYTES * chance.randint(0, frames))[number % 2]
    if number % 3:
        log.write_bytes(content[:at])
        return f"cut to {at} of {len(content)} bytes"
    at = min(at, len(content) - 1)
    content[at] ^= 1 << chance.randrange(8)
    log.write_bytes(content)
    return f"a bit of byte {at} turned round"


def _look(folder: Path, saved: set[str], tally: Tally, where: str) -> None:
    try:
        findings = verify(folder).findings
        with open_ledger(folder) as ledger:
            damage, there = ledger.damage, {event.id for event in ledger.events()}
    except CourseError as error:
        findings, damage, there = (error.sentence,), error.sentence, set()
    missing = len(saved - there)
    tally.lost += missing
    if missing and damage and findings:
        tally.named += 1
    elif missing or damage or findings:
        tally.wrong(f"{where}: {missing} events missing; at opening: {damage}; by the check: {findings}")
