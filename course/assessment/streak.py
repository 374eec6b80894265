"""The state machine behind a standing: what one more attempt does to the streak, the re-teach owed and the window.

`advance` is one attempt's step, `expire` a day's; `walk` takes them through a history.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from course.assessment.attempts import AttemptJudgement, SeenAttempt
from course.standards.rubric import Rule, Setting, Skill
from course.words import Outcome


@dataclass(frozen=True)
class Turn:
    """One attempt as the machine takes it: judged, with its place in time."""

    seen: SeenAttempt
    judgement: AttemptJudgement
    grey: bool = False
    """On another unit type, whose record is another one."""


@dataclass(frozen=True)
class Counted:
    """One attempt of the unbroken streak."""

    attempt: str
    day: date
    setting: Setting
    assessors: frozenset[str]


@dataclass(frozen=True)
class State:
    """All that the past means for what comes next."""

    streak: tuple[Counted, ...] = ()
    reteach_left: int = 0
    met_on: date | None = None
    last_counted: date | None = None
    watch: bool = False
    ran_out: date | None = None
    """The last good day of a window that has run out since the rule was met."""
    again: bool = False


@dataclass(frozen=True)
class Missing:
    """What the rule still asks for."""

    attempts: int = 0
    days: int = 0
    settings: tuple[Setting, ...] = ()
    assessors: int = 0
    reteach: int = 0


@dataclass(frozen=True)
class Walk:
    """The machine's way through a history: its state after each attempt."""

    turns: tuple[Turn, ...]
    states: tuple[State, ...]
    end: State


def advance(state: State, turn: Turn, skill: Skill) -> State:
    """Return the state after one more attempt."""
    state = expire(state, turn.seen.day, skill)
    judged = turn.judgement
    if judged.outside is not None:
        return state
    if judged.outcome == Outcome.CRITICAL:
        return _after_critical(state, skill.rule, grey=turn.grey)
    owed = state.reteach_left
    if owed and judged.uses_reteach:
        state = replace(state, reteach_left=owed - 1)
    if turn.grey:
        return state
    if judged.breaks:
        return replace(state, streak=(), watch=state.met_on is not None)
    if judged.counts and not owed:
        return _after_counting(state, turn, skill.rule)
    return state


def expire(state: State, day: date, skill: Skill) -> State:
    """Return the state on a day: once the window has run out the full rule is asked anew."""
    last_good = last_good_day(state, skill)
    if last_good is None or day <= last_good:
        return state
    return replace(state, streak=(), met_on=None, watch=False, ran_out=last_good)


def walk(turns: Sequence[Turn], skill: Skill, as_of: date) -> Walk:
    """Take the machine through attempts that are in order, and on to `as_of`."""
    state, states = State(), []
    for turn in turns:
        state = advance(state, turn, skill)
        states.append(state)
    return Walk(tuple(turns), tuple(states), expire(state, as_of, skill))


def missing_for(state: State, rule: Rule) -> Missing:
    """Return what the rule still asks for from this state on."""
    if state.met_on is not None and not state.watch:
        return Missing(reteach=state.reteach_left)
    settings = tuple(name for name in rule.settings if name not in {one.setting for one in state.streak})
    days = max(0, rule.distinct_days - len({one.day for one in state.streak}))
    assessors = max(0, rule.assessors - len(assessors_of(state)))
    attempts = max(rule.in_a_row - len(state.streak), days, len(settings), min(assessors, 1))
    return Missing(attempts, days, settings, assessors, state.reteach_left)


def _after_critical(state: State, rule: Rule, *, grey: bool) -> State:
    """The re-teach that is owed goes along to every unit type; streak and standing fall only on their own."""
    if grey:
        return replace(state, reteach_left=rule.reteach)
    was_met = state.met_on is not None or state.ran_out is not None
    return State(reteach_left=rule.reteach, again=state.again or was_met)


def _after_counting(state: State, turn: Turn, rule: Rule) -> State:
    seen = turn.seen
    one = Counted(seen.attempt.id, seen.day, seen.attempt.setting, turn.judgement.assessors)
    state = replace(state, streak=(*state.streak, one), last_counted=seen.day)
    newly = state.met_on is None or state.watch
    if newly and _rule_is_met(state, rule):
        return replace(state, met_on=seen.day, watch=False, again=False, ran_out=None)
    return state


def _rule_is_met(state: State, rule: Rule) -> bool:
    return (
        len(state.streak) >= rule.in_a_row
        and len({one.day for one in state.streak}) >= rule.distinct_days
        and {one.setting for one in state.streak}.issuperset(rule.settings)
        and len(assessors_of(state)) >= rule.assessors
    )


def assessors_of(state: State) -> tuple[str, ...]:
    """The distinct observers of the streak, as ids."""
    return tuple(sorted({assessor for one in state.streak for assessor in one.assessors}))


def last_good_day(state: State, skill: Skill) -> date | None:
    """The last day of the window while the rule is met; it runs from the last attempt that counts."""
    if state.met_on is None or state.last_counted is None:
        return None
    return state.last_counted + timedelta(days=skill.currency_days)
