"""A centre's public keys: how they are named, and whether a signature is theirs. No secret is ever here.

Source: RFC 8032, Ed25519 (pure, without a context); `tests/published/ed25519.csv` holds its vectors.
"""

from __future__ import annotations

import hashlib
from typing import Literal

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from course.record.chain import canonical
from course.record.frozen import Frozen

Ended = Literal["kept", "lost"]
"""Why a key was replaced: the old one was still in good hands and signed the next; or it was gone, or somebody else may
have it."""
KEY_ID_DIGITS = 16
_REPLACED = b"loopledger.key.v1\n"


class CentreKey(Frozen):
    """One key of a centre, and where its time ended."""

    public: str
    """The public key, 64 hex digits."""
    since: str
    """The day that it was made or first named, ISO."""
    ended: Ended | None = None
    ended_day: str | None = None
    ended_chain: str | None = None
    ended_seq: int | None = None
    """Where the ledger said that it was replaced."""
    replaced_by: str | None = None

    @property
    def fingerprint(self) -> str:
        """What people compare."""
        return fingerprint(self.public)


def fingerprint(public: str) -> str:
    """Return the SHA-256 of a public key, as 64 hex digits."""
    return hashlib.sha256(bytes.fromhex(public)).hexdigest()


def key_id(public: str) -> str:
    """Return how a paper names a key: the first 16 digits of its fingerprint. It only says where to look."""
    return fingerprint(public)[:KEY_ID_DIGITS]


def grouped(digits: str, size: int = 4) -> str:
    """Return digits in groups, to be read aloud and compared."""
    return " ".join(digits[start : start + size] for start in range(0, len(digits), size))


def fits(public: str, data: bytes, signature: str) -> bool:
    """Whether a signature (128 hex digits) over these bytes was made with the key of this public key."""
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(public)).verify(bytes.fromhex(signature), data)
    except (InvalidSignature, ValueError):
        return False
    return True


def handing_over(centre: str, old: str, new: str) -> bytes:
    """Return what an old key signs as it hands over to the next one."""
    return _REPLACED + f"{centre}|{old}|{new}".encode()


class KeyFile(Frozen):
    """A centre's public keys as they are given out; whoever takes them compares a fingerprint with the centre."""

    format: Literal["loopledger-keys"] = "loopledger-keys"
    version: Literal[1] = 1
    centre: str
    keys: tuple[CentreKey, ...]

    def written(self) -> bytes:
        """Return its bytes: one canonical form (RFC 8785) and a line's end."""
        return canonical(self.model_dump(mode="json")) + b"\n"
