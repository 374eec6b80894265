"""What stands on a paper's pages against what was printed: the paper is made again from its own data and compared.

That needs the centre's ledger, which has to say, or to have said at the paper's place, exactly what the data say. The
words are compared first, then how each page looks, so that what is laid over words is seen too.
"""

from __future__ import annotations

import base64
import io
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from itertools import zip_longest
from typing import Any

import numpy as np
from numpy.typing import NDArray

from course.answers.filed_paper import BENCH_SHEET, CANDIDATE_FILE, COURSE_FILE, STATEMENT, TRANSFER_FILE, UNIT_HISTORY
from course.answers.paper_check import PaperCheck, check_paper
from course.answers.paper_said import answer_of
from course.answers.paper_verdict import UNTRUSTED, FileState, Shown, Verdict
from course.answers.record_answer import LedgerHead
from course.errors import CourseError
from course.exchange.paper_file import read_apart
from course.paper.attachment import own_data
from course.paper.audit_file import print_audit_file
from course.paper.competency_record import print_competency_record
from course.paper.day_sheet import print_day_sheet
from course.paper.filed_sheet import print_filed
from course.paper.frame import PAGES
from course.paper.incident_sheet import print_incident_sheet
from course.paper.origin_sheet import print_origin
from course.paper.take_home import print_take_home
from course.record.centre_key import CentreKey, key_id
from course.record.paper_code import PaperCode
from course.record.paper_document import MOST_BYTES, Pages, PaperDocument, read_document
from course.storage.centre_key import SigningKey
from course.storage.ledger import Ledger

_FILED = (COURSE_FILE, STATEMENT, UNIT_HISTORY, BENCH_SHEET, CANDIDATE_FILE, TRANSFER_FILE)
PRINTING: Mapping[str, Callable[..., int]] = {
    "Competency record": print_competency_record,
    "Sheet to take home": print_take_home,
    "Day sheet": print_day_sheet,
    "Incident sheet": print_incident_sheet,
    "Show why": print_origin,
    "Audit file": print_audit_file,
    **dict.fromkeys(_FILED, print_filed),
}
"""By the paper's title."""
_OTHER_FILE = frozenset({FileState.CHANGED, FileState.ADDED_TO})
_MOST_TOLD, _MOST_WORDS = 8, 12
_OTHER_DOT, _OTHER_DOTS = 90, 3
"""Of 255; and how many dots of a page drawn at 100 an inch may differ so: another program rounds a little."""


@dataclass(frozen=True)
class _AsSigned(SigningKey):
    """Gives the signature that stands on the paper already: it can sign nothing else."""

    seal: str = ""

    def sign(self, data: bytes) -> str:
        return self.seal


def check_shown(shown: Shown, keys: Sequence[CentreKey] | None, ledger: Ledger | None = None) -> PaperCheck:
    """Check a paper as `check_paper` does; where its file is not as printed, look at what stands on its pages too."""
    found, document = check_paper(shown, keys, ledger), shown.document
    odd = shown.file in _OTHER_FILE or found.verdict is Verdict.FILE_SIGNATURE
    if not odd or found.verdict in UNTRUSTED or ledger is None or document is None:
        return found
    key = next((one for one in keys or () if key_id(one.public) == shown.code.key), None)
    try:
        stands = read_apart(shown.content, "pages")["pages"]
        printed = printed_again(document, shown.code, key, ledger, stands[0]["size"] if stands else [])
        if printed is None:
            return found
        if _is_what_was_signed(printed.pages, document, key):
            told = list(_differences(stands, read_apart(printed.pdf, "pages")["pages"]))
            return _told(found, told)
    except CourseError:
        return found
    alone = found.verdict is Verdict.FILE_SIGNATURE and printed.pages == document.pages
    return replace(found, verdict=Verdict.SEAL_ALTERED) if alone else found


def _told(found: PaperCheck, told: list[str]) -> PaperCheck:
    verdict = {
        Verdict.PAGES_CHANGED: Verdict.PAGES_EDITED if told else Verdict.SAVED_ANEW,
        Verdict.FILE_SIGNATURE: Verdict.PAGES_RENAMED,
    }.get(found.verdict, found.verdict)
    told = told or ["On its pages stands what was printed, word for word, and they look so."]
    return replace(found, verdict=verdict, altered=(*told, *found.altered))


