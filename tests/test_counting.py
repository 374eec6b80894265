"""What an attempt and a row of attempts are worth, ruling by ruling, on invented skills."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from course_text import (
    BRUNO,
    FIRST_DAY,
    LIEN,
    NO_FEATURES,
    TAMSIN,
    TYPE_A,
    all_done,
    attempt,
    attempts,
    before,
    ending,
    error,
    last_day,
    limit,
    mark,
    mouthpiece,
    seen,
    sheet,
    skill,
    step,
    value,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_standing_machine import plain_attempt, plain_sheet

from course.assessment.attempts import (
    AttemptJudgement,
    Outside,
    SheetJudgement,
    Worth,
    judge,
    judge_sheet,
    pending_critical,
)
from course.assessment.history import Effect
from course.assessment.marks import read_step
from course.assessment.standing import Standing, standing
from course.record.facts import Attempt, JointLine, Sheet
from course.standards.rubric import Needs, Skill
from course.words import Capacity, Closing, Mark, Outcome, Role, StandingState

MOUTHPIECE = mouthpiece()
WATCHED = skill(
    [
        step("draw", error("weak"), error("slow")),
        step(
            "wait",
            error("short", critical=True),
            error("talks"),
            do="Wait and judge.",
            limit=limit(at_least="60", error="short"),
        ),
        step("read", error("unread"), limit=limit(at_most="10", error="unread"), prompt_error="unread"),
        step("write"),
    ],
    prompts_allowed=1,
)


def judged(one: Sheet, of: Skill = MOUTHPIECE, **more: Any) -> SheetJudgement:
    """One sheet judged by itself."""
    return judge_sheet(one, of, NO_FEATURES, **more)


def judged_attempt(
    *sheets: Sheet, of: Skill = MOUTHPIECE, lapsed: tuple[str, ...] = (), **more: Any
) -> AttemptJudgement:
    """One attempt judged under the strict reading."""
    return judge(seen(attempt(*sheets, **more), lapsed=lapsed), of, NO_FEATURES)


def watched(*marks: Any, seconds: str | None = "60", **more: Any) -> SheetJudgement:
    """The watched skill, all done but for these marks, with the seconds that were written down."""
    values = (value("wait", seconds),) if seconds else ()
    return judged(all_done(WATCHED, *marks, **({"values": values} | more)), WATCHED)


def stand(text: str, of: Skill = MOUTHPIECE, *, days_later: int = 0, unit_type: str | None = TYPE_A) -> Standing:
    """The standing after attempts in the test language."""
    some = attempts(text, of)
    as_of = last_day(some) + timedelta(days=days_later)
    return standing(some, of, unit_type, NO_FEATURES, as_of, applies=True)


def joint(step_id: str, what: Mark = Mark.DONE, *errors: str, **more: Any) -> JointLine:
    """What Tamsin and Bruno agreed on."""
    return JointLine(
        event="j", step=step_id, mark=Mark.ERROR if errors else what, errors=errors, observers=(TAMSIN, BRUNO), **more
    )


# --- marks -----------------------------------------------------------------------------------------------------------


def test_ruling_01_no_occasion_is_done() -> None:
    """A step whose occasion did not arise is marked done, and the attempt is clean."""
    assert judged(all_done(MOUTHPIECE)).outcome == Outcome.CLEAN


def test_ruling_02_unmarked_is_not_seen_and_whole_clean_fills_only_plain_steps() -> None:
    """The stroke fills co-hand and co-hold; what can be critical needs a mark of its own; explicit marks win."""
    assert judged(sheet()).unseen == ("co-close", "co-out")
    assert judged(sheet(whole_clean="w")).outcome == Outcome.INCOMPLETE
    filled = judged(sheet(mark("co-close"), mark("co-out"), whole_clean="w"))
    assert (filled.outcome, filled.weak_steps) == (Outcome.CLEAN, ("co-hand", "co-hold"))
    explicit = sheet(mark("co-close"), mark("co-out"), mark("co-hand", Mark.ERROR, "co-late"), whole_clean="w")
    assert judged(explicit).outcome == Outcome.MINOR


def test_ruling_03_each_letter_is_one_and_x_is_a_minor_error() -> None:
    """Two letters are two minors; `x` never is critical, but stops the attempt from counting where it could hurt."""
    two = judged(all_done(MOUTHPIECE, mark("co-hand", Mark.ERROR, "co-no-hand", "co-late")))
    assert (two.minors, two.worth) == (2, Worth.BREAKS)
    plain = judged(all_done(MOUTHPIECE, mark("co-hand", Mark.ERROR, "x")))
    assert (plain.outcome, plain.minors, plain.worth) == (Outcome.MINOR, 1, Worth.MINOR)
    risky = judged(all_done(MOUTHPIECE, mark("co-out", Mark.ERROR, "x")))
    assert (risky.outcome, risky.minors, risky.worth) == (Outcome.MINOR, 1, Worth.BREAKS)


def test_ruling_03_letter_and_value_that_say_the_same_count_once() -> None:
    """12 s of at most 10 s, and the letter for it: one minor."""
    both = watched(mark("read", Mark.ERROR, "unread"), values=(value("wait", "60"), value("read", "12")), seconds=None)
    assert (both.minors, both.worth) == (1, Worth.MINOR)


def test_ruling_04_prompt_with_error_is_both_and_two_prompts_are_two() -> None:
    """Prompts go against the prompts allowed, errors against the minors allowed, never both."""
    both = watched(mark("draw", Mark.ERROR, "weak", prompted=True))
    assert (both.minors, both.prompts, both.worth) == (1, 1, Worth.MINOR)
    two = watched(mark("draw", Mark.PROMPTED), mark("write", Mark.PROMPTED))
    assert (two.minors, two.prompts, two.worth) == (0, 2, Worth.BREAKS)


@pytest.mark.parametrize(
    ("seconds", "outcome"),
    [("60", Outcome.CLEAN), ("60.0", Outcome.CLEAN), ("59.5", Outcome.CRITICAL), ("41", Outcome.CRITICAL)],
)
def test_ruling_05_a_limits_own_value_is_good(seconds: str, outcome: Outcome) -> None:
    """At least 60 s, compared as decimals, whatever was ticked."""
    assert watched(seconds=seconds).outcome == outcome


@pytest.mark.parametrize(
    ("how", "minors"),
    [
        ({"values": (value("wait", "60"), value("read", "10"))}, 0),
        ({"values": (value("wait", "60"), value("read", "10.1"))}, 1),
        ({"marks": mark("read", Mark.ERROR, "unread")}, 1),
        ({"marks": mark("read", Mark.PROMPTED)}, 1),
        ({"marks": mark("read", Mark.ERROR, "unread", prompted=True)}, 1),
    ],
    ids=["kept", "seconds", "letter", "P", "letter and P"],
)
def test_ruling_05_seconds_letter_and_p_give_one_outcome(how: dict[str, Any], minors: int) -> None:
    """The step says which error a prompt stands for: then P is that error and no prompt."""
    marks = [how["marks"]] if "marks" in how else []
    told = watched(*marks, values=how.get("values", (value("wait", "60"),)), seconds=None)
    assert (told.minors, told.prompts) == (minors, 0)


def test_ruling_05_missed_limit_without_a_letter_is_a_minor_that_breaks_where_it_could_hurt() -> None:
    """At most 10 s on a step that can be critical; the limit names no error."""
    timed = skill(
        [step("look"), step("go", error("stuck", critical=True), limit=limit(at_most="10")), step("end")],
    )
    told = judged(all_done(timed, values=(value("go", "11"),)), timed)
    assert (told.outcome, told.minors, told.worth) == (Outcome.MINOR, 1, Worth.BREAKS)


def test_ruling_06_at_least_needs_its_value_where_it_could_hurt() -> None:
    """A tick without seconds is not seen; seconds in another unit or quantity are none."""
    assert watched(seconds=None).unseen == ("wait",)
    minutes = watched(values=(value("wait", "60", unit="min"),), seconds=None)
    assert (minutes.unseen, minutes.unusable_values) == (("wait",), ("wait",))
    depth = watched(values=(value("wait", "60", quantity="depth"),), seconds=None)
    assert depth.unusable_values == ("wait",)
    assert watched().outcome == Outcome.CLEAN
    plain = step("rest", error("short"), limit=limit(at_least="60", error="short"))
    assert read_step(plain, sheet(mark("rest"))).seen


def test_ruling_06_value_outside_is_the_error_but_one_inside_shows_nothing() -> None:
    """Not seen and 41 s is critical; not seen and 60 s stays not seen."""
    assert watched(mark("wait", Mark.NOT_SEEN), seconds="41").outcome == Outcome.CRITICAL
    assert watched(mark("wait", Mark.NOT_SEEN), seconds="60").unseen == ("wait",)
    assert watched(mark("wait", Mark.LEFT_OUT), seconds="41").minors == 0


def test_ruling_07_left_out_is_critical_only_where_the_step_says_so() -> None:
    """co-close says so; co-out, though it can be critical, does not."""
    assert judged(all_done(MOUTHPIECE, mark("co-close", Mark.LEFT_OUT))).outcome == Outcome.CRITICAL
    other = judged(all_done(MOUTHPIECE, mark("co-out", Mark.LEFT_OUT)))
    assert (other.outcome, other.worth) == (Outcome.MINOR, Worth.BREAKS)
    plain = judged(all_done(MOUTHPIECE, mark("co-hold", Mark.LEFT_OUT)))
    assert (plain.outcome, plain.worth) == (Outcome.MINOR, Worth.MINOR)


def test_ruling_08_withdrawn_mark_leaves_the_step_unmarked() -> None:
    """The facts no longer hold the mark: the step is not seen, and the attempt incomplete."""
    without = sheet(*(mark(one.id) for one in MOUTHPIECE.steps if one.id != "co-out"))
    assert judged_attempt(without).outcome == Outcome.INCOMPLETE


# --- order -----------------------------------------------------------------------------------------------------------


def test_ruling_09_order_comes_only_from_an_observers_yes() -> None:
    """Taps the wrong way round and a no are nothing; a yes on the pad or on a slate is the fault."""
    taps = (("co-out", "2026-10-21T09:00:00.000000Z"), ("co-close", "2026-10-21T09:00:01.000000Z"))
    assert judged(all_done(MOUTHPIECE, first_taps=taps)).outcome == Outcome.CLEAN
    no = all_done(MOUTHPIECE, first_taps=taps, orders=(before("co-out", "co-close", seen_so=False),))
    assert judged(no).outcome == Outcome.CLEAN
    for source in ("pad", "slate"):
        yes = all_done(MOUTHPIECE, source=source, orders=(before("co-out", "co-close"),))
        assert judged(yes).outcome == Outcome.CRITICAL


def test_ruling_10_one_late_step_is_one_minor_wherever_it_stands() -> None:
    """co-hand came last: three pairs, one step, within the minors allowed, though two of the steps can be critical."""
    late = tuple(before(first, "co-hand") for first in ("co-close", "co-out", "co-hold"))
    told = judged(all_done(MOUTHPIECE, orders=late))
    assert (told.minors, told.order.certain, told.worth) == (1, ("co-hand",), Worth.MINOR)


def test_ruling_10_critical_pairs_each_stand() -> None:
    """Two listed pairs are two critical reasons."""
    two = skill(
        [step("a"), step("b"), step("c", after=("a", "b"), after_critical=("a", "b"))],
    )
    told = judged(all_done(two, orders=(before("c", "a"), before("c", "b"))), two)
    assert len(told.critical_reasons) == 2


def test_ruling_11_pairs_through_steps_between_are_minor_unless_listed() -> None:
    """co-hold before co-close is nowhere written as a pair, and a fault all the same."""
    told = judged(all_done(MOUTHPIECE, orders=(before("co-hold", "co-close"),)))
    assert (told.outcome, told.minors) == (Outcome.MINOR, 1)


def test_ruling_11_first_of_a_pair_left_out_is_an_omission_only() -> None:
    """co-hand was left out: nothing was done before it."""
    told = judged(all_done(MOUTHPIECE, mark("co-hand", Mark.LEFT_OUT), orders=(before("co-close", "co-hand"),)))
    assert (told.minors, told.order.fewest) == (1, 0)


def test_ruling_11_steps_that_the_unit_lacks_still_carry_the_order() -> None:
    """a before b before c; this unit has no b; c before a is a fault."""
    chain = skill(
        [step("a"), step("b", after=("a",), only_if=Needs(all=("solenoid",))), step("c", after=("b",))], reteach=0
    )
    assert judged(all_done(chain, orders=(before("c", "a"),)), chain).minors == 1


# --- attempts, sheets, observers -------------------------------------------------------------------------------------


def test_ruling_12_void_over_a_critical_needs_a_second_instructor() -> None:
    """Void holds for all sheets; over a critical error it is a finding, with or without a second name."""
    bad = all_done(MOUTHPIECE, mark("co-out", Mark.ERROR, "co-open-out"))
    alone = judged_attempt(bad, how=Closing.VOID)
    assert (alone.outcome, alone.outside, alone.uses_budget) == (Outcome.VOID, Outside.VOID, False)
    assert (alone.void_over_critical, alone.void_lacks_second) == (True, True)
    assert judged_attempt(bad, ending=ending(Closing.VOID, second=TAMSIN)).void_lacks_second
    with_second = judged_attempt(bad, ending=ending(Closing.VOID, second=BRUNO))
    assert (with_second.void_over_critical, with_second.void_lacks_second) == (True, False)
    assert not judged_attempt(all_done(MOUTHPIECE), how=Closing.VOID).void_over_critical


def test_ruling_12_stopped_comes_before_minor_and_after_critical() -> None:
    """Calling a stop is never an error; what was critical before it stands."""
    minors = judged_attempt(all_done(MOUTHPIECE, mark("co-close", Mark.ERROR, "co-slow")), how=Closing.STOPPED)
    assert (minors.outcome, minors.counts, minors.breaks, minors.uses_reteach) == (Outcome.STOPPED, False, False, False)
    critical = judged_attempt(all_done(MOUTHPIECE, mark("co-close", Mark.LEFT_OUT)), how=Closing.STOPPED)
    assert (critical.outcome, critical.breaks) == (Outcome.CRITICAL, True)


SHEETS = {
    "critical": (mark("co-out", Mark.ERROR, "co-open-out"),),
    "breaks": (mark("co-close", Mark.ERROR, "co-slow"),),
    "neither": (mark("co-close", Mark.NOT_SEEN),),
    "minor": (mark("co-hand", Mark.ERROR, "co-late"),),
    "clean": (),
}


@pytest.mark.parametrize("stricter", range(5))
@pytest.mark.parametrize("looser", range(5))
def test_ruling_13_of_two_sheets_the_stricter_holds(stricter: int, looser: int) -> None:
    """Critical > minor that breaks > neither > minor that counts > clean, whoever's sheet it is."""
    names = list(SHEETS)
    one = all_done(MOUTHPIECE, *SHEETS[names[stricter]], observer=TAMSIN)
    other = all_done(MOUTHPIECE, *SHEETS[names[looser]], observer=BRUNO)
    told = judged_attempt(one, other)
    assert told.held is not None
    assert told.held.worth == judged(one if stricter <= looser else other).worth
    assert told.sheets_differ == (stricter != looser)


