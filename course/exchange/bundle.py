"""The ledger bundle: the ledger's own fields and hashes in a zip with repeatable bytes, read back strictly.

`manifest.json` (RFC 8785) says what is in it: format and version, the centre, each chain with its first and last
event, base and heads, and each file's size and SHA-256. `events.jsonl` holds one canonical line an event, in order of
(chain, seq, hash). `rubrics/<sha256>.json` may hold forms of skills, each under its own hash. Private data are in it
only as the ledger has them: sealed. The same events give the same bytes.

What it proves is what a chain proves: nothing in the middle was changed as far as a later hash is held elsewhere.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from types import TracebackType
from typing import Self

from pydantic import BaseModel, ConfigDict, ValidationError

from course.errors import DamageError, RefusedError
from course.exchange.archive import MOST_BYTES, REPACKED, Archive, OddFileError, pack
from course.exchange.chain_walk import ChainPart, ChainWalk
from course.record.body import plain_faults
from course.record.chain import Event, canonical
from course.record.lines import LONGEST_LINE, checked_event_in, event_in, line_of, read_canonical

FORMAT, VERSION = "ledger-bundle", 1
MANIFEST, EVENTS = "manifest.json", "events.jsonl"
Progress = Callable[[int, int], None]
_RUBRIC = re.compile(r"rubrics/([0-9a-f]{64})\.json")
_MANIFEST_BYTES, _RUBRIC_BYTES = 8_000_000, 1_000_000
_TELL_EVERY = 500


class Listed(BaseModel):
    """A file of a bundle."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    path: str
    bytes: int
    sha256: str


class Manifest(BaseModel):
    """What a bundle says of itself."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: str = FORMAT
    version: int = VERSION
    centre: str
    events: int
    chains: tuple[ChainPart, ...]
    files: tuple[Listed, ...]


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, with its place; line 0 stands for a whole member."""

    member: str
    line: int
    wrong: str

    def __str__(self) -> str:
        return f"{self.member}, line {self.line}: {self.wrong}." if self.line else f"{self.member}: {self.wrong}."


# --- writing ---------------------------------------------------------------------------------------------------------


def write_bundle(
    out: Path,
    centre: str,
    events: Iterable[Event],
    *,
    rubrics: Mapping[str, bytes] | None = None,
    count: int = 0,
    progress: Progress | None = None,
) -> Manifest:
    """Write a bundle, whole or not at all.

    Args:
        out: the file to make; there must be none of that name.
        centre: the centre's id.
        events: in order of (chain, seq, hash): see `Ledger.chain_events`.
        rubrics: forms of skills in canonical form, by their hash.
        count: how many events there will be, for the progress.
        progress: told (done, of).

    Raises:
        RefusedError: there is a file of that name.
        DamageError: an event cannot be written as it was hashed, or the events are in no order.
        StorageError: it cannot be written.
    """
    with tempfile.TemporaryDirectory(prefix=".bundle-", dir=out.parent) as beside:
        lines = Path(beside) / EVENTS
        chains, listed = write_events(lines, centre, events, count=count, progress=progress)
        members = rubric_members(rubrics or {})
        files = (listed, *(listed_bytes(name, content) for name, content in members))
        manifest = Manifest(centre=centre, events=sum(c.events for c in chains), chains=chains, files=files)
        pack(out, [(MANIFEST, manifest_bytes(manifest)), (EVENTS, lines), *members])
    return manifest


def write_events(
    file: Path, centre: str, events: Iterable[Event], *, count: int = 0, progress: Progress | None = None
) -> tuple[tuple[ChainPart, ...], Listed]:
    """Write the lines of events, one after the other; return their chains, and the file as a manifest lists it.

    Raises:
        DamageError: an event cannot be written as it was hashed, or the events are in no order.
    """
    walk, digest, size, done = ChainWalk(), sha256(), 0, 0
    with file.open("wb") as out:
        for done, one in enumerate(events, 1):
            if wrong := next(walk.take(one), None) or (one.centre != centre and "it is of another centre"):
                raise _damage(one, str(wrong))
            try:
                line = line_of(one) + b"\n"
            except ValueError as error:
                raise _damage(one, str(error)) from error
            digest.update(line)
            size += len(line)
            out.write(line)
            if progress and done % _TELL_EVERY == 0:
                progress(done, max(count, done))
    if progress and done:
        progress(done, done)
    return walk.finish(), Listed(path=EVENTS, bytes=size, sha256=digest.hexdigest())


