"""Text that people write: normalised, and refused where it holds marks that nobody can see."""

from __future__ import annotations

import unicodedata
from typing import Annotated

from pydantic import AfterValidator, Field

_JOINERS = {"\u200c", "\u200d"}  # some scripts need them inside words


def clean_line(text: str) -> str:
    """Return one line of text in NFC with plain spaces, refusing control and direction marks.

    Raises:
        ValueError: an invisible mark or a line break is in it, named by its Unicode name.
    """
    return _clean(text, allowed=_JOINERS)


def clean_note(text: str) -> str:
    """Return text of several lines in NFC, refusing control and direction marks."""
    return _clean(text, allowed=_JOINERS | {"\n"})


def _clean(text: str, allowed: set[str]) -> str:
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n"))
    for letter in text:
        if unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp") and letter not in allowed:
            name = unicodedata.name(letter, "control character")
            raise ValueError(
                f"the text holds a mark that nobody can see (U+{ord(letter):04X} {name}); type it again without it"
            )
    return text.strip()


Line = Annotated[str, AfterValidator(clean_line), Field(min_length=1, max_length=200)]
Note = Annotated[str, AfterValidator(clean_note), Field(min_length=1, max_length=2000)]
