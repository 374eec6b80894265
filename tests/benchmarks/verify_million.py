"""What checking a large ledger costs against hashing the same bytes and nothing else.

    python tests/benchmarks/verify_million.py [--events 1000000]

The ledger is one chain of attempts of ten taps, written without its tables, so that it is made in a few minutes. The
floor hashes each event's body and each event's line (two SHA-256 an event, as the chain does) from memory. Wanted: the
check of the events under 8 times the floor, its one quick pass over a chain that fits under 4 times. The whole check
also derives every table again; it is told for as many events as `--whole` says, in a ledger of their own.
"""

from __future__ import annotations

import argparse
import gc
import hashlib
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import islice
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))

import click
import sqlalchemy as sa
from ledger_examples import an_attempt, new_centre

from course.record.chain import _LABEL, Event, canonical
from course.record.events import Draft
from course.storage import tables
from course.storage.appending import Head, Stamp, _place, write_head
from course.storage.entries import sealed_entry
from course.storage.inspection import verify
from course.storage.ledger import Ledger, open_ledger
from course.storage.walking import Known, Walked, _fits
from course.storage.witness import Seen, Witness
from course.words import Mark

_AT_ONCE = 5000


def _drafts() -> Iterator[Draft]:
    while True:
        yield from an_attempt(*[Mark.DONE] * 10)


def _more_events(ledger: Ledger, count: int) -> None:
    """Add events past the tables, in large transactions, and write their witness in the end."""
    stamp, latest = ledger._opened.stamp, ledger.head()
    drafts = islice(_drafts(), count)
    while some := list(islice(drafts, _AT_ONCE)):
        made: list[Event] = []
        for draft in some:
            entry = sealed_entry(draft, ledger.vault, stamp.centre)
            one = _place(entry, stamp, latest, latest.lamport + 1, "2026-10-22T09:30:00.000000Z")
            latest = Head(stamp.chain, one.seq, one.hash, one.lamport)
            made.append(one)
        with ledger.changing() as connection:
            connection.execute(sa.insert(tables.event), [tables.row_of(one, origin=0) for one in made])
            write_head(connection, Stamp(stamp.centre, stamp.chain, stamp.device), latest)
    with closing(Witness(ledger.folder)) as witness:
        witness.write(Seen(*latest[:3]))


def _floor(ledger: Ledger) -> float:
    """Seconds for two SHA-256 of each event's bytes, which are in memory before."""
    taken, events = 0.0, ledger.events()
    while some := list(islice(events, 50_000)):
        pairs = [_bytes(one) for one in some]
        start = time.process_time()
        for body, line in pairs:
            hashlib.sha256(body).hexdigest()
            hashlib.sha256(line).digest()
        taken += time.process_time() - start
    return taken


def _bytes(one: Event) -> tuple[bytes, bytes]:
    body = one.body.encode()
    line: list[Any] = [
        one.centre, one.chain, one.seq, one.lamport, one.id, one.device, one.actor, one.subject, one.recorded_at,
        one.kind, hashlib.sha256(body).hexdigest(), one.prev,
    ]  # fmt: skip
    return body, _LABEL + canonical(line)


def _seconds(act: Callable[[], object]) -> float:
    gc.collect()
    start = time.process_time()
    act()
    return time.process_time() - start


def _quick_pass(ledger: Ledger) -> None:
    stamp = ledger._opened.stamp
    with ledger._reading() as connection:
        found = _fits(connection, Known(stamp.centre, stamp.chain), stamp.chain, {}, Walked())
    if found is None:
        raise RuntimeError("the chain does not fit")


def _tell(what: str, taken: float, floor: float, count: int, wanted: str) -> None:
    click.echo(f"{what:<28} {taken / count * 1e6:6.2f} us an event; {taken / floor:5.2f}x bare hashing{wanted}")


def _measure(place: Path, count: int) -> None:
    with new_centre(place / "centre") as ledger:
        _more_events(ledger, count - 2)
        floor = _floor(ledger)
        click.echo(f"{count} events; bare hashing {floor / count * 1e6:.2f} us an event")
        _tell("one pass over the chain", _seconds(lambda: _quick_pass(ledger)), floor, count, "; wanted: under 4")
        report = verify(place / "centre", events_only=True)
        if report.findings or report.events != count:
            raise RuntimeError(str(report))
        events = _seconds(lambda: verify(place / "centre", events_only=True))
        _tell("check of the events", events, floor, count, "; wanted: under 8")


def _measure_whole(place: Path, count: int) -> None:
    with new_centre(place / "whole") as ledger:
        drafts = islice(_drafts(), count)
        while some := list(islice(drafts, _AT_ONCE)):
            ledger.append(some)
    with open_ledger(place / "whole") as ledger:
        floor, there = _floor(ledger), ledger.count_events()
    whole = _seconds(lambda: verify(place / "whole"))
    _tell(f"whole check, {there} events", whole, floor, there, "; derives every table again")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Checking a large ledger against hashing the same bytes.")
    parser.add_argument("--events", type=int, default=1_000_000)
    parser.add_argument("--whole", type=int, default=20_000)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        os.environ["LOOPLEDGER_STATE"] = f"{place}/device"
        _measure(Path(place), wanted.events)
        _measure_whole(Path(place), wanted.whole)


if __name__ == "__main__":
    main()