def test_ruling_13_halves_are_put_together_only_by_joint_lines() -> None:
    """Each saw another half: incomplete, until both say what was seen."""
    halves = (
        all_done(MOUTHPIECE, mark("co-close", Mark.NOT_SEEN), observer=TAMSIN),
        all_done(MOUTHPIECE, mark("co-out", Mark.NOT_SEEN), observer=BRUNO),
    )
    assert judged_attempt(*halves).outcome == Outcome.INCOMPLETE
    agreed = judged_attempt(*halves, joint=(joint("co-close"), joint("co-out")))
    assert (agreed.outcome, agreed.sheets_differ) == (Outcome.CLEAN, False)


def test_ruling_13_joint_line_replaces_the_line_on_every_sheet_and_may_end_a_critical() -> None:
    """Mark and value both: a joint line that keeps a watched step needs its seconds too."""
    bad = all_done(MOUTHPIECE, mark("co-out", Mark.ERROR, "co-open-out"), observer=TAMSIN)
    other = all_done(MOUTHPIECE, observer=BRUNO)
    assert judged_attempt(bad, other).outcome == Outcome.CRITICAL
    assert judged_attempt(bad, other, joint=(joint("co-out"),)).outcome == Outcome.CLEAN
    assert judged_attempt(other, joint=(joint("co-out", Mark.ERROR, "co-open-out"),)).outcome == Outcome.CRITICAL
    short = all_done(WATCHED, values=(value("wait", "41"),))
    assert judged_attempt(short, of=WATCHED, joint=(joint("wait"),)).outcome == Outcome.INCOMPLETE
    assert judged_attempt(short, of=WATCHED, joint=(joint("wait", value="61"),)).outcome == Outcome.CLEAN
    assert judged_attempt(short, of=WATCHED, joint=(joint("wait", value="59"),)).outcome == Outcome.CRITICAL


