"""Whether an observer records more or fewer errors than others do on the same student and skill.

Observers see different students at different skills, so that crude rates mislead: each student's attempts at each
skill are a stratum, and only inside one is an observer compared with the others (Mantel and Haenszel 1959; standard
error of Robins, Breslow and Greenland 1986). The effects are then drawn towards none (DerSimonian and Laird 1986), and
something is said only where there is enough to say. For the lead alone; it changes no standing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import exp, log, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Table = tuple[int, int, int, int]
"""One stratum: this observer's sheets with an error and without, then the others' with an error and without."""
Numbers = NDArray[np.float64]

FEWEST_STRATA = 10
FEWEST_STUDENTS = 5
WORTH_SAYING = log(1.5)
"""An effect, in logarithms of odds, that a lead would want to hear of: our choice."""
SURE = 0.95
FARTHEST_APART = 1.0
"""Who sees first attempts looks severe: beyond this difference of mean attempt numbers nothing is compared."""


@dataclass(frozen=True)
class Seen:
    """One sheet: who marked whom at what, on which attempt of theirs, and whether there was an error."""

    observer: str
    student: str
    skill: str
    number: int
    error: bool


@dataclass(frozen=True)
class OddsRatio:
    """A common odds ratio over strata; None where a side never differs."""

    ratio: float | None
    log_error: float | None
    """Standard error of its logarithm."""


@dataclass(frozen=True)
class Severity:
    """How one observer compares with all others on the same students and skills."""

    observer: str
    sheets: int
    errors: int
    strata: int
    """Strata that say something: both sides saw it, and not all sheets are alike."""
    students: int
    """Students in those strata."""
    ratio: float | None
    log_error: float | None
    group: int
    """Observers of one group are linked through students; those of two cannot be compared."""
    mean_number: float | None
    """Of this observer's attempts in those strata: 1.0 means first attempts only."""
    mean_number_others: float | None
    shrunk: float | None = None
    """The logarithm of the ratio, drawn towards none."""
    likely: float | None = None
    """How likely the effect is greater than what is worth saying, either way."""

    @property
    def drawn_ratio(self) -> float | None:
        """The odds ratio that the drawn effect stands for."""
        return None if self.shrunk is None else exp(self.shrunk)

    @property
    def enough(self) -> bool:
        """Whether there is enough to compare at all."""
        return self.ratio is not None and self.strata >= FEWEST_STRATA and self.students >= FEWEST_STUDENTS

    @property
    def same_attempts(self) -> bool:
        """Whether both sides saw about the same attempts in a student's learning."""
        if self.mean_number is None or self.mean_number_others is None:
            return False
        return abs(self.mean_number - self.mean_number_others) <= FARTHEST_APART

    @property
    def said(self) -> bool:
        """Whether a word is worth saying."""
        return self.enough and self.same_attempts and self.likely is not None and self.likely > SURE


def mantel_haenszel(strata: Sequence[Table]) -> OddsRatio:
    """Return the common odds ratio of strata, with the standard error of its logarithm.

    Strata in which a side is empty add nothing.
    """
    a, b, c, d = np.array(strata, dtype=np.float64).reshape(-1, 4).T
    n = a + b + c + d
    a, b, c, d, n = (part[n > 0] for part in (a, b, c, d, n))
    for_it, against = a * d / n, b * c / n
    up, down = float(for_it.sum()), float(against.sum())
    if up == 0 or down == 0:
        return OddsRatio(None, None)
    agree, differ = (a + d) / n, (b + c) / n
    variance = (
        float((agree * for_it).sum()) / (2 * up**2)
        + float((agree * against + differ * for_it).sum()) / (2 * up * down)
        + float((differ * against).sum()) / (2 * down**2)
    )
    return OddsRatio(up / down, sqrt(variance))


def spread(effects: Sequence[float], errors: Sequence[float]) -> float:
    """Return how much effects vary beyond chance: DerSimonian and Laird's variance between them, 0 at least."""
    y, weights = np.array(effects), 1 / np.array(errors) ** 2
    total = float(weights.sum())
    if len(y) < 2:
        return 0.0
    middle = float((weights * y).sum()) / total
    beyond = float((weights * (y - middle) ** 2).sum()) - (len(y) - 1)
    return max(0.0, beyond / (total - float((weights**2).sum()) / total))


def groups(seen: Iterable[Seen]) -> dict[str, int]:
    """Return for each observer which group of observers they are linked with through students, numbered from 1."""
    parent: dict[tuple[str, str], tuple[str, str]] = {}

    def root(one: tuple[str, str]) -> tuple[str, str]:
        parent.setdefault(one, one)
        while parent[one] != one:
            parent[one] = parent[parent[one]]
            one = parent[one]
        return one

    observers: dict[str, None] = {}
    for one in seen:
        observers.setdefault(one.observer)
        parent[root(("observer", one.observer))] = root(("student", one.student))
    numbers: dict[tuple[str, str], int] = {}
    return {who: numbers.setdefault(root(("observer", who)), len(numbers) + 1) for who in observers}


def severity(seen: Sequence[Seen]) -> tuple[Severity, ...]:
    """Compare each observer with the others on the same students and skills, in order of first sheet.

    Args:
        seen: one entry a sheet; sheets of one attempt by two observers belong to `agreement` and should not be here.
    """
    group = groups(seen)
    found = [_compared(observer, seen, group[observer]) for observer in group]
    known = [one for one in found if one.ratio and one.log_error]
    between = spread([log(one.ratio or 1) for one in known], [one.log_error or 1 for one in known])
    return tuple(_shrunk(one, between) for one in found)


def _compared(observer: str, seen: Sequence[Seen], group: int) -> Severity:
    strata: dict[tuple[str, str], list[Seen]] = {}
    for one in seen:
        strata.setdefault((one.student, one.skill), []).append(one)
    telling = {key: sheets for key, sheets in strata.items() if _is_telling(_table(observer, sheets))}
    common = mantel_haenszel([_table(observer, sheets) for sheets in telling.values()])
    own = [one for one in seen if one.observer == observer]
    inside = [one for sheets in telling.values() for one in sheets]
    return Severity(
        observer=observer,
        sheets=len(own),
        errors=sum(one.error for one in own),
        strata=len(telling),
        students=len({student for student, _ in telling}),
        ratio=common.ratio,
        log_error=common.log_error,
        group=group,
        mean_number=_mean([one.number for one in inside if one.observer == observer]),
        mean_number_others=_mean([one.number for one in inside if one.observer != observer]),
    )


def _table(observer: str, sheets: Iterable[Seen]) -> Table:
    count = {(own, error): 0 for own in (True, False) for error in (True, False)}
    for one in sheets:
        count[one.observer == observer, one.error] += 1
    return (count[True, True], count[True, False], count[False, True], count[False, False])


def _is_telling(table: Table) -> bool:
    a, b, c, d = table
    return bool((a + b) and (c + d) and (a + c) and (b + d))


def _shrunk(one: Severity, between: float) -> Severity:
    """Draw an effect towards none by how much of what is seen chance alone would make."""
    if not one.ratio or not one.log_error:
        return one
    if between == 0:
        return replace(one, shrunk=0.0, likely=0.0)
    kept = between / (between + one.log_error**2)
    middle, error = log(one.ratio) * kept, sqrt(kept) * one.log_error
    likely = ndtr((middle - WORTH_SAYING) / error) + ndtr((-WORTH_SAYING - middle) / error)
    return replace(one, shrunk=middle, likely=float(likely))


def _mean(numbers: Sequence[int]) -> float | None:
    return sum(numbers) / len(numbers) if numbers else None
