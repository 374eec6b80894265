"""One bit of a closed ledger turns round: in the database, the keys or the head witness.

Then the whole check must find it, or opening must refuse; else every event, every fact and every private text must read
as before. A bit that changes an answer and is told to nobody is a failure.
"""

from __future__ import annotations

import random
import shutil
from contextlib import suppress
from pathlib import Path

from ledger_examples import a_person, a_unit, an_attempt, an_erasing, new_centre

from course.errors import CourseError
from course.record.projection import _MODELS
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.words import Mark
from faults.tally import Run, Tally, device

_FILES = {"ledger.db": 80, "vault.db": 14, "ledger.head": 6}
"""How many of a hundred bits are turned in which file."""


def _filled(folder: Path) -> None:
    with new_centre(folder) as ledger:
        for number in range(12):
            person = a_person(f"Person {number}", contact="by post")
            ledger.append([person, a_unit(f"Unit {number}"), *an_attempt(*[Mark.DONE, Mark.ERROR] * 4)])
        ledger.append([an_erasing(person.body.subject)])
        ledger.forget(person.body.subject)


def answers(folder: Path) -> list[object]:
    """All that can be asked: events, facts with their labels, private texts.

    Raises:
        CourseError: it is told that something is wrong.
    """
    with open_ledger(folder) as ledger:
        if ledger.damage:
            raise CourseError(ledger.damage)
        events = list(ledger.events())
        facts = [fact for kind in _MODELS for fact in ledger.facts(kind)]
        told: list[object] = [*events, *facts, ledger.heads(), ledger.vault.forgotten()]
        return told + [ledger.private_of(one) for one in events] + [ledger.private(fact) for fact in facts]


def run(wanted: Run) -> Tally:
    """Turn so many bits round, one at a time."""
    tally, flips = Tally(), wanted.some(60, 1000)
    place, chance = wanted.folder("flips"), random.Random(wanted.seed)  # noqa: S311 - chance, not secrecy
    unused = 0
    with device(place / "device"):
        _filled(place / "centre")
        before = answers(place / "centre")
        shutil.copytree(place / "centre", place / "whole")
        for number in range(flips):
            shutil.rmtree(place / "centre")
            shutil.copytree(place / "whole", place / "centre")
            where = _flip(place / "centre", chance)
            unused += _one(place / "centre", where, before, tally)
            wanted.tell(number + 1, flips)
    tally.notes.append(f"{tally.named} found; {unused} in bytes that no answer is read from")
    return tally


def _flip(folder: Path, chance: random.Random) -> str:
    file = folder / chance.choices(list(_FILES), list(_FILES.values()))[0]
    content = bytearray(file.read_bytes())
    at, bit = chance.randrange(len(content)), chance.randrange(8)
    content[at] ^= 1 << bit
    file.write_bytes(content)
    return f"{file.name}, byte {at}, bit {bit}"


def _one(folder: Path, where: str, before: list[object], tally: Tally) -> int:
    """Look at one; return 1 where nothing is told and nothing reads otherwise."""
    tally.tried += 1
    try:
        report = verify(folder)
        with suppress(CourseError):
            open_ledger(folder, write=True).close()
        if report.findings or report.notices:
            tally.named += 1
            return 0
        after = answers(folder)
    except CourseError:
        tally.named += 1
        return 0
    except Exception as error:
        tally.wrong(f"{where}: {type(error).__name__}: {error}")
        return 0
    if after != before:
        tally.wrong(f"{where}: an answer changed, and nobody is told")
        return 0
    return 1
