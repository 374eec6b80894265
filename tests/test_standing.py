"""From attempts to a standing: the invented course's own histories, laws over any history, and what is read aloud."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

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
    error,
    last_day,
    limit,
    mark,
    mouthpiece,
    seen,
    skill,
    step,
    value,
)
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plain_standing_machine import plain_standing

from course.assessment.attempts import SeenAttempt, judge
from course.assessment.history import Effect, StepFault, step_faults
from course.assessment.sentences import (
    attempt_sentence,
    day_words,
    in_a_row_words,
    missing_line,
    rule_sentence,
    standing_line,
    standing_sentence,
)
from course.assessment.standing import Standing, standing
from course.assessment.streak import Missing, State, Turn, advance, expire
from course.standards.rubric import Skill
from course.words import Closing, Mark, StandingState

CLOSE_OUT = mouthpiece(in_a_row=5, distinct_days=3, settings=("dry", "pool", "open_water"), budget=20)
"""The numbers of "close before it leaves the mouth" in the invented course: 5 over 3 days, 1 re-teach, 90 days."""

NEGATIVE = skill(
    [
        step("neg-draw", error("neg-weak")),
        step(
            "neg-mark",
            error("neg-short", critical=True),
            do="Wait and judge.",
            if_left_out="critical",
            limit=limit(at_least="60", error="neg-short"),
        ),
        step("neg-judge", error("neg-leak-passed", critical=True), if_left_out="critical"),
    ],
    setting=("dry",),
    in_a_row=2,
    distinct_days=2,
    minor_errors_allowed=0,
    budget=8,
)
SMALL = mouthpiece()


def stand(text: str, of: Skill = SMALL, *, days_later: int = 0) -> Standing:
    """The standing after attempts in the test language, on their last day or later."""
    some = attempts(text, of)
    return stand_of(some, of, last_day(some) + timedelta(days=days_later))


def stand_of(some: list[SeenAttempt], of: Skill, as_of: date, unit_type: str | None = TYPE_A) -> Standing:
    """The standing on a day."""
    return standing(some, of, unit_type, NO_FEATURES, as_of, applies=True)


def watched(seconds: str, days_later: int) -> SeenAttempt:
    """One of Jonas's leak tests, all ticked as done."""
    one = attempt(
        all_done(NEGATIVE, values=(value("neg-mark", seconds),), observer=BRUNO),
        id=f"leak-{days_later}",
        number=days_later + 1,
    )
    return seen(one, FIRST_DAY + timedelta(days=days_later))


# --- the invented course ---------------------------------------------------------------------------------------------

AMARU = "c c X | c c X | c c c X c"


def test_amaru_has_best_two_now_none_and_misses_five_over_three_days() -> None:
    """Not best three: the clean attempt after each critical error is the re-teach."""
    told = stand(AMARU, CLOSE_OUT)
    assert (told.best, told.streak, told.reteach_left, told.budget_used) == (2, 0, 0, 11)
    assert (told.missing.attempts, told.missing.days) == (5, 3)
    assert standing_sentence(told, CLOSE_OUT) == "Not yet: best 2 in a row of 5, now 0; missing 5 over 3 days."


def test_amaru_went_wrong_in_one_step_in_three_of_eleven() -> None:
    """All other steps were right."""
    assert step_faults(stand(AMARU, CLOSE_OUT).history) == (StepFault("co-out", 3, 11),)


def test_amaru_each_critical_error_shows_what_cleared_it() -> None:
    """Each had its re-teach; none is cleared by the rule, which was not met since."""
    told = stand(AMARU, CLOSE_OUT)
    assert [(one.attempt, one.retaught_by, one.met_on) for one in told.criticals] == [
        ("a3", ("a4",), None),
        ("a6", ("a7",), None),
        ("a10", ("a11",), None),
    ]
    later = stand(AMARU + " | c:dry c:pool | c:open_water c | c", CLOSE_OUT)
    assert {one.met_on for one in later.criticals} == {FIRST_DAY + timedelta(days=5)}


