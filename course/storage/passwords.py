"""Passwords and PINs as hashes that are slow to try.

Source: RFC 9106, "Argon2 Memory-Hard Function", section 4, the second recommended option: Argon2id with t=3 passes,
p=4 lanes, m=2^16 KiB (64 MiB), a salt of 128 bits and a tag of 256 bits.

What may be a password follows NIST SP 800-63B-4, section 3.1.1.2: at least 15 characters where it is asked for alone,
more than 64 taken, any character, no rule of composition, no change after a time, but none that is tried first
(`common_passwords`). A PIN is no such password: it is for lower rights on a tablet that somebody signed in before.
"""

from __future__ import annotations

import secrets
import threading
import unicodedata
from collections.abc import Iterable
from functools import cache
from itertools import pairwise

from argon2 import PasswordHasher, Type
from argon2.exceptions import InvalidHashError, VerificationError

from course.errors import RefusedError
from course.storage.common_passwords import too_easy

PASSES, LANES, MEMORY_KIB, SALT_BYTES, TAG_BYTES = 3, 4, 64 * 1024, 16, 32
SHORTEST_PASSWORD, LONGEST_PASSWORD = 15, 256
SHORTEST_PIN, LONGEST_PIN = 4, 8
SHORTEST_SIGNING_PIN = 6
AT_ONCE = 2
"""How many are worked out at a time, each in 64 MiB; others wait, so that many requests do not fill the memory."""

_turn = threading.BoundedSemaphore(AT_ONCE)
_hasher = PasswordHasher(
    time_cost=PASSES, parallelism=LANES, memory_cost=MEMORY_KIB, salt_len=SALT_BYTES, hash_len=TAG_BYTES, type=Type.ID
)


def hashed_password(password: str, about: Iterable[str] = ()) -> str:
    """Return the hash of a new password, with its salt and parameters in it.

    Args:
        password: in plain.
        about: names that belong to the person and the centre, which others try first.

    Raises:
        RefusedError: it is too short, too long, made of blanks, or among those that are tried first.
        StorageError: the list of common passwords is missing.
    """
    plain = _normal(password)
    if not plain.strip() or not SHORTEST_PASSWORD <= len(plain) <= LONGEST_PASSWORD:
        raise RefusedError(
            f"A password has {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} characters, not blanks alone; four words do. "
            "Nothing was changed."
        )
    if too_easy(plain, about):
        raise RefusedError(
            "This password is among those that are tried first, or made of names and few such parts. Take four words "
            "that do not belong together. Nothing was changed."
        )
    return _hash(plain)


def first_password() -> str:
    """Return a password that was drawn by lot, to be told to somebody once and changed by them: 64 bits, easy to read.

    Each of its four words has five letters, consonants and vowels in turn: 14^3 * 5^2, more than 2^16 of them.
    """
    letters = ("bdfgklmnprstvz", "aeiou") * 2 + ("bdfgklmnprstvz",)
    return "-".join("".join(map(secrets.choice, letters)) for _ in range(4))


def hashed_pin(pin: str, shortest: int = SHORTEST_PIN) -> str:
    """Return the hash of a new PIN. Few digits are soon tried: a PIN is for lower rights and behind slowed guessing.

    Raises:
        RefusedError: it is not made of digits, that many to 8 of them, or is one that is tried first.
    """
    if not may_be_pin(pin) or len(pin) < shortest:
        raise RefusedError(f"A PIN has {shortest} to {LONGEST_PIN} digits. Nothing was changed.")
    if _trivial(pin):
        raise RefusedError("A PIN is no run such as 3456, nor one or two digits again and again. Nothing was changed.")
    return _hash(pin)


def may_be_pin(text: str) -> bool:
    """Whether a text is digits as a PIN has them; no password is."""
    return text.isascii() and text.isdigit() and SHORTEST_PIN <= len(text) <= LONGEST_PIN


def is_right(kept: str | None, given: str) -> bool:
    """Whether this is the password or PIN of that hash. Without a hash as much work is done, and the answer is no."""
    plain = _normal(given[: LONGEST_PASSWORD + 1])  # a longer one cannot be right, and is not worked on at length
    with _turn:
        try:
            fits = _hasher.verify(kept or _nobodys(), plain)
        except (VerificationError, InvalidHashError):
            return False
    return fits and kept is not None


def _trivial(pin: str) -> bool:
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    return steps in ({0}, {1}, {9}) or pin == (pin[:2] * len(pin))[: len(pin)]


def _normal(text: str) -> str:
    return unicodedata.normalize("NFC", text)  # the same keys give other code points on another tablet


def _hash(plain: str) -> str:
    with _turn:
        return _hasher.hash(plain)


@cache
def _nobodys() -> str:
    return _hasher.hash("nobody has this")  # asked by `is_right` within its turn


_nobodys()  # made before anybody asks, so that the first unknown name takes no longer than a known one
