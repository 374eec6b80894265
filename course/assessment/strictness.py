"""How strict a rule is: the chance that somebody of a given reliability meets it, exact, by a Markov chain.

No student's data go in. The chain's state is what the rule looks at: attempts in a row, training days and settings in
that row, and re-teach attempts that are owed. It is `streak.advance` in probabilities, for attempts that are seen
whole, on one unit type, by observers enough. The share of attempts that count is taken as the same throughout, which
no learner is: the number says what the rule lets through, not what a student will do.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from course.standards.rubric import Rule, Setting

Chances = NDArray[np.float64]
PROVEN_LEVEL = 0.05
"""How rare a record may be before the share behind it is called ruled out: 5 in 100."""


@dataclass(frozen=True)
class DayPlan:
    """Attempts of one training day, in order, each in its setting."""

    settings: tuple[Setting, ...]


@dataclass(frozen=True)
class Reliability:
    """How somebody does, attempt for attempt: shares of attempts that count and of those with a critical error.

    The rest breaks the streak. `missed` is the share of faults that an observer does not see; a missed fault counts.
    """

    counts: float
    critical: float = 0.0
    missed: float = 0.0

    def __post_init__(self) -> None:
        """Shares are shares.

        Raises:
            ValueError: one is not, or they sum to more than all.
        """
        shares = (self.counts, self.critical, self.missed)
        if not all(0 <= share <= 1 for share in shares) or self.counts + self.critical > 1:
            raise ValueError("shares lie between 0 and 1, and those that count and the critical ones are at most all")


@dataclass(frozen=True)
class _Place:
    """Where the chain stands: the streak, its days and settings, and what is owed."""

    in_a_row: int = 0
    days: int = 0
    today: bool = False
    settings: frozenset[str] = frozenset()
    owed: int = 0


def even_days(rule: Rule, attempts: int, a_day: int = 3) -> tuple[DayPlan, ...]:
    """Return training days of so many attempts each, going round the rule's settings day by day."""
    plans = []
    for number in range(-(-attempts // a_day)):
        size = min(a_day, attempts - number * a_day)
        plans.append(DayPlan((rule.settings[number % len(rule.settings)],) * size))
    return tuple(plans)


def met_by(rule: Rule, days: Sequence[DayPlan], reliability: Reliability) -> Chances:
    """Return the chance that the rule has been met by the end of each attempt; shape (attempts,).

    Args:
        rule: the rule; `assessors` is taken as filled.
        days: the training days with their attempts.
        reliability: how somebody does.
    """
    counts = reliability.counts + (1 - reliability.counts) * reliability.missed
    critical = reliability.critical * (1 - reliability.missed)
    places: dict[_Place, float] = {_Place(): 1.0}
    met, curve = 0.0, []
    for day in days:
        places = _joined((replace(place, today=False), share) for place, share in places.items())
        for setting in day.settings:
            places, newly = _attempt(places, rule, setting, counts, critical)
            met += newly
            curve.append(met)
    return np.array(curve, dtype=np.float64)


def within(rule: Rule, reliability: Reliability, attempts: int | None = None, a_day: int = 3) -> float:
    """Return the chance that the rule is met within so many attempts, the rule's own budget unless named."""
    curve = met_by(rule, even_days(rule, attempts or rule.budget, a_day), reliability)
    return float(curve[-1]) if curve.size else 0.0


def expected_attempts(rule: Rule, reliability: Reliability, a_day: int = 3, at_most: int = 2000) -> float:
    """Return how many attempts it takes to meet the rule on average, as the sum of the chances to be still at it.

    Infinite when after `at_most` attempts more than one in a million would still be at it.
    """
    curve = met_by(rule, even_days(rule, at_most, a_day), reliability)
    if 1 - curve[-1] > 1e-6:
        return float("inf")
    return float(1 + np.sum(1 - curve[:-1]))


def ruled_out_below(rule: Rule, days: Sequence[DayPlan], level: float = PROVEN_LEVEL) -> float:
    """Return the share of attempts that count below which meeting the rule so soon would be rarer than `level`.

    It knows about stopping: whoever tries often enough meets any rule, so meeting it late proves little.

    Args:
        rule: the rule that was met.
        days: the attempts that were used, as they were spread.
        level: how rare.
    """
    low, high = 0.0, 1.0
    if met_by(rule, days, Reliability(high))[-1] < level:
        return float("nan")  # on these days the rule cannot be met at all
    for _ in range(60):  # to the last bit of a double
        middle = (low + high) / 2
        chance = met_by(rule, days, Reliability(middle))[-1]
        low, high = (low, middle) if chance >= level else (middle, high)
    return (low + high) / 2


def critical_share_up_to(attempts: int, level: float = PROVEN_LEVEL) -> float:
    """Return the greatest share of critical errors that so many attempts without one leave possible.

    Exact for n independent attempts: 1 - level^(1/n) (Clopper and Pearson 1934, for no event in n).

    Raises:
        ValueError: there is no attempt.
    """
    if attempts < 1:
        raise ValueError("without an attempt nothing is ruled out")
    return float(1 - level ** (1 / attempts))


def _attempt(
    places: dict[_Place, float], rule: Rule, setting: str, counts: float, critical: float
) -> tuple[dict[_Place, float], float]:
    """Take the chain through one attempt; return where it stands and the chance that the rule was met by it."""
    breaks = 1 - counts - critical
    moved: list[tuple[_Place, float]] = []
    met = 0.0
    for place, share in places.items():
        then = _counting(place, rule, setting)
        if then is None:
            met += share * counts
        else:
            moved.append((then, share * counts))
        moved.append((_Place(owed=max(0, place.owed - 1)), share * breaks))
        moved.append((_Place(owed=rule.reteach), share * critical))
    return _joined(moved), met


def _counting(place: _Place, rule: Rule, setting: str) -> _Place | None:
    """Where an attempt that counts leads; None: the rule is met."""
    if place.owed:
        return _Place(owed=place.owed - 1)
    in_a_row = min(place.in_a_row + 1, rule.in_a_row)
    days = min(place.days + (not place.today), rule.distinct_days)
    settings = place.settings | ({setting} & set(rule.settings))
    if in_a_row >= rule.in_a_row and days >= rule.distinct_days and settings.issuperset(rule.settings):
        return None
    return _Place(in_a_row, days, today=True, settings=settings)


def _joined(moved: Iterable[tuple[_Place, float]]) -> dict[_Place, float]:
    places: dict[_Place, float] = {}
    for place, share in moved:
        if share:
            places[place] = places.get(place, 0.0) + share
    return places
