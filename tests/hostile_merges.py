"""What comes from elsewhere to be taken in: bundles of an unknown laptop, files of keys, back-ups."""

from __future__ import annotations

import io
import resource
import shutil
import tarfile
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import orjson
import pytest
from bundle_examples import members_of, packed
from centre_builder import Centre
from hostile_desk import Drive, Said
from hostile_files import FORGED, ODD, ids_out
from test_bundle import DAMAGES

from course import moments
from course.actions import centre as founding
from course.errors import CourseError
from course.exchange.bundle import write_bundle
from course.exchange.merging import hand_over, merge
from course.moments import now
from course.record.chain import event_hash
from course.storage.backup import backup, restore
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.words import Role


def from_elsewhere(c: Centre) -> tuple[Centre, Path]:
    """A bundle and the keys of another laptop of the centre, on which somebody was added."""
    folder = Path(c.ledger.folder)
    there = folder.parent / "another"
    shutil.rmtree(there, ignore_errors=True)
    there.mkdir()
    backup(folder, there / "begin.tar")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(there / "state"))
        restore(there / "begin.tar", there / "centre")
        with open_ledger(there / "centre", write=True) as other:
            founding.add_person(other, c.lead, name="Odo Penhallick", roles=[Role.STUDENT])
            hand_over(other, there / "good.zip", keys=there / "good.keys")
    return c, there


def _taken(c: Centre, file: Path, keys: Path | None = None, accept: tuple[str, ...] = ()) -> Said:
    """What a merge says; what of the bundle waits is no event here."""
    before = _readable(c)
    assert all(before)
    try:
        merged = merge(c.ledger, c.lead, [file], keys=keys, accept=accept)
    except CourseError as error:
        return Said(refused=ids_out(error.sentence))
    finally:
        assert not Counter(before) - Counter(_readable(c)), "what could be read before can be read no more"
    return Said(kept=f"{merged.added} events, {'some' if merged.waiting_files else 'none'} waiting")


def _readable(c: Centre) -> list[str]:
    return [
        c.ledger.private_of(event).get("name", "")
        for event in c.ledger.events()
        if event.kind.startswith("person_added")
    ]


def bundle(made: tuple[Centre, Path], text: str) -> Said:
    """A bundle of a device that nobody accepted, spoilt; or a device that is to be accepted."""
    c, there = made
    other = there / "other.zip"
    if text.startswith("accept "):
        return _taken(c, there / "good.zip", accept=(text.removeprefix("accept "),))
    if text in ODD:
        shutil.copy(there / "good.zip", other)
        ODD[text](other)
    else:
        damage = (FORGED | {name: one[0] for name, one in DAMAGES.items()}).get(text, lambda members: members)
        packed(damage(members_of(there / "good.zip")), other)
    return _taken(c, other)


def keys(made: tuple[Centre, Path], text: str) -> Said:
    """A file of keys beside a good bundle: changes in JSON to a good one, or bytes as they stand."""
    c, there = made
    file = there / "other.keys"
    good = orjson.loads((there / "good.keys").read_bytes())
    for name, own in (("$centre", c.ledger.centre_id), ("$amaru", c.amaru), ("$lead", c.lead)):
        text = text.replace(name, own)
    if text.startswith("{"):
        file.write_bytes(orjson.dumps(good | orjson.loads(text), option=orjson.OPT_SORT_KEYS))
    else:
        file.write_bytes(text.encode("utf-8", "surrogatepass"))
    return _taken(c, there / "good.zip", keys=file)


# --- on its way: when it comes, whole or in parts, and what meets it here -----------------------------------------


def on_its_way(made: tuple[Centre, Path], text: str) -> Said:
    """A good bundle of an accepted laptop under one of `MISHAPS`; what is told, and what the whole check says then."""
    c, there = made
    before = c.count()
    said = MISHAPS[text](c, there)
    assert verify(Path(c.ledger.folder)).findings == ()
    return replace(said, events=c.count() - before)


def _stranger(there: Path) -> str:
    """The other laptop's device, which wrote the newest event there."""
    with open_ledger(there / "centre") as other:
        return list(other.events())[-1].device


def _replayed(c: Centre, there: Path) -> Said:
    first = _taken(c, there / "good.zip", keys=there / "good.keys", accept=(_stranger(there),))
    assert first.kept == "2 events, none waiting"
    return _taken(c, there / "good.zip")


def _in_parts(part: str) -> Callable[[Centre, Path], Said]:
    def act(c: Centre, there: Path) -> Said:
        with open_ledger(there / "centre") as other:
            own = [one for one in other.chain_events() if one.chain == other.head().chain]
        file = there / "part.zip"
        file.unlink(missing_ok=True)
        write_bundle(file, c.ledger.centre_id, own[:1] if part == "first" else own[1:])
        return _taken(c, file, accept=(_stranger(there),))

    return act


