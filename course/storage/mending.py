"""What a person has done to a ledger as a whole: tables made anew, going on after a loss, a copy that was put back."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from course.errors import RefusedError
from course.storage import tables
from course.storage.appending import Progress, write_all_facts
from course.storage.faults import FAULTS, not_saved
from course.storage.inspection import verify
from course.storage.ledger import Ledger, open_engine, open_ledger
from course.storage.opening import AFTER_LOSS, identify
from course.storage.remembered import BackupFile, recalled
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


@dataclass(frozen=True)
class Loss:
    """What is wrong with a damaged ledger, and where what is left of its own chain ends."""

    damage: str
    findings: tuple[str, ...]
    """Of a full check, as sentences."""
    last: int
    """Place of the last event that is left; 0 where none is."""
    last_recorded_at: str
    backup: BackupFile | None
    """The newest backup that was made on this device and is still there."""


def look_at_loss(folder: Path) -> Loss:
    """Tell what is damaged and what going on would rest on; nothing is changed.

    Raises:
        RefusedError: nothing is damaged.
    """
    report = verify(folder)
    with open_ledger(folder) as ledger:
        if not ledger.damage:
            raise _nothing_missing()
        end = ledger.head()
        last = ledger.event_at(end.chain, end.seq)
        made = [one for one in recalled().backups.get(ledger.centre_id, ()) if one.there]
        return Loss(
            damage=ledger.damage, findings=report.findings, last=end.seq,
            last_recorded_at=last.recorded_at if last else "", backup=made[-1] if made else None,
        )  # fmt: skip


def continue_after_loss(folder: Path, *, after: int | None = None) -> Ledger:
    """Go on with what is left of a damaged ledger, on a new chain that names its last event. A person's decision.

    What is lost or changed stays a finding of every later check.

    Args:
        folder: the centre's folder.
        after: the place of the last event that is left, as the person read it; None: whichever it is.

    Raises:
        RefusedError: nothing is damaged, or the ledger ends at another event.
    """
    with open_ledger(folder, write=True) as ledger:
        if not ledger.damage:
            raise _nothing_missing()
        if after not in (None, ledger.head().seq):
            raise RefusedError(
                f"What is left ends with event {ledger.head().seq}, not {after}. Read again what is missing; nothing "
                "was changed."
            )
        with ledger.changing() as connection:
            tables.set_setting(connection, ledger.centre_id, "put_back", AFTER_LOSS)
            write_all_facts(connection, ledger.centre_id)
    return open_ledger(folder, write=True)


def _nothing_missing() -> RefusedError:
    return RefusedError("Nothing is missing from this ledger. Open it as usual; nothing was changed.")


def mark_put_back(folder: Path) -> None:
    """Note in a ledger that was put back that its next life begins a new chain."""
    site = site_of(folder)
    with ExitStack() as held, open_engine(held, site, "write").begin() as connection:
        tables.set_setting(connection, identify(connection, site).centre, "put_back", "yes")
