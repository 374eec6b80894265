"""The disk fills up while a laptop merges another's bundle and keys: truly, on a small disk, at one size after another.

Where this user may mount one the disk is a small one in memory, else no file may grow beyond a limit. Each time nobody
may be told that it is merged, and nothing of it may be there; with room again the same merge takes in all, once.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from ledger_examples import LEAD, a_person, an_attempt, look, new_centre

from course.errors import CourseError
from course.exchange.merging import hand_over, merge
from course.storage.backup import backup, restore
from course.storage.ledger import open_ledger
from course.words import Mark
from faults.tally import Run, Tally, device, ids_in, refuse_findings

_DISK_BYTES, _STEP_BYTES = 8_000_000, 16_384
_Limit = Callable[[int], object]


def run(wanted: Run) -> Tally:
    """Merge with no room at all, then with a little more each time until it goes through; on each kind of disk."""
    tally, place = Tally(), wanted.folder("merges")
    brought = _two_laptops(place, wanted.some(4, 8))
    for number, disk in enumerate((_small_disk, _no_larger_file)):
        with disk(place / f"disk-{number}") as limit:
            if limit is None:
                tally.notes.append("no disk may be mounted here: the limit on files stands alone")
            else:
                _with_more_and_more_room(place, place / f"disk-{number}", limit, wanted.some(8, 1), brought, tally)
        wanted.tell(number + 1, 2)
    return tally


def _two_laptops(place: Path, people: int) -> set[str]:
    """A centre, and a bundle and keys of a laptop that went on with it; return the ids of what the bundle holds."""
    with device(place / "device"):
        new_centre(place / "centre").close()
        backup(place / "centre", place / "begin.tar")
    with device(place / "other-device"):
        restore(place / "begin.tar", place / "other")
        with open_ledger(place / "other", write=True) as ledger:
            for number in range(people):
                ledger.append([a_person(f"Person {number}"), *(one for _ in range(9) for one in an_attempt(Mark.DONE))])
            hand_over(ledger, place / "other.zip", keys=place / "other.keys")
        return set(ids_in(place / "other"))


def _with_more_and_more_room(
    place: Path, disk: Path, limit: _Limit, step: int, brought: set[str], tally: Tally
) -> None:
    folder = disk / "centre"
    ((stranger,),) = look(place / "other", "SELECT device FROM event ORDER BY pos DESC LIMIT 1")
    shutil.copytree(place / "centre", folder)
    with device(place / "device"):
        open_ledger(folder, write=True).close()  # a copy begins a chain of its own
        before, tries = set(ids_in(folder)), 0
        while told := _merged(place, folder, stranger, limit, tries * step * _STEP_BYTES):
            tries += 1
            tally.tried += 1
            named = told.startswith("NOT saved: ") or "events of the merge are in" in told
            tally.named += named
            missing = brought - set(ids_in(folder))
            if not named or missing not in (set(), brought - before):
                tally.wrong(f"{disk.name}, {tries * step} pieces of room: {told}; {len(missing)} events are missing")
            elif (not missing) != ("events of the merge are in" in told) and not brought <= before:
                tally.wrong(f"{disk.name}, {tries * step} pieces of room: told otherwise than it is: {told}")
            before |= brought - missing
        tally.acknowledged += len(brought)
        tally.refuse_loss(brought, ids_in(folder), disk.name)
        refuse_findings(folder, tally, disk.name)
        if not tries:
            tally.wrong(f"{disk.name}: there was room at once, so this shows nothing")


def _merged(place: Path, folder: Path, stranger: str, limit: _Limit, room: int) -> str:
    """Merge in a process of its own with so many bytes of room; return what was told, nothing where it went through."""
    read, write = os.pipe()
    if (child := os.fork()) == 0:
        try:
            with open_ledger(folder, write=True) as ledger:
                limit(room)
                merge(ledger, LEAD, [place / "other.zip"], keys=place / "other.keys", accept=[stranger])
        except CourseError as error:
            os.write(write, error.sentence.encode())
        except BaseException as error:
            os.write(write, f"{type(error).__name__}: {error}".encode())
        finally:
            os._exit(0)
    os.close(write)
    told = os.read(read, 1 << 16)
    os.close(read)
    os.waitpid(child, 0)
    return told.decode()


@contextmanager
def _small_disk(place: Path) -> Iterator[_Limit | None]:
    """A disk in memory whose room can be changed; none where this user may not mount one."""
    place.mkdir()
    asked = ["mount", "-t", "tmpfs", "-o", f"size={_DISK_BYTES}", "tmpfs", str(place)]
    if shutil.which("mount") is None or subprocess.run(asked, capture_output=True, check=False).returncode:
        yield None
        return

    def leave(room: int) -> None:
        found = os.statvfs(place)
        size = (found.f_blocks - found.f_bfree) * found.f_frsize + room
        subprocess.run(["mount", "-o", f"remount,size={size}", str(place)], check=True)

    try:
        yield leave
    finally:
        subprocess.run(["umount", str(place)], check=True)


@contextmanager
def _no_larger_file(place: Path) -> Iterator[_Limit]:
    """No file grows beyond so many bytes, as with a quota; a write beyond fails in the middle."""
    place.mkdir()
    yield lambda room: resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
