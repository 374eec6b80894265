"""Taking somebody's key out of everything that this program keeps, and out of copies that are put back later.

The ledger itself stays: what it holds about the person is sealed, and nothing opens it any more. Beyond reach are
copies of the vault on other disks, papers, exported files, and what a disk keeps of a block that was overwritten.
"""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from course.errors import StorageError
from course.storage.database import connect
from course.storage.device import forgotten_here
from course.storage.faults import FAULTS, reason
from course.storage.ledger import Ledger
from course.storage.opening import erased_people, identify
from course.storage.site import FILE, site_of
from course.storage.vault import FILE as VAULT
from course.storage.vault import Vault


def erase(ledger: Ledger, owner: str) -> tuple[str, ...]:
    """Delete an owner's key for good, and write the folder's files anew; return what could not be tidied, as sentences.

    The ledger has to hold that they were erased before: whatever stops this half-way, the next opening goes on with it.

    Raises:
        RefusedError: the ledger is open for reading only.
        StorageError: the key could not be deleted.
    """
    ledger.forget(owner)
    notes = []
    try:
        ledger.vault.write_anew()
    except StorageError as error:
        notes.append(f"The key is deleted, but vault.db could not be written anew. {error.sentence}")
    return (*notes, *_write_ledger_anew(ledger.folder))


def _write_ledger_anew(folder: Path) -> tuple[str, ...]:
    """Leave no earlier page of a table behind. On a server that is its own task; nothing there was ever readable."""
    site = site_of(folder)
    if site.server:
        return ()
    try:
        with closing(connect(folder / FILE, "write")) as connection:
            connection.execute("VACUUM")
            (busy, _, _) = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    except (*FAULTS, StorageError) as error:
        return (f"ledger.db could not be written anew: {reason(error)}. It holds nothing that can be read.",)
    return ("ledger.db-wal is emptied once nobody reads it; it holds nothing that can be read.",) if busy else ()


def drop_erased_keys(folder: Path) -> None:
    """Take the keys of all who were erased, by the folder's own ledger or on this device, out of its vault.

    Raises:
        StorageError: the vault cannot be written.
    """
    if not (folder / VAULT).exists():
        return
    site = site_of(folder)
    engine = site.engine("live")
    try:
        with engine.connect() as connection:
            erased = erased_people(connection, identify(connection, site).centre)
    finally:
        engine.dispose()
    vault = Vault(folder, write=True)
    if vault.take_tombstones({*erased, *forgotten_here()}):
        vault.write_anew()
