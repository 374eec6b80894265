"""Every chain read through once: its hashes, its head, and what ledger.head saw of it.

A chain that fits everywhere is read at a pace of its own (`_fits`): one pass that asks whether all is as it must be.
As soon as anything is not, the chain is read again patiently, and every place that does not fit gets a sentence.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import sqlalchemy as sa

from course.moments import read_stored
from course.record.chain import FIRST_PREV, MOST, Break, Event, breaks, plain_hash
from course.storage import tables
from course.storage.appending import Head, Progress, read_head
from course.storage.tables import HASHED, event
from course.storage.witness import Lines
from course.words import listed, plural

_MOST_OF_ONE_CHAIN = 20


@dataclass(frozen=True)
class ChainState:
    """One chain as it was found: how many events, the hash of its last, and the device that wrote it."""

    chain: str
    events: int
    hash: str
    device: str


@dataclass
class Walked:
    """What was found in the chains. Each finding and each notice is a sentence; notices are no damage."""

    findings: list[str] = field(default_factory=list)
    forks: list[str] = field(default_factory=list)
    """Those of the findings that say a chain was continued twice: nothing of it is damaged."""
    notices: list[str] = field(default_factory=list)
    chains: list[ChainState] = field(default_factory=list)


class Known(NamedTuple):
    """Whose ledger it is: its centre, and the chain that is written here."""

    centre: str
    chain: str


def walk_chains(
    connection: sa.Connection, known: Known, own: sa.ColumnElement[bool], lines: Lines, progress: Progress | None
) -> Walked:
    """Read every chain through.

    Args:
        connection: the ledger.
        known: whose it is.
        own: which events to look at.
        lines: what ledger.head holds.
        progress: told (done, of), counted in events.
    """
    walked = Walked()
    of = connection.execute(sa.select(sa.func.count()).select_from(event).where(own)).scalar_one()
    wanted = _wanted(lines)
    done = 0
    there = connection.execute(sa.select(event.c.centre, event.c.chain).where(own).distinct()).all()
    for chain in sorted({row.chain for row in there}):
        seen = wanted.get(chain, {})
        centres = [row.centre for row in there if row.chain == chain]
        state = _fits(connection, known, chain, seen, walked) if centres == [known.centre] else None
        if state is None and not (
            state := _walk(connection, known, own & (event.c.chain == chain), chain, seen, walked)
        ):
            return walked
        walked.chains.append(state)
        done += state.events
        if progress:
            progress(done, of)
    return walked


def _fits(
    connection: sa.Connection, known: Known, chain: str, wanted: Mapping[int, str], walked: Walked
) -> ChainState | None:
    """Read a chain that fits everywhere; None as soon as anything does not. What the clock did is no misfit."""
    notices: list[str] = []
    seen = {seq: bytes.fromhex(hash_) for seq, hash_ in wanted.items()}
    count, before, lamport, at, device = 0, bytes.fromhex(FIRST_PREV), 0, "", ""
    came: set[int] = set()
    centre = known.centre
    try:
        for seq, hash_, prev, order, id_, device, actor, subject, recorded, kind, body, origin in _plain_rows(
            connection, centre, chain
        ):
            count += 1
            line = (centre, chain, seq, order, id_, device, actor, subject, recorded, kind)
            if seq != count or prev != before or not lamport < order < MOST or plain_hash(line, body, prev) != hash_:
                return None
            if seen and seen.get(seq, hash_) != hash_:
                return None
            if recorded < at:
                notices.append(_clock(chain, seq, recorded, at))
            if origin not in came:
                came.add(origin)
            before, lamport, at = hash_, order, recorded
    except (AttributeError, TypeError, ValueError):  # a number where a text was
        return None
    head = read_head(connection, known.centre, chain)
    if len(came) != 1 or head != (chain, count, before.hex(), lamport):
        return None
    walked.notices += notices
    return ChainState(chain, count, before.hex(), device)


def _plain_rows(connection: sa.Connection, centre: str, chain: str) -> Iterable[Sequence[Any]]:
    """The rows of one chain by place, without what is the same in all of them; bodies as bytes."""
    of = event.c
    as_bytes = sa.cast(of.body, sa.LargeBinary)
    body = as_bytes if connection.dialect.name == "sqlite" else sa.func.convert_to(of.body, "UTF8")
    asked = sa.select(
        of.seq, of.hash, of.prev, of.lamport, of.id, of.device, of.actor, of.subject, of.recorded_at, of.kind, body,
        of.origin,
    )  # fmt: skip
    asked = asked.where(of.centre == centre, of.chain == chain).order_by(of.seq)
    if connection.dialect.name == "sqlite":  # the driver's own rows come as they are read, and a little quicker
        cursor: Any = connection.execute(asked).cursor
        rows: Iterable[Sequence[Any]] = cursor
        return rows
    return connection.execute(asked, execution_options=tables.STREAMED)


def _walk(
    connection: sa.Connection,
    known: Known,
    own: sa.ColumnElement[bool],
    chain: str,
    wanted: Mapping[int, str],
    walked: Walked,
) -> ChainState | None:
    """Read a chain patiently and tell each place that does not fit; None where it cannot be read to its end."""
    asked = sa.select(*HASHED, event.c.origin).where(own).order_by(event.c.seq, event.c.hash)
    rows = connection.execute(asked, execution_options=tables.STREAMED)
    walk = _Walk(chain, known.centre, wanted, is_own=chain == known.chain)
    try:
        for broken in _few(breaks(walk.over(rows)), walked, chain):
            walked.findings.append(f"Chain {chain}, event {broken.seq}: {broken.wrong}.")
    except (AttributeError, TypeError, ValueError) as error:
        walked.findings.append(f"Chain {chain} cannot be checked beyond event {walk.count}: {error}.")
        return None
    forks = walk.forks()
    walked.findings += [*walk.findings(read_head(connection, known.centre, chain)), *forks]
    walked.forks += forks
    walked.notices += walk.notices
    return ChainState(chain, walk.count, walk.last.hash, walk.last.device)


class _Walk:
    """What is looked at besides the hashes while a chain is read through patiently."""

    def __init__(self, chain: str, centre: str, wanted: Mapping[int, str], *, is_own: bool) -> None:
        self.chain = chain
        self.count = 0
        self.last: Event
        self._is_own = is_own
        self._added_here: Event | None = None
        self._forks: dict[int, int] = {}
        self._seq = 0
        self.notices: list[str] = []
        self._centre = centre
        self._wanted = wanted
        self._other_centre = 0
        self._origins: set[int] = set()
        self._unlike_witness: set[int] = set()
        self._like_witness: set[int] = set()

    def over(self, rows: Iterable[Sequence[Any]]) -> Iterator[Event]:
        """Yield the chain's events."""
        before = ""
        for row in rows:
            *hashed, origin = row
            self.last = one = tables.event_of(hashed)
            self.count += 1
            self._origins.add(origin)
            if one.seq == self._seq:
                self._forks[one.seq] = self._forks.get(one.seq, 1) + 1
            self._seq = one.seq
            if origin == 0:
                self._added_here = one
            self._other_centre += one.centre != self._centre
            if one.seq in self._wanted:
                like = self._wanted[one.seq] == one.hash
                (self._like_witness if like else self._unlike_witness).add(one.seq)
            if one.recorded_at < before:
                self.notices.append(_clock(one.chain, one.seq, one.recorded_at, before))
            before = one.recorded_at
            yield one

    def forks(self) -> list[str]:
        """Tell where the chain was continued twice, if it was."""
        return [fork_words(self.chain, self._forks)] if self._forks else []

    def findings(self, head_: Head) -> Iterator[str]:
        """Yield what does not fit, with the head that the tables hold."""
        here = self._added_here or self.last
        ends = [here] if self._is_own else [self.last, here] if self._forks else [self.last]
        if (head_.seq, head_.hash, head_.lamport) not in [(one.seq, one.hash, one.lamport) for one in ends]:
            end = ends[0]
            yield f"Chain {self.chain} ends at event {end.seq}, but its head is kept as {head_.seq}."
        if self._other_centre:
            yield f"Chain {self.chain} holds {plural(self._other_centre, 'event')} of another centre."
        if len(self._origins) > 1 and self._is_own and not self._forks:  # a fork's other branch was brought in
            yield f"Chain {self.chain} holds events that were added here and others that were brought in."
        if unlike := sorted(self._unlike_witness - self._like_witness):  # of a fork one branch is the one that was seen
            places = listed([str(seq) for seq in unlike[:5]])
            yield f"Chain {self.chain}: ledger.head saw other content at {places} than the ledger holds now."


