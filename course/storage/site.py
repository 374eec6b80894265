"""Where a centre's ledger is: in ledger.db of its folder, or in the PostgreSQL database that its ledger.url names.

This is the one place that tells the two apart. Keys, head witness, lock and rubric files are in the folder either way.
"""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import Engine

from course.errors import StorageError
from course.storage import database, postgresql, tables
from course.storage.database import Way
from course.storage.patience import patient
from course.storage.postgresql import Server

FILE = "ledger.db"
URL_FILE = "ledger.url"


@dataclass(frozen=True)
class Site:
    """The place of one centre's ledger.

    Attributes:
        folder: the centre's folder.
        server: the database, when it is not ledger.db.
    """

    folder: Path
    server: Server | None = None

    @property
    def centre(self) -> str | None:
        """The centre's id; None where the database says it by itself, since it holds no other."""
        return self.server.centre if self.server else None

    @property
    def there(self) -> bool:
        """Whether there is a ledger, or the folder says where."""
        return (self.folder / (URL_FILE if self.server else FILE)).exists()

    @property
    def name(self) -> str:
        """What to call it in a sentence."""
        return f"{self.folder}'s ledger in the {self.server.where}" if self.server else str(self.folder / FILE)

    @property
    def storage_mode(self) -> str:
        """How what is saved is kept safe, in a sentence."""
        return self.server.storage_mode if self.server else database.storage_mode()

    @property
    def reading_way(self) -> Way:
        """How it can be read while others may be writing.

        Raises:
            StorageError: the newest part cannot be read here.
        """
        return "live" if self.server else database.reading_way(self.folder / FILE)

    def engine(self, way: Way, *, lenient: bool = False) -> Engine:
        """Return an engine on it; see `database.engine_for` and `postgresql.engine_for`."""
        if self.server:
            return postgresql.engine_for(self.server, way, self.folder)
        return database.engine_for(self.folder / FILE, way, lenient=lenient)

    def make_tables(self, connection: sa.Connection) -> None:
        """Make the tables where they are missing."""
        if self.server:
            postgresql.make_tables(connection)
        else:
            tables.metadata.create_all(connection)

    def write_url(self) -> None:
        """Have the folder say where its ledger is; readable by its owner only, since there may be a password in it."""
        if self.server is None:
            return
        descriptor = os.open(self.folder / URL_FILE, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as handle:
            handle.write(f"{self.server.line}\n{self.server.centre}\n")
            handle.flush()
            os.fsync(handle.fileno())
        database.sync_folder(self.folder)

    def take_back(self) -> None:
        """Remove what a ledger that could not be made has left in the folder."""
        for name in (URL_FILE,) if self.server else (FILE, f"{FILE}-wal", f"{FILE}-shm", f"{FILE}-journal"):
            with suppress(FileNotFoundError):
                (self.folder / name).unlink()

    def copy_to(self, file: Path) -> None:
        """Copy the ledger as it is at one moment, also while others write, into one SQLite file without a log."""
        if self.server is None:
            database.copy_database(self.folder / FILE, self.reading_way, file)
            return
        with tempfile.TemporaryDirectory(prefix=".rows-", dir=file.parent) as beside:
            made = Path(beside) / FILE
            source, target = self.engine("live"), database.engine_for(made, "write")
            try:
                with patient(), source.connect() as rows, target.begin() as connection:
                    tables.metadata.create_all(connection)
                    tables.copy_centre(rows, connection, self.server.centre)
            finally:
                source.dispose()
                target.dispose()
            database.copy_database(made, "live", file)


def site_of(folder: Path) -> Site:
    """Return where a folder's ledger is, whether it is there or not.

    Raises:
        StorageError: the folder says two things, or ledger.url cannot be read.
    """
    named = folder / URL_FILE
    if not named.exists():
        return Site(folder)
    if (folder / FILE).exists():
        raise StorageError(
            f"{folder} holds ledger.db and ledger.url: only one of them can be its ledger. Move the other one away."
        )
    try:
        url, centre = named.read_text("utf-8").splitlines()
        return Site(folder, Server(postgresql.read_url(url), centre))
    except (ValueError, OSError):
        pass
    raise StorageError(f"{named} cannot be read. It holds two lines: the database's URL and the centre's id.")