def test_two_critical_errors_in_a_row_are_cleared_by_the_same_reteach() -> None:
    """The second starts the re-teach again; the attempt between them, if there is one, belongs to the first only."""
    assert [one.retaught_by for one in stand("X X c c c c").criticals] == [("a3",), ("a3",)]
    twice = mouthpiece(reteach=2)
    assert [one.retaught_by for one in stand("X c X c c c", twice).criticals] == [("a2", "a4", "a5"), ("a4", "a5")]


JONAS = [watched("60", 0), watched("41", 1), watched("62", 2), watched("75", 3)]


@pytest.mark.parametrize(
    ("days_later", "line"),
    [
        (0, "not yet: 1 of 2, another day"),
        (1, "not yet: 0 of 2, re-teach first"),
        (2, "not yet: 0 of 2"),
        (3, "not yet: 1 of 2, another day"),
    ],
    ids=["Wed", "Thu", "Fri", "Sat"],
)
def test_jonas_day_by_day(days_later: int, line: str) -> None:
    """41 s of 60 s on Thursday is critical whatever was ticked; Friday's clean attempt is the re-teach."""
    told = stand_of(JONAS, NEGATIVE, FIRST_DAY + timedelta(days=days_later))
    assert standing_line(told, NEGATIVE) == line


def test_jonas_on_thursday_says_why() -> None:
    """The seconds, the limit, whose number it is."""
    told = stand_of(JONAS, NEGATIVE, FIRST_DAY + timedelta(days=3))
    assert [one.effect for one in told.history] == [Effect.COUNTS, Effect.CRITICAL, Effect.RETEACH, Effect.COUNTS]
    assert attempt_sentence(told.history[1].judgement) == (
        "Critical: in a row back to 0, re-teach first. "
        "Wait and judge: 41 s of 60 s, at least 60 s asked (example): critical."
    )


def test_three_clean_in_one_hour_are_not_met_where_two_days_are_asked() -> None:
    """The tool says "another day"."""
    of = mouthpiece(distinct_days=2)
    told = stand("c c c", of)
    assert (told.state, told.missing) == (StandingState.NOT_YET, Missing(attempts=1, days=1))
    assert standing_line(told, of) == "not yet: 3 of 3, another day"
    assert missing_line(told, of) == "1 more, on another day"


def test_mei_lins_day_five_waits_for_a_current_instructor() -> None:
    """Bruno's last good day was the day before; day four stands."""
    of = mouthpiece(in_a_row=2, distinct_days=2)
    day_four, day_five = attempts("c | c", of)
    some = [day_four, replace(day_five, lapsed=frozenset({TAMSIN}))]
    told = stand_of(some, of, last_day(some))
    assert told.state == StandingState.WAITING
    assert standing_sentence(told, of, {TAMSIN: "Bruno Ashkenar"}) == (
        "Waiting: met if a current instructor confirms what Bruno Ashkenar saw (1 attempt). "
        "Until then 1 in a row of 2; missing 1 on another day."
    )


# --- the machine, step by step ---------------------------------------------------------------------------------------


def turns(text: str, of: Skill = SMALL) -> list[Turn]:
    """Judged attempts."""
    return [Turn(one, judge(one, of, NO_FEATURES)) for one in attempts(text, of)]


def test_advance_is_one_attempts_step() -> None:
    """A critical leaves nothing but the re-teach that is owed."""
    state = State()
    for turn in turns("c c"):
        state = advance(state, turn, SMALL)
    assert len(state.streak) == 2
    assert advance(state, turns("X")[0], SMALL) == State(reteach_left=1)


