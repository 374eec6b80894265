"""A ledger laid out from events alone, in a folder to be thrown away: without keys, to derive again what they tell.

It is nobody's ledger: it has no witness, no device and no vault, and is only read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path

import sqlalchemy as sa

from course.record.chain import Event
from course.record.projection import PROJECTION_VERSION
from course.storage import tables
from course.storage.appending import Head, Progress, Stamp, write_all_facts, write_head
from course.storage.checkpoints import compare_checkpoints
from course.storage.faults import FAULTS, not_saved
from course.storage.site import Site
from course.storage.tables import event

_AT_ONCE = 1000
_BROUGHT_IN = 1


def lay_out(
    folder: Path, centre: str, events: Iterable[Event], progress: Progress | None = None
) -> tuple[list[str], list[str]]:
    """Write events into a new ledger in an empty folder and derive all facts from them.

    Args:
        folder: an empty folder.
        centre: the centre's id.
        events: in any order; those of a fork are all kept.
        progress: told (done, of) while facts are derived.

    Returns:
        What old checkpoints saw otherwise, and what they say of chains that are not here: sentences.

    Raises:
        StorageError: there is no room for it.
    """
    engine = Site(folder).engine("lay_out")
    try:
        with engine.begin() as connection:
            tables.metadata.create_all(connection)
            heads = _insert(connection, events)
            for stamp, head in heads.values():
                write_head(connection, Stamp(centre, head.chain, stamp.device), head)
            chain = max((head for _, head in heads.values()), key=lambda head: head.lamport, default=None)
            settings = {
                "schema": tables.SCHEMA, "chain": chain.chain if chain else "", "put_back": "laid out",
                "projection_version": str(PROJECTION_VERSION),
            }  # fmt: skip
            for name, value in settings.items():
                tables.set_setting(connection, centre, name, value)
            write_all_facts(connection, centre, progress)
            return compare_checkpoints(connection, event.c.centre == centre, heads.keys())
    except FAULTS as error:
        raise not_saved(error) from error
    finally:
        engine.dispose()


def _insert(connection: sa.Connection, events: Iterable[Event]) -> dict[str, tuple[Event, Head]]:
    heads: dict[str, tuple[Event, Head]] = {}
    for some in _some(events):
        connection.execute(sa.insert(event), [tables.row_of(one, origin=_BROUGHT_IN) for one in some])
        for one in some:
            if one.chain not in heads or one.seq >= heads[one.chain][0].seq:
                heads[one.chain] = (one, Head(one.chain, one.seq, one.hash, one.lamport))
    return heads


def _some(events: Iterable[Event]) -> Iterator[list[Event]]:
    rest = iter(events)
    while some := list(islice(rest, _AT_ONCE)):
        yield some