def test_ruling_14_lapsed_observers_never_count_for_and_always_against() -> None:
    """A lapsed observer's clean uses no re-teach, a lapsed observer's minor breaks; both use budget."""
    told = stand("c c X c~ c c")
    assert (told.streak, told.reteach_left, told.budget_used) == (1, 0, 6)
    assert stand("c c m~").streak == 0
    assert stand("c X m~").reteach_left == 1
    assert stand("c c X~").reteach_left == 1


def test_ruling_14_with_one_current_observer_nothing_waits() -> None:
    """Lien is lapsed, Tamsin is not; only Tamsin is an assessor."""
    told = judged_attempt(all_done(MOUTHPIECE), all_done(MOUTHPIECE, observer=LIEN), lapsed=(LIEN,))
    assert (told.counts, told.lapsed_only, told.assessors) == (True, False, frozenset({TAMSIN}))


def test_ruling_14_from_elsewhere_counts_only_as_accepted() -> None:
    """Unanswered and refused are in no standing; accepted is like any other."""
    assert [stand(text).streak for text in ("e", "E", "E e c")] == [0, 1, 2]
    refused = judged_attempt(all_done(MOUTHPIECE), from_elsewhere=True, accepted=False)
    assert refused.outside == Outside.NOT_ACCEPTED


