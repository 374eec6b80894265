"""Events of other ledgers of the same centre, taken into this one: a union of sets, in one transaction.

The same events give the same ledger in whatever order and however often they come. A chain whose beginning is not here
yet, and one of a device that nobody accepted, waits; the branches of a fork are all kept. Nothing is overwritten.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

import sqlalchemy as sa

from course.errors import RefusedError
from course.record.chain import FIRST_PREV, Event
from course.record.events import DeviceAccepted
from course.storage import tables
from course.storage.appending import (
    Head,
    Progress,
    Stamp,
    add_events,
    highest_lamport,
    known_events,
    write_facts,
    write_head,
)
from course.storage.checkpoints import compare_checkpoints
from course.storage.ledger import Ledger
from course.storage.tables import HASHED, event, head

_AT_ONCE = 500
_BROUGHT_IN = 1
LAMPORT = "lamport_brought_in"
WAITING = "waiting"
"""Folder in a centre's folder: bundles of which something could not be taken in yet."""


@dataclass(frozen=True)
class Part:
    """One chain as far as a source holds it."""

    chain: str
    events: int
    first: Event
    devices: frozenset[str]


@dataclass(frozen=True)
class Source:
    """A bundle that was read and found whole. `events` yields it anew, in order of (chain, seq, hash)."""

    name: str
    parts: tuple[Part, ...]
    events: Callable[[], Iterator[Event]] = field(repr=False, compare=False)


@dataclass(frozen=True)
class Waiting:
    """A chain that is not taken in yet, and what it waits for."""

    source: str
    chain: str
    events: int
    device: str | None = None
    """The device that nobody accepted; None where the events before it are not here."""
    after: str = ""
    """The hash of the event that it begins after."""


@dataclass(frozen=True)
class Fork:
    """A place of a chain with more than one event."""

    chain: str
    seq: int
    branches: int


@dataclass(frozen=True)
class Brought:
    """What came of it. The numbers are those of this time; forks and doubled ids are all that touch what came."""

    added: dict[str, int]
    """Events by chain."""
    by_kind: dict[str, int]
    known: int
    waiting: tuple[Waiting, ...]
    forks: tuple[Fork, ...]
    doubled: tuple[str, ...]
    """Ids under which two events with different content are here now."""
    misfits: tuple[str, ...] = ()
    """Where something came: which checkpoints do not fit the chains that are here now, each a sentence."""


def waiting_files(folder: Path) -> tuple[Path, ...]:
    """Return the bundles that wait in a centre's folder."""
    return tuple(sorted((folder / WAITING).glob("*.zip")))


def parts_of(events: Iterable[Event]) -> tuple[Part, ...]:
    """Return the chains of events that come in order of (chain, seq, hash)."""
    seen = Parts()
    for one in events:
        seen.see(one)
    return seen.parts()


class Parts:
    """The chains of events that are shown one by one, in order of (chain, seq, hash)."""

    def __init__(self) -> None:
        self._first: dict[str, Event] = {}
        self._count: Counter[str] = Counter()
        self._devices: dict[str, set[str]] = {}

    def see(self, one: Event) -> None:
        """Look at the next event."""
        chain = one.chain
        if chain not in self._first:
            self._first[chain], self._devices[chain] = one, set()
        self._count[chain] += 1
        self._devices[chain].add(one.device)

    def parts(self) -> tuple[Part, ...]:
        """Return the chains that were seen, each as far as it was."""
        return tuple(
            Part(chain, self._count[chain], first, frozenset(self._devices[chain]))
            for chain, first in self._first.items()
        )


