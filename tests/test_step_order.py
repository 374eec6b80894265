"""Steps out of order: the fewest that explain it, and what the pad asks.

Reference rows: published/statistics.csv, S083-S086; each is a definition worked out by brute force.
"""

from __future__ import annotations

import bisect
import csv
import random
from itertools import combinations
from pathlib import Path

import pytest
from course_text import NO_FEATURES, all_done, before, error, mark, mouthpiece, skill, step
from hypothesis import given
from hypothesis import strategies as st
from plain_standing_machine import closed, smallest_explanations

from course.assessment.attempts import judge_sheet
from course.assessment.step_order import (
    OrderBlame,
    close_transitively,
    critical_pairs,
    order_blame,
    order_pairs,
    proposed_order_questions,
)
from course.standards.rubric import Needs
from course.words import Mark

with (Path(__file__).parent / "published" / "statistics.csv").open(encoding="utf-8") as table:
    PUBLISHED = {row["id"]: float(row["expected"]) for row in csv.DictReader(table)}


@st.composite
def confirmed_pairs(draw: st.DrawFn) -> set[tuple[str, str]]:
    """Faults as they can come about: a partial order over up to 7 steps, and the sequence in which they were done."""
    count = draw(st.integers(2, 7))
    arrows = draw(st.sets(st.tuples(st.integers(0, count - 1), st.integers(0, count - 1)), max_size=14))
    rubric = closed({(str(max(a, b)), str(min(a, b))) for a, b in arrows if a != b})
    done = draw(st.permutations([str(number) for number in range(count)]))
    return {(later, earlier) for later, earlier in rubric if done.index(later) < done.index(earlier)}


def longest_increasing(values: list[int]) -> int:
    """Length of the longest increasing subsequence, by patience sorting."""
    piles: list[int] = []
    for one in values:
        place = bisect.bisect_left(piles, one)
        piles[place : place + 1] = [one]
    return len(piles)


def mismatches(cases: int, check: str) -> int:
    """How often the matching disagrees with trying every subset, over random posets."""
    rng, wrong = random.Random(20), 0  # noqa: S311 - cases, not secrets
    for _ in range(cases):
        count = rng.randint(2, 7)
        rubric = closed({(str(b), str(a)) for a, b in combinations(range(count), 2) if rng.random() < 0.4})
        done = rng.sample([str(n) for n in range(count)], count)
        pairs = {(later, earlier) for later, earlier in rubric if done.index(later) < done.index(earlier)}
        blame, found = order_blame(pairs), smallest_explanations(pairs)
        expected = OrderBlame(
            len(found[0]),
            tuple(sorted(set.intersection(*found))),
            tuple(sorted(set.union(*found) - set.intersection(*found))),
        )
        if check == "all":
            wrong += blame != expected
        else:
            named = set(blame.certain) | set(blame.possible)
            wrong += not all(set(pair) & named for pair in pairs)
    return wrong


def test_blame_equals_every_subset_tried_s083() -> None:
    """Size, certain and possible steps over 400 random partial orders."""
    assert mismatches(400, "all") == PUBLISHED["S083"]


def test_named_steps_explain_every_pair_s084() -> None:
    """What is shown really removes every fault."""
    assert mismatches(400, "named") == PUBLISHED["S084"]


def test_total_order_blame_is_length_minus_longest_increasing_subsequence_s085() -> None:
    """Schensted's subsequence by patience sorting, over 200 random permutations of up to 20 steps."""
    rng, wrong = random.Random(8), 0  # noqa: S311 - cases, not secrets
    for _ in range(200):
        done = rng.sample(range(20), rng.randint(2, 20))
        pairs = {(f"{a:02}", f"{b:02}") for a, b in combinations(done, 2) if a > b}
        wrong += order_blame(pairs).fewest != len(done) - longest_increasing(done)
    assert wrong == PUBLISHED["S085"]


def test_a_missing_step_between_hides_no_fault_s086() -> None:
    """0 before 1 before 2; the unit lacks 1, and 2 was done before 0."""
    chain = skill(
        [step("s0"), step("s1", after=("s0",), only_if=Needs(all=("solenoid",))), step("s2", after=("s1",))], reteach=0
    )
    judged = judge_sheet(all_done(chain, orders=(before("s2", "s0"),)), chain, NO_FEATURES)
    assert judged.order.fewest == PUBLISHED["S086"]


@given(confirmed_pairs())
def test_blame_is_exact_on_any_partial_order(pairs: set[tuple[str, str]]) -> None:
    """Koenig's count against trying every subset."""
    found = smallest_explanations(pairs)
    blame = order_blame(pairs)
    assert blame.fewest == len(found[0])
    assert set(blame.certain) == set.intersection(*found)
    assert set(blame.certain) | set(blame.possible) == set.union(*found)


