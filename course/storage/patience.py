"""How long an answer of a database server is waited for, said here alone.

A server that refuses or goes away is told by the driver. One that hangs (its processes are stopped, its disk stands
still) keeps the line open and says nothing: this side has to give up, or whoever asks would wait as long as it hangs.
What counts is silence, not length: an answer that goes on coming is read to its end, and each statement of an act
begins anew. Only acts with single statements over a whole ledger ask for more.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_WITHIN_S: ContextVar[float | None] = ContextVar("within_s", default=20.0)
"""Of pages, taps, saves and opening."""
MERGING_S = 120.0
"""A merge goes in portions, whose statements are short; but whoever saves waits behind it, so not for ever."""


def within_s() -> float | None:
    """How long what this thread asks now may stay without any answer, in seconds; None: as long as it takes."""
    return _WITHIN_S.get()


@contextmanager
def patient(seconds: float | None = None) -> Iterator[None]:
    """Give what this thread asks meanwhile another time to be answered; None: as long as it takes."""
    before = _WITHIN_S.set(seconds)
    try:
        yield
    finally:
        _WITHIN_S.reset(before)
