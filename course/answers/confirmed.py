"""How people showed, at the act, that a word in the ledger is theirs: on screens and papers the same few words."""

from __future__ import annotations

_BY = {"password": ", confirmed by password", "pin": ", confirmed by PIN"}
_NOT = ", not confirmed by a password or PIN"


def confirmed_words(confirmed_with: str | None) -> str:
    """Return how somebody confirmed a word of theirs, to stand behind its day.

    Where nobody had an account it says that they did not, so that it never reads like one that was confirmed.
    """
    return _BY.get(confirmed_with or "", _NOT)
