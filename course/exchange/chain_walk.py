"""The chains of a bundle, walked once in order of (chain, seq, hash), forks and all, with nothing held but the tips.

A fork is kept as the ledger has it: events of one place that name the same event before them or different ones. Each
event must name one that is there, the first of a chain the base that the chain begins after.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from pydantic import BaseModel, ConfigDict

from course.record.chain import FIRST_PREV, Event, event_hash


class Tip(BaseModel):
    """An event that no other names: the end of a chain, or of one branch of it."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    seq: int
    hash: str


class ChainPart(BaseModel):
    """One chain as far as a bundle holds it. `base` is what its first event names as the one before."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    chain: str
    events: int
    first: int
    last: int
    base: str
    heads: tuple[Tip, ...]


@dataclass
class _Level:
    """The events of one place of a chain: hash to lamport."""

    seq: int = 0
    known: dict[str, int] = field(default_factory=dict)
    named: set[str] = field(default_factory=set)


class ChainWalk:
    """Takes events one by one and says of each what does not fit."""

    def __init__(self) -> None:
        self.parts: list[ChainPart] = []
        self._chain = ""
        self._last_hash = ""
        self._events, self._first, self._base = 0, 0, ""
        self._before, self._at = _Level(), _Level()
        self._tips: list[Tip] = []

    def take(self, one: Event) -> Iterator[str]:
        """Take the next event; yield each thing that is wrong with it."""
        if one.chain != self._chain:
            if one.chain < self._chain:
                yield "its chain stands in the wrong place: chains come in the order of their names"
            self.finish()
            self._begin(one)
            if one.seq == 1 and one.prev != FIRST_PREV:
                yield "the first event of a chain names an event before it"
        elif one.seq == self._at.seq:
            if one.hash <= self._last_hash:
                yield "it is there twice, or not in order"
        else:
            yield from self._move_to(one)
        self._last_hash = one.hash
        self._events += 1
        yield from self._wrong(one)
        self._before.named.add(one.prev)
        self._at.known[one.hash] = one.lamport

    def finish(self) -> tuple[ChainPart, ...]:
        """End the chain that is being walked and return all parts so far."""
        if self._events:
            self._leave(self._before)
            heads = [*self._tips, *(Tip(seq=self._at.seq, hash=one) for one in sorted(self._at.known))]
            self.parts.append(
                ChainPart(
                    chain=self._chain, events=self._events, first=self._first, last=self._at.seq, base=self._base,
                    heads=tuple(heads),
                )
            )  # fmt: skip
        self._events = 0
        return tuple(self.parts)

    def _begin(self, one: Event) -> None:
        self._chain, self._first, self._base = one.chain, one.seq, one.prev
        self._before, self._at = _Level(0, {one.prev: 0}), _Level(one.seq)
        self._tips = []

    def _move_to(self, one: Event) -> Iterator[str]:
        if one.seq < self._at.seq:
            yield f"event {one.seq} stands after event {self._at.seq}: events come in the order of their chain"
        elif one.seq > self._at.seq + 1:
            missing = f"event {self._at.seq + 1} is"
            if one.seq > self._at.seq + 2:
                missing = f"events {self._at.seq + 1} to {one.seq - 1} are"
            yield f"{missing} missing before it"
            self._at.known[one.prev] = 0  # said once; what follows is held against what is there
        self._leave(self._before)
        self._before, self._at = self._at, _Level(one.seq)

    def _leave(self, level: _Level) -> None:
        """Whoever nobody named is an end."""
        if level.seq:
            self._tips += [Tip(seq=level.seq, hash=one) for one in sorted(level.known) if one not in level.named]

    def _wrong(self, one: Event) -> Iterator[str]:
        before = self._before.known.get(one.prev)
        if before is None:
            yield "it does not name the event before it"
        elif one.lamport <= before:
            yield "its place in the order of statements goes back"
        if event_hash(one) != one.hash:
            yield f"its content is not what was hashed ({one.kind} about {one.subject})"
