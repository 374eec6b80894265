"""The power is cut: what a disk may hold then is built from what was written and synced, and the program opens it.

Of what was not synced a disk keeps nothing, the first part, any part, or any blocks of 512 bytes. With the program's
own settings nothing that was acknowledged may be missing. With two settings that give way for speed something must be,
or this would show nothing; and there the head witness must tell the loss.
"""

from __future__ import annotations

import random
import shutil
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any
from unittest import mock

from ledger_examples import a_person, a_unit, new_centre

from course.errors import CourseError
from course.record.events import Draft
from course.storage import database
from course.storage.inspection import verify
from course.storage.ledger import Ledger, open_ledger
from faults.disk import Act, WatchedDisk
from faults.tally import Run, Tally, device

_SECTOR = 512
_HOW = ("nothing", "the first part", "any part", "any blocks")


@dataclass(frozen=True)
class Setting:
    """How the database is told to keep what is saved."""

    name: str
    may_lose: bool
    safe_log: bool = True
    synchronous: str = ""
    pages_of_log: int = 12


SETTINGS = (
    Setting("write-ahead log, synchronous FULL", may_lose=False),
    Setting("rollback journal, synchronous EXTRA", may_lose=False, safe_log=False),
    Setting("control: write-ahead log, NORMAL", may_lose=True, synchronous="NORMAL", pages_of_log=1000),
    Setting("control: write-ahead log, OFF", may_lose=True, synchronous="OFF"),
)


@dataclass
class Kept:
    """One file: what is surely on the disk, and what was written since."""

    sure: bytearray = field(default_factory=bytearray)
    since: list[Act] = field(default_factory=list)


def _apply(content: bytearray, act: Act, part: slice = slice(None)) -> None:
    if act.what == "truncate":
        del content[act.at :]
        return
    data, at = act.data[part], act.at + (part.start or 0)
    content.extend(bytes(max(0, at - len(content))))
    content[at : at + len(data)] = data


def _some(content: bytearray, since: Sequence[Act], how: str, chance: random.Random) -> bytearray:
    """What a file holds after the cut."""
    if how == "the first part":
        since = since[: chance.randint(0, len(since))]
    for act in since if how != "nothing" else ():
        if how == "any blocks" and act.what == "write":
            for start in range(0, len(act.data), _SECTOR):
                if chance.random() < 0.5:
                    _apply(content, act, slice(start, start + _SECTOR))
        elif how == "the first part" or chance.random() < 0.5:
            _apply(content, act)
    return content


def image(base: Path, folder: Path, acts: Sequence[Act], how: str, chance: random.Random) -> dict[str, bytes]:
    """Return the files of a folder as a disk may hold them when the power is cut after these acts."""
    files = {file.name: Kept(bytearray(file.read_bytes())) for file in base.iterdir() if file.is_file()}
    for act in acts:
        name = Path(act.file).name
        if act.what == "told" or Path(act.file).parent != folder:
            continue
        if act.what == "delete":
            if act.at or chance.random() < 0.5:  # else the name may still be there
                files.pop(name, None)
            continue
        one = files.setdefault(name, Kept())
        if act.what == "sync":
            for earlier in one.since:
                _apply(one.sure, earlier)
            one.since = []
        else:
            one.since.append(act)
    return {name: bytes(_some(one.sure, one.since, how, chance)) for name, one in files.items()}


@contextmanager
def set_to(setting: Setting) -> Iterator[None]:
    """Have the program's connections take a setting. A short log is often written into the database."""
    real = database._make_durable

    def made(connection: Any) -> None:
        real(connection)
        if setting.synchronous:
            connection.execute(f"PRAGMA synchronous={setting.synchronous}")
        connection.execute(f"PRAGMA wal_autocheckpoint={setting.pages_of_log}")

    with (
        mock.patch.object(database, "_make_durable", made),
        mock.patch.object(database, "wal_is_safe", return_value=setting.safe_log),
    ):
        yield


def _lists(hand: int) -> list[list[Draft]]:
    return [[a_person(f"Person {hand} {n}"), *(a_unit(f"Unit {hand} {n}") for _ in range(n % 4))] for n in range(12)]


