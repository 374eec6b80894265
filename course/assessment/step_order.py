"""Steps out of order: what to ask the observer, and the fewest steps that explain what was confirmed.

Only an observer's yes makes an order fault. A pair here is (first_done, should_come_first): the first was done
before the second, though the rubric asks for the second before it.

Fewest steps: a confirmed pair says "earlier in time and later in the rubric". Both are partial orders, so their
intersection, closed transitively, is one as well. The steps that can stay without a fault are an antichain; by
Dilworth and Koenig the fewest that must go are as many as a maximum matching of the split graph has edges (each step
once on the left, once on the right). For a total order this is n minus the longest increasing subsequence.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from course.assessment.marks import Reason, step_name
from course.standards.rubric import Skill

Pair = tuple[str, str]


@dataclass(frozen=True)
class OrderBlame:
    """The fewest steps out of order.

    `certain` steps are in every smallest explanation; `possible` ones in some, and are named "A or B".
    """

    fewest: int = 0
    certain: tuple[str, ...] = ()
    possible: tuple[str, ...] = ()


def order_pairs(skill: Skill) -> frozenset[Pair]:
    """Every (first_done, should_come_first) that would be a fault, through steps between as well.

    Taken over all steps of the skill, also those that a unit lacks: else a missing step between would hide a pair.
    """
    return _pairs(tuple((step.id, step.after) for step in skill.steps))


@lru_cache(maxsize=512)
def _pairs(asked: tuple[tuple[str, tuple[str, ...]], ...]) -> frozenset[Pair]:
    """The pairs of one form of a skill; it is asked for again with every attempt."""
    closed = close_transitively((later, earlier) for later, before in asked for earlier in before)
    return frozenset((later, earlier) for later, before in closed.items() for earlier in before)


def critical_pairs(skill: Skill) -> frozenset[Pair]:
    """The pairs that the rubric lists under `after_critical`; a pair through steps between never is one."""
    return frozenset((step.id, earlier) for step in skill.steps for earlier in step.after_critical)


def proposed_order_questions(
    skill: Skill,
    features: frozenset[str],
    first_taps: Iterable[tuple[str, str]],
    left_out: frozenset[str] = frozenset(),
) -> tuple[tuple[str, str, bool], ...]:
    """Return what the pad asks after live taps: (first_done, should_come_first, critical), critical ones first.

    Args:
        skill: the skill.
        features: what the unit has.
        first_taps: (step, stored UTC moment) of each step's first tap.
        left_out: steps marked left out; they were not done, so they are out of no order.
    """
    place = {step.id: number for number, step in enumerate(skill.steps_for(features))}
    listed = critical_pairs(skill)
    tapped = {step: utc for step, utc in first_taps if step in place and step not in left_out}
    asked = [
        (first, second, (first, second) in listed)
        for first, second in order_pairs(skill)
        if first in tapped and second in tapped and tapped[first] < tapped[second]
    ]
    return tuple(sorted(asked, key=lambda q: (not q[2], place[q[0]], place[q[1]])))


def order_blame(pairs: Iterable[Pair]) -> OrderBlame:
    """Return the fewest steps whose going would leave no confirmed pair, and how sure each of them is.

    Args:
        pairs: confirmed faults (first_done, should_come_first), free of circles.
    """
    faults = list(pairs)
    steps = sorted({step for pair in faults for step in pair})
    place = {step: number for number, step in enumerate(steps)}
    rows = _rows([(place[first], place[second]) for first, second in faults], len(steps))
    fewest = _matching(rows)
    if not fewest:
        return OrderBlame()
    rivals = [row | sum(1 << n for n, other in enumerate(rows) if other >> step & 1) for step, row in enumerate(rows)]
    certain = [step for step, of in zip(steps, rivals, strict=True) if _size_keeping(rows, place[step], of) > fewest]
    possible = [s for s in steps if s not in certain and 1 + _matching(rows, 1 << place[s]) == fewest]
    return OrderBlame(fewest, tuple(certain), tuple(possible))


def order_parts(pairs: Iterable[Pair]) -> list[frozenset[Pair]]:
    """Return the pairs in parts that share no step, by their least step: each part has its own explanation.

    The fewest steps of all pairs are as many as those of the parts together.
    """
    parts: list[set[Pair]] = []
    for pair in sorted(pairs):
        touched = [part for part in parts if any(set(pair) & set(other) for other in part)]
        parts = [part for part in parts if part not in touched]
        parts.append({pair}.union(*touched))
    return [frozenset(part) for part in sorted(parts, key=lambda part: min(map(min, part)))]


def order_reasons(skill: Skill, critical: Iterable[Pair], minor: Iterable[Pair], blame: OrderBlame) -> list[Reason]:
    """Tell order faults: every critical pair for itself, the minor ones by the steps that explain them."""
    faults = [
        Reason(first, "order", f"{_name(skill, first)}: done before {_quoted(skill, second)}: critical.", critical=True)
        for first, second in sorted(critical)
    ]
    pairs = sorted(minor)
    for step in blame.certain:
        told = [_pair_told(skill, pair) for pair in pairs if step in pair]
        faults.append(Reason(step, "order", f"{_name(skill, step)}: out of order ({'; '.join(told)})."))
    faults += [_either(skill, part, of) for part in order_parts(pairs) if (of := order_blame(part)).possible]
    return faults


def _either(skill: Skill, pairs: Iterable[Pair], blame: OrderBlame) -> Reason:
    """Name the steps of which some explain these pairs, where nobody can tell which."""
    names = " or ".join(_quoted(skill, step) for step in blame.possible)
    told = [_pair_told(skill, pair) for pair in sorted(pairs) if set(pair) & set(blame.possible)]
    count = blame.fewest - len(blame.certain)
    many = "" if count == 1 else f", {count} of them"
    return Reason("", "order", f"Out of order: {names}{many} ({'; '.join(told)}).")


def close_transitively(pairs: Iterable[Pair]) -> dict[str, frozenset[str]]:
    """Return for each step all steps that it was done before, directly or through others."""
    direct: dict[str, set[str]] = {}
    for first, second in pairs:
        direct.setdefault(first, set()).add(second)
    closed: dict[str, frozenset[str]] = {}
    for start, seconds in direct.items():
        reached: set[str] = set()
        waiting = list(seconds)
        while waiting:
            step = waiting.pop()
            if step in closed:
                reached |= {step, *closed[step]}
            elif step not in reached:
                reached.add(step)
                waiting.extend(direct.get(step, ()))
        closed[start] = frozenset(reached)
    return closed


def _rows(pairs: Sequence[tuple[int, int]], steps: int) -> list[int]:
    """For each step the steps that it was done before, as bits; closed through one step after another (Warshall)."""
    rows = [0] * steps
    for first, second in pairs:
        rows[first] |= 1 << second
    for middle in range(steps):
        for first, seconds in enumerate(rows):
            if seconds >> middle & 1:
                rows[first] |= rows[middle]
    return rows


def _matching(rows: Sequence[int], gone: int = 0) -> int:
    """Size of a maximum matching of the split graph, by augmenting paths (Kuhn's algorithm).

    Args:
        rows: for each step, by its number, the steps that it was done before, as bits.
        gone: steps that are left out of account, as bits.
    """
    partner: dict[int, int] = {}
    free = untried = 0

    def finds_partner(first: int) -> bool:
        nonlocal free, untried
        if at_once := rows[first] & untried & free:
            second = at_once & -at_once
            free &= ~second
            partner[second] = first
            return True
        while open_ := rows[first] & untried:
            second = open_ & -open_
            untried &= ~second
            if finds_partner(partner[second]):
                partner[second] = first
                return True
        return False

    size, free = 0, ~gone
    for first in range(len(rows)):
        untried = ~gone
        size += not gone >> first & 1 and finds_partner(first)
    return size


def _size_keeping(rows: Sequence[int], step: int, rivals: int) -> int:
    """Fewest steps if this one may not be blamed: then everything that it is in conflict with must be."""
    return rivals.bit_count() + _matching(rows, rivals | 1 << step)


def confirmed_faults(
    skill: Skill, features: frozenset[str], confirmed: Iterable[Pair], left_out: frozenset[str]
) -> tuple[frozenset[Pair], frozenset[Pair]]:
    """Return the confirmed pairs that are faults on this unit: (critical ones, minor ones).

    Where the step that should come first was left out, that is an omission and no order fault. A pair that the rubric
    does not order is none either.
    """
    said = frozenset(confirmed)
    if not said:
        return said, said
    here = {step.id for step in skill.steps_for(features)}
    faults = said & order_pairs(skill)
    faults = frozenset(pair for pair in faults if pair[0] in here and pair[1] in here and pair[1] not in left_out)
    critical = faults & critical_pairs(skill)
    return critical, faults - critical


def _name(skill: Skill, step_id: str) -> str:
    step = skill.step(step_id)
    return step_name(step) if step else step_id


def _quoted(skill: Skill, step_id: str) -> str:
    return f"“{_name(skill, step_id)}”"


def _pair_told(skill: Skill, pair: Pair) -> str:
    return f"{_quoted(skill, pair[0])} before {_quoted(skill, pair[1])}"
