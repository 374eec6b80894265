"""Twelve tablets mark while the server is killed, and while its address changes.

Each tablet mints the ids of its taps itself, keeps them in an outbox until they are acknowledged, and sends the same
again for as long as it gets no answer. In the end every tap must be in the ledger once, whenever the server died.
"""

from __future__ import annotations

import http.client
import json
import random
import threading
import time
from collections import Counter
from pathlib import Path
from typing import Any

from centre_builder import Centre, build_centre, seen_at, shipped_standards
from running_centre import RunningCentre, free_port

from course.actions import attempts as trying
from course.moments import new_id
from course.screens.pad_items import MOST_ITEMS
from course.storage.ledger import open_ledger
from faults.tally import Run, Tally, device, refuse_findings

_TABLETS = 12


class Tablet(threading.Thread):
    """One tablet with one attempt on it.

    Attributes:
        saved: ids of taps that were acknowledged.
        refused: sentences, none of which is expected.
    """

    def __init__(self, running: RunningCentre, opened: Any, student: str, step: str, taps: int, seed: int) -> None:
        super().__init__(daemon=True)
        self.saved: list[str] = []
        self.refused: list[str] = []
        self._running = running
        self._chance = random.Random(seed)  # noqa: S311 - chance, not secrecy
        common = {"attempt": opened.attempt, "student": student, "sheet": opened.sheet, "kind": "marks_given/1"}
        body = {"marks": [{"step": step, "mark": "done"}]}
        self.taps = [
            common | {"id": new_id(), "body": body, "tapped_at": f"2026-10-22T15:10:00.{n % 1000:03}Z"}
            for n in range(taps)
        ]

    def run(self) -> None:
        """Tap, send, and send again until everything is answered."""
        waiting, outbox = list(self.taps), list[dict[str, Any]]()
        while waiting or outbox:
            fresh = self._chance.randint(1, 3)
            outbox, waiting = outbox + waiting[:fresh], waiting[fresh:]
            outbox = self._sent(outbox)
            time.sleep(self._chance.uniform(0, 0.05))

    def _sent(self, outbox: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """Send what waits, as many at a time as the pad does; return what waits still."""
        batch = outbox[:MOST_ITEMS]
        address = f"localhost:{self._running.port}"
        headers = {"content-type": "application/json", "x-course": "pad", "origin": f"http://{address}"}
        line = http.client.HTTPConnection(address, timeout=20)
        try:
            line.request("POST", "/course/marks", json.dumps({"items": batch}), headers)
            answer = line.getresponse()
            told = json.loads(answer.read())
        except (OSError, http.client.HTTPException, ValueError):
            time.sleep(0.1)
            return outbox
        finally:
            line.close()
        if answer.status == 503:
            return outbox
        if answer.status != 200:
            self.refused.append(str(told))
            return outbox[len(batch) :]
        self.saved += told["saved"]
        self.refused += [one["sentence"] for one in told["refused"]]
        answered = {*told["saved"], *(one["id"] for one in told["refused"])}
        return [one for one in outbox if one["id"] not in answered]


def run(wanted: Run) -> Tally:
    """Kill the server so many times, and move it to another address every other time."""
    tally, place, deaths = Tally(), wanted.folder("tablets"), wanted.some(2, 30)
    with device(place / "device"):
        with build_centre(place / "centre", shipped_standards()) as centre:
            attempts = _attempts(centre)
        running = RunningCentre(place / "centre")
        taps = wanted.some(10, 20) * (deaths + 1)
        tablets = [Tablet(running, *one, taps, wanted.seed + n) for n, one in enumerate(attempts)]
        running.start()
        try:
            _with_deaths(running, tablets, deaths, wanted, tally)
        finally:
            running.stop()
        _judge(place / "centre", tablets, tally)
    return tally


def _attempts(centre: Centre) -> list[tuple[Any, str, str]]:
    """Open an attempt for each tablet: (attempt and sheet, student, a step of its skill)."""
    skills = [one for one in shipped_standards().skills.values() if "pool" in one.setting and not one.steps[0].only_if]
    opened: list[tuple[Any, str, str]] = []
    for number in range(_TABLETS):
        student, skill = (centre.amaru, centre.zoe)[number % 2], skills[number // 2]
        one = trying.open_attempt(
            centre.ledger, centre.lead, course=centre.course, session=centre.sessions["pool-22"], student=student,
            skill=skill.id, observed=seen_at(22),
        )  # fmt: skip
        opened.append((one, student, skill.steps[0].id))
    return opened


def _with_deaths(running: RunningCentre, tablets: list[Tablet], deaths: int, wanted: Run, tally: Tally) -> None:
    for tablet in tablets:
        tablet.start()
    whole = sum(len(tablet.taps) for tablet in tablets)
    for death in range(1, deaths + 1):
        _wait(tablets, whole * death // (deaths + 1))
        running.kill()
        if death % 2 == 0:
            running.port = free_port()
        running.start()
        tally.tried += 1
        wanted.tell(death, deaths)
    _wait(tablets, whole)


def _wait(tablets: list[Tablet], saved: int) -> None:
    until = time.monotonic() + 200
    while sum(len(tablet.saved) for tablet in tablets) < saved and any(tablet.is_alive() for tablet in tablets):
        if time.monotonic() > until:
            raise RuntimeError("the tablets do not get on")
        time.sleep(0.01)


def _judge(folder: Path, tablets: list[Tablet], tally: Tally) -> None:
    with open_ledger(folder) as ledger:
        marks = Counter(event.id for event in ledger.events() if event.kind == "marks_given/1")
    for tablet in tablets:
        tablet.join(timeout=60)
        tally.acknowledged += len(tablet.saved)
        tally.silent += tablet.refused[:1]
        tally.refuse_loss(tablet.saved, marks, "tablet")
        if sorted(tablet.saved) != sorted(tap["id"] for tap in tablet.taps):
            tally.wrong(f"a tablet made {len(tablet.taps)} taps, and {len(tablet.saved)} were acknowledged")
    if sum(marks.values()) != sum(len(tablet.taps) for tablet in tablets):
        tally.wrong(f"{sum(marks.values())} marks are in the ledger")
    refuse_findings(folder, tally, "in the end")
