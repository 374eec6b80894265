"""Attempts that were withdrawn by somebody who did not know what another laptop had said of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import orjson

from course.record.chain import Event
from course.record.events import STARTS, WITHDRAWALS, Withdrawn
from course.record.facts import Attempt
from course.record.merge_facts import Merge
from course.record.statements import live_statements
from course.storage.ledger import Ledger
from course.storage.lookup import all_of

Unknown = tuple[tuple[str, str], ...]


def withdrawn_unknowing(ledger: Ledger, course: str) -> Iterator[tuple[Attempt, str, Unknown]]:
    """Yield (attempt, who withdrew it, what they did not know: event and whose it is) of a course's attempts.

    Where several withdrew it, it is told only of what none of them knew.
    """
    gone = [one for one in ledger.facts("attempt", course=course) if isinstance(one, Attempt) and one.withdrawn]
    merges = all_of(ledger, Merge) if gone else []
    for attempt in gone:
        ends, left = _ends_and_rest(list(ledger.events(attempt.id)))
        for end in ends:
            left = [one for one in left if one.seq > _known(ledger, merges, end.chain, end.seq, one.chain)]
        if ends and left:
            yield attempt, ends[0].actor, tuple((one.id, one.actor) for one in left)


def _ends_and_rest(events: Sequence[Event]) -> tuple[list[Event], list[Event]]:
    """The withdrawals of the attempt itself that hold, and what else holds of it but withdrawals of parts."""
    statements = live_statements(events)
    founding = next(one.event for one in statements if one.event.kind.startswith("attempt_opened"))
    ends = [
        one.event
        for one in statements
        if isinstance(one.body, Withdrawn) and one.body.withdraws == founding.id and not one.withdrawn
    ]
    rest = [one.event for one in statements if not one.withdrawn and one.event.kind not in WITHDRAWALS]
    return ends, rest


def _known(ledger: Ledger, merges: Sequence[Merge], chain: str, seq: int, of: str) -> int:
    """How far a chain was known at a place of another: by itself, by merges, and by the life that it went on from."""
    known = seq if chain == of else 0
    heads = (head for one in merges if one.chain == chain and one.seq <= seq for head in one.heads)
    known = max([known, *(there for named, there, _ in heads if named == of)])
    for event in ledger.events(chain):
        if event.kind in STARTS and event.chain == chain:
            before = orjson.loads(event.body)["predecessor"]
            known = max(known, _known(ledger, merges, before["chain"], before["seq"], of))
    return known
