"""What each attempt did to a standing, told attempt by attempt: for a screen to draw and a paper to print."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from course.assessment.attempts import AttemptJudgement
from course.assessment.marks import Reason
from course.assessment.streak import State, Turn, Walk
from course.words import Outcome


class Effect(StrEnum):
    """What one attempt did to the count in a row."""

    COUNTS = "counts"
    RETEACH = "re-teach: does not count"
    BREAKS = "breaks: back to 0"
    CRITICAL = "critical: back to 0, re-teach first"
    NEITHER = "neither counts nor breaks"
    LAPSED = "seen by a lapsed observer: does not count"
    CONTESTED = "two corrections disagree: does not count"
    SETTING = "a setting that this skill does not have: does not count"
    OTHER_TYPE = "another unit type: neither counts nor breaks here"
    OUTSIDE = "in no standing"


@dataclass(frozen=True)
class StreakStep:
    """One attempt in the history that a screen draws."""

    attempt: str
    day: date
    outcome: Outcome
    effect: Effect
    streak: int
    """In a row, after this attempt."""
    reteach_left: int
    met: bool
    """The whole rule was met with this attempt."""
    note: str
    judgement: AttemptJudgement


@dataclass(frozen=True)
class CriticalSeen:
    """A critical attempt, and what cleared it: the re-teach, then the rule met anew."""

    attempt: str
    day: date
    reasons: tuple[Reason, ...]
    retaught_by: tuple[str, ...]
    met_on: date | None


@dataclass(frozen=True)
class StepFault:
    """In how many of the attempts of a standing one step was wrong."""

    step: str
    wrong: int
    attempts: int


def history_of(way: Walk) -> tuple[StreakStep, ...]:
    """Return what each attempt did, in order."""
    steps, before = [], State()
    for turn, after in zip(way.turns, way.states, strict=True):
        effect = _effect(turn, before)
        judged = turn.judgement
        steps.append(
            StreakStep(
                attempt=turn.seen.attempt.id,
                day=turn.seen.day,
                outcome=judged.outcome,
                effect=effect,
                streak=len(after.streak),
                reteach_left=after.reteach_left,
                met=after.met_on is not None and (after.met_on != before.met_on or (before.watch and not after.watch)),
                note=judged.outside.value if effect == Effect.OUTSIDE and judged.outside else effect.value,
                judgement=judged,
            )
        )
        before = after
    return tuple(steps)


def _effect(turn: Turn, before: State) -> Effect:
    judged = turn.judgement
    breaking = Effect.CRITICAL if judged.outcome == Outcome.CRITICAL else Effect.BREAKS
    ladder = (
        (judged.outside is not None, Effect.OUTSIDE),
        (turn.grey, Effect.OTHER_TYPE),
        (judged.breaks, breaking),
        (not judged.setting_fits, Effect.SETTING),
        (judged.contested, Effect.CONTESTED),
        (judged.uses_reteach and before.reteach_left > 0, Effect.RETEACH),
        (judged.counts, Effect.COUNTS),
        (judged.lapsed_only and judged.outcome in (Outcome.CLEAN, Outcome.MINOR), Effect.LAPSED),
    )
    return next((effect for fits, effect in ladder if fits), Effect.NEITHER)


def criticals_of(history: Sequence[StreakStep]) -> tuple[CriticalSeen, ...]:
    """Return every critical attempt of a history, with what cleared it."""
    return tuple(
        CriticalSeen(
            attempt=step.attempt,
            day=step.day,
            reasons=step.judgement.critical_reasons,
            retaught_by=_retaught_by(history[number:]),
            met_on=next((later.day for later in history[number + 1 :] if later.met), None),
        )
        for number, step in enumerate(history)
        if step.judgement.outside is None and step.outcome == Outcome.CRITICAL
    )


def _retaught_by(since: Sequence[StreakStep]) -> tuple[str, ...]:
    """The attempts that used up what was owed from the first of these on, until nothing was."""
    retaught, owed = [], since[0].reteach_left
    for step in since[1:]:
        if not owed:
            break
        if step.reteach_left < owed:
            retaught.append(step.attempt)
        owed = step.reteach_left
    return tuple(retaught)


def step_faults(history: Sequence[StreakStep]) -> tuple[StepFault, ...]:
    """Return the steps that went wrong, most often first, with the number of attempts that were looked at.

    Attempts on another unit type are not looked at, nor those that are in no standing.
    """
    own = [step.judgement for step in history if step.effect not in (Effect.OUTSIDE, Effect.OTHER_TYPE)]
    wrong = Counter(
        step
        for judged in own
        for step in dict.fromkeys(reason.step for reason in judged.reasons if reason.what != "not_seen" and reason.step)
    )
    return tuple(StepFault(step, count, len(own)) for step, count in wrong.most_common())
