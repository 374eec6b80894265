"""Ratios of saving into PostgreSQL against a bare insert of the same row there, and bytes an event takes on a server.

    python tests/benchmarks/postgres_append.py [--lists 200]

Both on one server that is started for this, over its socket, in turns: times on a shared machine mean little.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

import psycopg
from ledger_examples import a_unit, an_attempt, new_centre
from postgresql_server import PostgresqlServer

from course.words import Mark

_SIZE = "SELECT sum(pg_total_relation_size(oid)) FROM pg_class WHERE relnamespace = 'loopledger'::regnamespace {}"


def _seconds(act: Callable[[], object]) -> float:
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def _tell(line: str) -> None:
    sys.stdout.write(f"{line}\n")


def measure(server: PostgresqlServer, place: Path, lists: int) -> None:
    """Save lists of one and of a hundred events, each beside a bare insert of as many rows."""
    name = server.new_database()
    row = (os.urandom(32), os.urandom(32), "x" * 250, "x" * 150)
    with (
        new_centre(place / "centre", server.url(name)) as ledger,
        psycopg.connect(server.conninfo(name)) as bare,
    ):
        bare.execute(
            "CREATE TABLE public.bare(pos bigserial PRIMARY KEY, hash bytea, prev bytea, rest text, body text)"
        )
        bare.commit()
        for group in (1, 100):

            def insert(group: int = group) -> None:
                for _ in range(group):
                    bare.execute("INSERT INTO public.bare(hash, prev, rest, body) VALUES (%s, %s, %s, %s)", row)
                bare.commit()

            floor, ours = [], []
            for _ in range(lists if group == 1 else max(5, lists // 10)):
                drafts = [a_unit() for _ in range(group)]
                floor.append(_seconds(insert))
                ours.append(_seconds(lambda drafts=drafts: ledger.append(drafts)))  # type: ignore[misc]
            ratio = statistics.median(ours) / statistics.median(floor)
            each = statistics.median(ours) / group * 1e3
            _tell(
                f"{group} event{'s' if group > 1 else ''} a save: {ratio:.1f} times a bare insert ({each:.2f} ms each)"
            )
        for _ in range(20):
            ledger.append(an_attempt(*[Mark.DONE] * 30))
        count = ledger.count_events()
    for what, narrowed in (
        ("all tables with their indexes", "AND relkind = 'r'"),
        ("the events", "AND relname = 'event'"),
    ):
        ((size,),) = server.tell(name, _SIZE.format(narrowed))
        _tell(f"{what}: {size / count:.0f} bytes an event ({count} events)")


def main() -> None:
    """Start a server, measure, take it away."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--lists", type=int, default=200)
    lists = asked.parse_args().lists
    server = PostgresqlServer()
    try:
        with tempfile.TemporaryDirectory() as place:
            os.environ["LOOPLEDGER_STATE"] = str(Path(place) / "state")
            measure(server, Path(place), lists)
    finally:
        server.remove()


if __name__ == "__main__":
    main()
