"""Whether a ledger was closed when it was last open to write, and what was looked at because it was not.

A mark stands in the centre's folder as long as a program has it open to write. One that is found at opening, with the
folder's lock free, was left by a program that was killed, or by a machine that went down.
"""

from __future__ import annotations

import json
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from course.moments import now, read_stored, stored
from course.storage.database import sync_folder
from course.storage.site import FILE as DATABASE
from course.storage.site import Site
from course.words import plural

FILE = "ledger.open"
_MOST_BYTES = 1000


@dataclass(frozen=True)
class LeftOpen:
    """A mark that was found: since when it was open (UTC), empty where that cannot be read; bytes in the log then."""

    since: str
    log_bytes: int


@dataclass(frozen=True)
class Ending:
    """What was looked at because the ledger had not been closed."""

    since: str
    log_bytes: int
    checked: int
    """The newest events, against their chain."""
    beyond: int
    """Events that were saved and that nobody was told of yet."""
    on_server: bool
    whole: bool
    after_loss: bool = False
    """Somebody goes on with what a loss left."""

    @property
    def words(self) -> str:
        """One calm sentence or two."""
        when = f", since {self.since[:10]} {self.since[11:16]} UTC," if self.since else ""
        looked = [f"the newest {plural(self.checked, 'event')} against their chain", "its end against the witness"]
        looked += [] if self.on_server else ["the build of the database file"]
        found = "Everything that was acknowledged is there."
        if not self.whole:
            found = "Something does not fit, and nothing is added until somebody has looked: see Health."
        elif self.after_loss:
            found = "What the loss left was looked at so; what is missing is still missing."
        return (
            f"When this ledger was last open{when} the program did not get to close it, as after a crash or a power "
            f"cut. Checked just now: {', '.join(looked)}. {found}{self._beyond()}{self._log()}"
        )

    def _beyond(self) -> str:
        if not self.beyond or not self.whole:
            return ""
        return f" {plural(self.beyond, 'event')} more had reached the disk before anybody was told: kept."

    def _log(self) -> str:
        return f" {self.log_bytes // 1000} kB waited in its log and were taken in." if self.log_bytes >= 1000 else ""


def left_open(site: Site) -> LeftOpen | None:
    """Return the mark that a program left which had the ledger open; asked before the database is opened."""
    file = site.folder / FILE
    if not file.exists():
        return None
    log = site.folder / f"{DATABASE}-wal"
    return LeftOpen(_since(file), log.stat().st_size if log.exists() and not site.server else 0)


def _since(file: Path) -> str:
    try:
        with file.open("rb") as handle:
            since = json.loads(handle.read(_MOST_BYTES))["since"]
        read_stored(since)
    except (OSError, ValueError, TypeError, KeyError):
        return ""
    return str(since)


def mark_open(folder: Path) -> None:
    """Mark that a program has the ledger open to write.

    On a disk that is full it goes without: a crash is not told then, and what is lost or damaged is found as ever.
    """
    with suppress(OSError):
        with (folder / FILE).open("w", encoding="utf-8") as handle:
            json.dump({"since": stored(now())}, handle)
            handle.flush()
            os.fsync(handle.fileno())
        sync_folder(folder)


def mark_closed(folder: Path) -> None:
    """Take the mark away. Where that fails, the next opening checks once more than it had to."""
    with suppress(OSError):
        (folder / FILE).unlink(missing_ok=True)


def fault_in_file(connection: sa.Connection) -> str | None:
    """Have SQLite look at the build of its own file; a sentence when something is wrong."""
    if connection.dialect.name != "sqlite":
        return None
    said = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
    if said == "ok":
        return None
    return (
        f"The database finds a fault in itself: {said}. Check the ledger, and restore the newest backup into an empty "
        "folder. Nothing can be added until then; reading works."
    )
