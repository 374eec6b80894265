"""What a merge did or would do, in sentences."""

from __future__ import annotations

from typing import Any

from course.storage.merging import Brought, Waiting
from course.words import plural

_LEADING = {
    "attempt_opened/1": ("attempt", "attempts"),
    "signed/1": ("signature", "signatures"),
    "signed/2": ("confirmed signature", "confirmed signatures"),
    "exception_proposed/1": ("exception proposed", "exceptions proposed"),
    "signed_off/1": ("sign-off", "sign-offs"),
    "person_added/1": ("person", "people"),
    "session_planned/1": ("session", "sessions"),
    "corrected/1": ("correction", "corrections"),
    "withdrawn/1": ("entry taken back", "entries taken back"),
    "withdrawn/2": ("confirmed taking back", "confirmed takings back"),
}
"""What people ask after first, by kind of event."""
_TOLD_APART = {
    "attempt_closed/1", "marks_given/1", "corrected/1", "withdrawn/1", "withdrawn/2", "signed/1", "signed/2",
    "signed_off/1",
}  # fmt: skip
"""What two laptops can say differently of one thing, by kind of event."""


def laptop_number(device: str) -> str:
    """The end of a device's id: what a laptop is called as long as nobody gave it a note, and reads on its own page."""
    return device[-4:]


def merged_words(brought: Brought, *, rehearsed: bool, keys: int = 0, on_page: bool = False) -> tuple[str, ...]:
    """Tell it line by line, the sum first; on a page, where a laptop is accepted by a tick."""
    added = sum(brought.added.values())
    verb = "would be taken in" if rehearsed else "taken in"
    lines = [f"{plural(added, 'event')} {verb}; {brought.known} known before." if added or brought.known else ""]
    if not added:
        nothing = "Nothing can be taken in yet" if brought.waiting else "Nothing new"
        lines = [f"{nothing}: {plural(brought.known, 'event')} known before."]
    told = [plural(count, *words) for kind, words in _LEADING.items() if (count := brought.by_kind.get(kind, 0))]
    lines += [f"Among them {', '.join(told)}."] if told else []
    lines += [f"{plural(keys, 'key')} of private data taken over."] if keys else []
    lines += [_waiting(one, on_page=on_page) for one in brought.waiting]
    lines += [
        f"Chain {one.chain[:8]} forks at event {one.seq}: one ledger was continued twice, from a copy or after it was "
        "set back. Every branch is kept and counts; compare what was entered on both, and use one of the two no more."
        for one in brought.forks
    ]
    lines += [
        f"The id {one} stands for two different events: the first in the order of statements counts. Look at both with "
        "course why --event."
        for one in brought.doubled
    ]
    lines += [
        f"What a laptop witnessed does not fit. {one} Every full check goes on saying so; find out who wrote it before "
        "you rely on either."
        for one in brought.misfits
    ]
    if _TOLD_APART & set(brought.by_kind):
        lines.append("Where laptops said different things of one attempt or standing, Findings tells it; you decide.")
    return (*lines, "Nothing was changed: this was a rehearsal.") if rehearsed else tuple(lines)


def _waiting(one: Waiting, *, on_page: bool) -> str:
    events = plural(one.events, "event")
    if one.device:
        told = f"{events} wait: nobody accepted laptop {laptop_number(one.device)} yet, which wrote them."
        ours = "tick it above." if on_page else f"merge once more with --accept {one.device}"
        return f"{told} It shows that number on its own Laptops page. If it is one of yours: {ours}"
    return (
        f"{events} of chain {one.chain[:8]} wait: what came before them is not here. Bring a bundle of all that the "
        "laptop has that wrote them."
    )


def merged_plain(brought: Brought) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "added": brought.added,
        "kinds": brought.by_kind,
        "known": brought.known,
        "waiting": [{"chain": w.chain, "events": w.events, "device": w.device} for w in brought.waiting],
        "forks": [{"chain": f.chain, "seq": f.seq, "branches": f.branches} for f in brought.forks],
        "doubled": list(brought.doubled),
        "misfits": list(brought.misfits),
    }
