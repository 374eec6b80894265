"""Chains of invented events with forks, and files packed by hand, for tests of what is handed over."""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

import orjson

from course.exchange.bundle import EVENTS, MANIFEST
from course.record.chain import FIRST_PREV, Event, canonical, event_hash

CENTRE = "0192d000-0000-7000-8000-0000000000c0"
ACTOR = "0192d000-0000-7000-8000-00000000000a"


def an_event(chain: str, prev: Event | None, body: dict[str, Any], number: int, kind: str = "note/1") -> Event:
    """An event after another one, with the hash that it must have."""
    bare = Event(
        id=f"0192d000-0000-7000-8000-{number:012x}", centre=CENTRE, chain=chain, seq=prev.seq + 1 if prev else 1,
        lamport=(prev.lamport if prev else 0) + 1, device="device", actor=ACTOR, subject=f"thing-{number % 3}",
        kind=kind, recorded_at=f"2026-10-22T14:06:{number % 60:02}.000000Z", body=canonical(body).decode(),
        prev=prev.hash if prev else FIRST_PREV, hash="",
    )  # fmt: skip
    return bare._replace(hash=event_hash(bare))


def in_order(events: Sequence[Event]) -> list[Event]:
    """In the order in which a bundle has them."""
    return sorted(events, key=lambda one: (one.chain, one.seq, one.hash))


def two_chains() -> list[Event]:
    """Chain a with four events, the third forked; chain b with two."""
    one = an_event("a", None, {"text": "œ"}, 1)
    two = an_event("a", one, {"count": 2**53 - 1, "flag": True, "none": None}, 2)
    three, other = an_event("a", two, {"n": 3}, 3), an_event("a", two, {"n": 33}, 33)
    four = an_event("a", three, {"list": [1, "two", {"x": False}]}, 4)
    first = an_event("b", None, {}, 5)
    return in_order([one, two, three, other, four, first, an_event("b", first, {"n": 6}, 6)])


def members_of(file: Path) -> list[tuple[str, bytes]]:
    """What is in a zip, in order."""
    with zipfile.ZipFile(file) as read:
        return [(info.filename, read.read(info)) for info in read.infolist()]


def packed(members: Sequence[tuple[str, bytes]], out: Path, method: int = zipfile.ZIP_DEFLATED) -> Path:
    """A zip as any other program would pack it; names may come twice."""
    with zipfile.ZipFile(out, "w", method) as made:
        for name, content in members:
            made.writestr(zipfile.ZipInfo(name), content, compress_type=method)
    return out


def with_lines(members: Sequence[tuple[str, bytes]], lines: Sequence[bytes], *, listed: bool = True) -> Any:
    """The members with other lines of events; the manifest lists the new size and hash unless told otherwise."""
    content = b"".join(line + b"\n" for line in lines)
    made = dict(members) | {EVENTS: content}
    if listed:
        manifest = orjson.loads(made[MANIFEST])
        for one in manifest["files"]:
            if one["path"] == EVENTS:
                one |= {"bytes": len(content), "sha256": sha256(content).hexdigest()}
        made[MANIFEST] = canonical(manifest)
    return list(made.items())


def lines_of(members: Sequence[tuple[str, bytes]]) -> list[bytes]:
    """The lines of events."""
    return dict(members)[EVENTS].splitlines()
