"""Standings of many records by columns against the machine that takes one attempt of one record at a time."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any

import numpy as np
import pytest
from course_text import (
    BRUNO,
    FIRST_DAY,
    LIEN,
    NO_FEATURES,
    TAMSIN,
    TYPE_A,
    all_done,
    attempts,
    last_day,
    mark,
    mouthpiece,
)

from course.assessment.attempts import SeenAttempt
from course.assessment.many_standings import (
    SETTINGS,
    STATES,
    AskedRecord,
    AttemptColumns,
    StandingColumns,
    columns_of,
    many_standings,
)
from course.assessment.standing import Standing, standing
from course.standards.rubric import Skill
from course.words import Mark, StandingState

RULES = [
    mouthpiece(in_a_row=2, currency_days=7),
    mouthpiece(in_a_row=3, distinct_days=2, reteach=2, currency_days=20),
    mouthpiece(in_a_row=3, settings=("dry", "pool"), currency_days=7, budget=5),
    mouthpiece(in_a_row=2, same_unit_type=False, currency_days=7),
    mouthpiece(in_a_row=1, reteach=3, currency_days=9),
    mouthpiece(in_a_row=3, assessors=3, minor_errors_allowed=0),
    mouthpiece(in_a_row=3, assessors=2, distinct_days=3, settings=("dry", "pool", "open_water"), currency_days=40),
]
BRUNOS_SHEETS = [
    all_done(RULES[0], observer=BRUNO),
    all_done(RULES[0], mark("co-close", Mark.ERROR, "co-slow"), observer=BRUNO),
    all_done(RULES[0], mark("co-out", Mark.ERROR, "co-open-out"), observer=BRUNO),
]
OBSERVERS = [TAMSIN, BRUNO, LIEN, *(f"observer-{number}" for number in range(30))]


def a_text(random: Random) -> str:
    """Some attempts in the test language; short and long gaps between days."""
    words = []
    for _ in range(random.randrange(24)):
        while random.random() < 0.3:
            words.append(random.choice(["|", "|", "|2", "|8", "|30"]))
        letter = random.choice("ccccccccccwwummXisvpoeE")
        lapsed = "~" if random.random() < 0.12 else ""
        contested = "!" if random.random() < 0.04 else ""
        place = random.choice(["", "", ":pool", ":open_water", ":class"])
        words.append(letter + lapsed + contested + place + random.choice(["", "", "", "@type-b"]))
    return " ".join(words)


def otherwise(one: SeenAttempt, random: Random) -> SeenAttempt:
    """Another first observer, a second sheet, a session that starts at another hour."""
    first, *others = one.attempt.sheets
    observer = random.choice(OBSERVERS)
    sheets = [first.model_copy(update={"observer": observer}), *others]
    if random.random() < 0.12:
        sheets.append(random.choice(BRUNOS_SHEETS))
    lapsed = frozenset({observer}) if one.lapsed else frozenset()
    start = datetime(one.day.year, one.day.month, one.day.day, random.choice([8, 9, 9, 14]), tzinfo=UTC)
    attempt = one.attempt.model_copy(update={"sheets": tuple(sheets), "number": random.randrange(4)})
    return replace(one, attempt=attempt, session_start=start, lapsed=lapsed)


def a_record(random: Random) -> AskedRecord:
    """Attempts in any order of entry, a rule, a day to look back from, a unit type."""
    of = random.choice(RULES)
    some = [otherwise(one, random) for one in attempts(a_text(random), of)]
    as_of = last_day(some) + timedelta(days=random.choice([-3, 0, 0, 0, 1, 6, 25])) if some else FIRST_DAY
    random.shuffle(some)
    unit_type = random.choice([TYPE_A, TYPE_A, "type-b", None])
    return AskedRecord(some, of, unit_type, NO_FEATURES, as_of, applies=random.random() < 0.97)


def plainly(one: AskedRecord) -> Standing:
    return standing(one.attempts, one.skill, one.unit_type, one.features, one.as_of, applies=one.applies)


def day(ordinal: int) -> date | None:
    return date.fromordinal(ordinal) if ordinal else None


def names(bits: int, of: Skill) -> tuple[str, ...]:
    return tuple(name for name in of.rule.settings if bits >> SETTINGS.index(name) & 1)


def told(found: StandingColumns, row: int, of: Skill) -> dict[str, Any]:
    """One row in the words of `Standing`."""
    plain = {name: column[row].item() for name, column in vars(found).items()}
    return plain | {
        "state": STATES[plain["state"]],
        "settings": names(plain["settings"], of),
        "missing_settings": names(plain["missing_settings"], of),
        "met_on": day(plain["met_on"]),
        "good_until": day(plain["good_until"]),
    }


def wanted(one: AskedRecord) -> dict[str, Any]:
    plain = plainly(one)
    return {
        "state": plain.state,
        "streak": plain.streak,
        "best": plain.best,
        "days": len(plain.days),
        "settings": plain.settings,
        "reteach_left": plain.reteach_left,
        "budget_used": plain.budget_used,
        "met_on": plain.met_on,
        "good_until": plain.good_until,
        "missing_attempts": plain.missing.attempts,
        "missing_days": plain.missing.days,
        "missing_settings": plain.missing.settings,
        "missing_assessors": plain.missing.assessors,
        "missing_reteach": plain.missing.reteach,
    }


@pytest.mark.parametrize("seed", range(2))
def test_thousands_of_random_histories_stand_as_by_the_plain_machine(seed: int) -> None:
    """A thousand records at once, each number of each; all states, ends of windows and re-teaches among them."""
    random = Random(seed)  # noqa: S311 - the same every time
    asked = [a_record(random) for _ in range(1000)]
    found = many_standings(*columns_of(asked))
    states: Counter[StandingState] = Counter()
    for row, one in enumerate(asked):
        as_wanted = wanted(one)
        assert told(found, row, one.skill) == as_wanted, row
        states[as_wanted["state"]] += 1
    assert set(states) == set(StandingState)
    assert min(states.values()) >= 5, states
    assert (found.missing_reteach > 0).any()
    assert (found.missing_assessors > 1).any()


def test_what_stands_in_another_order_in_the_columns_stands_as_well() -> None:
    asked = [a_record(Random(seed)) for seed in range(200)]  # noqa: S311 - the same every time
    some, records = columns_of(asked)
    turned = np.random.default_rng(7).permutation(len(some.day))
    one, other = many_standings(some, records), many_standings(some[turned], records)
    for name, column in vars(one).items():
        assert (column == getattr(other, name)).all(), name


def test_more_observers_than_bits_in_a_byte_are_told_apart() -> None:
    """Twenty-one observers in turn; of the last three in a row the rule asks for three."""
    of = RULES[5]
    some = []
    for one, observer in zip(attempts("m " * 18 + "c c c", of), OBSERVERS, strict=False):
        own = (one.attempt.sheets[0].model_copy(update={"observer": observer}),)
        some.append(replace(one, attempt=one.attempt.model_copy(update={"sheets": own})))
    asked = [AskedRecord(some[:-1], of, TYPE_A, NO_FEATURES, FIRST_DAY, applies=True)]
    asked.append(replace(asked[0], attempts=some))
    found = many_standings(*columns_of(asked))
    assert [STATES[state] for state in found.state] == [StandingState.NOT_YET, StandingState.MET]
    assert found.missing_assessors.tolist() == [1, 0]


def test_no_attempts_and_no_records_are_no_error() -> None:
    empty, records = columns_of([AskedRecord((), RULES[0], TYPE_A, NO_FEATURES, FIRST_DAY, applies=True)])
    assert isinstance(empty, AttemptColumns)
    assert told(many_standings(empty, records), 0, RULES[0])["state"] == StandingState.NOT_STARTED
    assert len(many_standings(*columns_of([])).state) == 0