def take_in(
    ledger: Ledger,
    sources: Sequence[Source],
    *,
    accepted: Collection[str] = (),
    rehearse: bool = False,
    progress: Progress | None = None,
) -> Brought:
    """Take in events of other ledgers of this centre, or only tell what that would do. See `bring_in`.

    Raises:
        RefusedError: the ledger is open for reading only, or a chain cannot follow what it says.
        DamageError: this ledger is damaged.
        StorageError: NOT saved; nothing was taken in.
    """

    def act(connection: sa.Connection, stamp: Stamp) -> Brought:
        if not rehearse:
            return bring_in(connection, stamp, sources, accepted, progress)
        with connection.begin_nested() as inner:  # the very same work, taken back
            brought = bring_in(connection, stamp, sources, accepted, progress)
            inner.rollback()
            return brought

    return ledger.alone(act)


def bring_in(
    connection: sa.Connection,
    stamp: Stamp,
    sources: Sequence[Source],
    accepted: Collection[str] = (),
    progress: Progress | None = None,
) -> Brought:
    """Take in all that can be taken in; within one transaction.

    Args:
        connection: of the ledger that takes them, in the writer's turn.
        stamp: whose ledger it is and which chain is its own.
        sources: bundles of the same centre; one may hold what another waits for.
        accepted: devices to take as accepted, beside those that the ledger says are.
        progress: told (done, of) in events.

    Raises:
        RefusedError: a chain says that it follows an event that it cannot follow.
    """
    taking = _Taking(connection, stamp, progress, sum(part.events for one in sources for part in one.parts))
    known_devices = {*accepted, *connection.execute(
        sa.select(head.c.device).where(head.c.centre == stamp.centre)).scalars()}  # fmt: skip
    left = {(place, part.chain): part for place, one in enumerate(sources) for part in one.parts}
    while ready := {key for key, part in left.items() if taking.is_ready(part, known_devices)}:
        for place, source in enumerate(sources):
            chains = {chain for at, chain in ready if at == place}
            if chains:
                taking.take(source, chains)
        for key in ready:
            known_devices |= left.pop(key).devices
    taking.settle()
    waiting = [
        Waiting(sources[place].name, part.chain, part.events, taking.unknown_device(part, known_devices),
                part.first.prev)
        for (place, _), part in left.items()
    ]  # fmt: skip
    return taking.brought(waiting)


