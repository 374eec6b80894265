"""The first transaction of a ledger: its tables, its first events, its head witness."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing

import sqlalchemy as sa

from course.errors import DamageError, RefusedError
from course.moments import new_id
from course.record.events import Draft
from course.record.projection import PROJECTION_VERSION
from course.storage import tables
from course.storage.appending import Head, Stamp, add_entries, read_head
from course.storage.database import sync_folder
from course.storage.device import Home, read_state, remember_chain
from course.storage.entries import sealed_entry
from course.storage.site import Site, site_of
from course.storage.vault import Vault
from course.storage.witness import Seen, Witness, read_witness


def write_first(site: Site, drafts: Sequence[Draft], centre: str) -> None:
    """Write the first events of a centre, or leave nothing behind. The folder is there and held for writing.

    Raises:
        RefusedError: a ledger is there already.
        DamageError: the folder's witness knows of a ledger that is not there.
    """
    there = site_of(site.folder)
    if there.server or (site.server and there.there):
        raise _taken(site)
    if read_witness(site.folder).seen and not there.there:
        raise DamageError(
            f"{site.folder} has a ledger.head of a ledger that is not there. Restore the newest backup into an empty "
            "folder, or make the centre in another one. Nothing was saved."
        )
    fresh = not there.there
    try:
        head = _found(site, drafts, centre)
    except BaseException:
        if fresh:
            site.take_back()
        raise
    with closing(Witness(site.folder)) as witness:
        witness.write(Seen(*head[:3]))
    sync_folder(site.folder.parent)


def _found(site: Site, drafts: Sequence[Draft], centre: str) -> Head:
    engine = site.engine("write")
    try:
        with engine.begin() as connection:
            if tables.centre_in(connection, site.centre):
                raise _taken(site)
            head = _add_first(connection, site, drafts, centre)
            site.write_url()
            return head
    finally:
        engine.dispose()


def _add_first(connection: sa.Connection, site: Site, drafts: Sequence[Draft], centre: str) -> Head:
    stamp = Stamp(centre, new_id(), read_state().device)
    vault = Vault(site.folder, write=True)
    entries = [sealed_entry(draft, vault, centre) for draft in drafts]
    remember_chain(stamp.chain, Home(folder=str(site.folder), seq=0, hash=""))
    site.make_tables(connection)
    settings = {"schema": tables.SCHEMA, "chain": stamp.chain, "projection_version": str(PROJECTION_VERSION)}
    for name, value in settings.items():
        tables.set_setting(connection, centre, name, value)
    add_entries(connection, stamp, entries)
    return read_head(connection, centre, stamp.chain)


def _taken(site: Site) -> RefusedError:
    return RefusedError(
        f"There is a ledger in {site.folder} already. Open it, or name another folder. Nothing was changed."
    )
