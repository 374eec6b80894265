"""Whether the ledger says now what a paper says, whether it did at the paper's own place, and what changed since."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, Literal

from course.access import Sight
from course.answers.course_view import view
from course.answers.days import day_words
from course.answers.decisions import STALE
from course.answers.ledger_then import ledger_then
from course.answers.paper_changes import changes
from course.answers.paper_data import plain_of
from course.answers.papers_again import OF_A_STUDENT, asked_again, can_be_asked, could_be, is_open
from course.answers.sign_off import is_older, live_issues
from course.asker import question
from course.errors import NotFoundError
from course.record.paper_code import PaperCode
from course.record.paper_document import PaperDocument, says_hash
from course.storage.ledger import Ledger
from course.words import listed, plural

_MOST_TOLD = 20
_NOT_TOLD = "What the ledger says now is told to whoever may see this paper here."
Now = Literal["same", "changed", "told otherwise", "gone", "not found", "cannot be asked"]


@dataclass(frozen=True)
class Said:
    """What the ledger says to a paper."""

    now: Now
    lines: tuple[str, ...] = ()
    name: str = ""
    """Whose paper it is, as the ledger knows it."""
    shown: bool = False
    """The ledger shows that it said so: now, or at the paper's own place."""
    told: dict[str, Any] = field(default_factory=dict)
    """What a paper says that was found by its code alone."""


def ask_ledger(ledger: Ledger, code: PaperCode, document: PaperDocument | None) -> Said:
    """Ask a paper's question again. Where only its code is known, everybody's record is tried, first as it is now."""
    if not can_be_asked(code.paper, document.asked if document else None):
        return Said("cannot be asked", ("Whether the ledger still says so cannot be asked of this kind of paper.",))
    if document is None:
        return _by_code(ledger, code)
    said = _compared(ledger, code, document.asked, document.says, shown=False)
    if said.now != "changed":
        return said
    then = _says_then(ledger, code, document)
    if then is None or not changes(document.says, then):
        return _compared(ledger, code, document.asked, document.says, shown=then is not None)
    return said if changes(then, _says_now(ledger, code, document)) else _otherwise(said, code)


def _by_code(ledger: Ledger, code: PaperCode) -> Said:
    if code.paper not in OF_A_STUDENT:
        return Said("cannot be asked", ("From its code alone nobody can tell what it was about: check its PDF.",))
    if found := _find(ledger, code):
        return _found(ledger, code, *found)
    with ledger_then(ledger, code) as then:
        found = _find(then, code) if then else None
    return _found(ledger, code, *found) if found else Said("not found")


def _otherwise(said: Said, code: PaperCode) -> Said:
    """Nothing came between: either an earlier version told it so, or whoever has the centre's key made it up."""
    nothing = f"Of what it says nothing changed in the ledger since event {code.seq}: only how it is told differs."
    return replace(said, now="told otherwise", lines=(*said.lines[:1], nothing, *said.lines[1:]))


def _found(ledger: Ledger, code: PaperCode, asked: dict[str, str], says: Any) -> Said:
    told = says if isinstance(says, dict) else {}
    return replace(_compared(ledger, code, asked, says, shown=True), told=told)


def _compared(ledger: Ledger, code: PaperCode, asked: dict[str, str], says: Any, *, shown: bool) -> Said:
    try:
        now = plain_of(asked_again(ledger, code.paper, asked))
    except NotFoundError:
        return Said("gone", name=_name(says), shown=shown)
    told, issue = changes(says, now), _in_force(ledger, asked, says)
    if not told:
        return Said("same", issue, _name(now), shown=True)
    then = (
        f"At event {code.seq} the ledger said what the paper says."
        if shown
        else f"That the ledger said so at event {code.seq} cannot be shown here."
    )
    if not is_open(code.paper, asked):
        return Said("changed", (then, *issue, f"{_differ(len(told), 'place')} {_NOT_TOLD}"), _name(says), shown)
    more = [_differ(len(told) - _MOST_TOLD, "more place")] if len(told) > _MOST_TOLD else []
    return Said("changed", (then, *issue, *told[:_MOST_TOLD], *more), _name(now), shown)


def _differ(count: int, what: str) -> str:
    return f"{plural(count, what)} {'differs' if count == 1 else 'differ'}."


