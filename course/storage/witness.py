"""The head witness: a text file beside the database that says how far the ledger had come.

A chain cannot see its own tail being lost. After each save and before it is acknowledged, one line `chain seq hash` is
written here and reaches the disk. At opening, the database must hold every line.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from course.storage.database import sync_file, sync_folder
from course.words import plural

FILE = "ledger.head"
_LINE = re.compile(rb"^([0-9a-z-]{1,64}) ([1-9][0-9]{0,15}) ([0-9a-f]{64})$")
_SHORTEN_AT_BYTES = 4_000_000
_KEPT_LINES = 1000
_WAY_BACK = {
    "sqlite": "If ledger.db-wal was left behind somewhere, put it back beside ledger.db",
    "postgresql": "If the database was put back from an older copy or a standby took over, have the newest one back",
}


class Seen(NamedTuple):
    """An event that was saved: chain, place in it, hash."""

    chain: str
    seq: int
    hash: str

    def __str__(self) -> str:
        return f"{self.chain} {self.seq} {self.hash}"


@dataclass(frozen=True)
class Lines:
    """What a witness file holds. A line cut off at the end is no fault: its save was never acknowledged."""

    seen: tuple[Seen, ...]
    faulty: tuple[int, ...]
    """Numbers of lines, from 1, that are none."""
    there: bool = True

    @property
    def last(self) -> dict[str, Seen]:
        """The furthest line of each chain."""
        return {line.chain: line for line in sorted(self.seen, key=lambda line: line.seq)}


def read_witness(folder: Path) -> Lines:
    """Read a centre's witness file; without one, nothing is known."""
    try:
        raw = (folder / FILE).read_bytes()
    except FileNotFoundError:
        return Lines((), (), there=False)
    whole = raw[: raw.rfind(b"\n") + 1].split(b"\n")[:-1]
    matches = [_LINE.match(line) for line in whole]
    seen = tuple(Seen(m[1].decode(), int(m[2]), m[3].decode()) for m in matches if m)
    return Lines(seen, tuple(number for number, match in enumerate(matches, 1) if not match))


def loss(seen: Seen, head_seq: int, hash_at: Callable[[int], str | None], kind: str = "sqlite") -> str | None:
    """Compare what a witness saw of one chain with the ledger; a sentence when they do not fit.

    Args:
        seen: the line.
        head_seq: how far the ledger's chain goes.
        hash_at: the hash of the chain's event at a place, None when there is none.
        kind: the kind of database, for the way back.
    """
    if seen.seq > head_seq:
        return (
            f"{_missing(seen, head_seq)}: the ledger ends at {head_seq}, and {seen.seq} had been saved. "
            f"{_WAY_BACK[kind]}; else restore the newest backup into an empty folder. Nothing can be added until then; "
            "reading works."
        )
    if hash_at(seen.seq) != seen.hash:
        return (
            f"Chain {seen.chain} has another event {seen.seq} than the one that had been saved there: the ledger is "
            "not the one that its witness saw (an older copy that was continued, or a change). Compare it with a "
            "backup and with printed papers. Nothing can be added until then; reading works."
        )
    return None


def gone_on_without(seen: Seen, head_seq: int) -> str:
    """Tell what is missing of a chain that was lost and gone on after, on another one."""
    return (
        f"{_missing(seen, head_seq)}: the ledger ends at {head_seq} there, and somebody went on without them. A bundle "
        "of a ledger that has them brings them back by a merge."
    )


def _missing(seen: Seen, head_seq: int) -> str:
    missing = seen.seq - head_seq
    verb = "is" if missing == 1 else "are"
    return f"{plural(missing, 'event')} that had been saved {verb} missing at the end of chain {seen.chain}"


class Witness:
    """Appends to one witness file, which it keeps open. Used by one thread at a time; close it."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / FILE
        self._latest: Seen | None = None
        self._descriptor: int | None = None
        self._left: tuple[int, ...] = ()

    def write(self, seen: Seen) -> None:
        """Write that an event was saved, and return when the line is on the disk.

        Raises:
            OSError: it could not be written; the next call tries again.
        """
        if seen == self._latest:
            return
        try:
            descriptor = self._at_its_end()
            _write_all(descriptor, f"{seen}\n".encode())
            sync_file(descriptor)
            self._left = _which_and_how_long(os.fstat(descriptor))
        except BaseException:
            self.close()
            raise
        self._latest = seen

    def close(self) -> None:
        """Let the file go; it is opened again when there is something to write."""
        if self._descriptor is not None:
            descriptor, self._descriptor = self._descriptor, None
            os.close(descriptor)

    def _at_its_end(self) -> int:
        """The file, open at the end of its last whole line; opened anew where it is not as it was left."""
        if self._descriptor is not None and self._is_as_it_was_left():
            return self._descriptor
        self.close()
        new = not self._file.exists()
        self._descriptor = os.open(self._file, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
        _cut_torn_line(self._descriptor)
        if new:
            sync_folder(self._file.parent)
        return self._descriptor

    def _is_as_it_was_left(self) -> bool:
        try:
            return _which_and_how_long(self._file.stat()) == self._left
        except FileNotFoundError:
            return False

    def shorten(self) -> None:
        """Keep the newest lines of a file that has grown long, and the last of each chain."""
        if not self._file.exists() or self._file.stat().st_size < _SHORTEN_AT_BYTES:
            return
        lines = read_witness(self._file.parent)
        if lines.faulty:
            return  # evidence of damage stays as it is
        newest = lines.seen[-_KEPT_LINES:]
        write_witness(self._file, [*(line for line in lines.last.values() if line not in newest), *newest])


def write_witness(file: Path, seen: Iterable[Seen]) -> None:
    """Write a whole witness file under another name and put it in place."""
    beside = file.with_name(file.name + ".new")
    descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        _write_all(descriptor, "".join(f"{line}\n" for line in seen).encode())
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
    beside.replace(file)
    sync_folder(file.parent)


def _which_and_how_long(found: os.stat_result) -> tuple[int, ...]:
    return (found.st_dev, found.st_ino, found.st_size)


def _cut_torn_line(descriptor: int) -> None:
    size = os.lseek(descriptor, 0, os.SEEK_END)
    start = max(0, size - 256)
    os.lseek(descriptor, start, os.SEEK_SET)
    tail = os.read(descriptor, 256)
    if tail and not tail.endswith(b"\n"):
        os.ftruncate(descriptor, start + tail.rfind(b"\n") + 1)


def _write_all(descriptor: int, data: bytes) -> None:
    while data:
        data = data[os.write(descriptor, data) :]