def test_expire_asks_the_full_rule_anew() -> None:
    """The day after the last good one."""
    state = State()
    for turn in turns("c c c"):
        state = advance(state, turn, SMALL)
    last_good = FIRST_DAY + timedelta(days=90)
    assert expire(state, last_good, SMALL) == state
    assert expire(state, last_good + timedelta(days=1), SMALL).ran_out == last_good


def test_history_says_what_each_attempt_did() -> None:
    """One note for each, and the count after it."""
    told = stand("c s w X v c p e c m c~ c! c@type-b")
    assert [(one.note, one.streak) for one in told.history] == [
        ("counts", 1),
        ("neither counts nor breaks", 1),
        ("counts", 2),
        ("critical: back to 0, re-teach first", 0),
        ("void", 0),
        ("re-teach: does not count", 0),
        ("practice sheets only", 0),
        ("from elsewhere, not accepted", 0),
        ("counts", 1),
        ("breaks: back to 0", 0),
        ("seen by a lapsed observer: does not count", 0),
        ("two corrections disagree: does not count", 0),
        ("another unit type: neither counts nor breaks here", 0),
    ]


def test_history_marks_the_attempts_with_which_the_rule_was_met() -> None:
    """At first, and when a watch ends."""
    assert [one.attempt for one in stand("c c c c m c c c").history if one.met] == ["a3", "a8"]


def test_standing_names_the_attempts_and_hashes_that_it_rests_on() -> None:
    """Grey ones too, since a re-teach goes along; void, practice and unaccepted ones not."""
    told = stand("c v p e c@type-b c")
    assert told.used == ("a1", "a5", "a6")
    assert told.events == tuple(f"{number:064x}" for number in (1, 5, 6))


def test_assessors_are_distinct_current_observers_of_the_streak() -> None:
    """Two wanted: one more attempt, seen by another instructor, though three are in a row."""
    of = mouthpiece(assessors=2)
    told = stand("c c c", of)
    assert (told.assessors, told.missing) == ((TAMSIN,), Missing(attempts=1, assessors=1))
    assert missing_line(told, of) == "1 more, seen by another instructor"
    other = seen(attempt(all_done(of, observer=BRUNO), id="a4", number=4))
    assert stand_of([*attempts("c c c", of), other], of, FIRST_DAY).state == StandingState.MET


# --- any history -----------------------------------------------------------------------------------------------------

RULES = [
    SMALL,
    mouthpiece(in_a_row=2, distinct_days=2, reteach=2, budget=4, currency_days=7),
    mouthpiece(in_a_row=3, settings=("dry", "pool"), currency_days=7),
    mouthpiece(in_a_row=2, same_unit_type=False, currency_days=7),
    mouthpiece(in_a_row=1, currency_days=7),
    mouthpiece(in_a_row=3, assessors=2, distinct_days=2, minor_errors_allowed=0),
]
LETTERS = st.sampled_from("cccccccccwwwummXXisvpoeE")
WORDS = st.builds(
    lambda letter, lapsed, contested, setting, unit_type: letter + lapsed + contested + setting + unit_type,
    LETTERS,
    st.sampled_from(["", "", "", "", "~"]),
    st.sampled_from([""] * 12 + ["!"]),
    st.sampled_from(["", "", ":pool", ":open_water", ":class"]),
    st.sampled_from(["", "", "", "", "@type-b"]),
)
TEXTS = st.lists(st.one_of(WORDS, WORDS, st.sampled_from(["|", "|", "|8", "|40"])), max_size=22).map(" ".join)


BRUNOS_SHEETS = [
    all_done(SMALL, observer=BRUNO),
    all_done(SMALL, mark("co-hand", Mark.ERROR, "co-late"), observer=BRUNO),
    all_done(SMALL, mark("co-close", Mark.ERROR, "co-slow"), observer=BRUNO),
    all_done(SMALL, mark("co-out", Mark.ERROR, "co-open-out"), observer=BRUNO),
]
SECOND_SHEETS = st.sampled_from([None, None, None, None, *BRUNOS_SHEETS])


