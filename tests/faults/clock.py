"""The computer's clock is put back again and again while people save: the order stands, nothing is lost, it is told."""

from __future__ import annotations

import random
from collections import Counter
from datetime import timedelta
from unittest import mock

from ledger_examples import a_unit, new_centre

from course import moments
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from faults.tally import Run, Tally, device, ids_in


def run(wanted: Run) -> Tally:
    """Put the clock back before each save, by a second to ten years."""
    tally, times, place = Tally(), wanted.some(40, 1000), wanted.folder("clock")
    chance = random.Random(wanted.seed)  # noqa: S311 - chance, not secrecy
    clock, saved, back = moments.now(), list[str](), 0
    with device(place / "device"):
        new_centre(place / "centre").close()
        for number in range(times):
            clock -= timedelta(seconds=chance.choice((1, 61, 3600, 86_400, 3_600_000)))
            stands = mock.patch.object(moments, "now", return_value=clock)  # a slow machine must not make up the second
            with stands, open_ledger(place / "centre", write=True) as ledger:
                saved += [event.id for event in ledger.append([a_unit()])]
                back += bool(ledger.clock_went_back) and any("clock went back" in one for one in ledger.notices)
            tally.tried += 1
            wanted.tell(number + 1, times)
        tally.acknowledged, tally.named = len(saved), back
        tally.refuse_loss(saved, Counter(ids_in(place / "centre")), "clock")
        with open_ledger(place / "centre") as ledger:
            if [event.id for event in ledger.chain_events()][2:] != saved:
                tally.wrong("the order of events is not that of saving")
        report = verify(place / "centre")
    if back != times or len([one for one in report.notices if "clock had gone back" in one]) != times:
        tally.wrong(f"the clock went back {times} times, told {back} times and by the check: {report.notices[-1:]}")
    if report.findings:
        tally.wrong(report.findings[0])
    return tally
