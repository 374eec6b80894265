"""The code of a printed paper: what it says as one hash, where the ledger stood, which key signed it.

It is read from a square code or typed from paper: base 32 in the letters of sheet numbers, in rows of fifty whose
last character is a check (ISO/IEC 7064, MOD 37,36), so that a slip is told by its row; the few that it
misses change what was signed. Nothing personal is in it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date
from uuid import UUID

from course.errors import RefusedError
from course.record.centre_key import fits
from course.record.slate_code import ALPHABET, CLEAR, READ_AS, check_character

PREFIX = "PAPER:1:"
ROW, GROUP = 50, 5
_VERSION = 1
_LABEL = b"loopledger.paper.v1\n"
_LONGEST_NAME = 40
_FIXED, _SEAL = 3 + 3 + 16 + 6 + 32 + 32, 8 + 64  # bytes before the seal without the name; key id and signature
_LONGEST_TYPED = 4000


@dataclass(frozen=True)
class PaperCode:
    """What a paper's code holds. Hashes, key id and signature are hex digits; without a key the last two are empty."""

    paper: str
    """Which paper: "Competency record"."""
    day: str
    """The ISO day that it is as of; empty where it has none."""
    says: str
    """SHA-256 of the canonical form of what the paper says."""
    chain: str
    seq: int
    head: str
    """Hash of the event that was the chain's last when it was printed."""
    key: str = ""
    signature: str = ""

    def signed_bytes(self) -> bytes:
        """Return what the signature is over: everything else, the key's id too."""
        return _LABEL + _packed(replace(self, signature="0" * 128 if self.key else ""))[: -64 if self.key else None]

    def is_signed_by(self, public: str) -> bool:
        """Whether the signature is that of this public key."""
        return bool(self.signature) and fits(public, self.signed_bytes(), self.signature)

    def rows(self) -> tuple[str, ...]:
        """Return the code in rows of fifty characters or fewer, each with its check character at the end."""
        characters = _characters(_packed(self))
        parts = [characters[start : start + ROW - 1] for start in range(0, len(characters), ROW - 1)]
        return tuple(part + check_character(part) for part in parts)

    def text(self) -> str:
        """Return the code as the square code holds it: letters that it packs tightly."""
        return PREFIX + "".join(self.rows())


def read_paper_code(typed: str) -> PaperCode:
    """Read a paper's code, from its square code or as somebody typed it: any case, with or without blanks.

    Raises:
        RefusedError: it is none, a row of it is wrong or missing, or a later version wrote it.
    """
    if len(typed) > _LONGEST_TYPED:
        raise RefusedError("This is too long for a paper's code. Type the rows beside its square code.")
    return _unpacked(_bytes("".join(_checked(rows_of(typed)))))


def is_typed_code(typed: str) -> bool:
    """Whether this is meant as a paper's code, right or wrong, and not as a file's name."""
    plain = typed.strip().upper()
    return plain.startswith(PREFIX[:6]) or re.fullmatch(r"[0-9A-Z\s·-]{80,}", plain) is not None


def rows_of(typed: str) -> list[str]:
    """Return what was typed as rows: its lines where there are several, else every fifty characters."""
    lines = [_plain(line).removeprefix(PREFIX) for line in typed.upper().splitlines()]
    lines = [line for line in lines if line]
    if len(lines) == 1:
        return [lines[0][start : start + ROW] for start in range(0, len(lines[0]), ROW)]
    return lines


def _plain(line: str) -> str:
    return re.sub(r"[\s\-·]", "", line).translate(READ_AS)


def _checked(rows: list[str]) -> list[str]:
    if not rows:
        raise RefusedError("No code was given. Type the rows beside the square code of the paper.")
    for number, row in enumerate(rows, start=1):
        strange = sorted({letter for letter in row if letter not in ALPHABET})
        if strange:
            raise RefusedError(
                f"This is no paper's code: row {number} has {strange[0]!r}, which no code has. Type the rows "
                "beside the square code."
            )
        if len(row) > ROW or (len(row) < ROW and number < len(rows)):
            raise RefusedError(
                f"Row {number} has {len(row)} characters where it should have {ROW}: one is missing or too many. Read "
                "that row from the paper once more."
            )
        if check_character(row[:-1]).translate(READ_AS) != row[-1]:
            end = " The code may be torn off there." if number == len(rows) else ""
            raise RefusedError(f"A character in row {number} is wrong. Read that row from the paper once more.{end}")
    return [row[:-1] for row in rows]


def _packed(code: PaperCode) -> bytes:
    name = code.paper.encode("ascii")
    if not 0 < len(name) <= _LONGEST_NAME:
        raise ValueError(code.paper)
    day = date.fromisoformat(code.day).toordinal() if code.day else 0
    parts = [
        bytes([_VERSION, bool(code.key), len(name)]), name, day.to_bytes(3), UUID(code.chain).bytes,
        code.seq.to_bytes(6), bytes.fromhex(code.head), bytes.fromhex(code.says), bytes.fromhex(code.key),
        bytes.fromhex(code.signature),
    ]  # fmt: skip
    return b"".join(parts)


def _unpacked(data: bytes) -> PaperCode:
    if data[:1] != bytes([_VERSION]):
        raise RefusedError(
            "This is no paper's code, or a later version of the program wrote it. Check it with the newest version."
        )
    if len(data) < 3:
        raise _torn()
    signed, long = data[1] == 1, data[2]
    needed = _FIXED + long + (_SEAL if signed else 0)
    if len(data) < needed or not 0 < long <= _LONGEST_NAME:
        raise _torn()
    name, rest = data[3 : 3 + long], data[3 + long : needed]
    ordinal = int.from_bytes(rest[:3])
    try:
        return PaperCode(
            paper=name.decode("ascii"),
            day=date.fromordinal(ordinal).isoformat() if ordinal else "",
            chain=str(UUID(bytes=rest[3:19])),
            seq=int.from_bytes(rest[19:25]),
            head=rest[25:57].hex(),
            says=rest[57:89].hex(),
            key=rest[89:97].hex(),
            signature=rest[97:].hex(),
        )
    except ValueError:
        raise _torn() from None


def _torn() -> RefusedError:
    return RefusedError(
        "The code is torn: its end is missing. Type all of its rows, or read the square code. If the paper is cut "
        "there, compare the hash at the foot of its pages instead."
    )


def _characters(data: bytes) -> str:
    bits = len(data) * 8
    padded = -(-bits // 5) * 5
    number = int.from_bytes(data) << (padded - bits)
    return "".join(CLEAR[number >> shift & 31] for shift in range(padded - 5, -5, -5))


def _bytes(characters: str) -> bytes:
    number = 0
    for letter in characters:
        if letter not in CLEAR:
            raise RefusedError(f"This is no paper's code: {letter!r} is none of its letters.")
        number = number << 5 | CLEAR.index(letter)
    bits = len(characters) * 5
    return (number >> bits % 8).to_bytes(bits // 8)
