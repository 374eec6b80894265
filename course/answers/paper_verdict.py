"""What is read from a paper, and all that a check can come to: each way of not being as it was has its sentence."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from course.record.paper_code import PaperCode
from course.record.paper_document import PaperDocument


class FileState(StrEnum):
    """How a file stands to what was printed."""

    AS_PRINTED = "as printed"
    CHANGED = "changed"
    ADDED_TO = "added to"
    WITHOUT_DATA = "without its data"


class Verdict(StrEnum):
    """What a check comes to: each its own sentence."""

    SAME = "The paper is as it was signed, and the ledger still says exactly this."
    CHANGED = "The paper is as it was signed, and the ledger says something else now."
    TOLD_OTHERWISE = (
        "The paper is as it was signed, and nothing of it changed in the ledger since; it is told otherwise now. An "
        "earlier version of this program may have told it so: compare what differs."
    )
    GONE = "The paper is as it was signed, and what it was about is no longer in the ledger, or was erased."
    GENUINE = "The paper is as it was signed."
    NOT_FOUND_AGAIN = (
        "The paper's code is as it was signed, and no record in the ledger is found that says or said so: somebody was "
        "erased, laptops were merged, or the program tells it otherwise now. Check its PDF."
    )
    UNSIGNED_SAME = "The paper is not signed, and the ledger says exactly this: trust its data and not its pages."
    UNSIGNED = "The paper is not signed: nothing shows that it is the centre's."
    NO_KEY = "The signature was not checked: no key of a centre was given to check it with."
    OTHER_CENTRE = (
        "The paper was signed with a key that is none of this centre's, or is newer than the keys it was checked with."
    )
    OTHER_CENTRE_NAMED = (
        "The paper says that it is another centre's: its data name that one, and its key is none of this centre's."
    )
    STRANGE_KEY = (
        "The paper names this centre, and was signed with a key that is none of its own: it was made up, or that key "
        "is newer than this ledger."
    )
    ALTERED = "The code was altered in one place: once that is put right, its signature fits."
    FORGED = "The signature in the code was altered or made up: all else in it is as the ledger has it."
    MADE_UP = "The code was made up, or altered in more than can be put right here: its signature does not fit."
    LOST_KEY = "The paper was signed with a key after that key was lost: whoever found it may have made the paper."
    LOST_KEY_EARLIER = (
        "The paper was signed with a key that is lost now, and nothing here shows that the ledger ever said this: "
        "whoever found the key may have made the paper."
    )
    OTHER_DATA = (
        "The data in the file are not those of its code: they were altered, or belong to another paper. A check with "
        "the centre's ledger tells which."
    )
    DATA_ALTERED = (
        "The data in the file were altered: they are not those of its code, and nothing that the ledger can be asked "
        "gives them."
    )
    DATA_SWAPPED = "The data in the file are not those of its code, but another paper's, which the ledger knows."
    OTHER_CODE = "The square code on the page is another paper's than the data in the file."
    PAGES_CHANGED = (
        "The pages are not those that were printed: they were changed, or another program saved the file anew. What "
        "was printed cannot be made again here to tell which. Trust its data and not its pages."
    )
    PAGES_EDITED = "The pages were changed: something else stands on them than was printed. Trust its data alone."
    SAVED_ANEW = (
        "The file is not as it was printed, but its pages read and look so: another program saved it anew, or changed "
        "what is not seen on them."
    )
    FILE_SIGNATURE = (
        "The file's own signature does not fit: its pages were changed and its data made to name the new ones, or that "
        "signature was altered. Trust its data and not its pages."
    )
    PAGES_RENAMED = (
        "The file was changed, and its data made to name the changed pages: with those that were printed its signature "
        "fits. Trust its data and not its pages."
    )
    SEAL_ALTERED = "The file's own signature was altered. Its pages, its data and its code are as they were printed."
    WITHOUT_DATA = (
        "The file's own data were cut off. Its code is as it was signed; what stands on its pages was not checked."
    )
    ADDED = "Something was added to the file after it was printed. Trust its data and not its pages."
    TAIL_LOST = "This ledger has lost events that it had when the paper was printed."
    REPLACED = "This ledger was replaced or rewritten: another event stands where the paper saw its last one."
    OTHER_LEDGER = "The paper was printed from another centre's ledger: its data name another centre than this one."
    NOT_MERGED = (
        "A laptop of this centre printed the paper, and nothing that it wrote is here yet: bring its bundle, and merge."
    )
    UNKNOWN_LAPTOP = (
        "The paper names this centre, and nothing here knows the laptop that printed it: bring that one's bundle."
    )
    UNKNOWN_CHAIN = (
        "Nothing here knows the chain that the paper was printed from. Its code does not say which centre's that is, "
        "and its PDF does: check that."
    )
    HASH_KNOWN = "The ledger has the event that this hash names, so nothing before it was changed."
    HASH_UNKNOWN = "No event in this ledger has that hash: it is of another ledger, or this one was replaced."
    NOT_YET_HERE = "Another laptop wrote more of that chain than is here: bring its bundle, and merge."
    OLD_BACKUP = (
        "This ledger went on from a back-up that is older than the paper: what the paper saw is in the ledger that was "
        "backed up. (One that version 0.5 or an earlier one went on with after a loss says the same: there it is lost.)"
    )
    AFTER_LOSS = (
        "This ledger lost what the paper saw, and somebody who had read so went on with what was left: the paper, or a "
        "laptop that still has it, is what is left of it."
    )


FINE = frozenset({Verdict.SAME, Verdict.GENUINE, Verdict.UNSIGNED_SAME, Verdict.HASH_KNOWN})
UNTRUSTED = frozenset(
    {
        Verdict.ALTERED, Verdict.FORGED, Verdict.MADE_UP, Verdict.OTHER_DATA, Verdict.DATA_ALTERED,
        Verdict.DATA_SWAPPED, Verdict.OTHER_CODE,
    }
)  # fmt: skip
"""The ledger is not asked about these, nor their data shown."""


@dataclass(frozen=True)
class Shown:
    """What was read from a paper: its code; from a PDF of ours its data, and how the file stands."""

    code: PaperCode
    document: PaperDocument | None = None
    file: FileState | None = None
    page_code: PaperCode | None = None
    """The square code on its pages, where it had to be read since the file is not as printed."""
    content: bytes = field(default=b"", repr=False, compare=False)
    """The PDF itself, to look at its pages once more."""
