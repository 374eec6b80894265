"""The disk fills up, or fails, at each single write and sync on the way of a save.

Somebody saves a new person, a unit and an attempt. The first write fails, then the second, and so on until nothing is
left that could fail. Each time nobody may be told that it is saved, nothing of it may be there, what was saved before
must be; and with room again the same save goes in once.
"""

from __future__ import annotations

from pathlib import Path

from ledger_examples import a_person, a_unit, an_attempt, new_centre

from course.errors import CourseError
from course.record.events import Draft
from course.storage.ledger import open_ledger
from course.words import Mark
from faults.disk import FAULT_AT_SYNC, FAULT_AT_WRITE, FULL, Act, WatchedDisk
from faults.tally import Run, Tally, device, ids_in, refuse_findings

_KINDS = {"no room": ("write", FULL), "faulty write": ("write", FAULT_AT_WRITE), "faulty sync": ("sync", FAULT_AT_SYNC)}


class _FailingFrom:
    """Fails every act of a kind from one of them on, until it is mended."""

    def __init__(self, kind: str, first: int) -> None:
        self.what, self.code = _KINDS[kind]
        self._left = first
        self.failed = 0

    def __call__(self, act: Act) -> int:
        if act.what != self.what or act.file.endswith("-shm"):
            return 0
        if self._left:
            self._left -= 1
            return 0
        self.failed += 1
        return self.code


def run(wanted: Run) -> Tally:
    """Fail at every write and every sync, once for each way to save; more lists of other sizes in the full run."""
    tally = Tally()
    for sort, kind in enumerate(_KINDS):
        place = wanted.folder(f"disk-{sort}")
        with device(place / "device"):
            new_centre(place / "centre").close()
            for round_ in range(wanted.some(1, 12)):
                _at_each(place / "centre", kind, round_, tally)
                wanted.tell(sort * wanted.some(1, 12) + round_ + 1, len(_KINDS) * wanted.some(1, 12))
            refuse_findings(place / "centre", tally, kind)
    return tally


def _at_each(folder: Path, kind: str, round_: int, tally: Tally) -> None:
    kept: list[str] = []
    for first in range(1000):
        drafts = [a_person("Somebody"), a_unit("x" * 200), *an_attempt(*[Mark.DONE] * (1 + 3 * round_))]
        failing = _FailingFrom(kind, first)
        _one(folder, drafts, failing, tally, f"{kind} at act {first}")
        kept += [draft.id for draft in drafts]
        if not failing.failed:
            break
    tally.refuse_loss(kept, ids_in(folder), kind)


def _one(folder: Path, drafts: list[Draft], failing: _FailingFrom, tally: Tally, where: str) -> None:
    disk = WatchedDisk()
    with disk.in_use(), open_ledger(folder, write=True) as ledger:
        if ledger.damage:
            tally.wrong(f"{where}: {ledger.damage}")
            return
        before = ledger.count_events()
        disk.fails = failing
        try:
            ledger.append(drafts)
            told = None
        except CourseError as error:
            told = error.sentence
        disk.fails = lambda _: 0
        if failing.failed:
            tally.tried += 1
            _judge(told, ledger.count_events() - before, len(drafts), tally, where)
        ledger.append(drafts)
        tally.acknowledged += 1
        if ledger.count_events() != before + len(drafts):
            tally.doubled += 1


def _judge(told: str | None, added: int, of: int, tally: Tally, where: str) -> None:
    if told is None:
        tally.wrong(f"{where}: it was acknowledged")
    elif not told.startswith("NOT saved: "):
        tally.wrong(f"{where}: {told}")
    else:
        tally.named += 1
    if added not in (0, of):
        tally.wrong(f"{where}: {added} events of {of} are there")
