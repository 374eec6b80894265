"""Merging two ledgers against copying the same rows: ratios, with a floor that is measured in the same run.

    python tests/benchmarks/merging.py [--events 20000]

The floor inserts the other ledger's rows into a copy of the first one's table, with its indexes and its guards, in one
transaction that is on the disk in the end. A merge also reads the bundle strictly, checks every hash, sees what is
known and derives anew what was touched.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from ledger_examples import LEAD, an_attempt, new_centre

from course.exchange.merging import hand_over, merge
from course.storage.backup import backup, restore
from course.storage.database import connect
from course.storage.ledger import open_ledger
from course.words import Mark

_MARKS = 7
_AN_ATTEMPT = _MARKS + 2


@contextmanager
def _laptop(place: Path) -> Iterator[None]:
    before = os.environ.get("LOOPLEDGER_STATE")
    os.environ["LOOPLEDGER_STATE"] = str(place)
    try:
        yield
    finally:
        if before is not None:
            os.environ["LOOPLEDGER_STATE"] = before


def _grow(folder: Path, events: int) -> None:
    with open_ledger(folder, write=True) as ledger:
        for _ in range(events // (_AN_ATTEMPT * 50)):
            ledger.append([one for _ in range(50) for one in an_attempt(*[Mark.DONE] * _MARKS)])


def _copied(first: Path, second: Path, place: Path) -> float:
    """Seconds to copy the second's rows into a copy of the first's database."""
    with closing(connect(first / "ledger.db", "live")) as source, closing(connect(place, "write")) as target:
        source.backup(target)
    with closing(connect(second / "ledger.db", "live")) as source:
        named = [row[1] for row in source.execute("PRAGMA table_info(event)") if row[1] != "pos"]
        own = "chain = (SELECT value FROM meta WHERE name = 'chain')"
        rows = source.execute(f"SELECT {', '.join(named)} FROM event WHERE {own}").fetchall()  # noqa: S608 - our own names
    asked = f"INSERT INTO event({', '.join(named)}) VALUES ({', '.join('?' * len(named))})"  # noqa: S608
    start = time.perf_counter()
    with closing(connect(place, "write")) as target:
        target.execute("BEGIN IMMEDIATE")
        target.executemany(asked, rows)
        target.execute("COMMIT")
    return time.perf_counter() - start


def main() -> None:
    """Build two laptops, merge one into the other, and print the ratio."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--events", type=int, default=20_000)
    events = parser.parse_args().events
    with tempfile.TemporaryDirectory(prefix="merging-") as text:
        place = Path(text)
        first, second = place / "first", place / "second"
        with _laptop(place / "state-1"):
            new_centre(first).close()
            backup(first, place / "begin.tar")
            _grow(first, events)
        with _laptop(place / "state-2"):
            restore(place / "begin.tar", second)
            _grow(second, events)
            with open_ledger(second) as ledger:
                hand_over(ledger, place / "b.zip")
                head = ledger.head()
                last = ledger.event_at(head.chain, head.seq)
        floor = _copied(first, second, place / "floor.db")
        with _laptop(place / "state-1"), open_ledger(first, write=True) as ledger:
            start = time.perf_counter()
            merged = merge(ledger, LEAD, [place / "b.zip"], accept=[last.device] if last else [])
            taken = time.perf_counter() - start
    sys.stdout.write(
        f"{merged.added} events merged into a ledger of as many: {taken:.1f} s, {taken / merged.added * 1e6:.0f} us an "
        f"event. Copying the rows alone: {floor:.2f} s. Ratio {taken / floor:.1f}\n"
    )


if __name__ == "__main__":
    main()
