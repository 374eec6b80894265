"""Passwords that are tried first: a public list of 30,000, and what is made of few such parts.

List and estimate come with the library zxcvbn (MIT licence); its list was gathered from published leaks, and no
network is asked. A password that is estimated to fall within 10^10 guesses is refused, with its blanks and signs or
without them: the bound is our own choice, and where the library's highest score begins.

Sources: NIST SP 800-63B-4, section 3.1.1.2 (a list of common and expected passwords, the whole password compared with
it); OWASP ASVS 5.0.0, 6.2.4 (at least the 3,000 most common that fit the rules for length) and 6.2.11 (words of the
context), all as quoted elsewhere, and from memory.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Iterable

from course.errors import StorageError

FEWEST_LISTED = 3000
FEWEST_GUESSES = 10**10
_LOOKED_AT = 72
"""Letters that the estimate goes over; a beginning that is hard to guess makes the whole at least as hard."""
_OF_THE_PROGRAM = ("loopledger", "rebreather", "instructor")

_turn = threading.Lock()  # the library keeps the words of the context in one place for all


def check_list() -> None:
    """Look whether the list is there, before anybody relies on it.

    Raises:
        StorageError: it is missing or nearly empty.
    """
    _listed()


def too_easy(password: str, about: Iterable[str] = ()) -> bool:
    """Whether a password would be among the first that are tried.

    Args:
        password: in plain.
        about: names that belong to the person and the centre.

    Raises:
        StorageError: the list of common passwords is missing or nearly empty.
    """
    listed, together = _listed(), re.sub(r"[\W_]+", "", password)
    if not {password.casefold(), together.casefold()}.isdisjoint(listed):
        return True
    words = {part for text in (*about, *_OF_THE_PROGRAM) for part in (text, *re.split(r"\W+", text)) if len(part) > 2}
    return any(_guesses(one[:_LOOKED_AT], sorted(words)) < FEWEST_GUESSES for one in (password, together) if one)


def _listed() -> dict[str, int]:
    try:
        from zxcvbn.matching import RANKED_DICTIONARIES  # noqa: PLC0415 - 0.8 MB that most commands never need
    except ImportError:
        RANKED_DICTIONARIES = {}  # noqa: N806 - the library's name
    found: dict[str, int] = RANKED_DICTIONARIES.get("passwords", {})
    if len(found) < FEWEST_LISTED:
        raise StorageError(
            "The list of common passwords is missing or empty, so no password can be checked and none is set. Install "
            "the program again (its part zxcvbn). Nothing was changed."
        )
    return found


def _guesses(password: str, words: list[str]) -> float:
    from zxcvbn import matching, zxcvbn  # noqa: PLC0415

    with _turn:
        try:
            return float(zxcvbn(password, user_inputs=words)["guesses"])
        finally:
            matching.RANKED_DICTIONARIES.pop("user_inputs", None)  # leaves nobody's name behind in the library
