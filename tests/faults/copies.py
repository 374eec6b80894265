"""A folder is copied and used on two machines, with and without the device's own notes; later the two come together.

Without the notes the copy begins a chain of its own; with them (a disk that was cloned) nothing can tell it from the
first, and the chain forks. Either way both hold all of both after a merge, and a fork is told.
"""

from __future__ import annotations

import random
import shutil
from pathlib import Path

from ledger_examples import LEAD, a_person, a_unit, copy_of, look, new_centre

from course.exchange.merging import hand_over, merge
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from faults.tally import Run, Tally, device, ids_in


def run(wanted: Run) -> Tally:
    """Copy, use both, bring both together, so many times of each kind."""
    tally, times = Tally(), wanted.some(2, 40)
    chance = random.Random(wanted.seed)  # noqa: S311 - chance, not secrecy
    for number in range(2 * times):
        _once(wanted.folder(f"pair-{number}"), chance, tally, cloned=number % 2 == 1)
        wanted.tell(number + 1, 2 * times)
    return tally


def _once(place: Path, chance: random.Random, tally: Tally, *, cloned: bool) -> None:
    one, two = place / "one", place / "two"
    with device(one / "device"), new_centre(one / "centre") as ledger:
        saved = [event.id for event in ledger.append([a_unit("Unit 1")])]
    copy_of(one, two)
    if cloned:
        notes = two / "device" / "device.json"
        notes.write_text(notes.read_text().replace(str(one), str(two)))
    else:
        shutil.rmtree(two / "device")
    for _ in range(chance.randint(1, 4)):
        for home in (one, two):
            saved += _saved(home, chance.randint(1, 5))
    bundles = [_bundle(home, place) for home in (one, two)]
    for home, other in ((one, bundles[1]), (two, bundles[0])):
        strange = {*_devices(one), *_devices(two)} - {*_devices(home)}
        with device(home / "device"), open_ledger(home / "centre", write=True) as ledger:
            merge(ledger, LEAD, [other], accept=sorted(strange))
        _judge(home, saved, tally, cloned=cloned)
    tally.tried += 1
    tally.acknowledged += len(saved)


def _devices(home: Path) -> list[str]:
    return [str(row[0]) for row in look(home / "centre", "SELECT DISTINCT device FROM event")]


def _saved(home: Path, count: int) -> list[str]:
    with device(home / "device"), open_ledger(home / "centre", write=True) as ledger:
        return [event.id for event in ledger.append([a_person("Somebody"), *(a_unit() for _ in range(count))])]


def _bundle(home: Path, place: Path) -> Path:
    with device(home / "device"), open_ledger(home / "centre") as ledger:
        hand_over(ledger, place / f"{home.name}.zip")
    return place / f"{home.name}.zip"


def _judge(home: Path, saved: list[str], tally: Tally, *, cloned: bool) -> None:
    where = f"{home}, {'cloned' if cloned else 'copied'}"
    tally.refuse_loss(saved, ids_in(home / "centre"), where)
    forks = [finding for finding in verify(home / "centre").findings if "forks at event" in finding]
    others = [finding for finding in verify(home / "centre").findings if "forks at event" not in finding]
    tally.named += len(forks)
    if bool(forks) != cloned or others:
        tally.wrong(f"{where}: {forks or 'no fork told'}; {others}")
