"""Laptops of one centre that come together: a bundle goes from one to the other, and each ends with the same events.

What cannot be taken in yet waits as a file in the centre's folder and is tried again at the next merge. Private data
travel sealed; their keys go in a file of their own, which nobody but the centre's own laptops should ever get.
"""

from __future__ import annotations

import base64
import os
import shutil
import tempfile
from collections.abc import Collection, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from hashlib import file_digest
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, ValidationError

from course.access import Act
from course.actions.drafting import allow, body, draft
from course.answers.course_view import forget_views
from course.errors import AfterSavingError, NotFoundError, RefusedError, StorageError
from course.exchange.bundle import open_bundle, write_bundle
from course.moments import new_id
from course.record.chain import canonical
from course.record.events import DeviceAccepted, KnownHead, LedgerMerged, PersonErased
from course.record.facts import Person
from course.record.lines import read_canonical
from course.storage.after_saving import of_itself
from course.storage.appending import Progress
from course.storage.erasing import erase
from course.storage.faults import FAULTS, not_saved
from course.storage.ledger import Ledger
from course.storage.lookup import all_of
from course.storage.merging import WAITING, Brought, Parts, Source, take_in, waiting_files

_KEYS_FORMAT = "ledger-keys"
_MOST_KEY_BYTES = 64_000_000


def _a_key(text: str) -> str:
    if len(base64.b64decode(text, validate=True)) != 64:
        raise ValueError("has another length than a key")
    return text


