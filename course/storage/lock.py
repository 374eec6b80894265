"""One program writes to a centre's folder at a time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from course.errors import BusyError

FILE = "lock"


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold a folder for writing. The system lets it go by itself when the program ends in any way.

    Raises:
        BusyError: another program holds it.
    """
    lock = FileLock(folder / FILE, timeout=0, thread_local=False)
    try:
        lock.acquire()
    except Timeout:
        raise busy(folder) from None
    try:
        yield
    finally:
        lock.release()


def busy(folder: Path) -> BusyError:
    """Return the error to raise when another program writes to a centre."""
    return BusyError(
        f"Another program has {folder} open for writing. Use that one, or close it and do it again. "
        "Nothing was changed."
    )
