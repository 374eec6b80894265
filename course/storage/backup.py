"""A copy of a whole centre in one file, and the way back.

The file is a plain tar (POSIX.1-2001, uncompressed) with ledger.db, vault.db, ledger.head and the folder's own rubrics.
A ledger that is kept in PostgreSQL is copied row for row into that ledger.db. The file holds private data together with
their keys: whoever has it can read them.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import URL

from course.errors import CourseError, DamageError, NotFoundError, RefusedError
from course.storage import tables
from course.storage.database import copy_database, reading_way, sync_folder
from course.storage.erasing import drop_erased_keys
from course.storage.faults import FAULTS, not_saved
from course.storage.inspection import Report, verify
from course.storage.layout import bring_up_to_date
from course.storage.ledger import open_ledger
from course.storage.mending import mark_put_back
from course.storage.patience import patient
from course.storage.postgresql import Server, engine_for, read_url
from course.storage.remembered import remember_backup
from course.storage.site import FILE, Site, site_of
from course.storage.vault import FILE as VAULT
from course.storage.witness import FILE as WITNESS
from course.storage.witness import read_witness, write_witness

_GIB = 1 << 30
_MOST_BYTES = {FILE: 64 * _GIB, VAULT: _GIB, WITNESS: _GIB}
_RUBRIC = re.compile(r"^rubrics/[A-Za-z0-9_][A-Za-z0-9_.-]{0,99}\.(yaml|yml|json)$")
_RUBRIC_BYTES = 1_000_000
_MOST_MEMBERS = 500
_NEEDED = (FILE, WITNESS)


def backup(folder: Path, file: Path, *, even_damaged: bool = False) -> Report:
    """Copy a centre into one file, also while a program has it open; the copy is checked before it gets its name.

    Args:
        folder: the centre's folder.
        file: the file to make, such as `2026-10-22.tar`; readable by its owner only.
        even_damaged: keep the copy also when the check finds damage.

    Raises:
        RefusedError: there is a file of that name.
        NotFoundError: there is no ledger.
        DamageError: the check found damage; no file was made.
        StorageError: the file could not be written; no file was made.
    """
    folder, file = Path(folder).resolve(), Path(file).absolute()
    if file.exists():
        raise RefusedError(f"{file} is there already. Name another file; nothing was changed.")
    if not site_of(folder).there:
        raise NotFoundError(f"There is no ledger in {folder}. Name the folder of a centre.")
    with _saving(), tempfile.TemporaryDirectory(prefix=".backup-", dir=file.parent) as beside:
        stage = Path(beside) / "centre"
        stage.mkdir()
        _gather(folder, stage)
        report = verify(stage)
        _refuse_damage(report, "No backup was made", unless=even_damaged)
        if not report.damage:
            drop_erased_keys(stage)  # an older vault may have been put into the folder meanwhile
        made = Path(beside) / file.name
        _pack(stage, made)
        made.rename(file)
        sync_folder(file.parent)
        with suppress(CourseError), open_ledger(stage) as ledger:  # the backup stands, whether it is remembered or not
            remember_backup(ledger.centre_id, file)
    return report


def restore(file: Path, folder: Path, *, database: str | None = None) -> Report:
    """Put a backup back into a folder that is empty or not there yet; checked before it is visible.

    At the next opening for writing the ledger begins a new chain that names the last event of the backup.

    Args:
        file: the backup.
        folder: where to put it.
        database: the URL of a PostgreSQL database that is to hold the ledger, instead of ledger.db in the folder.

    Raises:
        RefusedError: the folder holds something, the file is no backup, or the database holds this centre already.
        NotFoundError: there is no such file.
        DamageError: the backup is damaged; the folder is as it was.
        StorageError: the disk would not take it; the folder is as it was.
    """
    file, folder = Path(file).absolute(), Path(folder).absolute()
    if not file.exists():
        raise NotFoundError(f"There is no file {file}. Name a backup.")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise RefusedError(f"{folder} is not empty. Restore into an empty folder; nothing was changed.")
    url = None if database is None else read_url(database)
    with _saving():
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".restore-", dir=folder.parent) as beside:
            stage = Path(beside) / "centre"
            stage.mkdir()
            _unpack(file, stage)
            report = verify(stage)
            _refuse_damage(report, "Nothing was restored")
            drop_erased_keys(stage)
            _bring_up_to_date(stage)
            mark_put_back(stage)
            with _moved_to(url, stage, folder) if url else nullcontext():
                _sync_all(stage)
                if folder.exists():
                    folder.rmdir()
                stage.rename(folder)
                sync_folder(folder.parent)
    return report


def _bring_up_to_date(stage: Path) -> None:
    site = Site(stage)
    engine = site.engine("write")
    try:
        bring_up_to_date(engine, site, copy=False)  # the backup itself is the copy
    finally:
        engine.dispose()


@contextmanager
def _moved_to(url: URL, stage: Path, folder: Path) -> Iterator[None]:
    """Move a staged ledger's rows into a database; committed last, since no event can be taken out again."""
    with open_ledger(stage) as ledger:
        server = Server(url, ledger.centre_id)
    site = Site(stage, server)
    target = engine_for(server, "write", folder)
    try:
        with target.begin() as connection:
            site.make_tables(connection)
            _fill(connection, server, stage)
            (stage / FILE).unlink()
            site.write_url()
            yield
    except BaseException:
        if not stage.exists():
            folder.rename(stage)  # it is in place already, and the commit failed
        raise
    finally:
        target.dispose()