def _is_what_was_signed(again: Pages, document: PaperDocument, key: CentreKey | None) -> bool:
    """Whether pages made again are proven to be those that were printed: another version may print them otherwise."""
    if key and document.signature:
        return document.model_copy(update={"pages": again}).is_signed_by(key.public)
    return again == document.pages


@dataclass(frozen=True)
class Printed:
    """A paper that was made again, and what its data say of its pages."""

    pdf: bytes
    pages: Pages


def printed_again(
    document: PaperDocument, code: PaperCode, key: CentreKey | None, ledger: Ledger, size: Sequence[float]
) -> Printed | None:
    """Return a paper printed again from its own data at its own place; None where the ledger never says so.

    Args:
        document: its data.
        code: its code; the signature that stands in it is put on again, so that pages can be the very same bytes.
        key: the pinned key that the code names.
        ledger: what is asked.
        size: of its first page, in points.
    """
    answer = answer_of(ledger, code, document)
    if answer is None or document.paper not in PRINTING:
        return None
    out = io.BytesIO()
    PRINTING[document.paper](_placed(answer, document), out, _named(size), _key_of(key, code))
    data = own_data(out.getvalue(), MOST_BYTES)
    made = read_document(data) if data else None
    return Printed(out.getvalue(), made.pages) if made and made.code == document.code else None


def _key_of(key: CentreKey | None, code: PaperCode) -> SigningKey | None:
    return _AsSigned(key.public, b"", code.signature) if key and code.signature else None


def _placed(answer: Any, document: PaperDocument) -> Any:
    """The answer with the ledger's place that the paper names."""
    if isinstance(answer, list):
        return [_placed(one, document) for one in answer]
    where = document.ledger
    return replace(answer, head=LedgerHead(where.centre, where.chain, where.seq, where.hash))


def _named(size: Sequence[float]) -> str:
    """A4 or Letter, whichever is nearer."""
    return min(PAGES, key=lambda name: sum(abs(a - b) for a, b in zip(PAGES[name], size, strict=False)))


def _differences(stands: list[dict[str, Any]], printed: list[dict[str, Any]]) -> Iterator[str]:
    told = 0
    for number, one, was in _in_pairs(stands, printed):
        if one is None or was is None:
            yield f"Page {number} {'is missing' if one is None else 'was not printed'}."
            continue
        for words in _other_words(one["words"], was["words"]):
            told += 1
            if told <= _MOST_TOLD:
                yield f"Page {number}: {words}."
        if one["words"] == was["words"] and not _look_alike(one, was):
            yield f"Page {number} has the words that were printed, and something else is drawn on it."


def _in_pairs(
    stands: list[dict[str, Any]], printed: list[dict[str, Any]]
) -> Iterator[tuple[int, dict[str, Any] | None, dict[str, Any] | None]]:
    """Yield each page's number with what stands there and what was printed: one that was cut shifts no other."""
    was_words, words = ([tuple(page["words"]) for page in pages] for pages in (printed, stands))
    for _, a, b, c, d in SequenceMatcher(None, was_words, words, autojunk=False).get_opcodes():
        for nth, (was, one) in enumerate(zip_longest(printed[a:b], stands[c:d]), 1):
            yield (c if was is None else a) + nth, one, was


def _other_words(stands: list[str], printed: list[str]) -> Iterator[str]:
    for kind, a, b, c, d in SequenceMatcher(None, printed, stands, autojunk=False).get_opcodes():
        if kind != "equal":
            was, now = _quoted(printed[a:b]), _quoted(stands[c:d])
            yield f"{now} stands where {was} was printed" if a < b else f"{now} was added"


def _quoted(words: list[str]) -> str:
    shown = " ".join(words[:_MOST_WORDS])[:160]
    return f"“{shown}{' …' if len(words) > _MOST_WORDS else ''}”" if words else "nothing"


def _look_alike(one: dict[str, Any], was: dict[str, Any]) -> bool:
    if one["shape"] != was["shape"]:
        return False
    far = np.abs(_dots(one).astype(np.int16) - _dots(was).astype(np.int16)) > _OTHER_DOT
    return int(far.sum()) <= _OTHER_DOTS


def _dots(page: dict[str, Any]) -> NDArray[np.uint8]:
    return np.frombuffer(zlib.decompress(base64.b64decode(page["grey"])), dtype=np.uint8)