def test_ruling_15_open_attempt_is_in_no_standing_but_its_critical_shows_at_once() -> None:
    """A tap on an open attempt is pending; once it is closed the standing says it."""
    bad = all_done(MOUTHPIECE, mark("co-out", Mark.ERROR, "co-open-out"))
    assert stand("c o").open_attempts == ("a2",)
    assert stand("c o").streak == 1
    assert stand("o").state == StandingState.NOT_STARTED
    (reason,) = pending_critical(attempt(bad, how=None), MOUTHPIECE, NO_FEATURES)
    assert (reason.step, reason.error, reason.critical) == ("co-out", "co-open-out", True)
    assert pending_critical(attempt(bad), MOUTHPIECE, NO_FEATURES) == ()
    assert pending_critical(attempt(sheet(), how=None), MOUTHPIECE, NO_FEATURES) == ()


def test_ruling_16_setting_of_the_skill_but_not_of_the_rule_fills_no_setting() -> None:
    """Pool counts in the streak and for days; the rule asks for dry."""
    told = stand("c:pool | c:pool | c:pool")
    assert (told.streak, len(told.days), told.settings, told.missing.settings) == (3, 3, (), ("dry",))
    assert (told.state, told.missing.attempts) == (StandingState.NOT_YET, 1)
    assert stand("c:pool | c:pool | c:dry").state == StandingState.MET


def test_ruling_16_setting_that_the_skill_does_not_have_does_not_count() -> None:
    """It neither counts nor uses a re-teach up nor, being a minor, breaks; a critical error is one all the same."""
    told = stand("c c:class c m:class c")
    assert (told.streak, [one.effect for one in told.history].count(Effect.SETTING)) == (3, 2)
    assert stand("X c:class").reteach_left == 1
    assert stand("c X:class").streak == 0


def test_ruling_17_practice_sheets_never_count() -> None:
    """Neither by capacity nor by the role of who gave it; beside an evaluating sheet they change nothing."""
    bad = (mark("co-out", Mark.ERROR, "co-open-out"),)
    both = judged_attempt(all_done(MOUTHPIECE), all_done(MOUTHPIECE, *bad, observer=LIEN, practice=True))
    assert (both.outcome, both.counts) == (Outcome.CLEAN, True)
    posing = all_done(MOUTHPIECE, role=Role.CANDIDATE, capacity=Capacity.EVALUATING)
    assert judged_attempt(posing).outside == Outside.PRACTICE


@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("v", StandingState.NOT_STARTED),
        ("p", StandingState.NOT_STARTED),
        ("e", StandingState.NOT_STARTED),
        ("v p e o", StandingState.NOT_STARTED),
        ("s", StandingState.NOT_YET),
        ("i", StandingState.NOT_YET),
        ("v i", StandingState.NOT_YET),
    ],
)
def test_ruling_17_not_started_or_not_yet(text: str, state: StandingState) -> None:
    """Only what is in no standing: not started. Only stopped or incomplete: not yet."""
    assert stand(text).state == state


