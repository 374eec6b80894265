"""The small centre over and over: a new copy wherever something was written in the one before."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from centre_builder import Centre

from course.storage.ledger import open_ledger


@dataclass(frozen=True)
class Said:
    """What came of a hostile input: the sentence that refused it, or what was kept of it where it is read."""

    refused: str = ""
    kept: str = ""
    events: int = 0
    """How many events it may have added."""


Act = Callable[[str], Said]
Ready = Callable[[Centre], Act]


@dataclass(frozen=True)
class Drive:
    """How a place takes a text: what is made ready once, and the act; places of one name share what was made."""

    place: str
    ready: Callable[[Centre], Any]
    act: Callable[[Any, str], Said]
    again: bool = False
    """The act can be done once more in the centre in which it was done already."""


def driven(place: str, ready: Ready) -> Drive:
    """A place that makes its own act ready."""
    return Drive(place, ready, lambda act, text: act(text))


@dataclass
class Desk:
    """Keeps the centre that rows work on, made ready for one place, for as long as nothing was written in it."""

    base: Path
    centre: Centre
    state: Path
    _held: ExitStack = field(default_factory=ExitStack)
    _place: str = ""
    _made: Any = None
    _count: int = 0
    _open: Centre | None = None

    def at(self, drive: Drive, patch: pytest.MonkeyPatch) -> tuple[Centre, Any]:
        """Return the centre and what was made ready; both are new where something was written since, or elsewhere."""
        patch.setenv("LOOPLEDGER_STATE", str(self.state))
        written = self._open is not None and not drive.again and self._open.count() != self._count
        if self._open is None or drive.place != self._place or written:
            self.close()
            shutil.copytree(self.base / "kept", self.base / "centre")
            shutil.copytree(self.base / "state", self.state)
            ledger = self._held.enter_context(open_ledger(self.base / "centre", write=True))
            self._open = replace(self.centre, ledger=ledger)
            self._place, self._made = drive.place, drive.ready(self._open)
            self._count = self._open.count()
        return self._open, self._made

    def close(self) -> None:
        """Put the copy away."""
        self._held.close()
        self._held, self._open = ExitStack(), None
        for folder in (self.base / "centre", self.base / "another", self.state):
            shutil.rmtree(folder, ignore_errors=True)
