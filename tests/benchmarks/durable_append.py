"""What a durable save costs against the least that it could: a raw insert of the same bytes, synced to the same disk.

    python tests/benchmarks/durable_append.py [--saves 300] [--place FOLDER]

Each save of ours is followed by a raw one of the very row that it stored, so that a busy machine bends both alike.
Wanted: one writer under 4 times the raw insert; twelve at once, who share commits, under 1.6 times for each event.

Of twelve there are two floors. Like for like is twelve who insert at once, each by a thread and a connection of its
own: so they would save without our ledger, and so they do save with it. They wait for SQLite's lock, and SQLite has
whoever waits sleep for a millisecond and more. The bar is meant for this floor. One hand that inserts all of it, row
after row, waits for nobody: who saves beside others never has this floor, but it is the harder one, and is told too.

The twelve save thirty things each before their floors are measured, and their things are made by turns, as an id is
made at the tap that it is of: made hand by hand, ids of one moment would lie far apart in every index.

What a sync costs on the disk is told first, since it decides the second reading. A raw insert pays one each. A save of
ours pays two (the database, then its witness), and twelve share these, so that nearly all of theirs is work: checking,
sealing, hashing, six indexes, what is true now. On a disk with a quick sync that work is more than one hand's insert,
and the bar is not met beside it. How long a raw insert has to take for the bar to be met beside one hand too is
reckoned from what was measured; that says something only of a machine that does nothing else. The last line is the part
of it that no ledger in Python is spared: each row sealed, hashed and inserted, twelve to a commit and a witness line,
and nothing else.

`--place` measures on another disk.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from functools import partial
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))

from cryptography.hazmat.primitives.ciphers.aead import AESSIV
from ledger_examples import a_unit, an_attempt, new_centre

from course.record.chain import Event, event_hash
from course.record.events import Draft
from course.storage.database import connect, sync_file
from course.storage.ledger import Ledger
from course.storage.tables import HASHED, row_of
from course.storage.vault import seal_with
from course.words import Mark

_WRITERS, _BAR = 12, 1.6
_PART = 30  # things that each of twelve saves before their floor is measured: long enough that few begin and end alone
_NAMES = [column.name for column in HASHED]


def _seconds(act: Callable[[], object]) -> float:
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def _rows(events: Sequence[Event]) -> list[tuple[Any, ...]]:
    return [tuple(row_of(event, 0)[name] for name in _NAMES) for event in events]


class Raw:
    """The floor: a table of the same columns, no index, one durable commit for each row."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.connection = connect(file, "write")
        self.connection.execute(f"CREATE TABLE IF NOT EXISTS t(pos INTEGER PRIMARY KEY, {', '.join(_NAMES)})")
        self._insert = f"INSERT INTO t({', '.join(_NAMES)}) VALUES({', '.join('?' for _ in _NAMES)})"

    def save(self, events: Sequence[Event]) -> None:
        """Insert what a ledger stored, each in a commit of its own."""
        for row in _rows(events):
            self.connection.execute("BEGIN IMMEDIATE")
            self.connection.execute(self._insert, row)
            self.connection.execute("COMMIT")

    def save_together(self, events: Sequence[Event]) -> None:
        """Insert them all in one commit."""
        self.connection.execute("BEGIN IMMEDIATE")
        self.connection.executemany(self._insert, _rows(events))
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


def _at_once(acts: Sequence[Callable[[], object]]) -> float:
    """Seconds until all are done, each by a thread of its own."""
    hands = [threading.Thread(target=act) for act in acts]

    def all_of_them() -> None:
        for hand in hands:
            hand.start()
        for hand in hands:
            hand.join()

    return _seconds(all_of_them)


def _twelve(ledger: Ledger, raw: Raw, shares: Sequence[Sequence[Draft]]) -> tuple[float, float, float]:
    """Seconds an event: twelve people who save one thing after another; raw inserts by twelve; raw by one hand."""
    ours, floor, one_hand = [], [], []
    with ExitStack() as open_:
        raws = [open_.enter_context(closing(Raw(raw.file))) for _ in shares]
        for start in range(0, len(shares[0]), _PART):
            stored: list[list[Event]] = [[] for _ in shares]

            def save(own: list[Event], share: Sequence[Draft]) -> None:
                for draft in share:
                    own.extend(ledger.append([draft]))

            parts = [share[start : start + _PART] for share in shares]
            count = sum(map(len, parts))
            ours.append(_at_once([partial(save, *both) for both in zip(stored, parts, strict=True)]) / count)
            floor.append(_at_once([partial(one.save, own) for one, own in zip(raws, stored, strict=True)]) / count)
            one_hand.append(_seconds(lambda stored=stored: [raw.save(own) for own in stored]) / count)
    return statistics.median(ours), statistics.median(floor), statistics.median(one_hand)


def _first_and_thirtieth(ledger: Ledger, raw: Raw, count: int) -> list[tuple[float, float]]:
    """The first and the thirtieth tap of attempts that are tapped through, one save a tap, as a pad does."""
    first, thirtieth = [], []
    for _ in range(count):
        opened, started, *taps = an_attempt(*[Mark.DONE] * 30)
        ledger.append([opened, started])
        first.append(_one_writer(ledger, raw, taps[:1]))
        for tap in taps[1:-1]:
            ledger.append([tap])
        thirtieth.append(_one_writer(ledger, raw, taps[-1:]))
    return [(statistics.median(o for o, _ in of), statistics.median(f for _, f in of)) for of in (first, thirtieth)]


