"""Text that people write: normalised, and refused where it holds marks that nobody can see."""

from __future__ import annotations

import unicodedata
from typing import Annotated

from pydantic import AfterValidator, Field

_JOINERS = {"\u200c", "\u200d"}  # some scripts need them inside words
_BLANK = {"\u034f", "\u115f", "\u1160", "\u17b4", "\u17b5", "\u2800", "\u3164", "\uffa0"}  # letters by class, yet blank


def clean_line(text: str) -> str:
    """Return one line of text in NFC, every kind of space as a plain one, refusing control and direction marks.

    Raises:
        ValueError: an invisible mark or a line break is in it, named by its Unicode name.
    """
    return _clean(text, allowed=_JOINERS)


def clean_note(text: str) -> str:
    """Return text of several lines in NFC, refusing control and direction marks.

    Raises:
        ValueError: an invisible mark is in it, named by its Unicode name.
    """
    return _clean(text, allowed=_JOINERS | {"\n"})


def _clean(text: str, allowed: set[str]) -> str:
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\t", " "))
    for letter in text:
        unseen = unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp") or letter in _BLANK
        if unseen and letter not in allowed:
            name = unicodedata.name(letter, "control character")
            raise ValueError(
                f"the text holds a mark that nobody can see (U+{ord(letter):04X} {name}); type it again without it"
            )
    plain = "".join(" " if unicodedata.category(letter) == "Zs" else letter for letter in text).strip()
    return plain if any(letter not in allowed for letter in plain) else ""


Line = Annotated[str, AfterValidator(clean_line), Field(min_length=1, max_length=200)]
Note = Annotated[str, AfterValidator(clean_note), Field(min_length=1, max_length=2000)]
