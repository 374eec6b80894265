"""What a standing does not count, and why: told beside it, so that a record never looks emptier than it is."""

from __future__ import annotations

from collections.abc import Callable

from course.assessment.attempts import Outside
from course.assessment.history import Effect, StreakStep
from course.assessment.standing import Standing
from course.words import StandingState, plural

_TOLD_WHEN_HELD = (StandingState.MET, StandingState.MET_WATCH)


def _is(effect: Effect) -> Callable[[StreakStep], bool]:
    return lambda step: step.effect == effect


def _is_outside(outside: Outside) -> Callable[[StreakStep], bool]:
    return lambda step: step.judgement.outside == outside


_ALWAYS = (
    (_is(Effect.OTHER_TYPE), "on another unit type"),
    (_is_outside(Outside.NOT_ACCEPTED), "from elsewhere, not accepted"),
    (_is(Effect.CONTESTED), "on which two corrections disagree"),
)
_BEFORE_THE_START = (
    (_is_outside(Outside.VOID), "void"),
    (_is_outside(Outside.PRACTICE), "with practice sheets only"),
)
"""Where nothing counts yet, it is said of these too; later they would only make the sentence long."""


def set_aside_sentence(standing: Standing) -> str:
    """Say how many attempts are kept and not counted, by the reason; empty where there are none, or the skill is held.

    "Kept and not counted: 2 attempts on another unit type; 1 from elsewhere, not accepted."
    """
    if standing.state in _TOLD_WHEN_HELD:
        return ""
    asked = (*_ALWAYS, *(_BEFORE_THE_START if standing.state == StandingState.NOT_STARTED else ()))
    counts = [(count, why) for fits, why in asked if (count := sum(map(fits, standing.history)))]
    told = [f"{count if place else plural(count, 'attempt')} {why}" for place, (count, why) in enumerate(counts)]
    return f"Kept and not counted: {'; '.join(told)}." if told else ""
