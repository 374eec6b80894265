"""Canonical bytes, hashes and the check of a chain.

A chain is one database's run of events. Each event's hash covers its position, its content's hash and the hash
before it, so a change in the middle shows; a lost tail shows only against something held elsewhere (the witness
file, a printed paper).

Source of the canonical form: RFC 8785 (JSON Canonicalization Scheme). Bodies hold strings, booleans, null, whole
numbers below 2^53, lists and maps with ASCII keys; for these the library's sorted output is RFC 8785, byte for byte
(tested against the rfc8785 package). Floats are refused.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import orjson

FIRST_PREV = "0" * 64
_sha256, _dumps = hashlib.sha256, orjson.dumps  # looked up once: a check of a large ledger asks a million times
_LABEL = b"course.event.v1\n"
MOST = 2**53
"""No whole number in the ledger is as large: from here on programs differ in how they read one."""
_DEEPEST = 60


class Event(NamedTuple):
    """One line of the ledger as it is stored. `body` is canonical JSON text; `hash` and `prev` are 64 hex digits.

    Each tap has its whole attempt read again, and a tuple is made five times as quickly as a frozen class.
    """

    id: str
    centre: str
    chain: str
    seq: int
    lamport: int
    device: str
    actor: str
    subject: str
    kind: str
    recorded_at: str
    body: str
    prev: str
    hash: str

    @property
    def order(self) -> tuple[int, str, int, str]:
        """What settles two statements about one thing; never a clock. The hash tells the branches of a fork apart."""
        return (self.lamport, self.chain, self.seq, self.hash)


@dataclass(frozen=True)
class Break:
    """A place where a chain does not fit."""

    chain: str
    seq: int
    wrong: str


def canonical(value: object) -> bytes:
    """Return the RFC 8785 bytes of plain data.

    Raises:
        ValueError: a float, a number of 2^53 or more, a key that is not ASCII text, a lone surrogate, or too deep.
    """
    _refuse_unplain(value, 0)
    try:
        return orjson.dumps(value, option=orjson.OPT_SORT_KEYS)
    except orjson.JSONEncodeError as error:
        raise ValueError(f"cannot be written as plain JSON: {error}") from None


def content_hash(value: object) -> str:
    """Return the SHA-256 of plain data in canonical form, as 64 hex digits."""
    return hashlib.sha256(canonical(value)).hexdigest()


def event_hash(event: Event) -> str:
    """Return the hash that an event must have for its content, place and predecessor."""
    body_hash = hashlib.sha256(event.body.encode()).hexdigest()
    line = [
        event.centre, event.chain, event.seq, event.lamport, event.id, event.device, event.actor,
        event.subject, event.recorded_at, event.kind, body_hash, event.prev,
    ]  # fmt: skip
    return hashlib.sha256(_LABEL + canonical(line)).hexdigest()


def plain_hash(line: tuple[str, str, int, int, str, str, str, str, str, str], body: bytes, prev: bytes) -> bytes:
    """Return the hash that an event must have, from a row that a database holds: three times as quick as `event_hash`.

    The row's columns hold texts and whole numbers only, so nothing has to be looked at before it is written. What is
    none of them after damage, or too large, gives another hash or an error.

    Args:
        line: centre, chain, seq, lamport, id, device, actor, subject, time of recording, kind.
        body: the body's canonical JSON.
        prev: the hash before it.
    """
    centre, chain, seq, lamport, id_, device, actor, subject, recorded_at, kind = line
    whole = [
        centre, chain, seq, lamport, id_, device, actor, subject, recorded_at, kind, _sha256(body).hexdigest(),
        prev.hex(),
    ]  # fmt: skip
    return _sha256(_LABEL + _dumps(whole)).digest()


def breaks(events: Iterable[Event]) -> Iterator[Break]:
    """Check one chain in order of seq and yield each place where it does not fit.

    A fork is no break: events of one place may name the same event before them, or different ones that are there.

    Args:
        events: every event of one chain, by rising seq.
    """
    before: dict[str, int] = {FIRST_PREV: 0}  # hash to place in the order of statements
    at: dict[str, int] = before
    seq = 0
    for event in events:
        if event.seq != seq:
            if event.seq != seq + 1:
                yield Break(event.chain, event.seq, f"event {seq + 1} should follow {seq}, but {event.seq} does")
            before, at, seq = at, {}, event.seq
        if event.prev not in before:
            yield Break(event.chain, event.seq, "it does not name the event before it")
        if event.lamport <= before.get(event.prev, max(before.values())):
            yield Break(event.chain, event.seq, "its place in the order of statements goes back")
        if event_hash(event) != event.hash:
            yield Break(event.chain, event.seq, "its content is not what was hashed")
        at[event.hash] = event.lamport


def evidence_hash(event_hashes: Iterable[str], rubric_hash: str) -> str:
    """Return the hash a signature rests on: the sorted hashes of the events used, and the rubric's."""
    return content_hash([sorted(event_hashes), rubric_hash])


def _short(number: int) -> str:
    """The first digits of a number that may have thousands, which Python would not even write out."""
    return str(number) if abs(number) < 10**40 else "a number of more than 40 digits"


def _refuse_unplain(value: object, depth: int) -> None:
    if depth > _DEEPEST:
        raise ValueError(f"nested deeper than {_DEEPEST} levels")
    if isinstance(value, dict):
        for key in value:
            if not (isinstance(key, str) and key.isascii()):
                raise ValueError(f"{key!r} is no plain key")
        _refuse_unplain_in(value.values(), depth)
    elif isinstance(value, int):
        if abs(value) >= MOST:
            raise ValueError(f"{_short(value)} is too large for a whole number in the ledger")
    elif isinstance(value, list | tuple):
        _refuse_unplain_in(value, depth)
    elif not (value is None or isinstance(value, str)):
        wrong = f"{type(value).__name__} is not allowed in the ledger; write quantities as decimal strings"
        raise ValueError(wrong)


def _refuse_unplain_in(values: Iterable[object], depth: int) -> None:
    for inner in values:
        if type(inner) is not str or depth == _DEEPEST:  # most are texts, and nothing is wrong with a text
            _refuse_unplain(inner, depth + 1)
