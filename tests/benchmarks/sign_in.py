"""What signing in costs, against one argon2 hash: by password, by a wrong one, by an unknown name, and confirming.

Run: `python tests/benchmarks/sign_in.py [RUNS]`. Prints the median milliseconds of each in a centre of sixty accounts,
with its ratio to the floor: one verification of a hash with the same parameters, measured in the same run. A right and
an unknown name have to cost the same, so that time does not tell which names there are.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ["LOOPLEDGER_STATE"] = tempfile.mkdtemp()

from course.actions.accounts import confirmed
from course.actions.centre import add_person, make_centre
from course.actions.drafting import body, draft
from course.moments import new_id
from course.record.events import AccountMade
from course.screens.sessions import Sessions
from course.storage.entrance import Entrance
from course.storage.passwords import hashed_password, is_right
from course.words import Role

RUNS, ACCOUNTS = 15, 60
RIGHT, WRONG = "seven grey seals dive", "a lamp under the pier"


def median_ms(act: Callable[[int], object], runs: int) -> float:
    """Median of some runs; each is told its number."""
    times = []
    for number in range(runs):
        begin = time.perf_counter()
        act(number)
        times.append((time.perf_counter() - begin) * 1000)
    return statistics.median(times)


def main() -> None:
    """Make the centre, measure, and print."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else RUNS
    folder, kept = Path(tempfile.mkdtemp()), hashed_password(RIGHT)
    with make_centre(folder / "centre", name="Harbour House", lead_name="Ines Duarte") as ledger:
        lead = ledger.fact("centre", ledger.centre_id).lead  # type: ignore[union-attr]
        for number in range(ACCOUNTS):
            person = add_person(ledger, lead, name=f"Somebody {number}", roles=[Role.INSTRUCTOR])
            made = body(
                AccountMade, account=new_id(), person=person, sign_in=f"name {number}", password_hash=kept,
                must_change=False,
            )  # fmt: skip
            ledger.append([draft(lead, made, private_of=person)])
        entrance = Entrance(folder)
        sessions = Sessions(entrance, lambda: ledger)
        floor = median_ms(lambda _: is_right(kept, RIGHT), runs)
        rows = {
            "signing in": median_ms(lambda n: sessions.sign_in(f"name {n}", RIGHT, f"10.0.0.{n}"), runs),
            "a wrong password": median_ms(lambda n: sessions.sign_in(f"name {n}", WRONG, f"10.0.1.{n}"), runs),
            "an unknown name": median_ms(lambda n: sessions.sign_in(f"nobody {n}", RIGHT, f"10.0.2.{n}"), runs),
            "confirming an act": median_ms(lambda n: confirmed(ledger, entrance, person, RIGHT, f"10.0.3.{n}"), runs),
        }
    sys.stdout.write(f"one hash: {floor:.0f} ms\n")
    for what, median in rows.items():
        sys.stdout.write(f"{what}: {median:.0f} ms, {median / floor:.2f} x one hash\n")


if __name__ == "__main__":
    main()
