"""What a durable save costs against the least that it could: a raw insert of the same bytes, synced to the same disk.

    python tests/benchmarks/durable_append.py [--saves 300]

Each save of ours is followed by a raw one of the very row that it stored, so that a busy machine bends both alike.
Wanted: one writer under 4 times the raw insert; twelve at once, who share commits, under 1.6 times for each event.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))

from ledger_examples import a_unit, an_attempt, new_centre

from course.record.chain import Event
from course.record.events import Draft
from course.storage.database import connect
from course.storage.ledger import Ledger
from course.storage.tables import HASHED, row_of
from course.words import Mark

_WRITERS = 12
_NAMES = [column.name for column in HASHED]


def _seconds(act: Callable[[], object]) -> float:
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


class Raw:
    """The floor: a table of the same columns, no index, one durable commit for each row."""

    def __init__(self, file: Path) -> None:
        self.connection = connect(file, "write")
        self.connection.execute(f"CREATE TABLE t(pos INTEGER PRIMARY KEY, {', '.join(_NAMES)})")
        self._insert = f"INSERT INTO t({', '.join(_NAMES)}) VALUES({', '.join('?' for _ in _NAMES)})"

    def save(self, events: Sequence[Event]) -> None:
        """Insert what a ledger stored, each in a commit of its own."""
        for row in [tuple(row_of(event, 0)[name] for name in _NAMES) for event in events]:
            self.connection.execute("BEGIN IMMEDIATE")
            self.connection.execute(self._insert, row)
            self.connection.execute("COMMIT")

    def close(self) -> None:
        """Let the file go."""
        self.connection.close()


def _one_writer(ledger: Ledger, raw: Raw, saves: Sequence[Draft]) -> tuple[float, float]:
    ours, floor = [], []
    for draft in saves:
        stored: list[Any] = []
        ours.append(_seconds(lambda draft=draft, stored=stored: stored.extend(ledger.append([draft]))))
        floor.append(_seconds(lambda stored=stored: raw.save(stored)))
    return statistics.median(ours), statistics.median(floor)


def _twelve(ledger: Ledger, raw: Raw, shares: Sequence[Sequence[Draft]]) -> tuple[float, float]:
    """Seconds an event: twelve people who save one thing after another, and a raw insert of each."""
    ours, floor = [], []
    for start in range(0, len(shares[0]), 10):
        stored: list[Event] = []

        def save(share: Sequence[Draft], start: int = start, stored: list[Event] = stored) -> None:
            for draft in share[start : start + 10]:
                stored.extend(ledger.append([draft]))

        hands = [threading.Thread(target=save, args=(share,)) for share in shares]

        def all_at_once(hands: Sequence[threading.Thread] = hands) -> None:
            for hand in hands:
                hand.start()
            for hand in hands:
                hand.join()

        ours.append(_seconds(all_at_once) / len(stored))
        floor.append(_seconds(lambda stored=stored: raw.save(stored)) / len(stored))
    return statistics.median(ours), statistics.median(floor)


def _taps(ledger: Ledger, before: int, count: int) -> list[Draft]:
    """The last tap of so many attempts, whose earlier taps are saved."""
    lasts = []
    for _ in range(count):
        *earlier, last = an_attempt(*[Mark.DONE] * (before + 1))
        ledger.append(earlier)
        lasts.append(last)
    return lasts


def _attempts(count: int) -> list[Draft]:
    """Attempts of ten taps, one after another, as one pad sends them: each event a save of its own."""
    return [draft for _ in range(max(1, count // 12)) for draft in an_attempt(*[Mark.DONE] * 10)]


def _tell(what: str, ours: float, floor: float, wanted: float | None) -> None:
    bar = f"; wanted: under {wanted}" if wanted else ""
    sys.stdout.write(f"{what:<38} {ours * 1e3:7.3f} ms; raw {floor * 1e3:7.3f} ms; {ours / floor:5.2f}x{bar}\n")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Durable saves against raw durable inserts of the same bytes.")
    parser.add_argument("--saves", type=int, default=300)
    saves = parser.parse_args().saves
    with tempfile.TemporaryDirectory() as place:
        os.environ["LOOPLEDGER_STATE"] = f"{place}/device"
        with new_centre(Path(place) / "centre") as ledger, closing(Raw(Path(place) / "raw.db")) as raw:
            _one_writer(ledger, raw, [a_unit() for _ in range(50)])  # warm
            _tell("one writer, units", *_one_writer(ledger, raw, [a_unit() for _ in range(saves)]), 4)
            _tell("one writer, attempts of ten taps", *_one_writer(ledger, raw, _attempts(saves)), 4)
            _tell("one writer, tap 30 of an attempt", *_one_writer(ledger, raw, _taps(ledger, 29, saves // 4)), None)
            units = [[a_unit() for _ in range(saves // 4)] for _ in range(_WRITERS)]
            _tell("twelve writers, units", *_twelve(ledger, raw, units), 1.6)
            attempts = [_attempts(saves // 4) for _ in range(_WRITERS)]
            _tell("twelve writers, attempts of ten taps", *_twelve(ledger, raw, attempts), 1.6)


if __name__ == "__main__":
    main()
