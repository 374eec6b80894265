"""The centre's laptops as this ledger knows them: how far each is here, and what is still to bring or to hand over."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from course.access import Sight
from course.answers.merging import laptop_number
from course.answers.people import Known, People
from course.asker import question
from course.moments import day_words, read_stored, zone_named
from course.record.chain import Event
from course.record.facts import Centre, Checkpoint
from course.record.merge_facts import Device, Merge
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed
from course.storage.merging import waiting_files
from course.storage.walking import fork_words
from course.words import plural

_OFF = timedelta(minutes=2)


@dataclass(frozen=True)
class Laptop:
    """One device that wrote into the centre's ledgers."""

    device: str
    shown: str
    """The note that it was accepted with, or the end of its number."""
    is_this: bool
    events: int
    last: datetime
    last_by: str
    to_bring: int
    """Events of it that another laptop knew and that are not here."""
    to_get: int | None
    """Events here that it did not know when it last said what it knew; None: it never said."""
    words: str = ""


@dataclass(frozen=True)
class Laptops:
    """All of them, this one first."""

    sentence: str
    laptops: tuple[Laptop, ...]
    unknown: tuple[str, ...]
    """Chains that are known of and that nothing is here of, as sentences."""
    forks: tuple[str, ...]
    """Chains that were continued twice, each explained."""
    clocks: tuple[str, ...] = ()
    """Laptops whose clocks cannot both have been right when one took in what the other wrote, as sentences."""
    waiting: int = 0
    """Bundles that were brought and of which something is not taken in yet."""


@question(Sight.LAPTOPS)
def laptops(ledger: Ledger) -> Laptops:
    """Return the centre's laptops as the ledger knows them."""
    here = {head.chain: head.seq for head in ledger.heads() if head.seq}
    known = known_chains(ledger)
    by_device: dict[str, list[str]] = defaultdict(list)
    for chain, seq in here.items():
        last = ledger.event_at(chain, seq)
        if last:
            by_device[last.device].append(chain)
    this = ledger.event_at(ledger.head().chain, ledger.head().seq)
    found = [
        _laptop(ledger, device, chains, here, known, is_this=this is not None and device == this.device)
        for device, chains in by_device.items()
    ]
    found.sort(key=lambda one: (not one.is_this, one.last))
    unknown = tuple(
        f"Chain {chain[-8:]} is known up to event {seq}, and nothing of it is here: bring a bundle of the laptop that "
        "wrote it."
        for chain, seq in sorted(known.items())
        if chain not in here
    )
    forks = _forks(ledger, here)
    waiting = len(waiting_files(ledger.folder))
    sentence = _sentence(found, unknown)
    if waiting:
        sentence = f"{plural(waiting, 'bundle')} came here and could not be taken in whole yet."
    if forks:
        sentence = "A ledger was continued twice, and somebody has to look at both."
    return Laptops(sentence, tuple(found), unknown, forks, _clocks(ledger), waiting)


def _forks(ledger: Ledger, here: Mapping[str, int]) -> tuple[str, ...]:
    """Looked for only where there are more events than places: nothing is here without what came before it."""
    if ledger.count_events() == sum(here.values()):
        return ()
    places: dict[str, Counter[int]] = defaultdict(Counter)
    for one in ledger.chain_events():
        places[one.chain][one.seq] += 1
    doubled = {chain: [seq for seq, count in of.items() if count > 1] for chain, of in sorted(places.items())}
    return tuple(fork_words(chain, of) for chain, of in doubled.items() if of)


def _clocks(ledger: Ledger) -> tuple[str, ...]:
    """What was taken in was written before: where the clocks say otherwise, one of them was off."""
    worst: dict[tuple[str, str], timedelta] = {}
    for merged in all_of(ledger, Merge):
        note = ledger.event_at(merged.chain, merged.seq)
        for chain, seq, _ in merged.heads:
            last = ledger.event_at(chain, seq) if chain != merged.chain else None
            if note and last and last.device != note.device:
                ahead = read_stored(last.recorded_at) - read_stored(note.recorded_at)
                pair = (last.device, note.device)
                worst[pair] = max(ahead, worst.get(pair, ahead))
    return tuple(
        f"The clock of laptop {laptop_number(fast)} was at least {plural(int(ahead.total_seconds() // 60), 'minute')} "
        f"ahead of that of laptop {laptop_number(slow)}: one of the two was off. The order of events does not rest on "
        "it; times of marks and papers do. Set the clock, and look at what was marked on that laptop."
        for (fast, slow), ahead in sorted(worst.items())
        if ahead >= _OFF
    )