@st.composite
def histories(draw: st.DrawFn) -> tuple[list[SeenAttempt], Skill, date, str | None]:
    """Attempts in any order of entry, a rule, a day to look back from, a unit type."""
    of = draw(st.sampled_from(RULES))
    some = []
    for one in attempts(draw(TEXTS), of):
        second = draw(SECOND_SHEETS)
        sheets = (*one.attempt.sheets, second) if second else one.attempt.sheets
        some.append(replace(one, attempt=one.attempt.model_copy(update={"sheets": sheets})))
    as_of = FIRST_DAY + timedelta(days=draw(st.integers(0, 30)))
    if some and draw(st.booleans()):
        as_of = last_day(some) + timedelta(days=draw(st.integers(0, 9)))
    return draw(st.permutations(some)), of, as_of, draw(st.sampled_from([TYPE_A, TYPE_A, "type-b", None]))


def in_short(told: Standing) -> dict[str, Any]:
    """What the plain machine tells as well."""
    return {
        "state": told.state,
        "streak": told.streak,
        "best": told.best,
        "met_on": told.met_on,
        "good_until": told.good_until,
        "reteach": told.reteach_left,
        "budget_used": told.budget_used,
    }


@settings(max_examples=1200, deadline=None)
@given(histories())
def test_any_history_stands_as_by_the_plain_machine(history: tuple[list[SeenAttempt], Skill, date, str | None]) -> None:
    """State, streak, best, date, window, re-teach and budget, over histories in any order of entry."""
    some, of, as_of, unit_type = history
    told = stand_of(some, of, as_of, unit_type)
    assert in_short(told) == plain_standing(some, of, unit_type, NO_FEATURES, as_of)


@settings(max_examples=200, deadline=None)
@given(histories(), st.randoms(use_true_random=False))
def test_order_of_entry_never_matters(history: tuple[list[SeenAttempt], Skill, date, str | None], random: Any) -> None:
    """Any permutation gives the same standing, to the last field."""
    some, of, as_of, unit_type = history
    shuffled = random.sample(some, len(some))
    assert stand_of(shuffled, of, as_of, unit_type) == stand_of(some, of, as_of, unit_type)


@settings(max_examples=200, deadline=None)
@given(histories(), st.sampled_from("vpeo"), st.integers(0, 20))
def test_what_is_in_no_standing_changes_only_what_is_listed(
    history: tuple[list[SeenAttempt], Skill, date, str | None], letter: str, days: int
) -> None:
    """A void, practice, unaccepted or open attempt anywhere: the history and the open list may name it, that is all."""
    some, of, as_of, unit_type = history
    (extra,) = attempts(letter, of, FIRST_DAY + timedelta(days=days))
    extra = replace(extra, attempt=extra.attempt.model_copy(update={"id": "extra"}))
    told, more = (stand_of(all_of_them, of, as_of, unit_type) for all_of_them in (some, [*some, extra]))
    listed = {"history": (), "open_attempts": (), "greyed": ()}
    assert replace(more, **listed) == replace(told, **listed)


@settings(max_examples=200, deadline=None)
@given(histories())
def test_one_more_clean_attempt_never_makes_a_standing_worse(
    history: tuple[list[SeenAttempt], Skill, date, str | None],
) -> None:
    """On the same unit type, by a current observer, at the end: streak and best grow or stay, met stays met."""
    some, of, as_of, _ = history
    told = stand_of(some, of, as_of)
    (clean,) = attempts("c", of, as_of)
    clean = replace(clean, attempt=clean.attempt.model_copy(update={"id": "clean", "number": 99}))
    more = stand_of([*some, clean], of, as_of)
    assert more.best >= told.best
    assert more.streak == told.streak + (told.reteach_left == 0)
    assert more.reteach_left == max(0, told.reteach_left - 1)
    if told.state in (StandingState.MET, StandingState.MET_WATCH):
        assert more.state in (StandingState.MET, told.state)


