"""A restore drill: a backup is put back beside the centre, looked at as if it were all that is left."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from course.errors import DamageError, RefusedError
from course.storage.backup import restore
from course.storage.faults import FAULTS, not_saved
from course.storage.ledger import Ledger, open_ledger
from course.storage.remembered import remember_drill


@dataclass(frozen=True)
class Drill:
    """What came back, and what would be lost if only this backup were left."""

    events: int
    last_recorded_at: str
    """UTC, of the last event that came back."""
    people: int
    unread: int
    """People whose data nothing opens any more, though nobody erased them."""
    lost: int
    """Events that the centre has and the backup has not."""


def drill(folder: Path, file: Path) -> Drill:
    """Restore a backup beside a centre, compare the two, and remember that it was tried.

    Args:
        folder: the centre's folder; it is only read.
        file: the backup.

    Raises:
        NotFoundError: there is no such file or centre.
        RefusedError: the file is no backup, or one of another centre.
        DamageError: the backup is damaged, or it holds what this ledger has not.
        StorageError: the disk would not take it.
    """
    folder, file = Path(folder).resolve(), Path(file).absolute()
    with open_ledger(folder) as ledger:
        try:
            with tempfile.TemporaryDirectory(prefix=".drill-", dir=folder.parent) as beside:
                restore(file, Path(beside) / "centre")
                with open_ledger(Path(beside) / "centre") as back:
                    found = _compared(ledger, back)
        except FAULTS as error:
            raise not_saved(error) from error
        remember_drill(ledger.centre_id, file)
        return found


def _compared(ledger: Ledger, back: Ledger) -> Drill:
    if back.centre_id != ledger.centre_id:
        raise RefusedError("This is the backup of another centre. Name one of this centre; nothing was changed.")
    last = ""
    for head in back.heads():
        kept = back.event_at(head.chain, head.seq)
        here = ledger.event_at(head.chain, head.seq)
        if kept and (here is None or here.hash != kept.hash):
            raise DamageError(
                f"The backup holds event {head.seq} of chain {head.chain}, and this ledger does not. Keep both: "
                "the ledger was set back or replaced."
            )
        last = max(last, kept.recorded_at if kept else "")
    people = back.facts("person")
    opened = sum(bool(back.private(one).get("name")) for one in people)
    erased = sum(back.vault.is_forgotten(one.id) for one in people)
    events = back.count_events()
    return Drill(
        events=events, last_recorded_at=last, people=len(people), unread=len(people) - opened - erased,
        lost=ledger.count_events() - events,
    )  # fmt: skip
