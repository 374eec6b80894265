"""Which skills are weak: what a student's few attempts say once the class has its say, and which step goes wrong most.

Only for ordering what to repeat. A standing rests on the student's own record alone, and no number here changes it.
The class enters as a beta-binomial prior: a skill that all find hard makes two poor attempts less of a surprise.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaln, expit, logit

from course.assessment.attempts import AttemptJudgement

Column = NDArray[Any]
WANTED = 0.8
"""Share of attempts that count at which a skill is no longer called weak: our choice, used for ordering alone."""
_FEW_STUDENTS, _FEW_WEIGHT = 8, 4.0
_LIGHTEST, _HEAVIEST = 2.0, 50.0


@dataclass(frozen=True)
class Tally:
    """Attempts of one student at one skill that say something: how many, and how many of them counted."""

    student: str
    skill: str
    counted: int
    attempts: int
    critical: int = 0


@dataclass(frozen=True)
class ClassPrior:
    """What the class says about one skill: a beta prior that weighs like so many attempts."""

    share: float
    weight: float
    students: int

    @property
    def alpha(self) -> float:
        """The prior's attempts that count."""
        return self.share * self.weight

    @property
    def beta(self) -> float:
        """The prior's attempts that do not."""
        return (1 - self.share) * self.weight


@dataclass(frozen=True)
class WeakSkill:
    """One skill of one student as ordered for practice."""

    student: str
    skill: str
    counted: int
    attempts: int
    critical: int
    shrunk: float
    """The share that counts, drawn towards the class."""
    doubt: float
    """How likely the true share is below what is wanted."""


@dataclass(frozen=True)
class RankedColumns:
    """Tallies ordered for practice: their rows as given, and what `WeakSkill` says of each."""

    row: Column
    shrunk: Column
    doubt: Column


@dataclass(frozen=True)
class WeakStep:
    """A step and in which of the attempts that saw it it went wrong, by the attempts' numbers."""

    step: str
    wrong: int
    seen: int
    critical: int
    at_attempts: tuple[int, ...]


def tally(student: str, skill: str, judged: Iterable[AttemptJudgement]) -> Tally:
    """Count a student's attempts that count or break a streak; stopped, void and incomplete ones say nothing."""
    said = [one for one in judged if one.outside is None and (one.counts or one.breaks)]
    return Tally(
        student,
        skill,
        counted=sum(one.counts for one in said),
        attempts=len(said),
        critical=sum(bool(one.critical_reasons) for one in said),
    )


def class_prior(tallies: Sequence[Tally]) -> ClassPrior:
    """Return what a class says about one skill, by maximum likelihood of a beta-binomial.

    The weight is kept between 2 and 50 attempts; under 8 students it is 4, since spread cannot be told from so few.
    Nobody attempted: one half, weighing 2.
    """
    counted, attempts = (np.array([getattr(one, name) for one in tallies]) for name in ("counted", "attempts"))
    return _prior(counted[attempts > 0], attempts[attempts > 0])


def _prior(counted: Column, attempts: Column) -> ClassPrior:
    """The prior of one skill from its tallies with attempts; whose they are is nothing to it, only how often."""
    if not len(attempts):
        return ClassPrior(0.5, _LIGHTEST, 0)
    pairs, often = np.unique(np.column_stack((counted, attempts)), axis=0, return_counts=True)
    return _fitted(tuple((int(x), int(n), int(times)) for (x, n), times in zip(pairs, often, strict=True)))


@lru_cache(maxsize=2048)
def _fitted(seen: tuple[tuple[int, int, int], ...]) -> ClassPrior:
    """The prior of counts (counted, attempts, students); many skills have the same, and a page asks again and again."""
    from scipy.optimize import minimize  # noqa: PLC0415 - a third of a second that no command need wait

    counted, attempts, often = (np.array(part, dtype=np.float64) for part in zip(*seen, strict=True))
    students = int(often.sum())
    start = (often @ counted + 1) / (often @ attempts + 2)
    weights = (np.log(_FEW_WEIGHT),) * 2 if students < _FEW_STUDENTS else (np.log(_LIGHTEST), np.log(_HEAVIEST))
    found = minimize(
        _unlikely,
        x0=np.array([logit(start), np.log(_FEW_WEIGHT)]),
        args=(counted, attempts, often),
        bounds=[(-6, 6), weights],
        method="L-BFGS-B",
    )
    return ClassPrior(float(expit(found.x[0])), float(np.exp(found.x[1])), students)


