"""Plain data as a file holds it, read place by place, and the flaws that rules find there.

Rules read through `At`, which never trips over what is missing or of another type: so every rule can be asked of
every file, however broken, and all problems are found at once.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

Path = tuple[str | int, ...]

SLUG = r"^[a-z0-9]+(?:[-_][a-z0-9]+)*$"
"""What an id looks like."""

DEEPEST = 40
"""How deep lists and blocks may stand in each other."""
LARGEST = 2**53 - 1
"""Largest whole number that every reader of JSON keeps exactly (RFC 8259, section 6; RFC 7493, section 2.2)."""


@dataclass(frozen=True)
class Flaw:
    """One thing wrong at a path of one file; `on_key` when the key itself is what is wrong."""

    file: str
    path: Path
    wrong: str
    remedy: str
    on_key: bool = False


@dataclass(frozen=True)
class At:
    """A place in plain data: its value, its path from the top, its file."""

    value: object
    path: Path = ()
    file: str = ""

    def __getitem__(self, key: str) -> At:
        value = self.value.get(key) if isinstance(self.value, Mapping) else None
        return At(value, (*self.path, key), self.file)

    def each(self) -> Iterator[At]:
        """Yield the places of a list, nothing where no list stands."""
        if isinstance(self.value, list | tuple):
            for number, value in enumerate(self.value):
                yield At(value, (*self.path, number), self.file)

    @property
    def text(self) -> str:
        """The text that stands here, else the empty text."""
        return self.value if isinstance(self.value, str) else ""

    @property
    def texts(self) -> list[str]:
        """The texts of a list."""
        return [place.text for place in self.each() if place.text]

    @property
    def number(self) -> int | None:
        """The whole number that stands here, if one does."""
        return self.value if isinstance(self.value, int) and not isinstance(self.value, bool) else None

    @property
    def is_map(self) -> bool:
        """Whether keys and values stand here."""
        return isinstance(self.value, Mapping)

    def flaw(self, wrong: str, remedy: str, *, on_key: bool = False) -> Flaw:
        """Return a flaw at this place."""
        return Flaw(self.file, self.path, wrong, remedy, on_key)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that looks most like this one, if one comes near."""
    return next(iter(difflib.get_close_matches(word, sorted(set(known)), n=1)), None)


def are_ids(words: Iterable[str]) -> bool:
    """Whether all of these look like ids: where one does not, a name may be meant for it."""
    return all(re.fullmatch(SLUG, word) for word in words)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return the way out of a word that nobody knows: the nearest, else a short list, else where to look."""
    words = sorted(set(known))
    close = nearest(word, words)
    if close is not None:
        return f'Did you mean "{close}"?'
    if not words:
        return "There is none to name: add it, or take this out."
    if len(words) <= 16:
        return f"Write one of: {', '.join(words)}."
    return "Write one that stands in the files, or add it there."


def named_twice(names: At) -> Iterator[Flaw]:
    """Yield a flaw for each text of a list that stood there before."""
    seen: set[str] = set()
    for place in names.each():
        if place.text and place.text in seen:
            yield place.flaw(f'"{place.text}" stands twice in this list.', "Take one out.")
        seen.add(place.text)


def ids_twice(things: At, what: str) -> Iterator[Flaw]:
    """Yield a flaw for each thing of a list whose id another one had before it."""
    seen: set[str] = set()
    for thing in things.each():
        place = thing["id"]
        if place.text and place.text in seen:
            yield place.flaw(f'Two {what} have the id "{place.text}".', "Give one of them another id.")
        seen.add(place.text)


def unplain(at: At) -> Iterator[Flaw]:
    """Yield a flaw for everything that could not be kept in the ledger exactly as it was written."""
    value = at.value
    if len(at.path) > DEEPEST:
        yield at.flaw(f"Nested more than {DEEPEST} deep.", "A rubric file needs far less: look for a stray bracket.")
    elif isinstance(value, Mapping):
        yield from (
            at.flaw(f"The key {key} is no text.", "Put it in quotes.") for key in value if not isinstance(key, str)
        )
        for key in value:
            yield from unplain(at[key])
    elif isinstance(value, list):
        for place in at.each():
            yield from unplain(place)
    elif isinstance(value, str):
        yield from _unprintable(at, value)
    elif isinstance(value, int) and abs(value) > LARGEST:
        yield at.flaw("This number is too large to be kept exactly.", "Write a smaller whole number.")
    elif not isinstance(value, int | None):
        wrong = f"{value} is no whole number, text, true, false or list."
        yield at.flaw(wrong, "Put it in quotes if it is meant as text.")


def _unprintable(at: At, text: str) -> Iterator[Flaw]:
    odd = next((letter for letter in text if unicodedata.category(letter) in ("Cc", "Cs", "Cf", "Zl", "Zp")), None)
    if odd == "\n":
        yield at.flaw("The text has a line break in it.", "Write it in one line, or fold it with >- after the colon.")
    elif odd is not None:
        yield at.flaw(
            f"The text holds a sign that cannot be seen, U+{ord(odd):04X}.", "Delete it and type the text anew."
        )
    elif text != text.strip():
        yield at.flaw("The text begins or ends with a blank.", "Take the blank out.")


def blanked(at: At, places: set[Path]) -> At:
    """Return the same data with nothing at some places."""
    if at.path in places:
        return At(None, at.path, at.file)
    if not places or not isinstance(at.value, Mapping | list):
        return at
    if isinstance(at.value, list):
        return At([blanked(place, places).value for place in at.each()], at.path, at.file)
    return At({key: blanked(at[key], places).value for key in at.value}, at.path, at.file)


def written_path(root: object, path: Path) -> str:
    """Return a path for people: list items by their id, else by their number counted from 1."""
    words = ""
    place = At(root)
    for part in path:
        if isinstance(part, str):
            words += f".{part}" if words else part
            place = place[part]
        else:
            place = next((item for item in place.each() if item.path[-1] == part), At(None))
            words += f"[{place['id'].text or part + 1}]"
    return words