def known_chains(ledger: Ledger) -> dict[str, int]:
    """Return how far each chain was known when days were closed and laptops merged."""
    ends: dict[str, int] = {}
    told: Iterable[Checkpoint | Merge] = [*all_of(ledger, Checkpoint), *all_of(ledger, Merge)]
    for one in told:
        for chain, seq, _ in one.heads:
            ends[chain] = max(seq, ends.get(chain, 0))
    return ends


def _laptop(
    ledger: Ledger, device: str, chains: list[str], here: Mapping[str, int], known: Mapping[str, int], *, is_this: bool
) -> Laptop:
    ends = [one for one in (ledger.event_at(chain, here[chain]) for chain in chains) if one]
    last = max(ends, key=lambda one: one.lamport)
    note = next((one.note for one in all_of(ledger, Device) if one.id == device), None)
    writer = People(ledger, [last.actor]).get(last.actor)
    one = Laptop(
        device=device,
        shown=f"This laptop, number {laptop_number(device)}" if is_this else note or f"Laptop {laptop_number(device)}",
        is_this=is_this,
        events=sum(here[chain] for chain in chains),
        last=read_stored(last.recorded_at),
        last_by=_last_by(last, writer),
        to_bring=sum(max(0, known.get(chain, 0) - here[chain]) for chain in chains),
        to_get=None if is_this else _to_get(ledger, chains, here),
    )
    return replace(one, words=" ".join(_words(one, needed(ledger, Centre, ledger.centre_id, "centre").zone)))


def _last_by(last: Event, writer: Known | None) -> str:
    """A chain is begun by its device: what was put back, copied or continued elsewhere ends so until somebody acts."""
    if writer:
        return writer.shown
    return "itself" if last.actor == last.device else "somebody who is not in this centre"


def _words(one: Laptop, zone: str) -> Iterator[str]:
    local = one.last.astimezone(zone_named(zone))
    yield (
        f"{one.shown}: {plural(one.events, 'event')} here, the last by {one.last_by} on {day_words(local.date())}, "
        f"{local:%H:%M}."
    )
    if one.to_bring:
        yield f"{plural(one.to_bring, 'event')} of it still to bring: another laptop knew them."
    if one.is_this:
        return
    if one.to_get is None:
        yield "It has not said yet what it knows: hand over to it."
    elif one.to_get:
        yield f"{plural(one.to_get, 'event')} here that it did not know when it last said what it knows."
    else:
        yield "It knows all that is here."


def _to_get(ledger: Ledger, chains: list[str], here: Mapping[str, int]) -> int | None:
    own = [one for one in all_of(ledger, Merge) if one.chain in chains]
    if not own:
        return None
    latest: dict[str, int] = {}
    for one in own:
        for chain, seq, _ in one.heads:
            latest[chain] = max(seq, latest.get(chain, 0))
    notes: dict[str, int] = defaultdict(int)  # a note of a merge alone gives nobody anything to fetch
    for one in all_of(ledger, Merge):
        if one.seq > latest.get(one.chain, 0):
            notes[one.chain] += 1
    missing = (max(0, seq - latest.get(chain, 0) - notes[chain]) for chain, seq in here.items() if chain not in chains)
    return sum(missing)


def _sentence(found: Sequence[Laptop], unknown: Sequence[str]) -> str:
    if unknown or any(one.to_bring for one in found):
        return "Something is still to bring from another laptop."
    if len(found) == 1:
        return "Everything here was written on this laptop."
    if waits := [one.shown for one in found if not one.is_this and one.to_get != 0]:
        return f"All that is known of is here. To hand over to: {', '.join(waits)}."
    return f"All {len(found)} laptops know everything, as far as each has said."
