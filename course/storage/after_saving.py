"""Whoever saved something and then meets a fault is told that it was saved, whatever the fault says of itself."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from course.errors import AfterSavingError, StorageError

_SAVES: ContextVar[list[int] | None] = ContextVar("saves", default=None)
"""How many events each save of what this thread does just now had; None outside of `told_after_saving`."""


def note_save(events: int) -> None:
    """Note that what this thread does has saved events."""
    saves = _SAVES.get()
    if saves is not None:
        saves.append(events)


@contextmanager
def told_after_saving() -> Iterator[None]:
    """For whoever does an act and tells its error: a fault after a save must not read as if nothing were saved.

    Raises:
        AfterSavingError: in the place of a fault that came after a save.
    """
    saves: list[int] = []
    before = _SAVES.set(saves)
    try:
        yield
    except AfterSavingError:
        raise
    except StorageError as error:
        if not saves:
            raise
        raise AfterSavingError(
            f"This was saved, as a whole or in part; then something went wrong: {of_itself(error)} Look what is there "
            "before you do it again."
        ) from error
    finally:
        _SAVES.reset(before)


def of_itself(error: StorageError) -> str:
    """What a fault says, without what it says of saving."""
    said = error.sentence.removeprefix("NOT saved: ")
    for end in (" Nothing was changed.", " What was saved before is kept."):
        said = said.removesuffix(end)
    return said[:1].lower() + said[1:]
