"""Text that people write: normalised, and refused where it holds marks that nobody can see."""

from __future__ import annotations

import re
import unicodedata
from typing import Annotated

from pydantic import AfterValidator, Field

_JOINERS = {"\u200c", "\u200d"}  # some scripts need them inside words
_LOOK_ALIKE = ("LATIN", "CYRILLIC", "GREEK", "ARMENIAN", "CHEROKEE", "FULLWIDTH", "MATHEMATICAL")
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


def look_alike_note(text: str) -> str:
    """Say which words mix alphabets whose letters look alike, such as Latin and Cyrillic; empty where none does.

    Nothing is changed or taken for the same: who reads it judges. An alphabet is what a letter's Unicode name begins
    with. After Unicode Technical Standard 39, section 5 (mixed scripts), much simplified; from memory.
    """
    for word in re.findall(r"[^\W\d_]+", text):
        names = [unicodedata.name(letter, "").partition(" ")[0] for letter in word]
        mixed = [one for one in _LOOK_ALIKE if one in names]
        if len(mixed) > 1:
            told = " and ".join(one.capitalize() for one in mixed)
            return (
                f"“{word}” has {told} letters in one word. It is kept as typed, and is another name than it looks like."
            )
    return ""


def _clean(text: str, allowed: set[str]) -> str:
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\t", " "))
    for letter in text:
        unseen = unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp") or letter in _BLANK
        if unseen and letter not in allowed:
            raise ValueError(_unseen_words(letter))
    plain = "".join(" " if unicodedata.category(letter) == "Zs" else letter for letter in text).strip()
    return plain if any(letter not in allowed for letter in plain) else ""


def _unseen_words(letter: str) -> str:
    """What is wrong with a mark, so that it goes on after the name of a field."""
    if letter == "\n":
        return "holds a line break, and is one line; take the break out"
    name = unicodedata.name(letter, "half a letter" if unicodedata.category(letter) == "Cs" else "control character")
    return f"holds a mark that nobody can see (U+{ord(letter):04X} {name}); type it again without it"


Line = Annotated[str, AfterValidator(clean_line), Field(min_length=1, max_length=200)]
Note = Annotated[str, AfterValidator(clean_note), Field(min_length=1, max_length=2000)]
