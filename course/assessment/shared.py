"""What two observers made of the same attempts, step by step, and what a candidate's practice sheet hit or missed.

Each sheet is read as its observer wrote it, without joint lines. Only steps that both saw are compared. An error is
an error, an omission or a missed limit; a prompt is the observer's own act and no error. Nothing here changes a
standing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from course.assessment.agreement import Agreement, FewerErrors, agreement, fewer_errors, linear, weighted_kappa
from course.assessment.attempts import judge_sheet
from course.assessment.marks import MINOR_KINDS, read_step
from course.record.facts import Attempt, Sheet
from course.standards.rubric import Skill
from course.words import Closing, Outcome

FEWEST_SHARED = 5
"""Shared attempts below which nothing is said of two observers: our choice."""
FEWEST_FOR_RANGE = 20
"""Shared attempts below which no range of the agreement is given."""
TOO_RARE = 0.2
"""How far AC1 may lie above alpha before errors are called rare, so that the specific agreement is read instead."""
_GRADES = (Outcome.CLEAN, Outcome.MINOR, Outcome.CRITICAL)
_RESAMPLES = 1000


@dataclass(frozen=True)
class SharedStep:
    """One step of one attempt that two observers both saw: whether each marked an error."""

    attempt: str
    skill: str
    step: str
    first: bool
    second: bool


@dataclass(frozen=True)
class Shared:
    """Two observers on the same attempts."""

    attempts: int
    steps: tuple[SharedStep, ...]
    errors: FewerErrors
    by_step: Agreement
    grades: int
    """Attempts that both sheets call clean, minor or critical."""
    kappa: float | None
    """Linear-weighted, of those three in order."""

    @property
    def specific(self) -> float | None:
        """Specific agreement on errors: of all errors that either marked, the share that has its partner."""
        return self.by_step.specific.get("error")

    @property
    def errors_are_rare(self) -> bool:
        """Whether chance-corrected numbers hide more than they say."""
        one, other = self.by_step.ac1, self.by_step.alpha
        return one is not None and other is not None and one - other > TOO_RARE


@dataclass(frozen=True)
class Practised:
    """One step of a practice sheet against the evaluating sheets of the same attempt."""

    attempt: str
    skill: str
    step: str
    can_be_critical: bool
    hit: int = 0
    missed: int = 0
    invented: int = 0
    unseen: int = 0
    """An error was there and the candidate wrote that the step was not seen, or nothing."""


def is_error(sheet: Sheet, skill: Skill, step_id: str) -> bool | None:
    """Whether a sheet has an error at a step; None where it was not seen."""
    step = skill.step(step_id)
    if step is None:
        return None
    reading = read_step(step, sheet)
    return any(reason.what in MINOR_KINDS for reason in reading.reasons) if reading.seen else None


def shared_steps(
    attempt: Attempt, skill: Skill, features: frozenset[str], first: Sheet, second: Sheet
) -> list[SharedStep]:
    """Return the steps of one attempt that both sheets saw."""
    found = []
    for step in skill.steps_for(features):
        one, other = is_error(first, skill, step.id), is_error(second, skill, step.id)
        if one is not None and other is not None:
            found.append(SharedStep(attempt.id, skill.id, step.id, one, other))
    return found


def grade(attempt: Attempt, skill: Skill, features: frozenset[str], sheet: Sheet) -> Outcome:
    """Return what one sheet alone makes of an attempt."""
    how = attempt.ending.how if attempt.ending else Closing.COMPLETED
    return judge_sheet(sheet, skill, features, how=how).outcome


def compare(steps: Sequence[SharedStep], grades: Sequence[tuple[Outcome, Outcome]], attempts: int) -> Shared:
    """Put the shared steps of two observers together.

    Args:
        steps: of all attempts that both scored.
        grades: what each sheet alone makes of each of these attempts.
        attempts: how many both scored, also those of which they saw no step in common.
    """
    rated = [(_word(one.first), _word(one.second)) for one in steps]
    ordered = [pair for pair in grades if set(pair) <= set(_GRADES)]
    return Shared(
        attempts=attempts,
        steps=tuple(steps),
        errors=fewer_errors([(one.first, one.second) for one in steps]),
        by_step=agreement(rated),
        grades=len(ordered),
        kappa=_kappa(ordered),
    )


def specific_range(steps: Sequence[SharedStep], seed: int) -> tuple[float, float] | None:
    """Return the middle 95 in 100 of the specific agreement on errors when attempts are drawn again.

    Whole attempts are drawn, since steps of one attempt hang together. None under `FEWEST_FOR_RANGE` attempts.
    """
    names = sorted({one.attempt for one in steps})
    if len(names) < FEWEST_FOR_RANGE:
        return None
    place = {name: number for number, name in enumerate(names)}
    both, marked = np.zeros(len(names)), np.zeros(len(names))
    for one in steps:
        both[place[one.attempt]] += 2 * (one.first and one.second)
        marked[place[one.attempt]] += one.first + one.second
    drawn = np.random.default_rng(seed).integers(0, len(names), size=(_RESAMPLES, len(names)))
    up, down = both[drawn].sum(axis=1), marked[drawn].sum(axis=1)
    found = (up[down > 0] / down[down > 0]) if (down > 0).any() else np.array([])
    return (float(np.quantile(found, 0.025)), float(np.quantile(found, 0.975))) if len(found) else None


def practised(
    attempt: Attempt, skill: Skill, features: frozenset[str], practice: Sheet, evaluating: Iterable[Sheet]
) -> list[Practised]:
    """Compare a practice sheet with the evaluating sheets of its attempt, step by step.

    An error is there when any evaluating sheet has it. A step that no evaluating sheet saw is not compared.
    """
    found = []
    sheets = list(evaluating)
    for step in skill.steps_for(features):
        truth = [said for sheet in sheets if (said := is_error(sheet, skill, step.id)) is not None]
        if not truth:
            continue
        said, there = is_error(practice, skill, step.id), any(truth)
        found.append(
            Practised(
                attempt.id, skill.id, step.id, step.can_be_critical,
                hit=int(there and said is True), missed=int(there and said is False),
                invented=int(not there and said is True), unseen=int(there and said is None),
            )
        )  # fmt: skip
    return found


def _word(error: bool) -> str:  # noqa: FBT001 - the flag is what the word says
    return "error" if error else "none"


def _kappa(pairs: Sequence[tuple[Outcome, Outcome]]) -> float | None:
    table = [[float(sum(pair == (one, other) for pair in pairs)) for other in _GRADES] for one in _GRADES]
    try:
        return weighted_kappa(table, linear(len(_GRADES))) if pairs else None
    except ValueError:
        return None
