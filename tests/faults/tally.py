"""What came of one kind of fault, and how it is counted."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path
from unittest import mock

from course.storage.inspection import verify
from course.storage.ledger import open_ledger


@dataclass
class Tally:
    """The count of one kind of fault.

    Attributes:
        tried: how often the fault was brought about.
        acknowledged: how many saves somebody was told of as saved.
        lost: how many of these are not there any more.
        doubled: how many things are there more than once.
        named: how many tries ended in a sentence that names the loss, the damage or the refusal.
        silent: what went wrong and was told to nobody; each is a failure.
    """

    tried: int = 0
    acknowledged: int = 0
    lost: int = 0
    doubled: int = 0
    named: int = 0
    silent: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        """Whether the promise held: nothing doubled, and nothing lost that nobody was told of."""
        return self.tried > 0 and not self.doubled and not self.silent

    @property
    def failures(self) -> list[str]:
        """What broke the promise, the first ten of it."""
        return self.silent[:10] if self.silent or self.holds else [f"{self.doubled} doubled, {self.tried} tried"]

    def wrong(self, told: str) -> None:
        """Note what nobody was told."""
        self.silent.append(told)

    def refuse_loss(self, acknowledged: Iterable[str], there: Counter[str], where: str) -> None:
        """Count what is lost or doubled where nothing may be."""
        gone = [one for one in acknowledged if one not in there]
        self.lost += len(gone)
        self.doubled += sum(1 for count in there.values() if count > 1)
        if gone:
            self.wrong(f"{where}: {len(gone)} acknowledged and not there")


@dataclass(frozen=True)
class Run:
    """How much is tried, by which chance, where."""

    place: Path
    full: bool
    seed: int
    tell: Callable[[int, int], None] = lambda *_: None

    def some(self, few: int, many: int) -> int:
        """How many tries: few in the tests, many in the full run."""
        return many if self.full else few

    def folder(self, name: str) -> Path:
        """A new place."""
        made = self.place / name
        made.mkdir(parents=True)
        return made


def device(place: Path) -> AbstractContextManager[object]:
    """Be another machine for a while, as far as the program knows one."""
    return mock.patch.dict(os.environ, {"LOOPLEDGER_STATE": str(place)})


def ids_in(folder: Path) -> Counter[str]:
    """How often each event's id is in a ledger."""
    with open_ledger(folder) as ledger:
        return Counter(one.id for one in ledger.events())


def refuse_findings(folder: Path, tally: Tally, where: str) -> None:
    """A whole check must find nothing."""
    findings = verify(folder).findings
    if findings:
        tally.wrong(f"{where}: {findings[0]}")
