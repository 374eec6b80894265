"""Make a centre's key, replace it, put it back from its copy. The lead answers for it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from course.access import Act
from course.actions.drafting import allow, body, draft
from course.answers.centre_keys import ELSEWHERE, centre_keys, paper_key
from course.errors import RefusedError
from course.moments import now, observed_at
from course.record.centre_key import CentreKey, fingerprint, grouped, handing_over
from course.record.facts import Centre
from course.record.key_events import CentreKeyMade, CentreKeyReplaced
from course.storage.centre_key import (
    FILE,
    SigningKey,
    lay_ready,
    new_key,
    read_key_file,
    read_keys,
    take_over,
    write_key,
)
from course.storage.ledger import Ledger
from course.storage.lookup import needed


def make_key(ledger: Ledger, actor: str) -> str:
    """Make the centre's key and return its fingerprint; nothing is made where it has one.

    A key that was written and did not come into the ledger, since something stopped it between the two, is taken.

    Raises:
        RefusedError: the centre has a key and this machine does not: it is elsewhere, or lost.
        StorageError: it cannot be kept.
    """
    allow(ledger, actor, Act.KEY)
    if any(key.ended is None for key in centre_keys(ledger)):
        if key := paper_key(ledger):
            return fingerprint(key.public)
        raise RefusedError(f"{ELSEWHERE} Nothing was changed.")
    known = {key.public for key in centre_keys(ledger)}
    key = next((one for one in read_keys(ledger.key_folder, ledger.folder) if one.public not in known), None)
    if key is None:
        key = new_key()
        write_key(ledger.key_folder / FILE, key)
    ledger.append([draft(actor, body(CentreKeyMade, public=key.public, **_when(ledger)))])
    return fingerprint(key.public)


def replace_key(ledger: Ledger, actor: str, *, lost: bool, reason: str | None = None) -> str:
    """Put another key in the place of the one in use; return the new one's fingerprint.

    Args:
        ledger: open for writing.
        actor: a lead.
        lost: the old key is gone, or somebody else may have it: it cannot vouch for the next one, and what it signs for
            a later event is not trusted. Otherwise it signs the next one and what it signed holds.
        reason: the centre's own.

    Raises:
        RefusedError: there is no key to replace; or the old one is not here and is not said to be lost.
        StorageError: the new key cannot be kept.
    """
    allow(ledger, actor, Act.KEY)
    in_use = [key for key in centre_keys(ledger) if key.ended is None]
    if not in_use:
        raise RefusedError("The centre has no key yet: course key FOLDER makes it. Nothing was changed.")
    held = paper_key(ledger)
    if held is None and not lost:
        raise RefusedError(f"The old key would have to vouch for the next one. {ELSEWHERE} Nothing was changed.")
    old = next((key for key in in_use if held and key.public == held.public), in_use[-1])
    new = new_key()
    content = _replacing(ledger, old, None if lost else held, new, reason)
    lay_ready(ledger.key_folder, new)
    ledger.append([draft(actor, content)])
    take_over(ledger.key_folder)
    return fingerprint(new.public)


def put_back(ledger: Ledger, actor: str, file: Path) -> str:
    """Put the centre's key back from its copy and return its fingerprint.

    Raises:
        RefusedError: the file is no key, or not one that is in use here.
        StorageError: it cannot be read or kept.
    """
    allow(ledger, actor, Act.KEY)
    key = read_key_file(file)
    known = next((one for one in centre_keys(ledger) if one.public == key.public), None)
    if known is None or known.ended is not None:
        what = "is none of this centre's"
        if known:
            what = "was said to be lost" if known.ended == "lost" else "was replaced"
        raise RefusedError(f"The key in {file}, {grouped(fingerprint(key.public))}, {what}. Nothing was changed.")
    write_key(ledger.key_folder / FILE, key)
    return known.fingerprint


def _replacing(
    ledger: Ledger, old: CentreKey, held: SigningKey | None, new: SigningKey, reason: str | None
) -> CentreKeyReplaced:
    signed = held.sign(handing_over(ledger.centre_id, old.public, new.public)) if held else None
    return body(
        CentreKeyReplaced, public=new.public, replaces=old.public, why="kept" if held else "lost", signed=signed,
        reason=(reason or "").strip() or None, **_when(ledger),
    )  # fmt: skip


def _when(ledger: Ledger) -> dict[str, Any]:
    zone = needed(ledger, Centre, ledger.centre_id, "centre").zone
    return {"centre": ledger.centre_id, "observed": observed_at(now(), zone)}
