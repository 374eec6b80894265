"""Ratios of saving and checking against a floor that is measured in the same run on the same disk.

    python tests/benchmarks/append_and_verify.py [--events 20000]

Times on a shared machine mean little; ratios mean something. Floors: a bare insert of the same row with the same
settings, and two SHA-256 per event.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from ledger_examples import a_unit, an_attempt, new_centre

from course.record.chain import breaks
from course.record.events import Draft
from course.storage.database import connect
from course.storage.inspection import verify
from course.storage.ledger import Ledger
from course.storage.mending import rebuild
from course.words import Mark

_LISTS, _GROUP = 300, 100


def _times(act: Callable[[], object], count: int) -> list[float]:
    taken = []
    for _ in range(count):
        start = time.perf_counter()
        act()
        taken.append(time.perf_counter() - start)
    return sorted(taken)


def _tell(line: str) -> None:
    sys.stdout.write(f"{line}\n")


def _row(taken: list[float], events: int) -> tuple[float, float]:
    return statistics.median(taken) / events * 1e3, taken[int(len(taken) * 0.95)] / events * 1e3


def _bare(place: Path, group: int) -> list[float]:
    """The floor: rows like events in a table with the same length, one commit for each group."""
    with closing(connect(place / f"bare-{group}.db", "write")) as connection:
        connection.execute(
            "CREATE TABLE IF NOT EXISTS t(pos INTEGER PRIMARY KEY, hash BLOB, prev BLOB, rest TEXT, body TEXT)"
        )
        row = (os.urandom(32), os.urandom(32), "x" * 250, "x" * 150)

        def insert() -> None:
            connection.execute("BEGIN IMMEDIATE")
            for _ in range(group):
                connection.execute("INSERT INTO t(hash, prev, rest, body) VALUES(?, ?, ?, ?)", row)
            connection.execute("COMMIT")

        return _times(insert, _LISTS if group == 1 else 40)


def _ours(ledger: Ledger, group: int) -> list[float]:
    return _times(lambda: ledger.append([a_unit() for _ in range(group)]), _LISTS if group == 1 else 40)


def _tap(ledger: Ledger) -> list[float]:
    """The thirtieth tap of an attempt: the whole attempt is derived again."""
    taken = []
    for _ in range(60):
        *before, last = an_attempt(*[Mark.DONE] * 30)
        ledger.append(before)
        start = time.perf_counter()
        ledger.append([last])
        taken.append(time.perf_counter() - start)
    return sorted(taken)


def _print_saving(ledger: Ledger, place: Path) -> None:
    for group in (1, _GROUP):
        floor, floor_95 = _row(_bare(place, group), group)
        ours, ours_95 = _row(_ours(ledger, group), group)
        _tell(
            f"save {group:>3} in one commit: {ours:.3f} ms each (p95 {ours_95:.3f}); bare insert {floor:.3f} "
            f"({floor_95:.3f}); "
            f"{ours / floor:.1f}x (p95 {ours_95 / floor_95:.1f}x)"
        )
    floor, _ = _row(_bare(place, 1), 1)
    ours, ours_95 = _row(_tap(ledger), 1)
    _tell(f"30th tap of an attempt:  {ours:.3f} ms (p95 {ours_95:.3f}); {ours / floor:.1f}x a bare insert")


def _print_checking(folder: Path, ledger: Ledger) -> None:
    events = list(ledger.events())
    start = time.perf_counter()
    for event in events:
        body = hashlib.sha256(event.body.encode()).hexdigest()
        hashlib.sha256(f"{event.id}{event.prev}{event.subject}{event.actor}{body}".encode()).hexdigest()
    floor = time.perf_counter() - start
    ledger.close()
    for name, act in (
        ("chain alone", lambda: list(breaks(events))),
        ("whole check", lambda: verify(folder)),
        ("rebuild", lambda: rebuild(folder)),
    ):
        taken = statistics.median(_times(act, 3))
        _tell(f"{name:>12}: {taken / len(events) * 1e6:.1f} us an event; {taken / floor:.1f}x two bare SHA-256")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Ratios of saving and checking against a floor of the same run.")
    parser.add_argument("--events", type=int, default=20_000)
    wanted = parser.parse_args().events
    with tempfile.TemporaryDirectory() as place:
        os.environ["LOOPLEDGER_STATE"] = f"{place}/device"
        ledger = new_centre(Path(place) / "centre")
        _print_saving(ledger, Path(place))
        more: list[Draft] = []
        while len(more) < wanted - ledger.head().seq:
            more += an_attempt(*[Mark.DONE] * 10)
        ledger.append(more)
        _tell(f"{ledger.head().seq} events:")
        _print_checking(Path(place) / "centre", ledger)


if __name__ == "__main__":
    main()