def _clock(minutes: int) -> Callable[[Centre, Path], Said]:
    """Somebody is entered there while its clock is wrong, and the bundle comes."""

    def act(c: Centre, there: Path) -> Said:
        off, file = now() + timedelta(minutes=minutes), there / "off.zip"
        file.unlink(missing_ok=True)
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("LOOPLEDGER_STATE", str(there / "state"))
            patch.setattr(moments, "now", lambda: off)
            with open_ledger(there / "centre", write=True) as other:
                founding.add_person(other, c.lead, name=f"Odo Penhallick the {minutes}th", roles=[Role.STUDENT])
                hand_over(other, file)
        return _taken(c, file, accept=(_stranger(there),))

    return act


def _no_room(c: Centre, there: Path) -> Said:
    """No file may grow: the limit is the system's, and met within the write."""
    before, device = resource.getrlimit(resource.RLIMIT_FSIZE), _stranger(there)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, before[1]))
    try:
        return _taken(c, there / "good.zip", accept=(device,))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def _newer_kind(c: Centre, there: Path) -> Said:
    """The last event is of a kind that only a newer program has; its hash is right."""
    with open_ledger(there / "centre") as other:
        *own, last = (one for one in other.chain_events() if one.chain == other.head().chain)
    newer = last._replace(kind="person_added/99")
    file = there / "newer.zip"
    file.unlink(missing_ok=True)
    write_bundle(file, c.ledger.centre_id, [*own, newer._replace(hash=event_hash(newer))])
    return _taken(c, file, accept=(_stranger(there),))


MISHAPS: dict[str, Callable[[Centre, Path], Said]] = {
    "come before": _replayed, "its first event alone": _in_parts("first"), "all but its first event": _in_parts("rest"),
    "its clock 30 minutes back": _clock(-30), "its clock 30 minutes ahead": _clock(30), "no room on the disk": _no_room,
    "an event of a newer program": _newer_kind,
}  # fmt: skip


# --- back-ups -----------------------------------------------------------------------------------------------------

KINDS = {"file": tarfile.REGTYPE, "link": tarfile.SYMTYPE, "hard link": tarfile.LNKTYPE, "device": tarfile.CHRTYPE}


def a_backup(c: Centre) -> Path:
    """A good back-up."""
    there = Path(c.ledger.folder).parent / "another"
    shutil.rmtree(there, ignore_errors=True)
    there.mkdir()
    backup(Path(c.ledger.folder), there / "good.tar")
    return there


def put_back(there: Path, text: str) -> Said:
    """A back-up with one more member, `kind name` and how large; or other bytes; nothing may be written."""
    file, again = there / "other.tar", there / "again"
    kind, _, name = text.partition(": ")
    if kind in KINDS:
        shutil.copy(there / "good.tar", file)
        with tarfile.open(file, "a") as tar:
            _add(tar, kind, name)
    else:
        file.write_bytes(BYTES[text]((there / "good.tar").read_bytes()))
    names = sorted(there.parent.rglob("*"))
    try:
        restore(file, again)
    except CourseError as error:
        assert sorted(there.parent.rglob("*")) == names
        return Said(refused=error.sentence.replace(str(there), "FOLDER"))
    return Said(kept="restored")


def _add(tar: tarfile.TarFile, kind: str, name: str) -> None:
    info = tarfile.TarInfo(name.partition(" x ")[0])
    size = int(name.partition(" x ")[2] or 4) if kind == "file" else 0
    info.type, info.size, info.linkname = KINDS[kind], size, "" if kind == "file" else "/etc/passwd"
    tar.addfile(info, io.BytesIO(b"x" * size) if size else None)


def _headed(name: str, size: bytes, kind: bytes = b"0") -> bytes:
    """A head of a tar's member (POSIX.1-2001, ustar) with any bytes for its size."""
    head = bytearray(tarfile.TarInfo(name).tobuf(tarfile.USTAR_FORMAT))
    head[124:136], head[156:157], head[148:156] = size, kind, b" " * 8
    head[148:156] = b"%06o\0 " % sum(head)
    return bytes(head)


BELOW_NOTHING, PAST_ANY_DISK = b"\xff" * 10 + b"\xfe\x00", b"\x80" + b"\x7f" * 11
BYTES: dict[str, Callable[[bytes], bytes]] = {
    "a size below nothing": lambda good: _headed("ledger.head", BELOW_NOTHING) + good,
    "a size past any disk": lambda good: _headed("ledger.db", PAST_ANY_DISK) + good,
    "a long name of a size below nothing": lambda good: _headed("x", BELOW_NOTHING, b"L") + good,
    "5000 heads of a head": lambda good: _headed("x", b"%011o\0" % 0, b"x") * 5000 + good,
    "empty": lambda good: b"",
    "no tar": lambda good: b"%PDF-1.7 <script>" * 100,
    "cut off": lambda good: good[: len(good) // 2],
}


MERGES: dict[str, Drive] = {
    "a bundle of another laptop": Drive("merges", from_elsewhere, bundle),
    "a bundle on its way": Drive("merges", from_elsewhere, on_its_way),
    "a file of keys": Drive("merges", from_elsewhere, keys),
    "a back-up": Drive("back-ups", a_backup, put_back),
}