@settings(max_examples=200, deadline=None)
@given(histories())
def test_a_critical_error_at_the_end_always_shows(history: tuple[list[SeenAttempt], Skill, date, str | None]) -> None:
    """No standing is met, met (watch), waiting or out of date right after one."""
    some, of, as_of, _ = history
    (bad,) = attempts("X~", of, as_of)
    bad = replace(bad, attempt=bad.attempt.model_copy(update={"id": "bad", "number": 99}))
    told = stand_of([*some, bad], of, as_of)
    assert told.state in (StandingState.AGAIN, StandingState.NOT_YET)
    assert (told.streak, told.reteach_left) == (0, of.rule.reteach)


@settings(max_examples=200, deadline=None)
@given(histories())
def test_as_of_reads_no_later_day(history: tuple[list[SeenAttempt], Skill, date, str | None]) -> None:
    """Leaving later attempts out beforehand gives the same standing."""
    some, of, as_of, unit_type = history
    until = [one for one in some if one.day <= as_of]
    assert stand_of(until, of, as_of, unit_type) == stand_of(some, of, as_of, unit_type)


@settings(max_examples=200, deadline=None)
@given(histories())
def test_doing_what_is_missing_meets_the_rule(history: tuple[list[SeenAttempt], Skill, date, str | None]) -> None:
    """Re-teach, then as many attempts as are missing, spread over new days, the missing settings and observers."""
    some, of, as_of, _ = history
    some = [one for one in some if one.day <= as_of]
    told = stand_of(some, of, as_of)
    missing, day, more = told.missing, as_of, []
    places = [*missing.settings, *["dry"] * missing.attempts, "dry"]  # where only a re-teach is missing, anywhere
    for number in range(missing.reteach + missing.attempts):
        fresh = number - missing.reteach
        day += timedelta(days=0 <= fresh < missing.days)
        one = attempt(
            all_done(of, observer="somebody" if fresh == 0 else "another"),
            id=f"more-{number}",
            number=100 + number,
            setting=places[max(fresh, 0)],
        )
        more.append(seen(one, day))
    assume(told.state != StandingState.MET_WATCH or told.good_until is None or day <= told.good_until)
    assert stand_of([*some, *more], of, day).state == StandingState.MET


@settings(max_examples=200, deadline=None)
@given(histories())
def test_every_standing_can_be_said(history: tuple[list[SeenAttempt], Skill, date, str | None]) -> None:
    """One sentence or two with a full stop, no empty part, no number of a person in percent."""
    some, of, as_of, unit_type = history
    told = stand_of(some, of, as_of, unit_type)
    said = standing_sentence(told, of)
    assert said.endswith(".")
    for words in (said, missing_line(told, of), standing_line(told, of)):
        assert not any(wrong in words for wrong in ("; .", ", ,", "  ", "%"))
    for one in told.history:
        assert attempt_sentence(one.judgement).endswith(".")


# --- what is read aloud ----------------------------------------------------------------------------------------------


def test_rule_is_read_aloud() -> None:
    """As an instructor would say it."""
    assert rule_sentence(CLOSE_OUT) == (
        "5 in a row over 3 days, at least one each dry, in the pool and in open water; no prompts, at most 1 minor "
        "error an attempt; after a critical error 1 attempt is re-teach and does not count; meant for about "
        "20 attempts; good for 90 days."
    )


def test_rule_without_days_settings_and_reteach_is_shorter() -> None:
    """What the rule does not ask for is not said."""
    of = skill(
        [step("a"), step("b"), step("c")],
        setting=("dry",),
        in_a_row=2,
        assessors=2,
        prompts_allowed=1,
        minor_errors_allowed=0,
        reteach=0,
        same_unit_type=False,
    )
    assert rule_sentence(of) == (
        "2 in a row, all dry, seen by at least 2 instructors; at most 1 prompt, no minor errors; "
        "attempts on every unit type count; meant for about 12 attempts; good for 90 days."
    )
    assert "2 attempts are re-teach and do not count" in rule_sentence(mouthpiece(reteach=2))