@given(confirmed_pairs())
def test_closure_equals_going_round_until_nothing_is_new(pairs: set[tuple[str, str]]) -> None:
    """Reachability against repeated joining."""
    assert {(a, b) for a, bs in close_transitively(pairs).items() for b in bs} == closed(pairs)


def test_one_late_step_is_one_finding() -> None:
    """Six steps done before the first one of all: one step is to blame, by name."""
    pairs = {(f"s{number}", "s0") for number in range(1, 7)}
    assert order_blame(pairs) == OrderBlame(1, ("s0",), ())


def test_two_steps_swapped_blame_either() -> None:
    """Nobody can tell which of two is the late one."""
    assert order_blame({("b", "a")}) == OrderBlame(1, (), ("a", "b"))


def test_swapped_steps_are_told_as_a_or_b() -> None:
    """The sentence names both, and no single step carries the reason."""
    plain = skill([step("mask"), step("fins", after=("mask",)), step("hood")], reteach=0)
    judged = judge_sheet(all_done(plain, orders=(before("fins", "mask"),)), plain, NO_FEATURES)
    (reason,) = judged.reasons
    assert (reason.step, reason.what) == ("", "order")
    assert "“Do fins now” or “Do mask now”" in reason.sentence


def test_two_swaps_that_share_no_step_are_two_reasons() -> None:
    """Each with its own "A or B"; one sentence over four steps would say less than is known."""
    steps = [step("mask"), step("fins", after=("mask",)), step("hood"), step("belt", after=("hood",))]
    plain = skill(steps, reteach=0)
    judged = judge_sheet(all_done(plain, orders=(before("fins", "mask"), before("belt", "hood"))), plain, NO_FEATURES)
    assert [reason.sentence for reason in judged.reasons] == [
        "Out of order: “Do belt now” or “Do hood now” (“Do belt now” before “Do hood now”).",
        "Out of order: “Do fins now” or “Do mask now” (“Do fins now” before “Do mask now”).",
    ]
    assert judged.minors == 2


def test_pad_asks_about_every_pair_tapped_the_wrong_way_critical_first() -> None:
    """co-out before co-close is the listed one; co-hold is in place."""
    taps = [("co-out", "1"), ("co-close", "2"), ("co-hand", "3"), ("co-hold", "4")]
    asked = proposed_order_questions(mouthpiece(), NO_FEATURES, taps)
    assert asked == (
        ("co-out", "co-close", True),
        ("co-close", "co-hand", False),
        ("co-out", "co-hand", False),
    )


@pytest.mark.parametrize(
    ("taps", "left_out"),
    [
        ([("co-hand", "1"), ("co-close", "2"), ("co-out", "3")], frozenset()),
        ([("co-out", "1"), ("co-close", "1")], frozenset()),
        ([("co-out", "1")], frozenset()),
        ([("co-out", "1"), ("co-close", "2")], frozenset({"co-close"})),
        ([("co-out", "1"), ("another-skill", "0")], frozenset()),
    ],
    ids=["right order", "same moment", "one tapped", "first of the pair left out", "no step of this skill"],
)
def test_pad_asks_nothing(taps: list[tuple[str, str]], left_out: frozenset[str]) -> None:
    """Where nothing was done the wrong way round there is no question."""
    assert proposed_order_questions(mouthpiece(), NO_FEATURES, taps, left_out) == ()


def test_pairs_run_from_the_later_step_to_the_earlier_one() -> None:
    """All six pairs of a chain of four; only the listed one is critical."""
    chain = mouthpiece()
    pairs = order_pairs(chain)
    assert len(pairs) == 6
    assert pairs & critical_pairs(chain) == {("co-out", "co-close")}


def test_pair_that_the_rubric_does_not_order_is_no_fault() -> None:
    """A yes about two steps in any order changes nothing."""
    free = skill([step("mask"), step("fins"), step("hood")], reteach=0)
    judged = judge_sheet(all_done(free, orders=(before("hood", "mask"),)), free, NO_FEATURES)
    assert judged.order == OrderBlame()


def test_error_and_order_fault_of_one_step_are_two_minors() -> None:
    """They are two things that were seen."""
    plain = skill([step("mask", error("fogged")), step("fins", after=("mask",)), step("hood")], reteach=0)
    sheet = all_done(plain, mark("mask", Mark.ERROR, "fogged"), orders=(before("fins", "mask"),))
    assert judge_sheet(sheet, plain, NO_FEATURES).minors == 2
