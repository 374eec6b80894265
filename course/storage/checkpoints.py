"""Checkpoints against the chains: each says which heads were known when a day was closed, and they must still be there.

A checkpoint is a witness within the ledger: made on one device, it names the heads of every chain that was known there.
"""

from __future__ import annotations

import json
from collections.abc import Collection

import sqlalchemy as sa

from course.record.events import CheckpointMade, KnownHead
from course.storage.tables import HASHED, event, event_of, read_events


def compare_checkpoints(
    connection: sa.Connection, own: sa.ColumnElement[bool], chains: Collection[str]
) -> tuple[list[str], list[str]]:
    """Compare every checkpoint with the chains; return findings and notices, each a sentence.

    Args:
        connection: the ledger.
        own: which events to look at.
        chains: chains that are there. One that is not is no damage: it is another laptop's, not merged yet.
    """
    findings: list[str] = []
    away: dict[str, str] = {}
    asked = sa.select(*HASHED).where(own, event.c.kind == CheckpointMade.kind).order_by(event.c.pos)
    for made in list(read_events(connection, asked)):
        try:
            body = CheckpointMade.model_validate(json.loads(made.body))
        except ValueError:
            findings.append(f"The checkpoint in event {made.seq} of chain {made.chain} cannot be read.")
            continue
        for head in body.heads:
            if head.chain not in chains:
                away.setdefault(head.chain, body.day)
            elif wrong := _wrong(connection, own, head):
                findings.append(
                    f"When {body.day} was closed, event {head.seq} of chain {head.chain} was seen; {wrong}."
                )
    notices = [
        f"When {day} was closed, chain {chain} was known too, and it is not here. Merge the ledger that has it."
        for chain, day in sorted(away.items())
    ]
    return findings, notices


def _wrong(connection: sa.Connection, own: sa.ColumnElement[bool], head: KnownHead) -> str | None:
    at = sa.select(*HASHED).where(own, event.c.chain == head.chain, event.c.seq == head.seq)
    there = [event_of(row) for row in connection.execute(at)]
    if not there:
        return "it is not there now"
    return None if any(one.hash == head.hash for one in there) else "another one stands there now"
