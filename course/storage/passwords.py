"""Passwords and PINs as hashes that are slow to try.

Source: RFC 9106, "Argon2 Memory-Hard Function", section 4, the second recommended option: Argon2id with t=3 passes,
p=4 lanes, m=2^16 KiB (64 MiB), a salt of 128 bits and a tag of 256 bits.
"""

from __future__ import annotations

import threading
import unicodedata
from functools import cache

from argon2 import PasswordHasher, Type
from argon2.exceptions import InvalidHashError, VerificationError

from course.errors import RefusedError

PASSES, LANES, MEMORY_KIB, SALT_BYTES, TAG_BYTES = 3, 4, 64 * 1024, 16, 32
SHORTEST_PASSWORD, LONGEST_PASSWORD = 10, 256
SHORTEST_PIN, LONGEST_PIN = 4, 12
AT_ONCE = 2
"""How many are worked out at a time, each in 64 MiB; others wait, so that many requests do not fill the memory."""

_turn = threading.BoundedSemaphore(AT_ONCE)
_hasher = PasswordHasher(
    time_cost=PASSES, parallelism=LANES, memory_cost=MEMORY_KIB, salt_len=SALT_BYTES, hash_len=TAG_BYTES, type=Type.ID
)


def hashed_password(password: str) -> str:
    """Return the hash of a new password, with its salt and parameters in it.

    Raises:
        RefusedError: it is too short, too long or made of blanks.
    """
    plain = _normal(password)
    if not plain.strip() or not SHORTEST_PASSWORD <= len(plain) <= LONGEST_PASSWORD:
        raise RefusedError(
            f"A password has {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} characters, not blanks alone. "
            "Nothing was changed."
        )
    return _hash(plain)


def hashed_pin(pin: str) -> str:
    """Return the hash of a new PIN. Few digits are soon tried: a PIN is for lower rights and behind slowed guessing.

    Raises:
        RefusedError: it is not made of 4 to 12 digits.
    """
    if not (pin.isascii() and pin.isdigit() and SHORTEST_PIN <= len(pin) <= LONGEST_PIN):
        raise RefusedError(f"A PIN has {SHORTEST_PIN} to {LONGEST_PIN} digits. Nothing was changed.")
    return _hash(pin)


def is_right(kept: str | None, given: str) -> bool:
    """Whether this is the password or PIN of that hash. Without a hash as much work is done, and the answer is no."""
    plain = _normal(given[: LONGEST_PASSWORD + 1])  # a longer one cannot be right, and is not worked on at length
    with _turn:
        try:
            fits = _hasher.verify(kept or _nobodys(), plain)
        except (VerificationError, InvalidHashError):
            return False
    return fits and kept is not None


def _normal(text: str) -> str:
    return unicodedata.normalize("NFC", text)  # the same keys give other code points on another tablet


def _hash(plain: str) -> str:
    with _turn:
        return _hasher.hash(plain)


@cache
def _nobodys() -> str:
    return _hasher.hash("nobody has this")  # asked by `is_right` within its turn


_nobodys()  # made before anybody asks, so that the first unknown name takes no longer than a known one
