"""Which SQLite is used, and how its files are opened, so that what was acknowledged outlives a power cut.

Source: sqlite.org, "Write-Ahead Logging" and "PRAGMA synchronous"; versions before 3.51.3 (but for the repaired 3.44.6
and 3.50.7) can damage a write-ahead log that two connections use, so they get a rollback journal here.
"""

from __future__ import annotations

import contextlib
import importlib
import os
from pathlib import Path
from typing import Any, Literal

import sqlalchemy as sa
from sqlalchemy.engine import Engine
from sqlalchemy.pool import QueuePool

from course.errors import StorageError


def _newest_sqlite() -> Any:
    """Prefer the library that brings its own current SQLite over the system's."""
    try:
        return importlib.import_module("pysqlite3.dbapi2")
    except ImportError:
        return importlib.import_module("sqlite3")


SQLITE = _newest_sqlite()
Way = Literal["write", "lay_out", "live", "read_only", "immutable"]
"""How a file is opened: to write; to write what is thrown away again; to read beside our own writer; to read another's;
to read what nobody writes."""
_BUSY_MS = 10_000
_FULL, _EXTRA = 2, 3
_LAYING_OUT_KIB = 128 * 1024


def wal_is_safe(version: tuple[int, ...]) -> bool:
    """Whether this version of SQLite may keep a write-ahead log."""
    return version >= (3, 51, 3) or (3, 50, 7) <= version < (3, 51) or (3, 44, 6) <= version < (3, 45)


def storage_mode() -> str:
    """Tell in one sentence how what is saved is kept safe here."""
    version = SQLITE.sqlite_version
    if wal_is_safe(SQLITE.sqlite_version_info):
        return f"SQLite {version} with a write-ahead log; each save is on the disk before it is acknowledged."
    return (
        f"SQLite {version} is too old for a safe write-ahead log, so a rollback journal is kept: saving is slower, "
        "and each save is still on the disk before it is acknowledged. Install pysqlite3 for a current one."
    )


def connect(file: Path, way: Way, *, lenient: bool = False) -> Any:
    """Open one connection and read back that it is as safe as asked.

    Args:
        file: the database.
        way: what it is opened for.
        lenient: give text that is no text any more with its wrong bytes spelt out, instead of failing.

    Raises:
        StorageError: the database would not take the settings that keep a save safe.
    """
    if way in ("write", "lay_out", "live"):
        connection = SQLITE.connect(str(file), isolation_level=None, check_same_thread=False)
    else:
        query = "mode=ro" if way == "read_only" else "immutable=1"
        address = f"{file.resolve().as_uri()}?{query}"
        connection = SQLITE.connect(address, uri=True, isolation_level=None, check_same_thread=False)
    if lenient:
        connection.text_factory = lambda raw: raw.decode(errors="backslashreplace")
    try:
        connection.execute(f"PRAGMA busy_timeout={_BUSY_MS}")
        if way == "write":
            _make_durable(connection)
        elif way == "lay_out":
            _make_quick(connection)
        else:
            connection.execute("PRAGMA query_only=ON")
    except BaseException:
        connection.close()
        raise
    return connection


def _make_durable(connection: Any) -> None:
    if wal_is_safe(SQLITE.sqlite_version_info):
        journal, level, name = "wal", _FULL, "FULL"
    else:
        journal, level, name = "delete", _EXTRA, "EXTRA"
    connection.execute("PRAGMA synchronous=EXTRA")  # also for what a change of the journal itself writes and deletes
    (got,) = connection.execute(f"PRAGMA journal_mode={journal}").fetchone()
    if got != journal:  # a disk that cannot share memory between programs has no write-ahead log
        (got,) = connection.execute("PRAGMA journal_mode=DELETE").fetchone()
        level, name = _EXTRA, "EXTRA"
    connection.execute(f"PRAGMA synchronous={name}")
    (kept,) = connection.execute("PRAGMA synchronous").fetchone()
    if kept != level or got not in ("wal", "delete"):
        raise StorageError("NOT saved: this disk does not let the database make a save safe. Use a local disk.")


def _make_quick(connection: Any) -> None:
    """For one transaction of any size in a new file that is thrown away after a crash.

    A write-ahead log is as long as its transaction, and a page is looked for in all of it: a million events would cost
    more than ten times a hundred thousand.
    """
    for pragma in ("journal_mode=OFF", "synchronous=OFF", f"cache_size=-{_LAYING_OUT_KIB}"):
        connection.execute(f"PRAGMA {pragma}")


def engine_for(file: Path, way: Way, *, lenient: bool = False) -> Engine:
    """Return an engine on one SQLite file. Writers begin at once as writers, so that none waits half-way."""
    engine = sa.create_engine(
        "sqlite://",
        module=SQLITE,
        creator=lambda: connect(file, way, lenient=lenient),
        poolclass=QueuePool,
        pool_size=4,
        max_overflow=60,
    )
    begin = "BEGIN IMMEDIATE" if way == "write" else "BEGIN"

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        driver: Any = connection.connection.driver_connection
        driver.execute(begin)

    return engine


def reading_way(file: Path) -> Way:
    """Return how a file that others may be writing can be read.

    Where the folder can be written, it is opened so that the log is left as tidy as it was. A folder that cannot be
    written (an auditor's disk) has no room for the log's index; without a log there is nothing to miss, and the file is
    read as it stands.

    Raises:
        StorageError: the newest part is in a log that cannot be read here.
    """
    if os.access(file.parent, os.W_OK) and os.access(file, os.W_OK):
        return "live"
    try:
        with contextlib.closing(connect(file, "read_only")) as connection:
            connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except SQLITE.OperationalError:
        log = file.with_name(file.name + "-wal")
        if not os.access(file, os.R_OK):
            raise
        if log.exists() and log.stat().st_size:
            raise StorageError(
                f"The newest part of {file.name} is in {log.name}, which cannot be read in a folder without the "
                "right to write. Copy the whole folder to where you may write and open it there."
            ) from None
        return "immutable"
    return "read_only"


def copy_database(source: Path, way: Way, target: Path) -> None:
    """Copy a database as it is at one moment, also while it is being written, into one file without a log."""
    with contextlib.closing(connect(source, way)) as old, contextlib.closing(SQLITE.connect(str(target))) as new:
        old.backup(new)
        new.execute("PRAGMA journal_mode=DELETE")


def sync_file(descriptor: int) -> None:
    """Have what was written to an open file reach the disk."""
    getattr(os, "fdatasync", os.fsync)(descriptor)


def sync_folder(folder: Path) -> None:
    """Have new and renamed names in a folder reach the disk, where the system can do that."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
