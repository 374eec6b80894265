"""Checkpoints against the chains: each says which heads were known when a day was closed, and they must still be there.

A checkpoint is a witness within the ledger: made on one device, it names the heads of every chain that was known there.
So does a merge. What another laptop had and is not here yet is no damage: it has still to be brought.
"""

from __future__ import annotations

import json
from collections.abc import Collection

import sqlalchemy as sa

from course.record.chain import Event
from course.record.events import CheckpointMade, KnownHead, LedgerMerged
from course.storage.tables import HASHED, event, event_of, read_events


def compare_checkpoints(
    connection: sa.Connection, own: sa.ColumnElement[bool], chains: Collection[str], home: str | None = None
) -> tuple[list[str], list[str]]:
    """Compare every checkpoint with the chains; return findings and notices, each a sentence.

    Args:
        connection: the ledger.
        own: which events to look at.
        chains: chains that are there. One that is not is no damage: it is another laptop's, not merged yet.
        home: the ledger's own chain; its end cannot be away. None: every chain's end must be there.
    """
    findings: list[str] = []
    away: dict[str, str] = {}
    behind: dict[str, KnownHead] = {}
    ends = _ends(connection, own)
    asked = sa.select(*HASHED).where(own, event.c.kind.in_((CheckpointMade.kind, LedgerMerged.kind)))
    for made in list(read_events(connection, asked.order_by(event.c.pos))):
        try:
            when, heads = _read(made)
        except ValueError:
            findings.append(f"The checkpoint in event {made.seq} of chain {made.chain} cannot be read.")
            continue
        for head in heads:
            if head.chain not in chains:
                away.setdefault(head.chain, when)
            elif home not in (None, head.chain) and head.seq > ends.get(head.chain, 0):
                behind[head.chain] = max(head, behind.get(head.chain, head), key=lambda one: one.seq)
            elif wrong := _wrong(connection, own, head):
                findings.append(f"When {when}, event {head.seq} of chain {head.chain} was seen; {wrong}.")
    notices = [
        f"When {when}, chain {chain} was known too, and it is not here. Merge the ledger that has it."
        for chain, when in sorted(away.items())
    ]
    notices += [
        f"Chain {chain} is here up to event {ends[chain]}, and another laptop knew it up to {head.seq}. Merge the "
        "ledger that has it."
        for chain, head in sorted(behind.items())
    ]
    return findings, notices


def _read(made: Event) -> tuple[str, tuple[KnownHead, ...]]:
    plain = json.loads(made.body)
    if made.kind == LedgerMerged.kind:
        return f"ledgers were merged on {made.recorded_at[:10]}", LedgerMerged.model_validate(plain).heads
    body = CheckpointMade.model_validate(plain)
    return f"{body.day} was closed", body.heads


def _ends(connection: sa.Connection, own: sa.ColumnElement[bool]) -> dict[str, int]:
    asked = sa.select(event.c.chain, sa.func.max(event.c.seq)).where(own).group_by(event.c.chain)
    return {row[0]: row[1] for row in connection.execute(asked)}


def _wrong(connection: sa.Connection, own: sa.ColumnElement[bool], head: KnownHead) -> str | None:
    at = sa.select(*HASHED).where(own, event.c.chain == head.chain, event.c.seq == head.seq)
    there = [event_of(row) for row in connection.execute(at)]
    if not there:
        return "it is not there now"
    return None if any(one.hash == head.hash for one in there) else "another one stands there now"
