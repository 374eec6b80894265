"""Where the place is that a paper saw last: in this ledger, lost from it, on another laptop, or of another centre."""

from __future__ import annotations

import json

from course.answers.laptops import known_chains
from course.answers.ledger_then import is_there
from course.answers.paper_verdict import Shown, Verdict
from course.record.events import STARTS, ChainStartedAfterLoss
from course.record.paper_code import PaperCode
from course.storage.ledger import Ledger
from course.words import plural


def place_of(shown: Shown, ledger: Ledger) -> tuple[tuple[str, ...], Verdict | None]:
    """Return in a sentence where a paper's head is in the ledger, and what is wrong where it is not there."""
    code = shown.code
    seen = f"The paper saw event {code.seq} of chain {code.chain} with hash {code.head[:16]}"
    ends = {head.chain: head.seq for head in ledger.heads()}
    if code.chain not in ends:
        return (f"{seen}; that chain is not here.",), _of_unknown_chain(shown, ledger)
    if code.seq > ends[code.chain]:
        return (f"{seen}; here that chain ends at event {ends[code.chain]}.",), _of_short_chain(code, ledger)
    if not is_there(ledger, code):
        return (f"{seen}; another event stands there now.",), Verdict.REPLACED
    later = ends[code.chain] - code.seq
    since = f"{plural(later, 'event')} came after it" if later else "it is still the last one"
    return (f"{seen}. It is there, so nothing before it was changed; {since}.",), None


def _of_unknown_chain(shown: Shown, ledger: Ledger) -> Verdict:
    """A chain that nothing is here of: what closed days and merges knew of it, and which centre the data name."""
    if shown.document and shown.document.ledger.centre != ledger.centre_id:
        return Verdict.OTHER_LEDGER
    if shown.code.chain in known_chains(ledger):
        return Verdict.NOT_MERGED
    return Verdict.UNKNOWN_LAPTOP if shown.document else Verdict.UNKNOWN_CHAIN


def _of_short_chain(code: PaperCode, ledger: Ledger) -> Verdict:
    """A chain that ends before the paper's place: this ledger's own, one that it goes on from, or another laptop's."""
    own = ledger.head().chain
    if own == code.chain:
        return Verdict.TAIL_LOST
    if known_chains(ledger).get(code.chain, 0) >= code.seq:
        return Verdict.NOT_YET_HERE
    return _of_next_life(code.chain, ledger, own)


def _of_next_life(chain: str, ledger: Ledger, own: str) -> Verdict:
    """What this ledger says of why it went on from a chain: a back-up that was put back, a loss, or neither."""
    first = ledger.event_at(own, 1)
    while first is not None and first.kind in STARTS:
        started = STARTS[first.kind].model_validate(json.loads(first.body))
        if started.predecessor.chain == chain:
            after_loss = isinstance(started, ChainStartedAfterLoss)
            back = Verdict.OLD_BACKUP if started.why == "restored" else Verdict.NOT_YET_HERE
            return Verdict.AFTER_LOSS if after_loss else back
        first = ledger.event_at(started.predecessor.chain, 1)
    return Verdict.NOT_YET_HERE
