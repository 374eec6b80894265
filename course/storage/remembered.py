"""What this device remembers of backups, drills, full checks and crashes, so that it can tell how old they are.

Kept in the user's own state folder beside the device's id: a file's place and a time, no name and no content.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from filelock import FileLock
from pydantic import BaseModel, ConfigDict, ValidationError

from course.errors import StorageError
from course.moments import now, stored
from course.storage.device import state_folder
from course.storage.faults import reason

_FILE = "remembered.json"
_MOST = 100
"""Backups of one centre; the oldest are forgotten first."""


class Check(BaseModel):
    """A full check of a folder's ledger: when, how many events, and how many things were wrong."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    at: str
    events: int
    findings: int
    for_people: int = 0
    """What it told that damages nothing."""


class Ended(BaseModel):
    """An opening after which the ledger was looked at because it had not been closed."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    at: str
    checked: int
    whole: bool


class BackupFile(BaseModel):
    """A backup that was made on this device."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    at: str
    file: str

    @property
    def there(self) -> bool:
        """Whether the file is still where it was made."""
        return Path(self.file).exists()


class Remembered(BaseModel):
    """Checks by folder, backups by centre, the oldest first."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    checks: dict[str, Check] = {}
    backups: dict[str, tuple[BackupFile, ...]] = {}
    drills: dict[str, BackupFile] = {}
    """By centre: which backup was last put back to try it, and when."""
    endings: dict[str, Ended] = {}
    """By folder: the last time that the ledger had not been closed."""


def recalled() -> Remembered:
    """Return what is remembered; nothing where the notes are not there or cannot be read."""
    try:
        return Remembered.model_validate_json((state_folder() / _FILE).read_bytes())
    except (OSError, ValidationError):
        return Remembered()


def remember_check(folder: Path, events: int, findings: int, for_people: int = 0) -> None:
    """Remember that a folder's ledger was checked just now.

    Raises:
        StorageError: the notes cannot be kept.
    """
    check = Check(at=stored(now()), events=events, findings=findings, for_people=for_people)
    _change(lambda known: known.model_copy(update={"checks": known.checks | {str(folder.resolve()): check}}))


def remember_ending(folder: Path, checked: int, *, whole: bool) -> None:
    """Remember that a folder's ledger had not been closed, and what was found just now.

    Raises:
        StorageError: the notes cannot be kept.
    """
    ended = Ended(at=stored(now()), checked=checked, whole=whole)
    _change(lambda known: known.model_copy(update={"endings": known.endings | {str(folder.resolve()): ended}}))


def remember_backup(centre: str, file: Path) -> None:
    """Remember that a centre was copied into a file just now.

    Raises:
        StorageError: the notes cannot be kept.
    """
    made = BackupFile(at=stored(now()), file=str(file.resolve()))

    def with_it(known: Remembered) -> Remembered:
        earlier = [one for one in known.backups.get(centre, ()) if one.file != made.file]
        return known.model_copy(update={"backups": known.backups | {centre: (*earlier, made)[-_MOST:]}})

    _change(with_it)


def remember_drill(centre: str, file: Path) -> None:
    """Remember that a backup of a centre was put back just now to try it.

    Raises:
        StorageError: the notes cannot be kept.
    """
    tried = BackupFile(at=stored(now()), file=str(file.resolve()))
    _change(lambda known: known.model_copy(update={"drills": known.drills | {centre: tried}}))


def _change(to: Callable[[Remembered], Remembered]) -> None:
    folder = state_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with FileLock(folder / "remembered.lock", timeout=10):
            beside = folder / f"{_FILE}.new"
            descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(descriptor, "wb") as handle:
                handle.write(to(recalled()).model_dump_json(indent=1).encode())
            beside.replace(folder / _FILE)
    except OSError as error:
        raise StorageError(f"This device's notes in {folder} cannot be kept: {reason(error)}.") from error
