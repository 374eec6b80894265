"""What a person has done to a ledger as a whole: tables made anew, going on after a loss, a copy that was put back."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from course.errors import RefusedError
from course.storage import tables
from course.storage.appending import Progress, write_all_facts
from course.storage.faults import FAULTS, not_saved
from course.storage.ledger import Ledger, open_engine, open_ledger
from course.storage.opening import identify
from course.storage.site import site_of


def rebuild(folder: Path, progress: Progress | None = None) -> int:
    """Write all facts anew from the events; return how many there are.

    Raises:
        BusyError: another program has the ledger open for writing.
        StorageError: NOT saved; the old facts are kept.
    """
    with open_ledger(folder, write=True) as ledger:
        try:
            with ledger.changing() as connection:
                return write_all_facts(connection, ledger.centre_id, progress)
        except FAULTS as error:
            raise not_saved(error) from error


def continue_after_loss(folder: Path) -> Ledger:
    """Go on with what is left of a damaged ledger, on a new chain that names its last event. A person's decision.

    What is lost or changed stays a finding of every later check.

    Raises:
        RefusedError: nothing is damaged.
    """
    with open_ledger(folder, write=True) as ledger:
        if not ledger.damage:
            raise RefusedError("Nothing is missing from this ledger. Open it as usual; nothing was changed.")
        with ledger.changing() as connection:
            tables.set_setting(connection, ledger.centre_id, "put_back", "yes")
    return open_ledger(folder, write=True)


def mark_put_back(folder: Path) -> None:
    """Note in a ledger that was put back that its next life begins a new chain."""
    site = site_of(folder)
    with ExitStack() as held, open_engine(held, site, "write").begin() as connection:
        tables.set_setting(connection, identify(connection, site).centre, "put_back", "yes")