def test_ruling_17_withdrawn_attempt_was_never_there() -> None:
    """It is not even in the history."""
    gone = seen(attempt(all_done(MOUTHPIECE), withdrawn=True))
    told = standing([gone], MOUTHPIECE, TYPE_A, NO_FEATURES, FIRST_DAY, applies=True)
    assert (told.state, told.history) == (StandingState.NOT_STARTED, ())


CLAIMS = [
    mark("co-close"),
    mark("co-close", Mark.NOT_SEEN),
    mark("co-close", Mark.PROMPTED),
    mark("co-close", Mark.ERROR, "co-slow"),
    mark("co-close", Mark.LEFT_OUT),
]


@pytest.mark.parametrize("stricter", range(5))
@pytest.mark.parametrize("looser", range(5))
def test_ruling_18_of_two_live_marks_the_stricter_holds(stricter: int, looser: int) -> None:
    """Done < not seen < prompted < error < critical (here left out), in either order of lines."""
    low, high = sorted((stricter, looser))
    expected = judged(all_done(MOUTHPIECE, CLAIMS[high]))
    for lines in ((CLAIMS[low], CLAIMS[high]), (CLAIMS[high], CLAIMS[low])):
        told = judged(all_done(MOUTHPIECE, *lines))
        assert (told.outcome, told.worth, told.reasons) == (expected.outcome, expected.worth, expected.reasons)
        assert told.doubled == (("co-close",) if low != high else ())


def test_ruling_18_error_is_stricter_than_a_plain_omission() -> None:
    """On co-out leaving out is minor: the error mark holds."""
    told = judged(all_done(MOUTHPIECE, mark("co-out", Mark.LEFT_OUT), mark("co-out", Mark.ERROR, "x")))
    assert [reason.what for reason in told.reasons] == ["error"]


def test_ruling_18_of_two_values_the_shorter_for_at_least_the_longer_for_at_most() -> None:
    """61 s and 41 s of at least 60; 9 s and 12 s of at most 10."""
    told = watched(
        values=(value("wait", "61"), value("wait", "41"), value("read", "9"), value("read", "12")), seconds=None
    )
    assert [reason.sentence for reason in told.reasons] == [
        "Wait and judge: 41 s of 60 s, at least 60 s asked (example): critical.",
        "Do read now: 12 s, at most 10 s asked (example).",
    ]
    assert told.doubled == ("wait", "read")
    shorter = watched(values=(value("wait", "50"), value("wait", "41")), seconds=None)
    assert shorter.reasons[0].sentence.startswith("Wait and judge: 41 s")


def test_ruling_18_field_without_a_stricter_side_counts_for_nobody() -> None:
    """A clean attempt of a student in dispute counts for neither, a critical one against each."""
    assert [(stand(text).streak, stand(text).reteach_left) for text in ("c c!", "c m!", "c X!", "X c!")] == [
        (1, 0),
        (1, 0),
        (0, 1),
        (0, 1),
    ]
    assert stand("c c!").state == StandingState.NOT_YET


def test_ruling_18_disagreement_about_marks_counts_only_when_both_lines_are_there() -> None:
    """With both lines the stricter was taken; with one of them nobody can say which is stricter."""
    both = all_done(MOUTHPIECE, mark("co-hand"), mark("co-hand", Mark.ERROR, "co-late"))
    assert judged_attempt(both, contested=("marks",)).counts
    assert not judged_attempt(all_done(MOUTHPIECE), contested=("marks",)).counts
    answers = (before("co-hold", "co-close"), before("co-hold", "co-close", seen_so=False))
    told = judged_attempt(all_done(MOUTHPIECE, orders=answers), contested=("seen_so",))
    assert (told.counts, told.minors) == (True, 1)


# --- streak, re-teach, budget ----------------------------------------------------------------------------------------


def test_ruling_19_minor_within_the_rule_with_a_step_unseen_neither_counts_nor_breaks() -> None:
    """The streak of two stays two."""
    assert stand("c c u").streak == 2


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("X", 2),
        ("X c", 1),
        ("X m", 1),
        ("X u", 1),
        ("X w", 1),
        ("X s i v", 2),
        ("X c X", 2),
        ("X c m", 0),
        ("X c c c", 0),
    ],
)
def test_ruling_19_what_uses_a_reteach_up(text: str, left: int) -> None:
    """Each later clean or minor attempt one, a new critical starts again; stopped, void and incomplete none."""
    assert stand(text, mouthpiece(reteach=2)).reteach_left == left


def test_ruling_19_a_reteach_does_not_count() -> None:
    """Of three clean attempts after a critical error two count."""
    assert stand("X c c c").streak == 2


def test_ruling_20_budget_is_all_attempts_but_void() -> None:
    """Beyond it attempts still count and the tool says so; while met nothing is said."""
    short = mouthpiece(budget=4)
    assert stand("c v m s i", short).budget_used == 4
    assert not stand("c v m s i", short).time_to_talk
    beyond = stand("m m m m c c", short)
    assert (beyond.streak, beyond.time_to_talk) == (2, True)
    assert not stand("m m m m c c c", short).time_to_talk
    assert stand("c c c X c", short).budget_used == 5


