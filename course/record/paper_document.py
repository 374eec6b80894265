"""A paper's own data as a file: what it says, what it was asked about, its code, and the PDF that it belongs to.

The whole document but its own signature is signed, so that neither the data nor the pages can be changed unseen.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from course.errors import RefusedError
from course.record.body import Hash
from course.record.centre_key import fits
from course.record.chain import canonical, content_hash
from course.record.frozen import Frozen
from course.record.key_events import Signature

MEMBER = "paper.json"
MOST_BYTES = 64 * 2**20
_LABEL = b"loopledger.paper-file.v1\n"


class Place(Frozen):
    """Where the ledger stood."""

    centre: str
    chain: str
    seq: Annotated[int, Field(ge=0)]
    hash: Hash


class Pages(Frozen):
    """The finished PDF, before this file was put into it."""

    bytes: Annotated[int, Field(ge=1)]
    sha256: Hash


class PaperDocument(Frozen):
    """One paper's data."""

    format: Literal["loopledger-paper"] = "loopledger-paper"
    version: Literal[1] = 1
    paper: str
    asked: dict[str, str]
    says: Any
    ledger: Place
    code: str
    pages: Pages
    signature: Signature | None = None

    @property
    def says_hash(self) -> str:
        """The hash that the paper's code has to hold."""
        return says_hash(self.paper, self.asked, self.says)

    def is_signed_by(self, public: str) -> bool:
        """Whether the signature over all else is that of this public key."""
        return self.signature is not None and fits(public, _signed(self), self.signature)

    def written(self) -> bytes:
        """Return its one form in bytes (RFC 8785)."""
        return canonical(self.model_dump(mode="json"))


def says_hash(paper: str, asked: Mapping[str, str], says: Any) -> str:
    """Return the SHA-256 of what a paper says, with what it is and what it was asked about."""
    return content_hash({"paper": paper, "asked": dict(asked), "says": says})


def pages_of(pdf: bytes) -> Pages:
    """Return what a document says of a finished PDF."""
    return Pages(bytes=len(pdf), sha256=hashlib.sha256(pdf).hexdigest())


def signed_document(document: PaperDocument, sign: Callable[[bytes], str] | None) -> PaperDocument:
    """Return a document with its signature, where there is a key to sign with."""
    return document.model_copy(update={"signature": sign(_signed(document)) if sign else None})


def read_document(content: bytes) -> PaperDocument:
    """Read a paper's data back.

    Raises:
        RefusedError: they are none, or not in the one form in which they are written.
    """
    try:
        document = PaperDocument.model_validate(json.loads(content))
        if document.written() == content:
            return document
    except (ValueError, ValidationError, RecursionError):
        pass
    raise RefusedError(
        "The data in this paper cannot be read: they were cut or changed, or a later version wrote them. Read its "
        "square code instead."
    )


def _signed(document: PaperDocument) -> bytes:
    return _LABEL + canonical(document.model_dump(mode="json", exclude={"signature"}))