def rubric_members(rubrics: Mapping[str, bytes]) -> list[tuple[str, bytes]]:
    """Return forms of skills as members, in the order of their hashes."""
    return [(f"rubrics/{name}.json", rubrics[name]) for name in sorted(rubrics)]


def listed_bytes(path: str, content: bytes) -> Listed:
    """Return a small member as a manifest lists it."""
    return Listed(path=path, bytes=len(content), sha256=sha256(content).hexdigest())


def manifest_bytes(manifest: BaseModel) -> bytes:
    """Return a manifest in canonical form."""
    return canonical(manifest.model_dump(mode="json", exclude_none=True))


def _damage(one: Event, wrong: str) -> DamageError:
    return DamageError(
        f"Nothing was written: event {one.seq} of chain {one.chain} does not fit: {wrong}. Run course verify on the "
        "folder, and restore the newest backup where it finds damage."
    )


# --- reading ---------------------------------------------------------------------------------------------------------


class Bundle:
    """A bundle that was checked from the first byte to the last. Close it, or use it as a context.

    Attributes:
        manifest: what it says of itself, found true.
        notices: what is no fault and worth saying.
    """

    def __init__(self, archive: Archive, manifest: Manifest) -> None:
        self.manifest = manifest
        self.notices = (REPACKED,) if archive.repacked else ()
        self._archive = archive
        self._checked = next(one.sha256 for one in manifest.files if one.path == EVENTS)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._archive.close()

    def events(self) -> Iterator[Event]:
        """Yield its events in order of (chain, seq, hash); quickly, since these bytes were checked.

        Raises:
            RefusedError: they are others than those that were checked, which may be seen after the last event only.
        """
        digest = sha256()
        try:
            for _, line in self._archive.lines(EVENTS, LONGEST_LINE):
                digest.update(line + b"\n")
                yield checked_event_in(line)
        except (OSError, ValueError) as error:
            raise self._changed() from error
        if digest.hexdigest() != self._checked:
            raise self._changed()

    def _changed(self) -> RefusedError:
        name = self._archive.file.name
        return RefusedError(f"{name} changed while it was being read. Copy it anew; nothing was taken from it.")

    def rubrics(self) -> dict[str, bytes]:
        """Return the forms of skills that it carries, by their hash."""
        return {m[1]: self._archive.read(name) for name in self._archive.names if (m := _RUBRIC.fullmatch(name))}


def open_bundle(
    file: Path, *, centre: str | None = None, watch: Callable[[Event], None] | None = None,
    progress: Progress | None = None,
) -> Bundle:  # fmt: skip
    """Read a bundle strictly: every byte of it is checked before this returns, and nothing is taken from a faulty one.

    Args:
        file: the bundle.
        centre: whose it must be; any centre's unless given.
        watch: shown each event as it is checked, so that nobody needs to read them again to learn of them.
        progress: told (done, of) in events.

    Raises:
        NotFoundError: there is no such file.
        RefusedError: it is no bundle, or something in it is wrong: the sentence names member and line.
    """
    archive = Archive(file, member_bound)
    try:
        manifest = read_manifest(archive, Manifest, FORMAT)
        wrong = _first_wrong(archive, manifest, centre, watch, progress)
    except OddFileError as error:
        wrong = str(error)
    except BaseException:
        archive.close()
        raise
    if wrong:
        archive.close()
        raise RefusedError(f"{file.name} was not read: {wrong}. Nothing was taken from it.")
    return Bundle(archive, manifest)


def _first_wrong(
    archive: Archive, manifest: Manifest, centre: str | None, watch: Callable[[Event], None] | None,
    progress: Progress | None,
) -> str:  # fmt: skip
    if centre is not None and manifest.centre != centre:
        return f"{MANIFEST}: it is of another centre"
    return next((str(fault).rstrip(".") for fault in faults_of(archive, manifest, watch=watch, progress=progress)), "")


def member_bound(name: str) -> int | None:
    """Return the most bytes that a bundle's member of a name may have; None where no bundle has such a member."""
    if _RUBRIC.fullmatch(name):
        return _RUBRIC_BYTES
    return {MANIFEST: _MANIFEST_BYTES, EVENTS: MOST_BYTES}.get(name)


