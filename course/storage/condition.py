"""What can be read off a centre's folder about how it is kept: for the health of the whole, and without changing it."""

from __future__ import annotations

import os
import platform
import shutil
import stat
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from course.errors import CourseError
from course.storage.centre_key import key_files
from course.storage.database import SQLITE, connect, reading_way, wal_is_safe
from course.storage.faults import FAULTS
from course.storage.ledger import Ledger
from course.storage.site import FILE, URL_FILE, site_of
from course.storage.vault import FILE as VAULT
from course.storage.witness import read_witness


@dataclass(frozen=True)
class Condition:
    """How a centre's folder is kept."""

    journal: str
    """The journal that ledger.db keeps, such as "wal"; empty where a server keeps the ledger, "?" where unreadable."""
    wal_is_safe: bool
    sqlite: str
    python: str
    witness_there: bool
    witness_faulty: int
    """Lines that cannot be read."""
    witness_behind: int
    """Events of the own chain after the last one that the witness saw."""
    open_to_others: tuple[str, ...]
    """Files with keys or passwords that others on this machine can read."""
    vault_there: bool
    free_bytes: int
    ledger_bytes: int


def condition(ledger: Ledger) -> Condition:
    """Return how a ledger's folder is kept."""
    folder = ledger.folder
    lines, head = read_witness(folder), ledger.head()
    seen = lines.last.get(head.chain)
    return Condition(
        journal="" if site_of(folder).server else _journal(folder / FILE),
        wal_is_safe=wal_is_safe(SQLITE.sqlite_version_info),
        sqlite=str(SQLITE.sqlite_version),
        python=platform.python_version(),
        witness_there=lines.there,
        witness_faulty=len(lines.faulty),
        witness_behind=max(0, head.seq - (seen.seq if seen else 0)),
        open_to_others=(
            *(name for name in (VAULT, URL_FILE) if _others_read(folder / name)),
            *(file.name for file in key_files(folder) if _others_read(file)),
            *(str(file) for file in key_files(ledger.key_folder) if _others_read(file)),
        ),
        vault_there=(folder / VAULT).exists(),
        free_bytes=shutil.disk_usage(folder).free,
        ledger_bytes=sum(file.stat().st_size for file in folder.glob(f"{FILE}*") if file.is_file()),
    )


def _journal(file: Path) -> str:
    try:
        with closing(connect(file, reading_way(file))) as connection:
            (name,) = connection.execute("PRAGMA journal_mode").fetchone()
            return str(name)
    except (*FAULTS, CourseError):
        return "?"


def _others_read(file: Path) -> bool:
    """Whether others than the owner can read a file; Windows keeps that elsewhere."""
    if os.name == "nt" or not file.exists():
        return False
    return bool(stat.S_IMODE(file.stat().st_mode) & 0o077)
