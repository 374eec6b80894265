"""From a draft to what an event holds: checked, its private part sealed, written as canonical JSON."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from course.errors import RefusedError
from course.moments import is_id
from course.record.chain import Event, canonical
from course.record.events import KINDS, Corrected, Draft
from course.record.statements import kept_body
from course.storage.vault import Vault


@dataclass(frozen=True)
class Entry:
    """A draft that was checked, sealed and written as canonical JSON: all an event needs but its place."""

    id: str
    actor: str
    subject: str
    kind: str
    body: str


def sealed_entry(draft: Draft, vault: Vault, centre: str) -> Entry:
    """Check a draft, seal its private part and write it as canonical JSON.

    Raises:
        RefusedError: it cannot be stored as it is.
    """
    body = draft.body
    if body.sealed is not None or not is_id(draft.id) or not draft.actor:
        raise RefusedError(
            f"{body.kind}: a new event needs an id and who acts, and is not sealed yet. Nothing was saved."
        )
    plain, private = body.public_part(), body.private_part()
    if missing := sorted(set(body.needed) - private.keys()):
        raise RefusedError(f"{body.kind}: {', '.join(missing)}: is missing. Nothing was saved.")
    if private:
        plain["sealed"] = vault.seal(draft.private_of or centre, body.kind, draft.id, private).model_dump()
    try:
        text = canonical(plain).decode()
    except ValueError as error:
        raise RefusedError(f"{body.kind}: {error}. Nothing was saved.") from error
    kept_body(body.kind, text)  # checked here, where nobody else waits; the thread that writes finds it read
    return Entry(draft.id, draft.actor, body.subject, body.kind, text)


def refuse_plain_private(drafts: Sequence[Draft], stored: Callable[[str], Event | None]) -> None:
    """A correction must not carry into plain text what the event it corrects keeps sealed.

    Args:
        drafts: what is to be added together.
        stored: gives the event of an id, None when there is none.

    Raises:
        RefusedError: one would.
    """
    for draft in drafts:
        if not (isinstance(draft.body, Corrected) and draft.body.change):
            continue
        kinds = {other.body.kind for other in drafts if other.id == draft.body.corrects}
        corrected = stored(draft.body.corrects)
        kinds |= {corrected.kind} if corrected else set()
        private = {name for kind in kinds & KINDS.keys() for name in KINDS[kind].private_fields()}
        if in_plain := sorted(private & draft.body.change.keys()):
            raise RefusedError(f"{', '.join(in_plain)}: private, and must be corrected as such. Nothing was saved.")
