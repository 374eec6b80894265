"""Whoever saved something and then meets a fault is told that it was saved, whatever the fault says of itself."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from course.errors import AfterSavingError, StorageError


@dataclass
class _Act:
    saved: bool = False


_ACT: ContextVar[_Act | None] = ContextVar("act", default=None)
"""What this thread does just now, None outside of `told_after_saving`. A thread beside it needs its context."""


def note_save() -> None:
    """Note that what this thread does has saved something."""
    act = _ACT.get()
    if act is not None:
        act.saved = True


@contextmanager
def told_after_saving() -> Iterator[None]:
    """For whoever does an act and tells its error: a fault after a save must not read as if nothing were saved.

    Raises:
        AfterSavingError: in the place of a fault that came after a save.
    """
    act = _Act()
    before = _ACT.set(act)
    try:
        yield
    except AfterSavingError:
        raise
    except StorageError as error:
        if not act.saved:
            raise
        raise AfterSavingError(
            f"This was saved, as a whole or in part; then something went wrong: {of_itself(error)} Look what is there "
            "before you do it again."
        ) from error
    finally:
        _ACT.reset(before)


def of_itself(error: StorageError) -> str:
    """What a fault says, without what it says of saving."""
    said = error.sentence.removeprefix("NOT saved: ")
    for end in (" Nothing was changed.", " What was saved before is kept."):
        said = said.removesuffix(end)
    return said[:1].lower() + said[1:]
