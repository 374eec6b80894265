"""The check of a paper: is it as it was signed, does the ledger still know its place, and does it still say the same.

The key is always one that was pinned: the ledger's own, or a file of public keys. Nothing is taken from the paper but
what is compared.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from course.access import Sight
from course.answers.days import day_words
from course.answers.paper_mended import Altered, altered_by_ledger, altered_in
from course.answers.paper_place import place_of
from course.answers.paper_said import Said, ask_ledger, whose_data
from course.answers.paper_verdict import FINE, UNTRUSTED, FileState, Shown, Verdict
from course.asker import question
from course.errors import RefusedError
from course.record.centre_key import CentreKey, grouped, key_id
from course.record.paper_code import PaperCode
from course.record.paper_document import PaperDocument
from course.storage.ledger import Ledger

NOT_SHOWN = (
    (
        "This shows what the ledger said and that the centre's key signed it. It does not show that what was entered "
        "is true, and it certifies nobody."
    ),
    "Compare the name on the paper with the person it is shown for.",
)


_AS_SIGNED, _CODE_AS_SIGNED = "The paper is as it was signed", "The paper's code is as it was signed"
_CODE_ALONE = (
    "Only its code was looked at: read what stands on its pages against what is told here, or check its PDF, since a "
    "code can be copied to another paper."
)
SHORTEST_HASH = 16


@dataclass(frozen=True)
class PaperCheck:
    """What came of it."""

    verdict: Verdict
    was: tuple[str, ...]
    """What it was."""
    signed: tuple[str, ...]
    place: tuple[str, ...]
    """Where its place in the ledger is."""
    changed: tuple[str, ...]
    """What the ledger says otherwise now."""
    says: Any = None
    """Its data, where they are the signed ones."""
    altered: tuple[str, ...] = ()
    """What is not as it was printed, thing by thing, as far as it can be shown."""
    code_alone: bool = False
    """Whether no file of it was there, but its code: nobody looked at its pages."""

    @property
    def fine(self) -> bool:
        """Whether nothing speaks against it."""
        return self.verdict in FINE

    @property
    def sentence(self) -> str:
        """What it comes to; of a code alone no more than that the code is as it was signed."""
        return self.verdict.replace(_AS_SIGNED, _CODE_AS_SIGNED) if self.code_alone else str(self.verdict)

    def lines(self) -> list[str]:
        """What there is to tell below the sentence."""
        alone = (_CODE_ALONE,) if self.code_alone else ()
        return [*self.altered, *self.was, *alone, *self.signed, *self.place, *self.changed, *NOT_SHOWN]

    def text(self) -> str:
        """All of it in lines."""
        return "\n".join([self.sentence, *self.lines()])

    def plain(self) -> dict[str, Any]:
        """All of it as plain data."""
        return asdict(self) | {"verdict": self.verdict.name, "sentence": self.sentence, "fine": self.fine}


@question(Sight.CHECK)
def check_paper(shown: Shown, keys: Sequence[CentreKey] | None, ledger: Ledger | None = None) -> PaperCheck:
    """Check a paper against pinned keys and, where there is one, the centre's own ledger.

    Args:
        shown: what was read from it.
        keys: the pinned keys; None: none were given.
        ledger: the ledger that it should be of.
    """
    bad, why = _told_apart(shown, _bad_paper(shown, keys), keys or (), ledger)
    place, lost = place_of(shown, ledger) if ledger else (("No ledger was given to compare with.",), None)
    trusted = bad not in UNTRUSTED
    said = ask_ledger(ledger, shown.code, shown.document) if ledger and trusted and not lost else None
    return PaperCheck(
        verdict=_verdict(shown, bad, lost, said, _pinned(shown.code, keys or ())),
        was=_was(shown, said or Said("cannot be asked"), trusted=trusted),
        signed=_signed_lines(shown.code, keys),
        place=place,
        changed=said.lines if said else (),
        says=shown.document.says if shown.document and trusted else None,
        altered=why,
        code_alone=shown.file is None,
    )


@question(Sight.CHECK)
def check_hash(ledger: Ledger, typed: str) -> PaperCheck:
    """Check a hash from the foot of a paper's pages: all that is left of one that is torn, and enough for a witness.

    Raises:
        RefusedError: it is no hash of 16 digits or more.
    """
    digits = _digits(typed)
    if not is_hash(typed):
        raise RefusedError(f"{typed.strip()[:40]!r} is no hash: it has {SHORTEST_HASH} hex digits or more.")
    found = next((one for one in ledger.chain_events() if one.hash.startswith(digits)), None)
    place = (f"It is event {found.seq} of chain {found.chain}.",) if found else ()
    return PaperCheck(Verdict.HASH_KNOWN if found else Verdict.HASH_UNKNOWN, (), (), place, ())


def is_hash(typed: str) -> bool:
    """Whether this is typed as the hash at the foot of a page is, or is the code of a paper of an earlier version."""
    return re.fullmatch(r"[0-9a-f]{16,64}", _digits(typed)) is not None


def _digits(typed: str) -> str:
    """The hex digits; of a code of an earlier version (`RECORD:1:`, unsigned) its last part, which is the hash."""
    plain = "".join(typed.split()).lower()
    return plain.rpartition(":")[2] if plain.startswith("record:1:") else plain


def _bad_paper(shown: Shown, keys: Sequence[CentreKey] | None) -> Verdict | None:
    """What speaks against the paper by itself; the worst first."""
    code, document = shown.code, shown.document
    key = _pinned(code, keys or ())
    found = {
        Verdict.OTHER_DATA: document is not None and not _belongs(document, code),
        Verdict.OTHER_CODE: shown.page_code is not None and shown.page_code != code,
        Verdict.UNSIGNED: not code.key,
        Verdict.NO_KEY: keys is None,
        Verdict.OTHER_CENTRE: key is None,
        Verdict.MADE_UP: key is not None and not code.is_signed_by(key.public),
        Verdict.LOST_KEY: key is not None and _after_loss(code, key),
        Verdict.PAGES_CHANGED: shown.file == FileState.CHANGED,
        Verdict.FILE_SIGNATURE: _odd_document(document, key),
        Verdict.ADDED: shown.file == FileState.ADDED_TO,
        Verdict.WITHOUT_DATA: shown.file == FileState.WITHOUT_DATA,
    }
    return next((verdict for verdict, is_so in found.items() if is_so), None)


def _told_apart(
    shown: Shown, bad: Verdict | None, keys: Sequence[CentreKey], ledger: Ledger | None
) -> tuple[Verdict | None, tuple[str, ...]]:
    """Tell the ways apart that look alike in the paper itself, with why."""
    if bad is Verdict.OTHER_DATA and ledger and shown.document:
        whose = whose_data(ledger, shown.code, shown.document)
        told = f"The data are those of this paper: {whose}." if whose else ""
        return (Verdict.DATA_SWAPPED, (told,)) if whose else (Verdict.DATA_ALTERED, ())
    if bad in (Verdict.MADE_UP, Verdict.OTHER_CENTRE):
        found = altered_in(shown.code, keys)
        if not found and bad is Verdict.MADE_UP and ledger:
            found = altered_by_ledger(shown.code, keys, ledger, shown.document)
        return (_of_altered(found), (found.line,)) if found else (_of_strange_key(shown, bad, ledger), ())
    return bad, ()


def _of_strange_key(shown: Shown, bad: Verdict, ledger: Ledger | None) -> Verdict:
    """Which centre its data name; from its code alone nobody can tell."""
    if bad is not Verdict.OTHER_CENTRE or ledger is None or shown.document is None:
        return bad
    ours = shown.document.ledger.centre == ledger.centre_id
    return Verdict.STRANGE_KEY if ours else Verdict.OTHER_CENTRE_NAMED


def _of_altered(found: Altered) -> Verdict:
    return Verdict.ALTERED if found.in_one_place else Verdict.FORGED


def _odd_document(document: PaperDocument | None, key: CentreKey | None) -> bool:
    """Whether the file's own signature does not fit: it names other pages than were printed, or was altered."""
    return document is not None and key is not None and not document.is_signed_by(key.public)


