"""A program is killed at each step on the way from a save to its acknowledgement, and the save is then sent again.

Three people save at once. What was acknowledged must be whole, all else whole or absent, and after everybody has sent
the same again (same ids, as a tablet does) each event must be there once.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

from ledger_examples import a_person, a_unit, an_attempt, new_centre

from course.record.events import Draft
from course.storage import appending, ledger, witness
from course.storage.ledger import open_ledger
from course.storage.vault import Vault
from course.storage.witness import Witness
from course.storage.writer import Writer
from course.words import Mark
from faults.tally import Run, Tally, device, ids_in, refuse_findings


def die(*_: Any, **__: Any) -> Any:
    """End this process here, without any cleaning up."""
    os.kill(os.getpid(), signal.SIGKILL)


def _then_die(real: Callable[..., Any]) -> Callable[..., Any]:
    def act(*given: Any, **more: Any) -> Any:
        real(*given, **more)
        die()

    return act


def _half_then_die(descriptor: int, data: bytes) -> None:
    os.write(descriptor, data[: len(data) // 2])
    die()


STEPS: dict[str, tuple[object, str, Callable[..., Any], bool | None]] = {
    "a new person's key is kept": (Vault, "_key_for", _then_die(Vault._key_for), None),
    "before the transaction": (Writer, "_commit", die, False),
    "events are written": (appending, "write_head", die, False),
    "head is moved": (appending, "tell_facts", die, False),
    "facts are written": (appending, "tell_facts", _then_die(appending.tell_facts), False),
    "before the commit": (Writer, "_refuse_lost_tail", die, False),
    "after the commit": (Witness, "write", die, True),
    "half a witness line": (witness, "_write_all", _half_then_die, True),
    "witness line not on the disk": (witness, "sync_file", die, True),
    "witness line on the disk": (Witness, "write", _then_die(Witness.write), True),
    "while closing": (ledger, "remember_chain", die, True),
}
"""Step to (where, which function, what takes its place, whether a save is in the ledger then; None: others' only)."""


@contextmanager
def dying_at(step: str) -> Iterator[None]:
    """Whoever comes to this step dies there."""
    where, name, act, _ = STEPS[step]
    with mock.patch.object(where, name, act):
        yield


def _lists(number: int) -> list[list[Draft]]:
    return [
        [a_person(f"Person {number}"), a_unit(f"Unit {number}")],
        an_attempt(Mark.DONE, Mark.ERROR, Mark.DONE),
        [a_unit(f"Unit {number} {more}") for more in range(1 + number % 5)],
    ]


def _save_and_die(folder: Path, lists: Sequence[Sequence[Draft]], step: str, told: int) -> None:
    opened = open_ledger(folder, write=True)

    def save(number: int) -> None:
        opened.append(lists[number])
        os.write(told, f"{number}\n".encode())

    with dying_at(step):
        hands = [threading.Thread(target=save, args=(number,)) for number in range(len(lists))]
        for hand in hands:
            hand.start()
        for hand in hands:
            hand.join()
        opened.close()


def _killed(folder: Path, lists: Sequence[Sequence[Draft]], step: str) -> tuple[list[int], int]:
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        try:
            _save_and_die(folder, lists, step, write)
        finally:
            os._exit(1)
    os.close(write)
    _, status = os.waitpid(child, 0)
    told = b""
    while more := os.read(read, 1 << 16):
        told += more
    os.close(read)
    return [int(line) for line in told.split()], os.waitstatus_to_exitcode(status)


def run(wanted: Run) -> Tally:
    """Die so many times at each step."""
    tally, times = Tally(), wanted.some(1, 30)
    place = wanted.folder("centre")
    with device(place / "device"):
        new_centre(place / "centre").close()
        for number in range(times):
            for step in STEPS:
                _one(place / "centre", step, number, tally)
                wanted.tell(tally.tried, times * len(STEPS))
        refuse_findings(place / "centre", tally, "in the end")
    return tally


def _one(folder: Path, step: str, number: int, tally: Tally) -> None:
    lists = _lists(number)
    told, code = _killed(folder, lists, step)
    tally.tried += 1
    tally.acknowledged += len(told)
    if code != -signal.SIGKILL:
        tally.wrong(f"{step}: the program ended by itself ({code})")
    there = ids_in(folder)
    tally.refuse_loss((draft.id for n in told for draft in lists[n]), there, step)
    whole = [sum(draft.id in there for draft in one) for one in lists]
    if any(found not in (0, len(one)) for found, one in zip(whole, lists, strict=True)):
        tally.wrong(f"{step}: a list is there in part")
    if STEPS[step][3] not in (None, any(whole)):
        tally.wrong(f"{step}: {sum(whole)} events are in the ledger")
    with open_ledger(folder, write=True) as opened:
        if opened.damage:
            tally.wrong(f"{step}: {opened.damage}")
            return
        for one in lists:
            opened.append(one)
    tally.refuse_loss((draft.id for one in lists for draft in one), ids_in(folder), f"{step}, sent again")