def test_ruling_21_order_is_day_start_number_id_and_as_of_looks_back() -> None:
    """A slate copied late breaks the streak that it belongs to, not the one of today."""
    some = attempts("c c | m | c c", MOUTHPIECE)
    assert standing(reversed(some), MOUTHPIECE, TYPE_A, NO_FEATURES, last_day(some), applies=True).streak == 2
    assert standing(some, MOUTHPIECE, TYPE_A, NO_FEATURES, FIRST_DAY, applies=True).streak == 2
    later = replace(some[0], session_start=some[0].session_start + timedelta(hours=16))
    assert [one.attempt for one in stand_of([later, *some[1:]]).history] == ["a2", "a1", "a3", "a4", "a5"]
    tied = [
        seen(attempt(all_done(MOUTHPIECE), id=one, number=number)) for one, number in (("z", 1), ("b", 2), ("a", 2))
    ]
    assert [one.attempt for one in stand_of(tied).history] == ["z", "a", "b"]


def stand_of(some: Any) -> Standing:
    """The standing of attempts on their last day."""
    return standing(some, MOUTHPIECE, TYPE_A, NO_FEATURES, last_day(some), applies=True)


def test_ruling_22_each_unit_type_has_a_record_of_its_own() -> None:
    """Attempts on another type neither count nor break; the re-teach that is owed goes along."""
    told = stand("c c m@type-b c@type-b")
    assert (told.streak, told.greyed, told.budget_used) == (2, ("a3", "a4"), 4)
    assert stand("c c X@type-b").streak == 2
    assert stand("X c@type-b", unit_type="type-b").streak == 0
    assert stand("X c@type-b c@type-b", unit_type="type-b").streak == 1
    assert stand("c c@type-b c", mouthpiece(same_unit_type=False)).state == StandingState.MET


def test_ruling_22_assigned_unit_decides_whose_record_it_is() -> None:
    """The same attempts, asked for on two unit types."""
    some = "c c c c@type-b"
    assert stand(some).state == StandingState.MET
    assert stand(some, unit_type="type-b").streak == 1
    assert stand("c", unit_type="type-b").state == StandingState.NOT_STARTED


def test_ruling_22_attempt_without_a_unit_is_on_no_other_type() -> None:
    """It counts in every record; asked for without a unit type, attempts on one are grey."""
    dry = [
        replace(one, attempt=one.attempt.model_copy(update={"unit_type": None})) for one in attempts("c c", MOUTHPIECE)
    ]
    for unit_type in (TYPE_A, "type-b", None):
        assert standing(dry, MOUTHPIECE, unit_type, NO_FEATURES, FIRST_DAY, applies=True).streak == 2
    assert stand("c", unit_type=None).greyed == ("a1",)


def test_ruling_22_an_attempt_is_judged_by_what_its_own_unit_has() -> None:
    """Without the same unit type an attempt on a unit that has the step more is judged with it."""
    both = skill(
        [step("a"), step("b"), step("c", if_left_out="critical", only_if=Needs(all=("solenoid",)))],
        same_unit_type=False,
    )
    one = attempt(sheet(mark("a"), mark("b")))
    assert judge(seen(one), both, NO_FEATURES).outcome == Outcome.CLEAN
    assert judge(seen(one, features=frozenset({"solenoid"})), both, NO_FEATURES).outcome == Outcome.INCOMPLETE


# --- standing --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "days_later", "state"),
    [
        ("v", 0, StandingState.NOT_STARTED),
        ("c c c X", 0, StandingState.AGAIN),
        ("c c c X c c~ c", 0, StandingState.AGAIN),
        ("c c c |91 X", 0, StandingState.AGAIN),
        ("c c c~", 0, StandingState.WAITING),
        ("c c c |91 c~", 1, StandingState.OUT_OF_DATE),
        ("c c c m", 0, StandingState.MET_WATCH),
        ("c c c", 0, StandingState.MET),
        ("c c", 0, StandingState.NOT_YET),
        ("X", 0, StandingState.NOT_YET),
    ],
)
def test_ruling_23_first_that_fits(text: str, days_later: int, state: StandingState) -> None:
    """Not started > again > waiting > out of date > met (watch) > met > not yet."""
    assert stand(text, days_later=days_later).state == state


def test_ruling_23_not_for_this_unit_comes_first() -> None:
    """Even before again."""
    some = attempts("c c c X", MOUTHPIECE)
    told = standing(some, MOUTHPIECE, TYPE_A, NO_FEATURES, last_day(some), applies=False)
    assert told.state == StandingState.NOT_FOR_THIS_UNIT


def test_ruling_24_last_day_of_the_window_is_still_good() -> None:
    """90 days after the last attempt that counts; a re-teach or a stopped one does not move the window."""
    assert stand("c c c", days_later=90).state == StandingState.MET
    assert stand("c c c", days_later=91).state == StandingState.OUT_OF_DATE
    assert stand("c c c |10 c", days_later=90).state == StandingState.MET
    assert stand("c c c |10 s", days_later=81).state == StandingState.OUT_OF_DATE
    assert stand("c c c").good_until == FIRST_DAY + timedelta(days=90)


def test_ruling_24_full_rule_is_asked_anew_and_again_stays_again() -> None:
    """One attempt after the window does not renew it; three do."""
    told = stand("c c c |91 c c")
    assert (told.state, told.streak, told.missing.attempts) == (StandingState.OUT_OF_DATE, 2, 1)
    assert stand("c c c |91 c c c").state == StandingState.MET
    assert stand("c c c |90 c").state == StandingState.MET
    assert stand("c c c X", days_later=500).state == StandingState.AGAIN
    assert stand("c c c X c c c c").state == StandingState.MET


