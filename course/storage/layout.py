"""How the tables of an older layout are moved to today's: in one transaction, or not at all.

A layout is a revision of alembic in `layouts/`; the database names its own, see `tables.layout_of`. No event is
changed by it: what is hashed does not depend on tables. In a file this happens when it is next opened to write, after
a copy was put beside it; on a server its owner does it, since whoever saves there may not change tables.
"""

from __future__ import annotations

import os
from contextlib import ExitStack, closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import URL, Engine

from course.errors import DamageError, RefusedError, StorageError
from course.storage import postgresql, tables
from course.storage.database import connect, copy_database, sync_folder
from course.storage.faults import FAULTS, not_saved, unreadable
from course.storage.lock import locked
from course.storage.opening import identify, no_ledger
from course.storage.patience import patient
from course.storage.postgresql import Server
from course.storage.site import FILE, Site, site_of
from course.storage.tables import FIRST_LAYOUT, NEWEST_LAYOUT, event

_PLACE = Path(__file__).parent / "layouts"


@dataclass(frozen=True)
class Step:
    """A layout that is still to come, and what comes with it."""

    layout: str
    words: str


@dataclass(frozen=True)
class Standing:
    """Which layout a centre's tables have, and the steps to today's."""

    layout: str
    on_server: bool
    steps: tuple[Step, ...]


def standing(folder: Path) -> Standing:
    """Tell which layout a centre's tables have; nothing is changed.

    Raises:
        NotFoundError: there is no ledger.
        StorageError: it cannot be read, or a newer version made it.
    """
    site = site_of(Path(folder).resolve())
    if not site.there:
        raise no_ledger(site)
    try:
        with ExitStack() as held:
            engine = site.engine(site.reading_way)
            held.callback(engine.dispose)
            with engine.connect() as connection:
                layout = identify(connection, site, any_layout=True).layout
    except FAULTS as error:
        raise unreadable(error, f"{site.name} cannot be read") from error
    return Standing(layout, site.server is not None, _steps_after(layout))


def move(folder: Path, *, owner: URL | None = None) -> str | None:
    """Move a centre's tables to today's layout; return what was done, None where they have it.

    Args:
        folder: the centre's folder.
        owner: on a server, the URL of a login that owns the tables, where the folder's own does not.

    Raises:
        BusyError: a program has it (on a server: any centre of the database) open for writing.
        RefusedError: an owner was named, and the ledger is a file.
        StorageError: NOT saved; all is as it was.
    """
    site = site_of(Path(folder).resolve())
    if not site.there:
        raise no_ledger(site)
    if owner is not None and site.server is None:
        raise RefusedError("This ledger is a file: no database is to be named for it. Nothing was changed.")
    acting = Site(site.folder, Server(owner, site.server.centre)) if owner and site.server else site
    try:
        with locked(site.folder), patient(), ExitStack() as held:
            engine = acting.engine("write")
            held.callback(engine.dispose)
            return _move_on_server(engine, acting) if site.server else bring_up_to_date(engine, site)
    except FAULTS as error:
        raise not_saved(error) from error


def bring_up_to_date(engine: Engine, site: Site, *, copy: bool = True) -> str | None:
    """Move a file's tables to today's layout, whoever holds the folder for writing; return what was done.

    Args:
        engine: on the file, to write.
        site: where it is.
        copy: keep the file as it was beside it.

    Raises:
        DamageError: the move would have lost events; it was taken back.
    """
    with engine.begin() as connection:
        before = identify(connection, site).layout
    if before == NEWEST_LAYOUT or site.server:
        return None
    kept = _keep(site.folder, before) if copy else None
    with engine.begin() as connection:
        move_tables(connection)
    beside = f" The file as it was is kept as {kept.name}; after the next backup it can go." if kept else ""
    return f"The ledger's tables were moved from layout {before} to {NEWEST_LAYOUT}.{beside}"


def _move_on_server(engine: Engine, site: Site) -> str | None:
    with engine.begin() as connection:
        before = identify(connection, site, any_layout=True).layout
        if before == NEWEST_LAYOUT:
            return None
        postgresql.hold_tables(connection, site.folder)
        move_tables(connection)
    return f"The tables of this database were moved from layout {before} to {NEWEST_LAYOUT}, for every centre in it."


def move_tables(connection: sa.Connection) -> None:
    """Take every step that is missing, within the connection's transaction.

    Raises:
        DamageError: afterwards there are other events than before.
    """
    from alembic import command  # noqa: PLC0415 - takes a moment to load, and is hardly ever needed

    asked = sa.select(sa.func.count(), sa.func.max(event.c.pos), sa.func.max(event.c.lamport))
    before = connection.execute(asked).one()
    settings = _settings()
    settings.attributes["connection"] = connection
    if not sa.inspect(connection).has_table(tables.layout.name):
        command.stamp(settings, FIRST_LAYOUT)
    command.upgrade(settings, NEWEST_LAYOUT)
    if connection.execute(asked).one() != before:
        raise DamageError("NOT saved: moving the tables would have lost events. All is as it was. Please report it.")


def _settings() -> Any:
    from alembic.config import Config  # noqa: PLC0415 - as above

    settings = Config()
    settings.set_main_option("script_location", str(_PLACE).replace("%", "%%"))
    settings.set_main_option("path_separator", "os")
    return settings


def _steps_after(layout: str) -> tuple[Step, ...]:
    if layout == NEWEST_LAYOUT:
        return ()
    from alembic.script import ScriptDirectory  # noqa: PLC0415 - as above

    found = ScriptDirectory.from_config(_settings()).iterate_revisions(NEWEST_LAYOUT, layout)
    return tuple(Step(one.revision, one.doc) for one in found)[::-1]


def _keep(folder: Path, layout: str) -> Path:
    """Put a copy of ledger.db beside it, checked and on the disk before it gets its name."""
    kept = folder / f"ledger-{layout}.db"
    beside = kept.with_suffix(".new")
    beside.unlink(missing_ok=True)
    try:
        copy_database(folder / FILE, "live", beside)
        _refuse_torn(beside)
        with beside.open("rb+") as handle:
            os.fsync(handle.fileno())
        beside.replace(kept)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    sync_folder(folder)
    return kept


def _refuse_torn(copy: Path) -> None:
    with closing(connect(copy, "live")) as connection:
        (said,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
    if said != "ok":
        raise StorageError(f"NOT saved: the copy of {FILE} is not whole ({said}). Check the disk.")
