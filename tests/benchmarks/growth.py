"""What grows with the number of attempts and what must not, each against a floor that is measured in the same run.

Run: `python tests/benchmarks/growth.py [--attempts 1000000] [--events 1000 10000 100000]`. Prints a table: what, its
ratio, the goal, whether it was met, and the medians in milliseconds, which belong to this machine. Floors: putting the
attempts in their order and finding where each record begins; one saved event, on the disk; the page of the same
student in a ledger without anybody else's attempts.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parent.parent))
os.environ["LOOPLEDGER_STATE"] = tempfile.mkdtemp()

import numpy as np
from centre_builder import LAST_DAY, Centre, build_centre, critical_mark, shipped_standards
from course_text import error, skill, step
from ledger_examples import a_person, a_unit, an_attempt

from course.answers import course_view
from course.answers.centre_answer import centre as centre_of
from course.answers.student_page import student_page
from course.assessment.many_standings import (
    BREAKS,
    COUNTS,
    CRITICAL,
    IN_STANDING,
    OWN,
    RETEACHES,
    AttemptColumns,
    RecordColumns,
    many_standings,
)
from course.assessment.step_order import confirmed_faults, order_blame, proposed_order_questions
from course.assessment.weak_skills import rank_columns
from course.words import Mark

SKILLS, STEPS = 40, 40
EVENTS_OF_ONE_PERSON = 400
"""As in the demo centre."""
FIRST_DAY, DAYS = 739_000, 200
WORTH = np.array(
    [
        IN_STANDING | OWN | COUNTS | RETEACHES, IN_STANDING | OWN | BREAKS | RETEACHES, IN_STANDING | OWN | CRITICAL,
        IN_STANDING | OWN, IN_STANDING | RETEACHES, 0,
    ],
    dtype=np.uint8,
)  # fmt: skip
Row = tuple[str, float, float, float, float]
"""What, its milliseconds, those of its floor, their ratio, the goal."""


def median_ms(act: Callable[[], object], times: int = 5) -> float:
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        act()
        taken.append((time.perf_counter() - start) * 1e3)
    return statistics.median(taken)


def against(what: str, act: Callable[[], object], floor: float, goal: float) -> Row:
    taken = median_ms(act)
    return (what, taken, floor, taken / floor, goal)


def made_up(attempts: int) -> tuple[AttemptColumns, RecordColumns]:
    """Five attempts a record on average, in no order; one in fifty waits for somebody's word."""
    random = np.random.default_rng(1)
    records = max(SKILLS, attempts // 5 // SKILLS * SKILLS)
    strict = WORTH[random.choice(len(WORTH), size=attempts, p=[0.7, 0.12, 0.06, 0.05, 0.04, 0.03])]

    def whole(low: int, high: int, kind: type) -> np.ndarray:
        return random.integers(low, high, records).astype(kind)

    return (
        AttemptColumns(
            record=random.integers(0, records, attempts),
            day=(FIRST_DAY + random.integers(0, DAYS, attempts)).astype(np.int32),
            start=random.integers(0, 4, attempts).astype(np.float64),
            number=random.integers(1, 9, attempts),
            id=random.permutation(attempts),
            setting=(1 << random.integers(1, 4, attempts)).astype(np.uint8),
            observers=(1 << random.integers(0, 5, (attempts, 1))).astype(np.uint8),
            strict=strict,
            mild=np.where(random.random(attempts) < 0.02, WORTH[0], strict),
        ),
        RecordColumns(
            in_a_row=whole(2, 6, np.int16), distinct_days=whole(1, 4, np.int16), settings=2 * whole(1, 8, np.uint8),
            assessors=whole(1, 3, np.int16), reteach=whole(1, 3, np.int16), currency_days=whole(30, 180, np.int32),
            as_of=np.full(records, FIRST_DAY + DAYS, dtype=np.int32), applies=random.random(records) < 0.98,
        ),
    )  # fmt: skip


def grouped(some: AttemptColumns) -> np.ndarray:
    """The floor: every attempt in its place, and where each record begins."""
    order = np.lexsort((some.id, some.number, some.start, some.day, some.record))
    return np.flatnonzero(np.diff(some.record[order]))


def grouped_by_record_alone(some: AttemptColumns) -> np.ndarray:
    """A lower floor: the attempts of each record together, in any order."""
    order = np.argsort(some.record, kind="stable")
    return np.flatnonzero(np.diff(some.record[order]))


def weakest(some: AttemptColumns, records: int) -> None:
    """Tally every record's attempts and rank them, the priors of all skills included."""
    counts, breaks = some.strict & COUNTS > 0, some.strict & (BREAKS | CRITICAL) > 0
    counted = np.bincount(some.record[counts], minlength=records)
    said = counted + np.bincount(some.record[breaks], minlength=records)
    seen = np.flatnonzero(said)
    rank_columns(
        student=seen // SKILLS, skill=seen % SKILLS, can_be_critical=seen % 3 == 0, counted=counted[seen],
        attempts=said[seen],
    )  # fmt: skip


def of_attempts(count: int) -> Iterator[Row]:
    some, records = made_up(count)
    floor, lower = median_ms(partial(grouped, some)), median_ms(partial(grouped_by_record_alone, some))
    standings, ranking = partial(many_standings, some, records), partial(weakest, some, len(records.as_of))
    yield against(f"standings of {count:,} attempts / sorted and grouped", standings, floor, 5)
    yield against("  the same / grouped by record alone", standings, lower, 5)
    yield against(f"weak skills of {count:,} attempts / sorted and grouped", ranking, floor, 5)
    yield against("  the same / grouped by record alone", ranking, lower, 5)


def order_check(names: list[str]) -> Callable[[], object]:
    """What is asked after the taps, and the fewest steps that explain a yes to all of it."""
    of = skill(
        [step(f"s{n:02}", error(f"s{n:02}-a"), after=(f"s{n - 1:02}",) if n else ()) for n in range(STEPS)], reteach=0
    )
    taps = [(name, f"{place:04}") for place, name in enumerate(names)]

    def check() -> object:
        asked = proposed_order_questions(of, frozenset(), taps)
        _, minor = confirmed_faults(of, frozenset(), [pair[:2] for pair in asked], frozenset())
        return order_blame(minor)

    return check


def of_order(centre: Centre) -> Iterator[Row]:
    names = [f"s{n:02}" for n in range(STEPS)]
    append = median_ms(lambda: centre.ledger.append([a_unit()]), 60)
    for what, taps in (
        ("in order", names),
        ("two swapped", [*names[:20], names[21], names[20], *names[22:]]),
        ("the last one first", [names[-1], *names[:-1]]),
        ("shuffled", Random(1).sample(names, STEPS)),  # noqa: S311
        ("backwards", names[::-1]),
    ):
        yield against(f"order of {STEPS} steps, {what} / one saved event", order_check(taps), append, 1)


def page(centre: Centre) -> object:
    """Amaru's page with what every page begins with, nothing of it kept from before."""
    course_view._KEPT.clear()
    course_view._UNITS.clear()
    centre_of(centre.ledger)
    return student_page(centre.view(), centre.amaru, LAST_DAY)


def of_page(centre: Centre, alone: Centre, sizes: list[int]) -> Iterator[Row]:
    """Two centres of the same course; one of them takes in others. Each size is measured beside the other centre."""
    for one in (centre, alone):
        for student in (one.amaru, one.zoe):
            one.hold(student)
            one.enter("pool-22", critical_mark(), student=student)
    others = 0
    for size in sorted(sizes):
        while others < size:
            drafts = [a_person("Somebody Else")]
            while len(drafts) < min(EVENTS_OF_ONE_PERSON, size - others):
                drafts += an_attempt(*[Mark.DONE] * 10)
            centre.ledger.append(drafts)
            others += len(drafts)
        for what, act in (("student's page", page), ("one saved event", saved)):
            floor, taken = by_turns(partial(act, alone), partial(act, centre))
            yield (f"{what} beside {others:,} events of others / beside none", taken, floor, taken / floor, 2)


def saved(centre: Centre) -> object:
    """One event that no list of the centre grows by."""
    return centre.ledger.append(an_attempt(Mark.DONE)[:1])


def by_turns(one: Callable[[], object], other: Callable[[], object], times: int = 31) -> tuple[float, float]:
    """Medians of two acts that take turns, so that a busy minute of the machine is one of both."""
    taken = [(median_ms(one, 1), median_ms(other, 1)) for _ in range(times)]
    return statistics.median(first for first, _ in taken), statistics.median(second for _, second in taken)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="What grows with the attempts, against floors of the same run.")
    parser.add_argument("--attempts", type=int, default=1_000_000)
    parser.add_argument("--events", type=int, nargs="+", default=[1_000, 10_000, 100_000])
    asked = parser.parse_args()
    sys.stdout.write(f"{'what / floor':<70}{'ratio':>7}{'goal':>6}  {'met':<4}{'ms':>10}{'floor ms':>10}\n")

    def tell(rows: Iterator[Row]) -> None:
        for what, taken, floor, ratio, goal in rows:
            met = "yes" if ratio <= goal else "NO"
            sys.stdout.write(f"{what:<70}{ratio:>7.2f}{goal:>6.0f}  {met:<4}{taken:>10.2f}{floor:>10.2f}\n")
            sys.stdout.flush()

    tell(of_attempts(asked.attempts))
    with (
        tempfile.TemporaryDirectory() as place,
        build_centre(Path(place) / "centre", shipped_standards()) as centre,
        build_centre(Path(place) / "alone", shipped_standards()) as alone,
    ):
        tell(of_order(centre))
        tell(of_page(centre, alone, asked.events))


if __name__ == "__main__":
    main()
