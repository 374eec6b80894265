"""Which one thing of a paper's code was altered: once that is put right, the signature of a pinned key fits again.

A signature that fits is proof; what was tried and does not fit is told as nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from course.answers.days import day_words
from course.answers.ledger_then import is_there
from course.answers.paper_said import hashes_said
from course.answers.papers_again import AGAIN
from course.record.centre_key import CentreKey, grouped, key_id
from course.record.paper_code import PaperCode
from course.record.paper_document import PaperDocument
from course.storage.ledger import Ledger

_DAYS_TRIED = 3000
_SOME_DAY = date(2028, 1, 1)
"""Days around it are tried where none stands in the code."""
_WORDS = {
    "paper": "which paper it is",
    "day": "the day that it is as of",
    "says": "the hash over what the paper says",
    "chain": "the chain of the ledger",
    "seq": "the number of the ledger's last event",
    "head": "the hash of the ledger's last event",
    "key": "the key that it names",
}
_HASHES = frozenset({"says", "head"})


@dataclass(frozen=True)
class Altered:
    """What became of a code whose signature does not fit."""

    in_one_place: bool
    line: str


def altered_in(code: PaperCode, keys: Sequence[CentreKey]) -> Altered | None:
    """Return what was altered where no ledger is needed to tell: the key, the kind of paper or the day."""
    return _first_that_fits(code, keys, _near(code, keys))


def altered_by_ledger(
    code: PaperCode, keys: Sequence[CentreKey], ledger: Ledger, document: PaperDocument | None
) -> Altered | None:
    """Return what was altered, put right by what the ledger knows of it."""
    if found := _first_that_fits(code, keys, _places(code, ledger)):
        return found
    said = set(hashes_said(ledger, code, document))
    if code.says in said and is_there(ledger, code):
        return Altered(in_one_place=False, line="What it says, its day and its place are those that the ledger knows.")
    return _first_that_fits(code, keys, (("says", one) for one in said))


def _near(code: PaperCode, keys: Sequence[CentreKey]) -> Iterator[tuple[str, str]]:
    yield from (("key", key_id(key.public)) for key in keys)
    yield from (("paper", paper) for paper in AGAIN)
    yield "day", ""
    day = (date.fromisoformat(code.day) if code.day else _SOME_DAY).toordinal()
    tried = (day + turn * days for days in range(_DAYS_TRIED) for turn in (-1, 1))
    yield from (("day", date.fromordinal(one).isoformat()) for one in tried if 0 < one <= date.max.toordinal())


def _places(code: PaperCode, ledger: Ledger) -> Iterator[tuple[str, str | int]]:
    """Where the ledger has the event of this hash, and what it has at this place."""
    for event in ledger.chain_events():
        if event.hash == code.head:
            yield from (("seq", event.seq), ("chain", event.chain))
        elif (event.chain, event.seq) == (code.chain, code.seq):
            yield "head", event.hash


def _first_that_fits(
    code: PaperCode, keys: Sequence[CentreKey], tried: Iterator[tuple[str, str | int]] | Iterator[tuple[str, str]]
) -> Altered | None:
    for field, value in tried:
        changes: dict[str, str | int] = {field: value}
        right = replace(code, **changes)  # type: ignore[arg-type]  # each value is of its field's kind
        pinned = next((key for key in keys if key_id(key.public) == right.key), None)
        if pinned and right.is_signed_by(pinned.public):
            return Altered(in_one_place=True, line=_told(field, getattr(code, field), value))
    return None


def _told(field: str, stands: str | int, signed: str | int) -> str:
    return f"Altered is {_WORDS[field]}: {_shown(field, stands)} stands there, {_shown(field, signed)} was signed."


def _shown(field: str, value: str | int) -> str:
    if field == "day":
        return day_words(date.fromisoformat(str(value))) if value else "none"
    if field == "key":
        return grouped(str(value))
    return str(value)[:16] if field in _HASHES else str(value)
