"""Every state of a standing as it is read aloud: where somebody stands, what is missing, whose word, what is set aside.

The rule is that of "close before it leaves the mouth": five in a row over three days, dry, in the pool and in open
water; here it is good for 10 days and meant for 6 attempts, so that few attempts reach every state.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from course_text import (
    BRUNO,
    FIRST_DAY,
    NO_FEATURES,
    TAMSIN,
    TYPE_A,
    all_done,
    attempt,
    attempts,
    last_day,
    mark,
    mouthpiece,
    seen,
)

from course.assessment.attempts import SeenAttempt
from course.assessment.sentences import missing_line, rule_sentence, standing_line, standing_sentence
from course.assessment.standing import Standing, standing
from course.words import Mark, StandingState

RULE = mouthpiece(
    in_a_row=5, distinct_days=3, settings=("dry", "pool", "open_water"), budget=6, currency_days=10
)  # fmt: skip
NAMES = {TAMSIN: "Tamsin", BRUNO: "Bruno"}
MET = "c:dry | c:pool c:pool | c:open_water c:open_water"
WHOLE = "5 more over 3 days, at least one each dry, in the pool and in open water"
AGAIN = "Again: a critical error since it was met; now "


def stand(some: list[SeenAttempt], later: int = 0, *, applies: bool = True) -> Standing:
    """Where somebody stands on the last day of some attempts, or so many days later."""
    day = (last_day(some) if some else FIRST_DAY) + timedelta(days=later)
    return standing(some, RULE, TYPE_A, NO_FEATURES, day, applies=applies)


def two_sheets(number: int, day: date, *, lapsed: bool = False) -> SeenAttempt:
    """An attempt in open water that Tamsin calls clean and Bruno not."""
    bad = all_done(RULE, mark("co-close", Mark.ERROR, "co-slow"), observer=BRUNO)
    one = attempt(all_done(RULE), bad, id=f"two-{number}", number=number, setting="open_water")
    return seen(one, day, [TAMSIN, BRUNO] if lapsed else [])


STATES = [
    ("", 0, StandingState.NOT_STARTED, "Not started.", "not started", WHOLE),
    ("o", 0, StandingState.NOT_STARTED, "Not started. 1 attempt is still open.", "not started", WHOLE),
    (
        "v v p", 0, StandingState.NOT_STARTED,
        "Not started. Kept and not counted: 2 attempts void; 1 with practice sheets only.", "not started", WHOLE,
    ),
    (
        "e e", 0, StandingState.NOT_STARTED,
        "Not started. Kept and not counted: 2 attempts from elsewhere, not accepted.", "not started", WHOLE,
    ),
    (
        "c@type-b c@type-b X@type-b", 0, StandingState.NOT_STARTED,
        "Not started; re-teach first. Kept and not counted: 3 attempts on another unit type.",
        "not started: re-teach first", f"{WHOLE}; re-teach first",
    ),
    (
        "c:dry", 0, StandingState.NOT_YET,
        "Not yet: 1 in a row of 5; missing 4 over 2 other days, one each in the pool and in open water.",
        "not yet: 1 of 5, pool, open water, 2 other days",
        "4 more, one each in the pool and in open water, over 2 other days",
    ),
    (
        "c:dry | c:pool c:pool | c:pool", 0, StandingState.NOT_YET,
        "Not yet: 4 in a row of 5; missing 1, in open water.", "not yet: 4 of 5, open water", "1 more, in open water",
    ),
    (
        "c:dry c:dry c:dry | c:pool c:pool", 0, StandingState.NOT_YET,
        "Not yet: 5 in a row, 5 asked; missing 1 on another day, in open water.",
        "not yet: 5 of 5, open water, another day", "1 more, in open water, on another day",
    ),
    (
        "c:dry | c:pool X:pool", 0, StandingState.NOT_YET,
        "Not yet: best 2 in a row of 5, now 0; missing 5 over 3 days; re-teach first.",
        "not yet: 0 of 5, re-teach first", f"{WHOLE}; re-teach first",
    ),
    (
        "c:dry | c:pool X:pool c:pool", 0, StandingState.NOT_YET,
        "Not yet: best 2 in a row of 5, now 0; missing 5 over 3 days.", "not yet: 0 of 5", WHOLE,
    ),
    (
        "c! c:dry e", 0, StandingState.NOT_YET,
        (
            "Not yet: 1 in a row of 5; missing 4 over 2 other days, one each in the pool and in open water. "
            "Kept and not counted: 1 attempt from elsewhere, not accepted; 1 on which two corrections disagree."
        ),
        "not yet: 1 of 5, pool, open water, 2 other days",
        "4 more, one each in the pool and in open water, over 2 other days",
    ),
    (
        "c:dry | m m m m m m", 0, StandingState.NOT_YET,
        (
            "Not yet: best 1 in a row of 5, now 0; missing 5 over 3 days. "
            "7 attempts, meant for about 6: time to talk."
        ),
        "not yet: 0 of 5", WHOLE,
    ),
    (MET, 0, StandingState.MET, "Met on 23 Oct 2026, good until 2 Nov 2026.", "met: 23 Oct 2026", ""),
    (
        f"{MET} | X@type-b", 0, StandingState.MET,
        "Met on 23 Oct 2026, good until 2 Nov 2026; re-teach first.", "met: 23 Oct 2026", "re-teach first",
    ),
    (
        f"{MET} | m:pool", 0, StandingState.MET_WATCH,
        (
            "Met (watch) on 23 Oct 2026, good until 2 Nov 2026: an attempt broke the count since, "
            "now 0 in a row of 5; missing 5 over 3 days."
        ),
        "met (watch): 23 Oct 2026", WHOLE,
    ),
    (
        f"{MET} | X:pool", 0, StandingState.AGAIN, f"{AGAIN}0 in a row; missing 5 over 3 days; re-teach first.",
        "again: 0 of 5, re-teach first", f"{WHOLE}; re-teach first",
    ),
    (
        f"{MET} |11 X:pool c:pool c:dry", 0, StandingState.AGAIN,
        (
            f"{AGAIN}1 in a row; missing 4 over 2 other days, one each in the pool and in open water. "
            "8 attempts, meant for about 6: time to talk."
        ),
        "again: 1 of 5, pool, open water, 2 other days",
        "4 more, one each in the pool and in open water, over 2 other days",
    ),
    (
        MET, 11, StandingState.OUT_OF_DATE,
        "Out of date: last good day 2 Nov 2026. The whole rule renews it: missing 5 over 3 days.",
        "out of date: last good day 2 Nov 2026", WHOLE,
    ),
    (
        f"{MET} |11 c:pool", 0, StandingState.OUT_OF_DATE,
        (
            "Out of date: last good day 2 Nov 2026. The whole rule renews it: now 1 in a row of 5, "
            "missing 4 over 2 other days, one each dry and in open water."
        ),
        "out of date: last good day 2 Nov 2026", "4 more, one each dry and in open water, over 2 other days",
    ),
    (
        "c:dry | c:pool c:pool | c:open_water c~:open_water", 0, StandingState.WAITING,
        (
            "Waiting: met if a current instructor confirms what Tamsin saw (1 attempt). "
            "Until then 4 in a row of 5; missing 1."
        ),
        "waiting for a current instructor", "a current instructor has to see it again",
    ),
    (
        f"{MET} |11 c~:dry | c~:pool | c~:open_water c~:dry c~:dry", 0, StandingState.WAITING,
        (
            "Waiting: met if a current instructor confirms what Tamsin saw (5 attempts). Until then out of date, "
            "last good day 2 Nov 2026; missing 5 over 3 days. 10 attempts, meant for about 6: time to talk."
        ),
        "waiting for a current instructor", "a current instructor has to see it again",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "later", "state", "sentence", "line", "missing"), STATES)
def test_a_standing_is_read_aloud(
    text: str, later: int, state: StandingState, sentence: str, line: str, missing: str
) -> None:
    """The sentence for a page, the line for a table, and what is missing for a list."""
    told = stand(attempts(text, RULE), later)
    assert told.state == state
    assert standing_sentence(told, RULE, NAMES) == sentence
    assert standing_line(told, RULE) == line
    assert missing_line(told, RULE, NAMES) == missing


def test_the_rule_of_these_standings_is_read_aloud() -> None:
    assert rule_sentence(RULE) == (
        "5 in a row over 3 days, at least one each dry, in the pool and in open water; no prompts, at most 1 minor "
        "error an attempt; after a critical error 1 attempt is re-teach and does not count; meant for about "
        "6 attempts; good for 10 days."
    )


def test_every_state_is_among_them() -> None:
    """All but the one that asks for no attempts: not for this unit."""
    assert {state for _, _, state, *_ in STATES} == set(StandingState) - {StandingState.NOT_FOR_THIS_UNIT}


def test_not_for_this_unit_says_what_was_seen_on_another() -> None:
    told = stand(attempts("c@type-b c@type-b", RULE), applies=False)
    assert told.state == StandingState.NOT_FOR_THIS_UNIT
    assert standing_sentence(told, RULE) == (
        "Not for this unit. Kept and not counted: 2 attempts on another unit type."
    )
    assert (standing_line(told, RULE), missing_line(told, RULE)) == ("not for this unit", "")


def test_where_two_sheets_differ_both_observers_are_named() -> None:
    day = FIRST_DAY + timedelta(days=2)
    some = [*attempts("c:dry | c:pool c:pool | c:open_water", RULE), two_sheets(5, day)]
    told = stand(some)
    assert standing_sentence(told, RULE, NAMES) == (
        "Waiting: met if Bruno and Tamsin agree on a joint line where their sheets differ (1 attempt). "
        "Until then 0 in a row of 5; missing 5 over 3 days."
    )
    assert standing_line(told, RULE) == "waiting for a joint line"
    assert missing_line(told, RULE, NAMES) == "two sheets differ: Bruno and Tamsin agree on a joint line"
    assert missing_line(told, RULE) == "two sheets differ: agree on a joint line"


def test_a_standing_can_wait_for_both() -> None:
    """One attempt seen by lapsed observers alone, whose sheets differ as well."""
    day = FIRST_DAY + timedelta(days=2)
    some = [*attempts("c:dry | c:pool c:pool | c:open_water", RULE), two_sheets(5, day, lapsed=True)]
    told = stand(some)
    assert told.state == StandingState.WAITING
    assert standing_sentence(told, RULE, NAMES).startswith(
        "Waiting: met if a current instructor confirms what Bruno and Tamsin saw (1 attempt), and if Bruno and "
        "Tamsin agree on a joint line where their sheets differ (1 attempt). "
    )
    assert standing_line(told, RULE) == "waiting for a current instructor and a joint line"
    assert missing_line(told, RULE, NAMES) == (
        "a current instructor has to see it again; two sheets differ: Bruno and Tamsin agree on a joint line"
    )