def fork_words(chain: str, forks: Collection[int]) -> str:
    """A fork explained: every branch is kept and counts, and which laptop is to go on is for a person to say."""
    first, places = min(forks), plural(len(forks), "place")
    return (
        f"Chain {chain} forks at event {first} ({places} with more than one event): one ledger was continued twice, "
        "from a copy on another machine or after it was set back. Every branch is kept and counts. Compare what was "
        "entered on both, and use one of the two folders no more."
    )


def _clock(chain: str, seq: int, recorded: str, before: str) -> str:
    try:
        back = f"{(read_stored(before) - read_stored(recorded)).total_seconds():.0f} s"
    except ValueError:
        back = "a time that cannot be read"
    return f"Chain {chain}, event {seq}: the computer's clock had gone back {back}. The order of events stands."


def _few(broken: Iterator[Break], walked: Walked, chain: str) -> Iterator[Break]:
    for number, one in enumerate(broken):
        if number == _MOST_OF_ONE_CHAIN:
            walked.findings.append(f"Chain {chain}: there is more; the first {_MOST_OF_ONE_CHAIN} places are listed.")
        if number < _MOST_OF_ONE_CHAIN:
            yield one


def _wanted(lines: Lines) -> dict[str, dict[int, str]]:
    wanted: dict[str, dict[int, str]] = {}
    for line in lines.seen:
        wanted.setdefault(line.chain, {})[line.seq] = line.hash
    return wanted