def test_ruling_25_watch_ends_with_the_whole_rule_and_its_day() -> None:
    """A minor that breaks after met begins it; the day of met moves to the day on which it ends."""
    told = stand("c c c | m c c")
    assert (told.state, told.met_on) == (StandingState.MET_WATCH, FIRST_DAY)
    ended = stand("c c c | m c c | c")
    assert (ended.state, ended.met_on) == (StandingState.MET, FIRST_DAY + timedelta(days=2))
    assert stand("c c c w").state == StandingState.MET
    assert stand("m c c c").state == StandingState.MET


def test_ruling_26_waiting_names_whose_word_is_missing() -> None:
    """Strict is not yet and mild is met: Tamsin was lapsed for the third."""
    told = stand("c c c~")
    assert told.state == StandingState.WAITING
    assert told.waiting_for.lapsed_observers == (TAMSIN,)
    assert told.waiting_for.lapsed_attempts == ("a3",)


def test_ruling_26_two_sheets_that_differ_wait_for_a_joint_line() -> None:
    """The looser sheet would meet the rule."""
    good, bad = all_done(MOUTHPIECE), all_done(MOUTHPIECE, mark("co-close", Mark.ERROR, "co-slow"), observer=BRUNO)
    third = seen(attempt(good, bad, id="a3", number=3))
    told = stand_of([*attempts("c c", MOUTHPIECE), third])
    assert (told.state, told.waiting_for.differing_attempts) == (StandingState.WAITING, ("a3",))
    assert told.waiting_for.differing_observers == (BRUNO, TAMSIN)
    agreed = replace(third, attempt=third.attempt.model_copy(update={"joint": (joint("co-close"),)}))
    assert stand_of([*attempts("c c", MOUTHPIECE), agreed]).state == StandingState.MET


def test_ruling_26_differences_that_no_longer_matter_are_not_named() -> None:
    """The first lapsed attempt lies before a break that both readings see."""
    assert stand("c~ m c c c~").waiting_for.lapsed_attempts == ("a5",)


def test_ruling_26_again_is_never_covered_by_waiting() -> None:
    """Mild would be met once more."""
    assert stand("c c c X c~ c c c~").state == StandingState.AGAIN


def test_ruling_26_out_of_date_may_wait_too() -> None:
    """A lapsed observer's attempt would have moved the window."""
    assert stand("c c c |60 c~", days_later=60).state == StandingState.WAITING
    assert stand("c c c |60 c~", days_later=91).state == StandingState.OUT_OF_DATE


# --- against the plain machine ---------------------------------------------------------------------------------------

MANY_SIDED = skill(
    [
        step("a", error("a1"), error("a2"), prompt_error="a1", limit=limit(at_least="5", at_most="10", error="a1")),
        step("b", error("b1", critical=True), error("b2"), after=("a",), limit=limit(at_least="60", error="b1")),
        step("c", error("c1"), after=("b",), after_critical=("b",), if_left_out="critical"),
        step("d", error("d1", critical=True), after=("a",), limit=limit(at_most="10"), prompt_error="d1"),
        step("e", error("e1"), after=("c", "d"), only_if=Needs(all=("hud",))),
        step("f", error("f1"), after=("e",), limit=limit(at_most="3")),
    ],
    minor_errors_allowed=2,
    prompts_allowed=1,
)
STEP_IDS = [one.id for one in MANY_SIDED.steps]


@st.composite
def mark_lines(draw: st.DrawFn) -> Any:
    """Any mark that an observer could give any step, possibly two for one step."""
    where = draw(st.sampled_from(MANY_SIDED.steps))
    what = draw(st.sampled_from(list(Mark)))
    if what != Mark.ERROR:
        return mark(where.id, what)
    letters = [one.id for one in where.errors] + ["x"]
    errors = draw(st.lists(st.sampled_from(letters), min_size=1, max_size=3, unique=True))
    return mark(where.id, Mark.ERROR, *errors, prompted=draw(st.booleans()), fixed_self=draw(st.booleans()))


@st.composite
def any_sheets(draw: st.DrawFn, observer: str = TAMSIN) -> Sheet:
    """Mostly done, with some other marks, values near the bounds, answers about order, perhaps the one stroke."""
    marked = {one for one in STEP_IDS if draw(st.integers(0, 9)) > 1}
    other = draw(st.lists(mark_lines(), max_size=3))
    numbers = st.sampled_from(["3", "3.0", "4.9", "5", "10", "10.01", "41", "59.5", "60", "60.0", "61"])
    values = draw(
        st.lists(
            st.builds(value, st.sampled_from(STEP_IDS), numbers, st.sampled_from(["s", "s", "s", "min"])), max_size=4
        )
    )
    values += [value("b", "60")] if draw(st.booleans()) else []
    orders = draw(
        st.lists(
            st.builds(before, st.sampled_from(STEP_IDS), st.sampled_from(STEP_IDS), seen_so=st.booleans()), max_size=4
        )
    )
    replaced = {line.step for line in other} if draw(st.booleans()) else set()
    done = [mark(one) for one in STEP_IDS if one in marked - replaced]
    return sheet(
        *done,
        *other,
        observer=observer,
        values=tuple(values),
        orders=tuple(orders),
        whole_clean="w" if draw(st.booleans()) else None,
        practice=draw(st.integers(0, 9)) == 0,
    )


