"""The short code of a paper sheet: nine letters and digits that are typed from wet paper, the last one a check.

The letters leave out I, L, O and U, which a pencil makes into digits or each other. The check character is that of
ISO/IEC 7064, MOD 37,36 (hybrid system over 0-9 and A-Z): it finds every single wrong character and every swap of two
neighbours. From memory; `tests/test_slate_code.py` holds the standard's published example.
"""

from __future__ import annotations

import hashlib

from course.errors import RefusedError

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
CLEAR = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
READ_AS = str.maketrans("ILO", "110")


def check_character(characters: str) -> str:
    """Return the ISO/IEC 7064 MOD 37,36 check character of letters and digits."""
    left = 36
    for character in characters:
        left = (left + ALPHABET.index(character)) % 36 or 36
        left = left * 2 % 37
    return ALPHABET[(37 - left) % 36]


def code_of(slate: str) -> str:
    """Return the code of a sheet from its id: the same each time.

    A check character that is one of the letters left out would be misread; the next number is tried until it is clear.
    """
    for turn in range(100):
        digest = int.from_bytes(hashlib.sha256(f"{slate}|{turn}".encode()).digest()[:5])
        characters = "".join(CLEAR[digest >> shift & 31] for shift in range(35, -5, -5))
        check = check_character(characters)
        if check in CLEAR:
            return f"{characters[:4]}-{characters[4:]}{check}"
    raise AssertionError(slate)  # one turn in nine misses: a hundred in a row do not happen


def read_code(typed: str) -> str:
    """Return a code as it is kept, from what somebody typed: any case, with or without the dash or blanks.

    Raises:
        RefusedError: it is no code, or a character of it is wrong.
    """
    plain = "".join(typed.split()).replace("-", "").upper().translate(READ_AS)
    if len(plain) != 9 or not set(plain) <= set(CLEAR):
        raise RefusedError(
            f"{typed.strip()[:40]!r} is no sheet's number. It has nine letters and digits, such as K7QF-2M9TX, and "
            "stands at the top of the sheet."
        )
    if check_character(plain[:-1]) != plain[-1]:
        raise RefusedError(f"One character of {plain[:4]}-{plain[4:]} is wrong. Read it from the sheet once more.")
    return f"{plain[:4]}-{plain[4:]}"