def _in_force(ledger: Ledger, asked: dict[str, str], says: Any) -> tuple[str, ...]:
    """Of a paper that tells a student's sign-offs: which was the last one on it, and which is in force now."""
    told = says.get("sign_offs") if isinstance(says, dict) else None
    if told is None:
        return ()
    seen = view(ledger, asked["course"])
    live = [
        f"issue {one.issue}{f', {STALE},' if is_older(seen, one) else ''}"
        for one in live_issues(seen, asked["student"])
    ]
    if not told and not live:
        return ()
    last = re.match(r"Issue \d+", str(told[-1])) if told else None
    tells = f"{last[0]} is the last sign-off that it tells" if last else "It tells no sign-off"
    return (f"{tells}; {listed(live) or 'none'} {'are' if len(live) > 1 else 'is'} in force now.",)


def _find(ledger: Ledger, code: PaperCode) -> tuple[dict[str, str], Any] | None:
    """Whose record has the hash that the code holds."""
    for asked in could_be(ledger, code.paper, code.day):
        says = plain_of(asked_again(ledger, code.paper, asked))
        if says_hash(code.paper, asked, says) == code.says:
            return asked, says
    return None


def _says_now(ledger: Ledger, code: PaperCode, document: PaperDocument) -> Any:
    return plain_of(asked_again(ledger, code.paper, document.asked))


def _says_then(ledger: Ledger, code: PaperCode, document: PaperDocument) -> Any:
    """What the ledger says of it as it was at the paper's own place, in today's words; None where that is not known."""
    with ledger_then(ledger, code) as then, suppress(NotFoundError):
        return None if then is None else _says_now(then, code, document)
    return None


def hashes_said(ledger: Ledger, code: PaperCode, document: PaperDocument | None) -> Iterator[str]:
    """Yield the hash of whatever the ledger says to a paper's question now, then of what it said at its place.

    Where its data are not there to say what was asked, every student's paper of its kind and day is asked for.
    """
    for asked, says in _every_answer(ledger, code, document):
        yield says_hash(code.paper, asked, says)


@question(Sight.CHECK)
def answer_of(ledger: Ledger, code: PaperCode, document: PaperDocument) -> Any:
    """Return the frozen answer that says exactly what a paper's data say, now or at its place; None: there is none."""
    if not can_be_asked(code.paper, document.asked):
        return None
    with suppress(NotFoundError):
        answer = asked_again(ledger, code.paper, document.asked)
        if plain_of(answer) == document.says:
            return answer
    with ledger_then(ledger, code) as then, suppress(NotFoundError):
        answer = asked_again(then, code.paper, document.asked) if then else None
        return answer if answer is not None and plain_of(answer) == document.says else None
    return None


def whose_data(ledger: Ledger, code: PaperCode, document: PaperDocument) -> str | None:
    """Return whose the data in a file are as the ledger knows them, in words; None where it says them of nobody."""
    as_of = document.asked.get("as_of", code.day)
    its_own = replace(code, paper=document.paper, day=as_of)
    for asked, says in _every_answer(ledger, its_own, document, everybody=True):
        if not changes(document.says, says):
            whose = _name(says)
            return f"{document.paper}{f' of {whose}' if whose else ''}{_day(asked)}"
    return None


def _every_answer(
    ledger: Ledger, code: PaperCode, document: PaperDocument | None, *, everybody: bool = False
) -> Iterator[tuple[dict[str, str], Any]]:
    yield from _answers(ledger, code, document, everybody=everybody)
    with ledger_then(ledger, code) as then:
        if then:
            yield from _answers(then, code, document, everybody=everybody)


def _answers(
    ledger: Ledger, code: PaperCode, document: PaperDocument | None, *, everybody: bool
) -> Iterator[tuple[dict[str, str], Any]]:
    questions = [document.asked] if document else []
    if everybody or not document:
        questions += could_be(ledger, code.paper, code.day)
    for asked in questions:
        if can_be_asked(code.paper, asked):
            with suppress(NotFoundError):
                yield asked, plain_of(asked_again(ledger, code.paper, asked))


def _day(asked: dict[str, str]) -> str:
    return f", as of {day_words(date.fromisoformat(asked['as_of']))}" if asked.get("as_of") else ""


def _name(says: Any) -> str:
    return str(says.get("student", "")) if isinstance(says, dict) else ""