joint_lines = st.builds(
    lambda line, seconds: JointLine(
        **line.model_dump(exclude={"utc", "late"}), observers=(TAMSIN, BRUNO), value=seconds
    ),
    mark_lines(),
    st.sampled_from([None, "4", "9", "41", "60"]),
)
any_features = st.sampled_from([NO_FEATURES, frozenset({"hud"})])


@settings(max_examples=500, deadline=None)
@given(any_sheets(), any_features, st.lists(joint_lines, max_size=2), st.sampled_from(list(Closing)))
def test_any_sheet_is_judged_as_by_the_plain_machine(
    one: Sheet, features: frozenset[str], agreed: list[JointLine], how: Closing
) -> None:
    """Outcome, worth, minors and prompts."""
    told, plain = (
        judge_sheet(one, MANY_SIDED, features, agreed, how),
        plain_sheet(one, MANY_SIDED, features, agreed, how),
    )
    assert told.outcome == plain.outcome
    assert told.worth == {"minor": Worth.MINOR, "neither": Worth.NEITHER, "breaks": Worth.BREAKS}.get(
        plain.ladder, Worth.CRITICAL if plain.ladder == "critical" else Worth.CLEAN
    )
    if plain.outcome not in ("clean", "incomplete"):
        assert (told.minors, told.prompts) == (plain.minors, plain.prompts)


@settings(max_examples=250, deadline=None)
@given(
    st.lists(st.sampled_from([TAMSIN, BRUNO, LIEN]), max_size=3, unique=True).flatmap(
        lambda observers: st.tuples(*(any_sheets(one) for one in observers))
    ),
    st.sets(st.sampled_from([TAMSIN, BRUNO])),
    st.sampled_from(["dry", "class"]),
    st.sampled_from([(), ("student",)]),
    st.sampled_from([None, *Closing]),
    st.booleans(),
)
def test_any_attempt_is_judged_as_by_the_plain_machine(
    sheets: tuple[Sheet, ...],
    lapsed: set[str],
    setting: str,
    contested: tuple[str, ...],
    how: Closing | None,
    mild: bool,  # noqa: FBT001 - drawn
) -> None:
    """Counts, breaks, uses a re-teach up, is in a standing."""
    one = seen(attempt(*sheets, how=how, setting=setting, contested=contested), lapsed=lapsed)
    told, plain = judge(one, MANY_SIDED, NO_FEATURES, mild=mild), plain_attempt(one, MANY_SIDED, NO_FEATURES, mild=mild)
    assert (told.outside is None) == plain["in"]
    if plain["in"]:
        assert (told.outcome, told.counts, told.breaks, told.uses_reteach, told.assessors) == (
            plain["outcome"],
            plain["would_count"],
            plain["breaks"],
            plain["retaught"],
            plain["who"],
        )


@given(st.lists(mark_lines(), max_size=8).flatmap(lambda lines: st.tuples(st.just(lines), st.permutations(lines))))
def test_order_of_lines_on_a_sheet_never_matters(lines: tuple[list[Any], list[Any]]) -> None:
    """The same marks in any order are the same sheet."""
    assert judge_sheet(sheet(*lines[0]), MANY_SIDED, NO_FEATURES) == judge_sheet(
        sheet(*lines[1]), MANY_SIDED, NO_FEATURES
    )


@given(any_sheets())
def test_one_more_critical_mark_makes_any_sheet_critical(one: Sheet) -> None:
    """Whatever else stands there."""
    worse = one.model_copy(update={"marks": (*one.marks, mark("d", Mark.ERROR, "d1"))})
    assert judge_sheet(worse, MANY_SIDED, NO_FEATURES).worth == Worth.CRITICAL


@given(any_sheets(), any_sheets(BRUNO))
def test_a_second_sheet_never_makes_an_attempt_milder(one: Sheet, other: Sheet) -> None:
    """The strict reading of two is at least as strict as that of each."""
    ladder = list(Worth)
    alone, both = (judge(seen(attempt(*sheets)), MANY_SIDED, NO_FEATURES).held for sheets in ((one,), (one, other)))
    if alone is not None and both is not None:
        assert ladder.index(both.worth) >= ladder.index(alone.worth)


def test_every_reason_is_a_sentence() -> None:
    """Each names its step, what it was, and says when it is critical."""
    told = judged(
        all_done(
            MOUTHPIECE,
            mark("co-hand", Mark.ERROR, "co-late", fixed_self=True),
            mark("co-close", Mark.LEFT_OUT),
            mark("co-out", Mark.NOT_SEEN),
            mark("co-hold", Mark.PROMPTED),
        )
    )
    assert [(reason.step, reason.what, reason.sentence) for reason in told.reasons] == [
        ("co-hand", "error", "Do co-hand now: wrong by co-late, put right unasked."),
        ("co-close", "left_out", "Do co-close now: left out: critical."),
        ("co-hold", "prompt", "Do co-hold now: prompted."),
        ("co-out", "not_seen", "Do co-out now: not seen."),
    ]


def test_attempt_shows_the_critical_errors_of_every_sheet() -> None:
    """Two observers, two critical errors, each once."""
    one = all_done(MOUTHPIECE, mark("co-out", Mark.ERROR, "co-open-out"))
    other = all_done(MOUTHPIECE, mark("co-close", Mark.ERROR, "co-half"), observer=BRUNO)
    told: Attempt = attempt(one, other)
    reasons = judge(seen(told), MOUTHPIECE, NO_FEATURES).critical_reasons
    assert {reason.error for reason in reasons} == {"co-open-out", "co-half"}