def _belongs(document: PaperDocument, code: PaperCode) -> bool:
    where = document.ledger
    place = (where.chain, where.seq, where.hash) == (code.chain, code.seq, code.head)
    asked = document.asked.get("as_of", "")
    return place and (document.paper, asked, document.says_hash) == (code.paper, code.day, code.says)


def _pinned(code: PaperCode, keys: Sequence[CentreKey]) -> CentreKey | None:
    return next((key for key in keys if key_id(key.public) == code.key), None)


def _after_loss(code: PaperCode, key: CentreKey) -> bool:
    """Whether a lost key signed for an event after it was said to be lost; in another chain nobody can tell."""
    if key.ended != "lost":
        return False
    return key.ended_chain != code.chain or code.seq >= (key.ended_seq or 0)


_NOW = {
    "same": Verdict.SAME,
    "changed": Verdict.CHANGED,
    "told otherwise": Verdict.TOLD_OTHERWISE,
    "gone": Verdict.GONE,
    "not found": Verdict.NOT_FOUND_AGAIN,
    "cannot be asked": Verdict.GENUINE,
}


def _verdict(
    shown: Shown, bad: Verdict | None, lost: Verdict | None, said: Said | None, key: CentreKey | None
) -> Verdict:
    now = _NOW[said.now] if said else Verdict.GENUINE
    if bad is Verdict.UNSIGNED and not lost and now is Verdict.SAME and shown.file in (None, FileState.AS_PRINTED):
        return Verdict.UNSIGNED_SAME
    if not bad and not lost and key and key.ended == "lost" and not (said and said.shown):
        return Verdict.LOST_KEY_EARLIER
    return bad or lost or now


# --- what is told ----------------------------------------------------------------------------------------------------


def _was(shown: Shown, said: Said, *, trusted: bool) -> tuple[str, ...]:
    code, document = shown.code, shown.document
    as_of = f", as of {day_words(date.fromisoformat(code.day))}" if code.day else ""
    says = document.says if document and trusted and isinstance(document.says, dict) else {}
    whose = said.name or says.get("student", "")
    lines = [f"{code.paper}{f' of {whose}' if whose else ''}{as_of}."]
    told = said.told | says
    lines += [str(text) for field in ("summary", "sentence", "confirmed") if (text := told.get(field))]
    return tuple(lines)


def _signed_lines(code: PaperCode, keys: Sequence[CentreKey] | None) -> tuple[str, ...]:
    if not code.key:
        return ("It was printed on a machine that did not have the centre's key.",)
    key = _pinned(code, keys or ())
    if key is None:
        return (f"It names the key {grouped(code.key)}.",)
    how = "was said to be lost" if key.ended == "lost" else "was replaced"
    ended = f", which {how} on {day_words(date.fromisoformat(key.ended_day))}" if key.ended_day else ""
    return (f"Compared with the pinned key {grouped(key.fingerprint)}{ended}.",)