def _saved_by_three(ledger: Ledger, tell: Callable[[str], None], work: Sequence[Sequence[Sequence[Draft]]]) -> None:
    def save(lists: Sequence[Sequence[Draft]]) -> None:
        for one in lists:
            ledger.append(one)
            tell(one[0].id)

    hands = [threading.Thread(target=save, args=(lists,)) for lists in work]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()


def run(wanted: Run) -> Tally:
    """Cut the power so many times under each setting."""
    tally, images = Tally(), wanted.some(20, 400)
    for number, setting in enumerate(SETTINGS):
        place = wanted.folder(f"setting-{number}")
        with device(place / "device"):
            lost = _one_setting(place, setting, images, wanted, tally)
        if setting.may_lose and not lost:
            tally.wrong(f"{setting.name}: nothing was lost, so this harness would see no loss")
        tally.notes.append(f"{setting.name}: {lost} of {images} images lost something that was acknowledged")
    return tally


def _one_setting(place: Path, setting: Setting, images: int, wanted: Run, tally: Tally) -> int:
    folder, base = place / "centre", place / "base"
    new_centre(folder).close()
    shutil.copytree(folder, base)
    shutil.copytree(place / "device", place / "device-kept")
    disk, work = WatchedDisk(), [_lists(hand) for hand in range(3)]
    with disk.in_use(), set_to(setting), open_ledger(folder, write=True) as ledger:
        _saved_by_three(ledger, disk.told, work)
    lists = {one[0].id: one for lists in work for one in lists}
    chance, lost = random.Random(f"{wanted.seed} {setting.name}"), 0  # noqa: S311 - chance, not secrecy
    for number in range(images):
        cut = chance.randint(1, len(disk.acts))
        files = image(base, folder, disk.acts[:cut], _HOW[number % len(_HOW)], chance)
        told = [act.file for act in disk.acts[:cut] if act.what == "told"]
        _put_back(place, files)
        where = f"{setting.name}, after {cut} acts, of the rest {_HOW[number % len(_HOW)]}"
        lost += _look(folder, [lists[id_] for id_ in told], list(lists.values()), tally, partial(str, where), setting)
        tally.tried += 1
        tally.acknowledged += len(told)
        wanted.tell(tally.tried, len(SETTINGS) * images)
    return lost


def _put_back(place: Path, files: dict[str, bytes]) -> None:
    for name in ("centre", "device"):
        shutil.rmtree(place / name)
    shutil.copytree(place / "device-kept", place / "device")
    (place / "centre").mkdir()
    for name, content in files.items():
        (place / "centre" / name).write_bytes(content)


def _look(
    folder: Path,
    told: Sequence[Sequence[Draft]],
    every: Sequence[Sequence[Draft]],
    tally: Tally,
    where: Callable[[], str],
    setting: Setting,
) -> int:
    """Open what is left; return 1 where something acknowledged is missing."""
    try:
        with open_ledger(folder, write=True) as ledger:
            damage = ledger.damage
            there = {one.id for one in ledger.events()}
            nameless = [one for one in told if not _named(ledger, one[0].id)]
    except CourseError as error:
        damage, there, nameless = error.sentence, set(), []
    missing = [draft for one in told for draft in one if draft.id not in there]
    if not setting.may_lose:
        tally.lost += len(missing)
        if any(0 < sum(draft.id in there for draft in one) < len(one) for one in every):
            tally.wrong(f"{where()}: a list is there in part")
        found = damage or next(iter(verify(folder).findings), None)
        if found or missing or nameless:
            tally.wrong(f"{where()}: {len(missing)} events and {len(nameless)} names missing; {found}")
    elif missing and (damage or verify(folder).findings):  # an inner page may be old: the whole check sees that
        tally.named += 1
    elif missing:
        tally.wrong(f"{where()}: {len(missing)} events are missing, and nobody is told")
    return 1 if missing else 0


def _named(ledger: Ledger, event: str) -> bool:
    stored = ledger.event(event)
    return stored is None or bool(ledger.private_of(stored).get("name"))