@pytest.mark.parametrize(
    ("text", "days_later", "sentence", "line"),
    [
        ("v", 0, "Not started. Kept and not counted: 1 attempt void.", "not started"),
        (
            "X@type-b",
            0,
            "Not started; re-teach first. Kept and not counted: 1 attempt on another unit type.",
            "not started: re-teach first",
        ),
        (
            "c c X",
            0,
            "Not yet: best 2 in a row of 3, now 0; missing 3; re-teach first.",
            "not yet: 0 of 3, re-teach first",
        ),
        ("c", 0, "Not yet: 1 in a row of 3; missing 2.", "not yet: 1 of 3"),
        ("c c c", 3, "Met on 21 Oct 2026, good until 19 Jan 2027.", "met: 21 Oct 2026"),
        (
            "c c c m c",
            0,
            "Met (watch) on 21 Oct 2026, good until 19 Jan 2027: "  # noqa: ISC004
            "an attempt broke the count since, now 1 in a row of 3; missing 2.",
            "met (watch): 21 Oct 2026",
        ),
        (
            "c c c X",
            0,
            "Again: a critical error since it was met; now 0 in a row; missing 3; re-teach first.",
            "again: 0 of 3, re-teach first",
        ),
        (
            "c c c",
            91,
            "Out of date: last good day 19 Jan 2027. The whole rule renews it: missing 3.",
            "out of date: last good day 19 Jan 2027",
        ),
        (
            "c c c~",
            0,
            "Waiting: met if a current instructor confirms what an observer who was not current saw (1 attempt). "  # noqa: ISC004
            "Until then 2 in a row of 3; missing 1.",
            "waiting for a current instructor",
        ),
    ],
)
def test_standings_are_said_dryly(text: str, days_later: int, sentence: str, line: str) -> None:
    """The long form for a page, the short one for a table."""
    told = stand(text, days_later=days_later)
    assert (standing_sentence(told, SMALL), standing_line(told, SMALL)) == (sentence, line)


def test_not_for_this_unit_says_only_that() -> None:
    """Nothing is missing where the skill does not apply."""
    told = standing(attempts("c", SMALL), SMALL, TYPE_A, NO_FEATURES, FIRST_DAY, applies=False)
    assert (standing_sentence(told, SMALL), missing_line(told, SMALL)) == ("Not for this unit.", "")


def test_sheets_that_differ_wait_for_both_observers() -> None:
    """Named where the names are known."""
    good, bad = all_done(SMALL), all_done(SMALL, mark("co-close", Mark.ERROR, "co-slow"), observer=BRUNO)
    told = stand_of([*attempts("c c", SMALL), seen(attempt(good, bad, id="a3", number=3))], SMALL, FIRST_DAY)
    assert standing_sentence(told, SMALL, {TAMSIN: "Tamsin", BRUNO: "Bruno"}) == (
        "Waiting: met if Bruno and Tamsin agree on a joint line where their sheets differ (1 attempt). "
        "Until then 0 in a row of 3; missing 3."
    )
    assert "The sheets differ: the stricter holds" in attempt_sentence(told.history[-1].judgement)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("s", "5 more over 3 days, at least one each dry, in the pool and in open water"),
        ("X", "5 more over 3 days, at least one each dry, in the pool and in open water; re-teach first"),
        ("c:dry c:dry | c:pool", "2 more, one in open water, on another day"),
        ("c:dry c:dry c:dry c:dry", "2 more, one each in the pool and in open water, over 2 other days"),
        ("c:dry | c:pool | c c", "1 more, in open water"),
        ("c:dry | c:pool | c:open_water c c", ""),
    ],
)
def test_what_is_missing_in_one_line(text: str, line: str) -> None:
    """Attempts, settings, days, re-teach."""
    assert missing_line(stand(text, CLOSE_OUT), CLOSE_OUT) == line


