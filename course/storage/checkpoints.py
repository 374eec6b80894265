"""Checkpoints against the chains: each says which heads were known when a day was closed, and they must still be there.

A checkpoint is a witness within the ledger: made on one device, it names the heads of every chain that was known there.
So does a merge. What another laptop had and is not here yet is no damage: it has still to be brought. One that is
signed holds also against whoever writes a whole chain anew, as long as the centre's key is in good hands.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping

import sqlalchemy as sa

from course.record.centre_key import fits
from course.record.chain import Event
from course.record.events import (
    CentreKeyMade,
    CentreKeyReplaced,
    CheckpointMade,
    CheckpointSigned,
    KnownHead,
    LedgerMerged,
)
from course.storage.tables import HASHED, event, event_of, read_events

_Trusted = tuple[int | None, int | None]
"""After and before which place in the order of statements a key is trusted."""


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
    keys = _keys(connection, own)
    kinds = (CheckpointMade.kind, CheckpointSigned.kind, LedgerMerged.kind)
    asked = sa.select(*HASHED).where(own, event.c.kind.in_(kinds))
    for made in list(read_events(connection, asked.order_by(event.c.pos))):
        try:
            when, heads, signed = _read(made, keys)
        except ValueError:
            findings.append(f"The checkpoint in event {made.seq} of chain {made.chain} cannot be read.")
            continue
        if not signed:
            findings.append(
                f"When {when}, the checkpoint in event {made.seq} of chain {made.chain} was signed, and not by a key "
                "that the centre trusted then: it may have been written anew."
            )
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


def _read(made: Event, keys: Mapping[str, _Trusted]) -> tuple[str, tuple[KnownHead, ...], bool]:
    """When it was made, the heads that it names, and whether its signature holds, if it has one."""
    plain = json.loads(made.body)
    if made.kind == LedgerMerged.kind:
        return f"ledgers were merged on {made.recorded_at[:10]}", LedgerMerged.model_validate(plain).heads, True
    if made.kind == CheckpointMade.kind:
        body, holds = CheckpointMade.model_validate(plain), True
    else:
        body = signed = CheckpointSigned.model_validate(plain)
        since, lost = keys.get(signed.public, (None, None))
        holds = since is not None and since < made.lamport and (lost is None or made.lamport < lost)
        holds = holds and fits(signed.public, signed.said(made.centre), signed.signed)
    return f"{body.day} was closed", body.heads, holds


def _keys(connection: sa.Connection, own: sa.ColumnElement[bool]) -> dict[str, _Trusted]:
    """The public keys that the ledger names: after which place in the order, and up to which where one was lost."""
    asked = sa.select(*HASHED).where(own, event.c.kind.in_((CentreKeyMade.kind, CentreKeyReplaced.kind)))
    keys: dict[str, _Trusted] = {}
    for made in read_events(connection, asked.order_by(event.c.lamport)):
        plain = json.loads(made.body)
        keys.setdefault(str(plain.get("public")), (made.lamport, None))
        if plain.get("why") == "lost":
            keys[str(plain.get("replaces"))] = (keys.get(str(plain.get("replaces")), (None, None))[0], made.lamport)
    return keys


def _ends(connection: sa.Connection, own: sa.ColumnElement[bool]) -> dict[str, int]:
    asked = sa.select(event.c.chain, sa.func.max(event.c.seq)).where(own).group_by(event.c.chain)
    return {row[0]: row[1] for row in connection.execute(asked)}


def _wrong(connection: sa.Connection, own: sa.ColumnElement[bool], head: KnownHead) -> str | None:
    at = sa.select(*HASHED).where(own, event.c.chain == head.chain, event.c.seq == head.seq)
    there = [event_of(row) for row in connection.execute(at)]
    if not there:
        return "it is not there now"
    return None if any(one.hash == head.hash for one in there) else "another one stands there now"