def read_manifest(archive: Archive, model: type[Manifest], form: str) -> Manifest:
    """Return what an archive says of itself.

    Raises:
        OddFileError: it has no manifest that can be read, or is of another kind or version.
    """
    for needed in (MANIFEST, EVENTS):
        if needed not in archive.names:
            raise OddFileError(f"{needed} is not in it")
    try:
        plain = read_canonical(archive.read(MANIFEST))
        made = (plain.get("format"), plain.get("version")) if isinstance(plain, dict) else None
        if made and made[0] == form and type(made[1]) is int and made[1] > VERSION:
            raise OddFileError(
                f"{MANIFEST}: it is {form}, version {made[1]}, which a newer Loopledger made; update this one"
            )
        if made != (form, VERSION):
            raise OddFileError(f"{MANIFEST}: it does not say {form}, version {VERSION}")
        return model.model_validate(plain)
    except ValidationError as error:
        raise OddFileError(f"{MANIFEST}: {plain_faults(error).rstrip('.')}") from error
    except ValueError as error:
        raise error if isinstance(error, OddFileError) else OddFileError(f"{MANIFEST}: {error}") from error


def faults_of(
    archive: Archive, manifest: Manifest, *, watch: Callable[[Event], None] | None = None,
    progress: Progress | None = None,
) -> Iterator[Fault]:  # fmt: skip
    """Check an archive's members against its manifest and its events against their chains; yield what is wrong.

    Args:
        archive: the file.
        manifest: what it says of itself.
        watch: shown each event that could be read.
        progress: told (done, of) in events.
    """
    listed = {one.path: one for one in manifest.files}
    names = [name for name in archive.names if name != MANIFEST]
    if names != list(listed) or archive.names[0] != MANIFEST or len(listed) != len(manifest.files):
        yield Fault(MANIFEST, 0, "the files that it lists are not those that are there, in that order")
    yield from event_faults(archive, manifest, watch, progress)
    for name in names:
        if name in listed and name != EVENTS:
            try:
                yield from _member_faults(archive, listed[name])
            except OddFileError as error:
                yield Fault(name, 0, str(error))


def event_faults(
    archive: Archive, manifest: Manifest, watch: Callable[[Event], None] | None, progress: Progress | None
) -> Iterator[Fault]:
    """Read every event once; yield what is wrong with a line, then with the whole."""
    walk, digest, count, size = ChainWalk(), sha256(), 0, 0
    try:
        for number, line in archive.lines(EVENTS, LONGEST_LINE):
            digest.update(line + b"\n")
            count, size = number, size + len(line) + 1
            yield from _line_faults(walk, manifest, number, line, watch)
            if progress and number % _TELL_EVERY == 0:
                progress(number, max(number, manifest.events))
    except OddFileError as error:
        yield Fault(EVENTS, 0, str(error).removeprefix(f"{EVENTS}, "))
        return
    said = next((one for one in manifest.files if one.path == EVENTS), None)
    if said is None or (size, digest.hexdigest()) != (said.bytes, said.sha256):
        yield Fault(EVENTS, 0, "it is not the file that the manifest was written for")
    if (count, walk.finish()) != (manifest.events, manifest.chains):
        yield Fault(MANIFEST, 0, "it tells of other chains, bases or heads than those of the events")
    if progress and count:
        progress(count, count)


def _line_faults(
    walk: ChainWalk, manifest: Manifest, number: int, line: bytes, watch: Callable[[Event], None] | None
) -> Iterator[Fault]:
    try:
        one = event_in(line)
    except ValueError as error:
        yield Fault(EVENTS, number, str(error))
        return
    if one.centre != manifest.centre:
        yield Fault(EVENTS, number, "it is of another centre")
    for wrong in walk.take(one):
        yield Fault(EVENTS, number, wrong)
    if watch:
        watch(one)


def _member_faults(archive: Archive, said: Listed) -> Iterator[Fault]:
    found = archive.digest(said.path)
    if (archive.size(said.path), found) != (said.bytes, said.sha256):
        yield Fault(said.path, 0, "it is not the file that the manifest was written for")
    named = _RUBRIC.fullmatch(said.path)
    if named and found != named[1]:
        yield Fault(said.path, 0, "its content does not have the hash that it is named by")


def skill_forms(adopted: Sequence[Mapping[str, object]]) -> dict[str, bytes]:
    """Return forms of skills in canonical form by their hash, as bundles carry them."""
    forms = [canonical(dict(form)) for form in adopted]
    return {sha256(form).hexdigest(): form for form in forms}
