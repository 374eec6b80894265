"""The ledger as it was when a paper was printed: its events up to the one that the paper saw last, laid out anew."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from course.record.chain import Event
from course.record.paper_code import PaperCode
from course.storage.laying_out import lay_out
from course.storage.ledger import Ledger, open_ledger


@contextmanager
def ledger_then(ledger: Ledger, code: PaperCode) -> Iterator[Ledger | None]:
    """Lay the ledger out as it was at a paper's place, for as long as it is asked; None where that place is not here.

    Of laptops that merged since, what this one had by then is taken: where the paper was printed on another one that is
    not always the same, and then nothing is found.
    """
    if not is_there(ledger, code):
        yield None
        return
    with tempfile.TemporaryDirectory(prefix="loopledger-then-") as place:
        lay_out(Path(place), ledger.centre_id, _until(ledger, code.head))
        with open_ledger(Path(place)) as then:
            then.vault = ledger.vault
            yield then


def _at(ledger: Ledger, code: PaperCode) -> Iterator[Event]:
    first = ledger.event_at(code.chain, code.seq)
    if first is not None:
        yield first
        if first.hash != code.head:
            yield from (one for one in ledger.chain_events() if (one.chain, one.seq) == (code.chain, code.seq))


def is_there(ledger: Ledger, code: PaperCode) -> bool:
    """Whether the event that a paper saw last is in the ledger, on whatever branch."""
    return any(one.hash == code.head for one in _at(ledger, code))


def _until(ledger: Ledger, head: str) -> Iterator[Event]:
    for one in ledger.events():
        yield one
        if one.hash == head:
            return


@contextmanager
def without_names(ledger: Ledger) -> Iterator[Ledger]:
    """Lay the ledger out anew without the keys of private data, as for a paper that names nobody."""
    with tempfile.TemporaryDirectory(prefix="loopledger-nameless-") as place:
        lay_out(Path(place), ledger.centre_id, ledger.events())
        with open_ledger(Path(place)) as nameless:
            yield nameless