def _least(raw: Raw, put: Callable[[], None], events: Sequence[Event]) -> tuple[float, float]:
    """Seconds an event: sealed, hashed and inserted by one hand, twelve to a commit and its witness line; raw."""
    key, least, floor = AESSIV.generate_key(512), [], []
    for start in range(0, len(events) - _WRITERS + 1, _WRITERS):
        part = events[start : start + _WRITERS]
        least.append(_seconds(partial(_seal_and_insert, raw, key, part)) + _seconds(put))
        floor.append(_seconds(partial(raw.save, part)))
    return statistics.median(least) / _WRITERS, statistics.median(floor) / _WRITERS


def _seal_and_insert(raw: Raw, key: bytes, events: Sequence[Event]) -> None:
    for event in events:
        seal_with(key, event.centre, event.kind, event.id, {"body": event.body})
        event_hash(event)
    raw.save_together(events)


def _bearable_insert(ours: float, one_hand: float) -> float:
    """Seconds that a raw insert must take for twelve to be under the bar beside one hand, on a disk slower to sync.

    A sync that takes longer adds itself to each raw insert, and to a save of ours two twelfths of itself.
    """
    shared = 2 / _WRITERS
    return (ours - shared * one_hand) / (_BAR - shared)


@contextmanager
def _synced_line(place: Path) -> Iterator[Callable[[], None]]:
    """What puts one more line at the end of a file and returns when it is on the disk."""
    with (place / "synced").open("ab", buffering=0) as file:

        def put() -> None:
            file.write(b"x" * 110 + b"\n")
            sync_file(file.fileno())

        yield put


def _attempts(count: int) -> list[Draft]:
    """Attempts of ten taps, one after another, as one pad sends them: each event a save of its own."""
    return [draft for _ in range(max(1, count // 12)) for draft in an_attempt(*[Mark.DONE] * 10)]


def _by_turns(count: int, thing: Callable[[], list[Draft]]) -> list[list[Draft]]:
    """For each of twelve, so many things to save: made by turns, as an id is made at the tap that it is of."""
    shares: list[list[Draft]] = [[] for _ in range(_WRITERS)]
    for _ in range(max(1, count)):
        for share in shares:
            share.extend(thing())
    return shares


def _tell(what: str, ours: float, floor: float, *, wanted: float) -> None:
    bar = f"wanted: under {wanted}"
    sys.stdout.write(f"{what:<38} {ours * 1e3:7.3f} ms; raw {floor * 1e3:7.3f} ms; {ours / floor:5.2f}x; {bar}\n")


def _tell_of_twelve(what: str, ours: float, floor: float, one_hand: float) -> None:
    _tell(f"twelve writers, {what}", ours, floor, wanted=_BAR)
    under = f"under {_BAR} where it takes {_bearable_insert(ours, one_hand) * 1e3:.3f} ms and more"
    told = f"{one_hand * 1e3:7.3f} ms; {ours / one_hand:5.2f}x; {under}"
    sys.stdout.write(f"{'  beside one raw hand':<38} {ours * 1e3:7.3f} ms; raw {told}\n")


def _measure_twelve(ledger: Ledger, raw: Raw, saves: int, put: Callable[[], None]) -> None:
    units = _by_turns(saves, lambda: [a_unit()])
    _tell_of_twelve("units", *_twelve(ledger, raw, units))
    attempts = _by_turns(saves // 12, lambda: an_attempt(*[Mark.DONE] * 10))
    _tell_of_twelve("attempts of ten taps", *_twelve(ledger, raw, attempts))
    least, one_hand = _least(raw, put, list(ledger.events())[: saves * _WRITERS])
    told = f"raw {one_hand * 1e3:7.3f} ms; {least / one_hand:5.2f}x"
    sys.stdout.write(f"{'twelve in Python: seal, hash, insert':<38} {least * 1e3:7.3f} ms; {told}\n")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Durable saves against raw durable inserts of the same bytes.")
    parser.add_argument("--saves", type=int, default=300)
    parser.add_argument("--place", help="a folder on the disk to measure; else where temporary files are")
    given = parser.parse_args()
    saves: int = given.saves
    with tempfile.TemporaryDirectory(dir=given.place) as place:
        os.environ["LOOPLEDGER_STATE"] = f"{place}/device"
        with (
            new_centre(Path(place) / "centre") as ledger,
            closing(Raw(Path(place) / "raw.db")) as raw,
            _synced_line(Path(place)) as put,
        ):
            _one_writer(ledger, raw, [a_unit() for _ in range(50)])  # warm
            sync = statistics.median(_seconds(put) for _ in range(100))
            sys.stdout.write(f"{'a line put on this disk, synced':<38} {sync * 1e3:7.3f} ms\n")
            _tell("one writer, units", *_one_writer(ledger, raw, [a_unit() for _ in range(saves)]), wanted=4)
            _tell("one writer, attempts of ten taps", *_one_writer(ledger, raw, _attempts(saves)), wanted=4)
            first, thirtieth = _first_and_thirtieth(ledger, raw, max(1, saves // 10))
            _tell("one writer, tap 1 of an attempt", *first, wanted=4)
            _tell("one writer, tap 30 of an attempt", *thirtieth, wanted=4)
            _measure_twelve(ledger, raw, saves // 4, put)


if __name__ == "__main__":
    main()
