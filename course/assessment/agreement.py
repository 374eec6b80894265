"""How far observers agree about the same steps: per category first, chance-corrected numbers beside it.

Errors are rare, and where one category is rare every chance-corrected number collapses although observers agree: the
specific agreement on errors is the one to act on. Ratings are a table units x observers, with None where somebody did
not rate. Sources: Dice 1945 and Fleiss 1975 for specific agreement; Gwet 2008 for AC1; Krippendorff 2011; Cohen 1960
and 1968; all as recomputed in tests/test_agreement.py from published tables.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ratings = Sequence[Sequence[Hashable | None]]
Numbers = NDArray[np.float64]
_PAIR = 2


@dataclass(frozen=True)
class Agreement:
    """Agreement of observers on units that at least two of them rated; None where it is not defined."""

    units: int
    categories: tuple[Hashable, ...]
    same: float | None
    """Share of pairs of ratings that agree."""
    specific: dict[Hashable, float | None]
    """By category: of the pairs that named it at least once, twice the agreeing by all namings."""
    ac1: float | None
    alpha: float | None


@dataclass(frozen=True)
class FewerErrors:
    """Who marks fewer errors on the same attempts: those seen by one of two observers only, and an exact sign test."""

    only_first: int
    only_second: int
    both: int
    p_value: float | None
    """Two-sided; None where neither saw one alone."""


def agreement(ratings: Ratings) -> Agreement:
    """Return how far observers agree.

    Args:
        ratings: one row a unit, one place an observer; None: not rated.
    """
    counts, categories = _counts(ratings)
    rated = counts[counts.sum(axis=1) >= _PAIR]
    if not len(rated):
        return Agreement(0, categories, None, dict.fromkeys(categories), None, None)
    return Agreement(
        units=len(rated),
        categories=categories,
        same=_same(rated),
        specific={name: _specific(rated, place) for place, name in enumerate(categories)},
        ac1=_ac1(counts, rated),
        alpha=_alpha(rated),
    )


def weighted_kappa(table: Sequence[Sequence[float]], disagreement: Sequence[Sequence[float]] | None = None) -> float:
    """Return Cohen's kappa of two observers from their table of counts or shares.

    Args:
        table: rows the first observer's categories, columns the second's; square.
        disagreement: how far apart two categories are; None: all the same, which is the plain kappa.

    Raises:
        ValueError: both observers used one and the same category only, so that chance explains all.
    """
    shares = np.array(table, dtype=np.float64)
    shares = shares / shares.sum()
    weights = np.array(disagreement, dtype=np.float64) if disagreement is not None else 1 - np.eye(len(shares))
    by_chance = float((weights * np.outer(shares.sum(axis=1), shares.sum(axis=0))).sum())
    if by_chance == 0:
        raise ValueError("both observers used one category only: there is nothing that chance could not do")
    return float(1 - (weights * shares).sum() / by_chance)


def linear(categories: int) -> list[list[float]]:
    """Return how far apart ordered categories are: by the steps between them."""
    return [[float(abs(one - other)) for other in range(categories)] for one in range(categories)]


def fewer_errors(pairs: Sequence[tuple[bool, bool]]) -> FewerErrors:
    """Compare two observers on the same steps: whether each marked an error.

    Args:
        pairs: for each step that both saw, (first marked an error, second did).
    """
    from scipy.stats import binomtest  # noqa: PLC0415 - takes a second that no command need wait, and only this needs it

    first = sum(one and not other for one, other in pairs)
    second = sum(other and not one for one, other in pairs)
    alone = first + second
    p_value = float(binomtest(first, alone, 0.5).pvalue) if alone else None
    return FewerErrors(first, second, sum(one and other for one, other in pairs), p_value)


def _counts(ratings: Ratings) -> tuple[Numbers, tuple[Hashable, ...]]:
    """Units x categories: how many observers gave each; a unit that nobody rated is left out."""
    categories = tuple(sorted({one for row in ratings for one in row if one is not None}, key=str))
    place = {name: number for number, name in enumerate(categories)}
    counts = np.zeros((len(ratings), len(categories)))
    for number, row in enumerate(ratings):
        for one in row:
            if one is not None:
                counts[number, place[one]] += 1
    return counts[counts.sum(axis=1) > 0], categories


def _same(rated: Numbers) -> float:
    """The mean over units of the share of their pairs that agree."""
    raters = rated.sum(axis=1)
    return float(np.mean((rated * (rated - 1)).sum(axis=1) / (raters * (raters - 1))))


def _specific(rated: Numbers, place: int) -> float | None:
    named = rated[:, place]
    others = rated.sum(axis=1) - 1
    possible = float((named * others).sum())
    return float((named * (named - 1)).sum()) / possible if possible else None


def _ac1(counts: Numbers, rated: Numbers) -> float | None:
    """Gwet's first coefficient; units with one rating still say how common a category is."""
    categories = counts.shape[1]
    if categories < _PAIR:
        return None
    share = (counts / counts.sum(axis=1, keepdims=True)).mean(axis=0)
    by_chance = float((share * (1 - share)).sum()) / (categories - 1)
    return float((_same(rated) - by_chance) / (1 - by_chance))


def _alpha(rated: Numbers) -> float | None:
    """Krippendorff's alpha for names, from the coincidences of ratings of one unit."""
    raters = rated.sum(axis=1)
    observed = float(((rated * (raters[:, None] - rated)).sum(axis=1) / (raters - 1)).sum())
    totals = rated.sum(axis=0)
    ratings = float(totals.sum())
    by_chance = float((totals * (ratings - totals)).sum()) / (ratings - 1)
    return 1 - observed / by_chance if by_chance else None