class _Keys(BaseModel):
    """A file of keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: str
    version: int
    centre: str
    keys: tuple[tuple[str, Annotated[str, AfterValidator(_a_key)]], ...]
    forgotten: tuple[str, ...]


@dataclass(frozen=True)
class Merged:
    """What a merge did, or would do."""

    brought: Brought
    rehearsed: bool
    keys_taken: int
    waiting_files: int
    notes: tuple[str, ...] = ()
    """What could not be tidied after somebody was erased, as sentences."""

    @property
    def added(self) -> int:
        """How many events are new here."""
        return sum(self.brought.added.values())


def hand_over(ledger: Ledger, out: Path, *, keys: Path | None = None, progress: Progress | None = None) -> int:
    """Write a bundle of all events for another laptop, and beside it the keys where a file is named; return the events.

    Raises:
        RefusedError: there is a file of that name.
        StorageError: a file cannot be written.
    """
    if keys is not None and keys.exists():
        raise RefusedError(f"{keys} is there already. Name another file; nothing was written.")
    manifest = write_bundle(
        out, ledger.centre_id, ledger.chain_events(), count=ledger.count_events(), progress=progress
    )
    if keys is not None:
        _write_keys(ledger, keys)
    return manifest.events


def _write_keys(ledger: Ledger, file: Path) -> None:
    kept = [(owner, base64.b64encode(key).decode()) for owner, key in ledger.vault.all_keys()]
    made = _Keys(
        format=_KEYS_FORMAT, version=1, centre=ledger.centre_id, keys=tuple(kept),
        forgotten=tuple(ledger.vault.forgotten()),
    )  # fmt: skip
    try:
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as handle:
            handle.write(canonical(made.model_dump(mode="json")))
            handle.flush()
            os.fsync(handle.fileno())
    except OSError as error:
        raise not_saved(error) from error


def _read_keys(ledger: Ledger, file: Path) -> _Keys:
    try:
        if file.stat().st_size > _MOST_KEY_BYTES:
            raise RefusedError(f"{file.name} is larger than any file of keys. Nothing was taken in.")
        made = _Keys.model_validate(read_canonical(file.read_bytes()))
    except FileNotFoundError as error:
        raise NotFoundError(f"There is no file {file}. Name the file of keys, or merge without it.") from error
    except OSError as error:
        raise StorageError(f"{file.name} cannot be read: {error.strerror}. Nothing was taken in.") from error
    except (ValueError, ValidationError) as error:
        raise RefusedError(f"{file.name} is no file of keys. Nothing was taken in.") from error
    if (made.format, made.version) != (_KEYS_FORMAT, 1):
        raise RefusedError(f"{file.name} is a file of keys of another version. Nothing was taken in.")
    if made.centre != ledger.centre_id:
        raise RefusedError(f"{file.name} holds the keys of another centre. Nothing was taken in.")
    return made


def merge(
    ledger: Ledger,
    actor: str,
    bundles: Sequence[Path],
    *,
    keys: Path | None = None,
    accept: Collection[str] = (),
    rehearse: bool = False,
    progress: Progress | None = None,
) -> Merged:
    """Take in what other laptops of this centre have, or tell what that would do.

    Args:
        ledger: open for writing.
        actor: who does it; somebody who may set up the centre.
        bundles: bundles of this centre, in any order; what waits in the folder is tried besides, or by itself.
        keys: a file of keys of the same laptop.
        accept: devices that are the centre's own from now on.
        rehearse: change nothing.
        progress: told (done, of) in events.

    Raises:
        NotFoundError: there is no such file.
        RefusedError: a file is no whole bundle of this centre, or the actor may not do this. Nothing was taken in.
        StorageError: NOT saved; the sentence tells whether the events are in all the same. Never are some of them.
    """
    allow(ledger, actor, Act.SET_UP)
    if not bundles and not waiting_files(ledger.folder):
        raise RefusedError("No bundle is named, and none waits here. Name one; nothing was taken in.")
    handed = _read_keys(ledger, keys) if keys else None
    with _opened(ledger, bundles) as sources:
        _refuse_strangers(sources, accept)
        brought = take_in(ledger, sources, accepted=accept, rehearse=rehearse, progress=progress)
    if rehearse:
        return Merged(brought, rehearse, 0, 0)
    with _told_what_is_in(brought):
        _accept(ledger, actor, accept)
        notes = _erase_who_was_erased(ledger) if PersonErased.kind in brought.by_kind else ()
        taken = _take_keys(ledger, handed) if handed else 0
        _note(ledger, actor, brought)
        waiting = _keep_what_waits(ledger, bundles, brought)
    return Merged(brought, rehearse, taken, waiting, notes)


@contextmanager
def _told_what_is_in(brought: Brought) -> Iterator[None]:
    """The events are in by one commit; what follows them can still meet a full disk, and is done by a second merge."""
    try:
        yield
    except StorageError as error:
        if not (added := sum(brought.added.values())):
            raise
        raise AfterSavingError(
            f"The {added} events of the merge are in; then something went wrong: {of_itself(error)} Merge the same "
            "once more for the rest of it: keys, and copies of what waits. The next merge that brings anything notes "
            "this one too."
        ) from error
    finally:
        forget_views()


def _erase_who_was_erased(ledger: Ledger) -> tuple[str, ...]:
    """Erased on one laptop is erased on all: the key goes as soon as its tombstone is here."""
    owners = [one.id for one in all_of(ledger, Person) if one.erased and not ledger.vault.is_forgotten(one.id)]
    return tuple(note for owner in owners for note in erase(ledger, owner))


@contextmanager
def _opened(ledger: Ledger, bundles: Sequence[Path]) -> Iterator[tuple[Source, ...]]:
    """Every bundle that was named, and every other one that waits, read from the first byte to the last."""
    waiting = waiting_files(ledger.folder)
    named = {_copy_name(one) for one in bundles if waiting and one.is_file()}
    with ExitStack() as held:
        found = []
        for file in (*bundles, *(one for one in waiting if one.name not in named)):
            seen = Parts()
            bundle = held.enter_context(open_bundle(file, centre=ledger.centre_id, watch=seen.see))
            found.append(Source(str(file), seen.parts(), bundle.events))
        yield tuple(found)


def _refuse_strangers(sources: Sequence[Source], accept: Collection[str]) -> None:
    there = {device for one in sources for part in one.parts for device in part.devices}
    if unknown := sorted(set(accept) - there):
        raise RefusedError(f"No event here is of the device {unknown[0]}. Nothing was taken in.")


def _accept(ledger: Ledger, actor: str, accept: Collection[str]) -> None:
    known = {device for device in accept if any(one.kind == DeviceAccepted.kind for one in ledger.events(device))}
    new = [draft(actor, body(DeviceAccepted, device=device)) for device in sorted(set(accept) - known)]
    ledger.append(new)


def _take_keys(ledger: Ledger, handed: _Keys) -> int:
    """Take over keys, and let go of those of whoever an event here says was erased: a file alone erases nobody."""
    owners = {*handed.forgotten, *(owner for owner, _ in handed.keys)}
    erased = {owner for owner in owners if any(one.kind == PersonErased.kind for one in ledger.events(owner))}
    for owner in sorted(erased):
        if not ledger.vault.is_forgotten(owner):
            ledger.forget(owner)
    return ledger.vault.take_keys((owner, base64.b64decode(key)) for owner, key in handed.keys if owner not in erased)


def _keep_what_waits(ledger: Ledger, bundles: Sequence[Path], brought: Brought) -> int:
    """Keep a copy of each bundle of which something waits, and let go of those that are in; return how many wait.

    What waits must not depend on a stick that is pulled out.
    """
    place = ledger.folder / WAITING
    wait = {one.source for one in brought.waiting}
    try:
        for file in [one for one in bundles if str(one) in wait]:
            place.mkdir(exist_ok=True, mode=0o700)
            _copy_into(file, place)
        kept = {_copy_name(one) for one in bundles if str(one) in wait}
        for file in waiting_files(ledger.folder):
            if str(file) not in wait and file.name not in kept:
                file.unlink()
    except FAULTS as error:
        raise not_saved(error) from error
    return len(waiting_files(ledger.folder))


def _copy_into(file: Path, place: Path) -> None:
    with tempfile.NamedTemporaryFile(dir=place, prefix=".half-", delete=False) as half:
        try:
            with file.open("rb") as source:
                shutil.copyfileobj(source, half)
            half.flush()
            os.fsync(half.fileno())
            Path(half.name).replace(place / _copy_name(file))
        except BaseException:
            Path(half.name).unlink(missing_ok=True)
            raise


def _copy_name(file: Path) -> str:
    with file.open("rb") as handle:
        return f"{file_digest(handle, 'sha256').hexdigest()[:32]}.zip"


def _note(ledger: Ledger, actor: str, brought: Brought) -> None:
    """Note the merge with every head, so that each laptop's ledger witnesses the others'.

    Where nothing but such notes came, none is added: two laptops would never be done.
    """
    added = sum(count for kind, count in brought.by_kind.items() if kind != LedgerMerged.kind)
    if added:
        heads = tuple(KnownHead(chain=one.chain, seq=one.seq, hash=one.hash) for one in ledger.heads() if one.seq)
        ledger.append([draft(actor, body(LedgerMerged, merge=new_id(), added=added, heads=heads))])
