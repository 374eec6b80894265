"""A folder becomes one that may only be read, as on an auditor's disk or one that the system gave up writing to.

Nobody may be told that it is saved, all that was saved must still be read, and with rights again saving goes on. Then
the same while somebody is at it: from one of its writes on, the disk takes none any more.
"""

from __future__ import annotations

import ctypes
import os
from pathlib import Path

from ledger_examples import a_unit, new_centre

from course.errors import CourseError
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from faults.disk import READ_ONLY, Act, WatchedDisk
from faults.tally import Run, Tally, device, ids_in, refuse_findings

_CAPABILITIES_VERSION = 0x20080522
"""Source: capset(2), _LINUX_CAPABILITY_VERSION_3."""


def run(wanted: Run) -> Tally:
    """Take the rights away so many times, each time after another save; and once at each write of a save."""
    tally, place, times = Tally(), wanted.folder("readonly"), wanted.some(4, 60)
    folder, saved = place / "centre", list[str]()
    with device(place / "device"):
        new_centre(folder).close()
        for number in range(times):
            with open_ledger(folder, write=True) as ledger:
                saved += [event.id for event in ledger.append([a_unit(), a_unit()])]
            _looked_at(folder, saved, tally, f"time {number + 1}")
            saved += _stopped_at_write(folder, number % 8, tally)
            wanted.tell(number + 1, times)
        tally.acknowledged = len(saved)
        tally.refuse_loss(saved, ids_in(folder), "in the end")
        refuse_findings(folder, tally, "in the end")
    return tally


def _looked_at(folder: Path, saved: list[str], tally: Tally, where: str) -> None:
    for file in folder.iterdir():
        file.chmod(0o444)
    folder.chmod(0o555)
    told = _without_rights(folder, saved)
    folder.chmod(0o755)
    for file in folder.iterdir():
        file.chmod(0o644)
    tally.tried += 1
    tally.named += told == ""
    if told:
        tally.wrong(f"{where}: {told}")


def _without_rights(folder: Path, saved: list[str]) -> str:
    """Look in a process that may not override a file's rights, as root may; return what was wrong."""
    read, write = os.pipe()
    if (child := os.fork()) == 0:
        try:
            header, none = (ctypes.c_uint32 * 2)(_CAPABILITIES_VERSION, 0), (ctypes.c_uint32 * 6)()
            ctypes.CDLL(None).capset(header, none)
            os.write(write, _what_is_wrong(folder, saved).encode())
        except BaseException as error:
            os.write(write, f"{type(error).__name__}: {error}".encode())
        finally:
            os._exit(0)
    os.close(write)
    told = os.read(read, 1 << 16).decode()
    os.close(read)
    os.waitpid(child, 0)
    return told


def _what_is_wrong(folder: Path, saved: list[str]) -> str:
    try:
        open_ledger(folder, write=True).close()
    except CourseError as error:
        if "cannot be written" not in error.sentence:
            return error.sentence
    else:
        return "it was opened for writing"
    if missing := len(set(saved) - set(ids_in(folder))):
        return f"{missing} events cannot be read"
    return "; ".join(verify(folder).findings)


def _stopped_at_write(folder: Path, first: int, tally: Tally) -> list[str]:
    """Save while the disk takes no write from one on, then with a disk that does; return the ids."""
    disk, left, drafts = WatchedDisk(), [first], [a_unit()]

    def refused(act: Act) -> int:
        left[0] -= act.what == "write" and not act.file.endswith("-shm")
        return READ_ONLY if left[0] < 0 and act.what == "write" and not act.file.endswith("-shm") else 0

    with disk.in_use(), open_ledger(folder, write=True) as ledger:
        disk.fails = refused
        told = ""
        try:
            ledger.append(drafts)
        except CourseError as error:
            told = error.sentence
        disk.fails = lambda _: 0
        if left[0] < 0:
            tally.tried += 1
            tally.named += told.startswith("NOT saved: ")
            if not told.startswith("NOT saved: "):
                tally.wrong(f"no write from the {first + 1}th on: {told or 'it was acknowledged'}")
        ledger.append(drafts)
    return [draft.id for draft in drafts]
