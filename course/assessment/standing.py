"""From attempts to a standing, walked twice.

The strict walk is the standing; the mild walk shows whether it would be met if those who are asked to confirm did.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from course.assessment.attempts import SeenAttempt, judge
from course.assessment.history import CriticalSeen, StreakStep, criticals_of, history_of
from course.assessment.streak import Missing, State, Turn, Walk, assessors_of, last_good_day, missing_for, walk
from course.standards.rubric import Rule, Setting, Skill
from course.words import Outcome, StandingState


@dataclass(frozen=True)
class WaitingFor:
    """Whose word would make the standing met."""

    lapsed_observers: tuple[str, ...] = ()
    lapsed_attempts: tuple[str, ...] = ()
    """Attempts that only lapsed observers saw: a current instructor confirms, or sees a new one."""
    differing_attempts: tuple[str, ...] = ()
    """Attempts whose sheets differ: the observers agree on a joint line."""
    differing_observers: tuple[str, ...] = ()


_NOTHING, _NOBODY = Missing(), WaitingFor()


@dataclass(frozen=True)
class Standing:
    """Where one student stands with one skill on a day. `streak` and `missing` are for the record of `unit_type`."""

    state: StandingState
    as_of: date
    unit_type: str | None
    streak: int = 0
    best: int = 0
    days: tuple[date, ...] = ()
    settings: tuple[Setting, ...] = ()
    """Settings of the rule that the streak has filled."""
    assessors: tuple[str, ...] = ()
    reteach_left: int = 0
    budget: int = 0
    budget_used: int = 0
    met_on: date | None = None
    good_until: date | None = None
    """The last good day; once out of date, the last day that was good."""
    missing: Missing = _NOTHING
    waiting_for: WaitingFor = _NOBODY
    history: tuple[StreakStep, ...] = ()
    criticals: tuple[CriticalSeen, ...] = ()
    used: tuple[str, ...] = ()
    """Ids of the attempts that the standing rests on."""
    events: tuple[str, ...] = ()
    """Hashes of their events, sorted."""
    open_attempts: tuple[str, ...] = ()
    greyed: tuple[str, ...] = ()

    @property
    def time_to_talk(self) -> bool:
        """Whether more attempts were used than the rule is meant for; while met nothing is said."""
        return self.budget_used > self.budget and self.state not in (StandingState.MET, StandingState.MET_WATCH)


def standing(
    attempts: Iterable[SeenAttempt],
    skill: Skill,
    unit_type: str | None,
    features: frozenset[str],
    as_of: date,
    *,
    applies: bool,
) -> Standing:
    """Derive where a student stands.

    Args:
        attempts: all attempts of one student at one skill, in any order.
        skill: the skill as its rubric states it.
        unit_type: the student's assigned unit type on `as_of`; it decides which record is asked for.
        features: what that unit type has.
        as_of: training days up to and with this one are looked at.
        applies: whether the skill is for this unit type.
    """
    live = [seen for seen in attempts if not seen.attempt.withdrawn and seen.day <= as_of]
    live.sort(key=lambda seen: seen.order)
    opened = tuple(seen.attempt.id for seen in live if seen.attempt.ending is None)
    turns = turns_of(live, skill, unit_type, features, as_of)
    strict = walk(turns, skill, as_of)
    mild = walk([read_mildly(turn, skill, features) for turn in turns], skill, as_of)
    found = replace(_described(strict, skill, unit_type, as_of), open_attempts=opened)
    if not applies:
        return replace(found, state=StandingState.NOT_FOR_THIS_UNIT, missing=_NOTHING)
    if _is_waiting(found.state, mild):
        return replace(found, state=StandingState.WAITING, waiting_for=_waiting_for(strict, mild))
    return found


def turns_of(
    attempts: Iterable[SeenAttempt], skill: Skill, unit_type: str | None, features: frozenset[str], as_of: date
) -> list[Turn]:
    """Judge the closed attempts up to a day, in their order, as the machine takes them."""
    live = (seen for seen in attempts if not seen.attempt.withdrawn and seen.day <= as_of)
    return [
        Turn(seen, judge(seen, skill, features), grey=_is_grey(seen, skill.rule, unit_type))
        for seen in sorted(live, key=lambda seen: seen.order)
        if seen.attempt.ending is not None
    ]


def read_mildly(turn: Turn, skill: Skill, features: frozenset[str]) -> Turn:
    """As if whoever is asked to confirm did; most attempts have nobody to ask."""
    judged = turn.judgement
    if len(judged.sheets) <= 1 and not judged.lapsed_only:
        return turn
    return replace(turn, judgement=judge(turn.seen, skill, features, mild=True))


def _is_grey(seen: SeenAttempt, rule: Rule, unit_type: str | None) -> bool:
    """An attempt without a unit is on no other type."""
    own = seen.attempt.unit_type
    return rule.same_unit_type and own is not None and own != unit_type


def _state_word(state: State, *, started: bool) -> StandingState:
    """The first that fits, of those that one walk can tell."""
    if not started:
        return StandingState.NOT_STARTED
    if state.again:
        return StandingState.AGAIN
    if state.ran_out is not None:
        return StandingState.OUT_OF_DATE
    if state.met_on is not None:
        return StandingState.MET_WATCH if state.watch else StandingState.MET
    return StandingState.NOT_YET


def _started(turns: Iterable[Turn]) -> bool:
    return any(turn.judgement.outside is None and not turn.grey for turn in turns)


def _described(strict: Walk, skill: Skill, unit_type: str | None, as_of: date) -> Standing:
    end, rule = strict.end, skill.rule
    used = [turn for turn in strict.turns if turn.judgement.outside is None]
    history = history_of(strict)
    filled = {one.setting for one in end.streak}
    return Standing(
        state=_state_word(end, started=_started(strict.turns)),
        as_of=as_of,
        unit_type=unit_type,
        streak=len(end.streak),
        best=max((len(state.streak) for state in strict.states), default=0),
        days=tuple(sorted({one.day for one in end.streak})),
        settings=tuple(name for name in rule.settings if name in filled),
        assessors=assessors_of(end),
        reteach_left=end.reteach_left,
        budget=rule.budget,
        budget_used=sum(turn.judgement.uses_budget for turn in used),
        met_on=end.met_on,
        good_until=last_good_day(end, skill) or end.ran_out,
        missing=missing_for(end, rule),
        history=history,
        criticals=criticals_of(history),
        used=tuple(turn.seen.attempt.id for turn in used),
        events=tuple(sorted({event for turn in used for event in turn.seen.events_for(skill)})),
        greyed=tuple(turn.seen.attempt.id for turn in strict.turns if turn.grey),
    )


def _is_waiting(strict_state: StandingState, mild: Walk) -> bool:
    held_back = (StandingState.NOT_STARTED, StandingState.NOT_YET, StandingState.OUT_OF_DATE)
    mild_state = _state_word(mild.end, started=_started(mild.turns))
    return strict_state in held_back and mild_state in (StandingState.MET, StandingState.MET_WATCH)


def _waiting_for(strict: Walk, mild: Walk) -> WaitingFor:
    """Name what makes the two walks differ, since they last stood in the same state: all before is one past."""
    turns: list[Turn] = []
    for turn, milder, state, mild_state in zip(strict.turns, mild.turns, strict.states, mild.states, strict=True):
        if _does(turn) != _does(milder):
            turns.append(turn)
        if state == mild_state:
            turns.clear()
    lapsed = [turn for turn in turns if turn.judgement.lapsed_only]
    differing = [turn for turn in turns if turn.judgement.sheets_differ]
    return WaitingFor(
        lapsed_observers=tuple(sorted({who for turn in lapsed for who in turn.judgement.assessors})),
        lapsed_attempts=tuple(turn.seen.attempt.id for turn in lapsed),
        differing_attempts=tuple(turn.seen.attempt.id for turn in differing),
        differing_observers=tuple(sorted({s.observer for turn in differing for s in turn.judgement.sheets})),
    )


def _does(turn: Turn) -> tuple[bool, bool, bool, bool]:
    judged = turn.judgement
    return (judged.counts, judged.breaks, judged.uses_reteach, judged.outcome == Outcome.CRITICAL)