def _fill(connection: sa.Connection, server: Server, stage: Path) -> None:
    if tables.centre_in(connection, server.centre):
        raise RefusedError(f"The {server.where} holds this centre already. Name another; nothing was changed.")
    source = Site(stage).engine("live")
    try:
        with source.connect() as rows:
            tables.copy_centre(rows, connection, server.centre)
    finally:
        source.dispose()


@contextmanager
def _saving() -> Iterator[None]:
    try:
        with patient():
            yield
    except (*FAULTS, tarfile.TarError) as error:
        raise not_saved(error) from error


def _gather(folder: Path, stage: Path) -> None:
    """Copy the parts in the order that keeps them in step: witness, then ledger, then the keys of what it holds."""
    lines = read_witness(folder)
    site_of(folder).copy_to(stage / FILE)
    if lines.faulty:
        shutil.copyfile(folder / WITNESS, stage / WITNESS)  # evidence of damage stays as it is
    else:
        write_witness(stage / WITNESS, lines.seen)
    if (folder / VAULT).exists():
        copy_database(folder / VAULT, reading_way(folder / VAULT), stage / VAULT)
    for rubric in sorted((folder / "rubrics").glob("*")):
        if _RUBRIC.match(f"rubrics/{rubric.name}") and rubric.is_file():
            (stage / "rubrics").mkdir(exist_ok=True)
            shutil.copyfile(rubric, stage / "rubrics" / rubric.name)


def _pack(stage: Path, made: Path) -> None:
    """Write the members into one file, have it reach the disk, and read it back against what went in."""
    members = sorted(path for path in stage.rglob("*") if path.is_file())
    sums = {path.relative_to(stage).as_posix(): _sum_of(path) for path in members}
    descriptor = os.open(made, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w+b") as handle:
        with tarfile.open(fileobj=handle, mode="w", format=tarfile.PAX_FORMAT) as tar:
            for path in members:
                tar.add(path, arcname=path.relative_to(stage).as_posix(), recursive=False, filter=_plain)
        handle.flush()
        os.fsync(handle.fileno())
        handle.seek(0)
        with tarfile.open(fileobj=handle, mode="r:") as tar:
            read = {member.name: _sum_in(tar, member) for member in tar}
    if read != sums:
        raise DamageError(
            "The backup read back from the disk is not what was written. No backup was made; check the disk."
        )


def _plain(member: tarfile.TarInfo) -> tarfile.TarInfo:
    member.uid = member.gid = 0
    member.uname = member.gname = ""
    member.mode = 0o600
    return member


def _unpack(file: Path, stage: Path) -> None:
    """Write out the members that a backup has, and refuse a file that holds anything else."""
    try:
        with tarfile.open(file, mode="r:") as tar:
            members = [member for _, member in zip(range(_MOST_MEMBERS + 1), tar, strict=False)]
            _refuse_strange(file, members)
            for member in members:
                target = stage / member.name
                target.parent.mkdir(exist_ok=True)
                source = tar.extractfile(member)
                if source is None:
                    raise _no_backup(file, f"{member.name} cannot be read")
                with source, os.fdopen(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
                    shutil.copyfileobj(source, out)
                if target.stat().st_size != member.size:
                    raise _no_backup(file, f"{member.name} ends too early")
    except (tarfile.TarError, EOFError, ValueError, OverflowError, RecursionError) as error:  # sizes that no file has
        raise _no_backup(file, "it is not a whole tar file") from error


def _refuse_strange(file: Path, members: list[tarfile.TarInfo]) -> None:
    names = [member.name for member in members]
    for member in members:
        most = _RUBRIC_BYTES if _RUBRIC.match(member.name) else _MOST_BYTES.get(member.name)
        if most is None or member.type not in (tarfile.REGTYPE, tarfile.AREGTYPE) or member.sparse is not None:
            raise _no_backup(file, f"it holds {member.name!r}, which no backup has")
        if member.size > most:
            raise _no_backup(file, f"{member.name} is larger than {most} bytes")
        if member.size < 0:
            raise _no_backup(file, f"{member.name} is said to be smaller than nothing")
    if len(set(names)) != len(names) or len(names) > _MOST_MEMBERS:
        raise _no_backup(file, "it holds a name twice or too many files")
    if missing := [name for name in _NEEDED if name not in names]:
        raise _no_backup(file, f"{missing[0]} is not in it")


def _no_backup(file: Path, why: str) -> CourseError:
    return RefusedError(f"{file.name} is no backup that can be restored: {why}. Nothing was changed.")


def _refuse_damage(report: Report, outcome: str, *, unless: bool = False) -> None:
    if report.damage and not unless:
        more = f" (and {len(report.damage) - 1} more)" if len(report.damage) > 1 else ""
        raise DamageError(f"{outcome}, since the check found damage: {report.damage[0]}{more}")


def _sync_all(stage: Path) -> None:
    for path in (*stage.rglob("*"), stage):
        if path.is_dir():
            sync_folder(path)
        else:
            with path.open("rb+") as handle:
                os.fsync(handle.fileno())


def _sum_of(path: Path) -> str:
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def _sum_in(tar: tarfile.TarFile, member: tarfile.TarInfo) -> str:
    source = tar.extractfile(member)
    digest = hashlib.sha256()
    while source and (piece := source.read(1 << 20)):
        digest.update(piece)
    return digest.hexdigest()