class _Taking:
    """What gathers while events are taken in."""

    def __init__(self, connection: sa.Connection, stamp: Stamp, progress: Progress | None, of: int) -> None:
        self._connection, self._stamp, self._progress, self._of = connection, stamp, progress, of
        self._done, self._known = 0, 0
        self._added: dict[str, int] = {}
        self._by_kind: dict[str, int] = {}
        self._subjects: set[str] = set()
        self._doubled: set[str] = set()
        self._lamport = 0

    def is_ready(self, part: Part, devices: Collection[str]) -> bool:
        """Whether a part can be taken in: its device is known, and what it begins after is here."""
        return self.unknown_device(part, devices) is None and self._follows(part.first)

    def unknown_device(self, part: Part, devices: Collection[str]) -> str | None:
        """The first of a part's devices that wrote nothing here yet and that nobody accepted."""
        return next((one for one in sorted(part.devices - set(devices)) if not self._is_accepted(one)), None)

    def _is_accepted(self, device: str) -> bool:
        found = tables.subject_events(self._connection, self._stamp.centre, device)
        return any(one.kind == DeviceAccepted.kind for one in found)

    def _follows(self, first: Event) -> bool:
        if first.seq == 1 and first.prev == FIRST_PREV:
            return True
        own = (event.c.centre == self._stamp.centre) & (event.c.hash == bytes.fromhex(first.prev))
        before = self._connection.execute(sa.select(event.c.chain, event.c.seq, event.c.lamport).where(own)).first()
        if before is None:
            return False
        if (before.chain, before.seq + 1) != (first.chain, first.seq) or before.lamport >= first.lamport:
            raise RefusedError(
                f"Event {first.seq} of chain {first.chain} says that it follows event {before.seq} of chain "
                f"{before.chain}, which it cannot follow. Nothing was taken in."
            )
        return True

    def take(self, source: Source, chains: Collection[str]) -> None:
        """Take in these chains of a source."""
        for some in _some(one for one in source.events() if one.chain in chains):
            self._take_some(some)
            self._done += len(some)
            if self._progress:
                self._progress(min(self._done, self._of), self._of)

    def _take_some(self, some: Sequence[Event]) -> None:
        own = event.c.centre == self._stamp.centre
        hashes = [bytes.fromhex(one.hash) for one in some]
        here = {row.hex() for row in self._connection.execute(
            sa.select(event.c.hash).where(own, event.c.hash.in_(hashes))).scalars()}  # fmt: skip
        new = [one for one in some if one.hash not in here]
        self._known += len(some) - len(new)
        if not new:
            return
        self._note_doubled(new)
        add_events(self._connection, new, origin=_BROUGHT_IN)
        for one in new:
            self._added[one.chain] = self._added.get(one.chain, 0) + 1
            self._by_kind[one.kind] = self._by_kind.get(one.kind, 0) + 1
            self._subjects.add(one.subject)
            self._lamport = max(self._lamport, one.lamport)

    def _note_doubled(self, new: Sequence[Event]) -> None:
        told = {one.id: one for one in new}
        for other in known_events(self._connection, self._stamp.centre, told):
            one = told[other.id]
            if (one.kind, one.subject, one.body) != (other.kind, other.subject, other.body):
                self._doubled.add(one.id)

    def settle(self) -> None:
        """Derive what is true of every subject that was touched, and move the heads."""
        centre = self._stamp.centre
        if not self._added:
            return
        latest = max(self._lamport, highest_lamport(self._connection, centre))
        tables.set_setting(self._connection, centre, LAMPORT, str(latest))
        for chain in self._added:
            if chain != self._stamp.chain:
                self._move_head(chain)
        write_facts(self._connection, centre, sorted(self._subjects))

    def _move_head(self, chain: str) -> None:
        """A chain's head is its furthest event; of a fork's ends the one with the highest hash, on every laptop."""
        own = (event.c.centre == self._stamp.centre) & (event.c.chain == chain)
        asked = sa.select(*HASHED).where(own).order_by(event.c.seq.desc(), event.c.hash.desc()).limit(1)
        last = tables.event_of(self._connection.execute(asked).one())
        write_head(
            self._connection, Stamp(last.centre, chain, last.device), Head(chain, last.seq, last.hash, last.lamport)
        )

    def brought(self, waiting: Sequence[Waiting]) -> Brought:
        """Everything in one answer."""
        return Brought(
            added=dict(sorted(self._added.items())), by_kind=dict(sorted(self._by_kind.items())), known=self._known,
            waiting=tuple(waiting), forks=tuple(f for chain in sorted(self._added) for f in self._forks(chain)),
            doubled=tuple(sorted(self._doubled)), misfits=self._misfits(),
        )  # fmt: skip

    def _misfits(self) -> tuple[str, ...]:
        """One ledger witnesses another just when they meet; a later check would say the same."""
        if not self._added:
            return ()
        own = event.c.centre == self._stamp.centre
        there = self._connection.execute(sa.select(head.c.chain).where(head.c.centre == self._stamp.centre)).scalars()
        findings, _ = compare_checkpoints(self._connection, own, set(there), self._stamp.chain)
        return tuple(findings)

    def _forks(self, chain: str) -> Iterator[Fork]:
        own = (event.c.centre == self._stamp.centre) & (event.c.chain == chain)
        count = sa.func.count()
        asked = sa.select(event.c.seq, count).where(own).group_by(event.c.seq).having(count > 1).order_by(event.c.seq)
        first = self._connection.execute(asked).first()
        if first:
            yield Fork(chain, first[0], first[1])


def _some(events: Iterable[Event]) -> Iterator[list[Event]]:
    rest = iter(events)
    while some := list(islice(rest, _AT_ONCE)):
        yield some