def rank(tallies: Sequence[Tally], critical_skills: frozenset[str]) -> tuple[WeakSkill, ...]:
    """Order students' skills for practice: those where something critical can happen first, then by doubt.

    Skills that nobody saw are not in it: "not seen yet" is another list.

    Args:
        tallies: of a whole class, all its students and skills.
        critical_skills: skills in which something critical can happen.
    """
    seen = [one for one in tallies if one.attempts]
    found = rank_columns(
        student=_places([one.student for one in seen]),
        skill=_places([one.skill for one in seen]),
        can_be_critical=np.array([one.skill in critical_skills for one in seen], dtype=bool),
        counted=np.array([one.counted for one in seen], dtype=np.int64),
        attempts=np.array([one.attempts for one in seen], dtype=np.int64),
    )
    return tuple(
        WeakSkill(one.student, one.skill, one.counted, one.attempts, one.critical, shrunk, doubt)
        for one, shrunk, doubt in zip(
            (seen[row] for row in found.row), found.shrunk.tolist(), found.doubt.tolist(), strict=True
        )
    )


def rank_columns(
    *, student: Column, skill: Column, can_be_critical: Column, counted: Column, attempts: Column
) -> RankedColumns:
    """Order tallies that have attempts as `rank` does, however many.

    Args:
        student: whose, as a number; of two that are alike in all else the smaller comes first.
        skill: of what, as a number from 0.
        can_be_critical: whether something critical can happen in that skill.
        counted: attempts that counted.
        attempts: attempts that say something, at least 1.
    """
    alpha, beta = counted.astype(np.float64), (attempts - counted).astype(np.float64)
    by_skill = np.argsort(skill, kind="stable")
    for own in np.split(by_skill, np.flatnonzero(np.diff(skill[by_skill])) + 1):
        prior = _prior(counted[own], attempts[own])
        alpha[own] += prior.alpha
        beta[own] += prior.beta
    doubt = share_below(alpha, beta)
    row = np.lexsort((student, skill, -doubt, ~can_be_critical))
    return RankedColumns(row, (alpha / (alpha + beta))[row], doubt[row])


def _places(names: Sequence[str]) -> Column:
    """Names as numbers in the names' own order."""
    place = {name: number for number, name in enumerate(sorted(set(names)))}
    return np.array([place[name] for name in names], dtype=np.int64)


def weak_steps(judged: Sequence[tuple[int, AttemptJudgement]], steps: Sequence[str]) -> tuple[WeakStep, ...]:
    """Return the steps that went wrong, most often first; ties in written order.

    Args:
        judged: attempts with their numbers, in order.
        steps: the skill's step ids in written order.
    """
    wrong: dict[str, list[int]] = {}
    unseen: Counter[str] = Counter()
    critical: Counter[str] = Counter()
    looked_at = [(number, one) for number, one in judged if one.outside is None]
    for number, one in looked_at:
        faults = {reason.step for reason in one.reasons if reason.step and reason.step not in one.unseen}
        for step in faults:
            wrong.setdefault(step, []).append(number)
        critical.update({reason.step for reason in one.critical_reasons if reason.step})
        unseen.update(one.unseen)
    found = [
        WeakStep(step, len(wrong[step]), len(looked_at) - unseen[step], critical[step], tuple(wrong[step]))
        for step in steps
        if step in wrong
    ]
    return tuple(sorted(found, key=lambda one: (-one.critical, -one.wrong)))


def not_seen_yet(tallies: Iterable[Tally]) -> Mapping[str, tuple[str, ...]]:
    """Return, for each student, the skills without an attempt that says something."""
    found: dict[str, list[str]] = {}
    for one in tallies:
        if not one.attempts:
            found.setdefault(one.student, []).append(one.skill)
    return {student: tuple(skills) for student, skills in found.items()}


def share_below(alpha: Column, beta: Column, wanted: float = WANTED) -> Column:
    """Return the chance that a share with this beta distribution lies below what is wanted, for one or for many."""
    below: Column = betainc(alpha, beta, wanted)
    return below


def _unlikely(at: Column, counted: Column, attempts: Column, often: Column) -> float:
    """The negative log likelihood of a beta-binomial, without what does not depend on the prior."""
    share, weight = expit(at[0]), np.exp(at[1])
    alpha, beta = share * weight, (1 - share) * weight
    return float(-np.sum(often * (betaln(alpha + counted, beta + attempts - counted) - betaln(alpha, beta))))