def test_four_clean_in_the_pool_and_none_in_open_water() -> None:
    """Enough in a row, and still one missing."""
    of = mouthpiece(in_a_row=4, settings=("pool", "open_water"))
    told = stand("c:pool c:pool c:pool c:pool", of)
    assert standing_line(told, of) == "not yet: 4 of 4, open water"
    assert standing_sentence(told, of) == "Not yet: 4 in a row, 4 asked; missing 1, in open water."


@pytest.mark.parametrize(
    ("count", "words"),
    [(0, "0 in a row of 5"), (4, "4 in a row of 5"), (5, "5 in a row, 5 asked"), (6, "6 in a row, 5 asked")],
)
def test_a_count_that_has_reached_the_rule_is_no_part_of_it(count: int, words: str) -> None:
    assert in_a_row_words(count, 5) == words


def test_more_in_a_row_than_asked_and_a_setting_missing_reads_well() -> None:
    """Six in the pool of four asked, the open water still to come; then a critical error."""
    of = mouthpiece(in_a_row=4, settings=("pool", "open_water"))
    six = " ".join(["c:pool"] * 6)
    assert standing_sentence(stand(six, of), of) == "Not yet: 6 in a row, 4 asked; missing 1, in open water."
    assert standing_sentence(stand(f"{six} X:pool", of), of).startswith("Not yet: best 6 in a row, 4 asked, now 0; ")


def test_a_rule_in_a_table_leaves_out_its_budget() -> None:
    brief = rule_sentence(CLOSE_OUT, brief=True)
    assert "meant for" in rule_sentence(CLOSE_OUT)
    assert "meant for" not in brief
    assert "; 1 re-teach after a critical error; good for 90 days." in brief


def test_beyond_the_budget_it_is_time_to_talk() -> None:
    """Said after the standing, with both numbers."""
    of = mouthpiece(budget=3)
    assert standing_sentence(stand("m m m m", of), of).endswith(
        "missing 3. 4 attempts, meant for about 3: time to talk."
    )


@pytest.mark.parametrize(
    ("letter", "sentence"),
    [
        ("c", "Clean: counts."),
        ("w", "Minor: counts. Do co-hand now: wrong by co-no-hand."),
        ("m", "Minor: in a row back to 0. Do co-close now: wrong by co-slow."),
        ("i", "Incomplete: neither counts nor breaks. Do co-close now: not seen."),
        ("s", "Stopped: neither counts nor breaks. Do co-close now: not seen."),
        ("v", "Void: not the student's doing."),
        ("p", "Incomplete: practice sheets only."),
        ("c~", "Clean: seen by a lapsed observer only, does not count."),
        ("c!", "Clean: two corrections disagree, does not count."),
        ("c:class", "Clean: a setting that this skill does not have, does not count."),
    ],
)
def test_attempts_are_said_with_their_reasons(letter: str, sentence: str) -> None:
    """Outcome, what it does, why."""
    (one,) = attempts(letter, SMALL)
    assert attempt_sentence(judge(one, SMALL, NO_FEATURES)) == sentence


def test_void_over_a_critical_says_that_a_second_name_is_missing() -> None:
    """It is a finding."""
    bad = attempt(all_done(SMALL, mark("co-out", Mark.ERROR, "co-open-out")), how=Closing.VOID)
    assert "Void over a critical error; a second instructor's name is missing." in attempt_sentence(
        judge(seen(bad), SMALL, NO_FEATURES)
    )


def test_days_are_written_in_english_everywhere() -> None:
    """Whatever the machine's own language."""
    assert [day_words(date(2026, month, 5)) for month in (1, 10, 12)] == ["5 Jan 2026", "5 Oct 2026", "5 Dec 2026"]
