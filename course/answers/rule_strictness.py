"""How strict a rule is, in plain words and as a curve; and what a record that met it proves. Beside a standing only.

Nothing in here changes a standing: the rubric's rule decides, and a person signs. Every number comes with its n, and
below a stated least number of attempts it says "too few" instead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from math import isnan

from course.assessment.history import Effect, StreakStep
from course.assessment.standing import Standing
from course.assessment.strictness import (
    DayPlan,
    Reliability,
    critical_share_up_to,
    even_days,
    met_by,
    ruled_out_below,
)
from course.standards.rubric import Rule, Setting, Skill
from course.words import Outcome, plural

SHARES = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95)
"""How often the attempts of an imagined student count."""
MISSED = (0.0, 0.1, 0.2)
"""Shares of faults that an observer does not see."""
USUAL_SHARE, USUAL_A_DAY = 0.7, 3
LEAST_ATTEMPTS = 3
"""Fewer attempts than this say nothing worth a number."""
TOO_FEW = "too few"
_IN_THE_CHAIN = frozenset({Effect.COUNTS, Effect.RETEACH, Effect.BREAKS, Effect.CRITICAL})
"""Effects of attempts that the chain knows of; the others neither count nor break."""


@dataclass(frozen=True)
class CurvePoint:
    """The chance that somebody has met a rule by the end of an attempt."""

    attempt: int
    share: float
    """Of their attempts, how many count."""
    chance: float


@dataclass(frozen=True)
class MissedRow:
    """One imagined student: the chance to meet the rule within its budget, by the share of faults that is missed."""

    share: float
    words: str
    chances: tuple[float, ...]
    """One for each of `MISSED`."""
    told: tuple[str, ...]


@dataclass(frozen=True)
class RuleStrictness:
    """How strict one rule is. `curve` goes on past the budget, so that the effect of more tries can be read."""

    rule: Rule
    a_day: int
    sentence: str
    finding: str
    curve: tuple[CurvePoint, ...]
    table: tuple[MissedRow, ...]


@dataclass(frozen=True)
class TwoRules:
    """Two rules side by side, for the same imagined student."""

    share: float
    finding: str
    first: tuple[CurvePoint, ...]
    second: tuple[CurvePoint, ...]


@dataclass(frozen=True)
class Beside:
    """What stands beside a standing and never changes it."""

    sentences: tuple[str, ...]
    note: str


BESIDE_NOTE = "These numbers stand beside the standing and never change it: the rule decides, a person signs."


def rule_strictness(rule: Rule, a_day: int = USUAL_A_DAY) -> RuleStrictness:
    """Return how strict a rule is, with so many attempts a day in its settings in turn."""
    longest = longest_curve(rule)
    points = tuple(
        CurvePoint(number, share, chance)
        for share in SHARES
        for number, chance in enumerate(_curve(rule, a_day, longest, share), 1)
    )
    return RuleStrictness(
        rule=rule,
        a_day=a_day,
        sentence=strictness_sentence(rule, a_day),
        finding=_finding(rule, a_day),
        curve=points,
        table=tuple(_missed_row(rule, a_day, share) for share in SHARES),
    )


def two_rules(first: Rule, second: Rule, share: float = USUAL_SHARE, a_day: int = USUAL_A_DAY) -> TwoRules:
    """Return two rules side by side for the same imagined student, each within its own budget."""
    longest = max(longest_curve(first), longest_curve(second))
    one, other = (within_budget(rule, a_day, share) for rule in (first, second))
    return TwoRules(
        share=share,
        finding=(
            f"A student whose attempts count {times_words(share)} meets the first rule within {first.budget} attempts "
            f"{chance_words(one)}, the second within {second.budget} attempts {chance_words(other)}."
        ),
        first=_points(first, a_day, longest, share),
        second=_points(second, a_day, longest, share),
    )


def strictness_sentence(rule: Rule, a_day: int = USUAL_A_DAY, share: float = USUAL_SHARE, missed: float = 0.0) -> str:
    """Say how strict a rule is: "A student whose attempts count 7 times in 10 meets this rule within 12 ..."."""
    chance = within_budget(rule, a_day, share, missed)
    unseen = f", the observer missing {faults_words(missed)}" if missed else ""
    a_day_words = f"{_COUNTS.get(a_day, str(a_day))} attempt{'s' if a_day != 1 else ''} a day"
    return (
        f"A student whose attempts count {times_words(share)} meets this rule within {plural(rule.budget, 'attempt')} "
        f"{chance_words(chance)} ({a_day_words}{unseen}; exact, no student's data)."
    )


def within_budget(rule: Rule, a_day: int, share: float, missed: float = 0.0) -> float:
    """Return the chance that somebody meets a rule within its own budget."""
    return _curve(rule, a_day, rule.budget, share, missed)[-1]


def longest_curve(rule: Rule) -> int:
    """Return to how many attempts a curve is drawn: half as many again as the budget."""
    return rule.budget + max(3, rule.budget // 2)


def beside(standing: Standing, skill: Skill, settings: Mapping[str, Setting]) -> Beside:
    """Return what stands beside a standing: how strict its rule is, and what the record proves, with n.

    Args:
        settings: the setting of each attempt of the standing's history, by id.
    """
    history = standing.history
    told = (strictness_sentence(skill.rule), *_proven(history, skill, settings), *_criticals(history, skill))
    return Beside(told, BESIDE_NOTE)


def _proven(history: Sequence[StreakStep], skill: Skill, settings: Mapping[str, Setting]) -> tuple[str, ...]:
    """The lower bound that knows about stopping, up to the attempt with which the rule was first met."""
    used = attempts_to_meet(history)
    if not used:
        return ()
    days = _days_of(used, settings)
    when = f"The rule was first met within {plural(len(used), 'attempt')} on {plural(len(days), 'day')}"
    if len(used) < LEAST_ATTEMPTS:
        return (f"{when}: {TOO_FEW} to say more (at least {LEAST_ATTEMPTS} are asked).",)
    low = _ruled_out(skill.rule, days)
    if isnan(low):  # the attempts were in settings in which the chain cannot meet this rule
        return (f"{when}: no lower bound can be given for these days and settings.",)
    told = (
        f"{when}. Somebody whose attempts count only {chance_words(low)} would do so by luck once in 20, so that low a "
        f"share is not ruled out (n = {len(used)}; it knows that trying stopped when the rule was met, and takes the "
        "share as steady, which no learner's is)."
    )
    return (told,)


def attempts_to_meet(history: Sequence[StreakStep]) -> tuple[StreakStep, ...]:
    """Return the attempts that were used until the rule was first met; empty while it never was.

    Those that neither count nor break are left out, and so are those on another unit type.
    """
    first = next((number for number, step in enumerate(history) if step.met), None)
    if first is None:
        return ()
    return tuple(step for step in history[: first + 1] if step.effect in _IN_THE_CHAIN)


def _days_of(used: Sequence[StreakStep], settings: Mapping[str, Setting]) -> tuple[DayPlan, ...]:
    return tuple(
        DayPlan(tuple(settings[step.attempt] for step in steps))
        for _, steps in groupby(used, key=lambda step: step.day)
    )


def _criticals(history: Sequence[StreakStep], skill: Skill) -> tuple[str, ...]:
    """Attempts with a critical error, or how many there could still be when none was seen."""
    if not any(step.can_be_critical for step in skill.steps):
        return ()
    seen = [step for step in history if step.effect not in (Effect.OUTSIDE, Effect.OTHER_TYPE)]
    critical = sum(step.outcome == Outcome.CRITICAL for step in seen)
    whole = [s for s in seen if s.outcome in (Outcome.CLEAN, Outcome.MINOR) and not s.judgement.unseen]
    count = len(whole) + critical
    if not seen:
        return ()
    if critical:
        return (f"A critical error in {critical} of {plural(count, 'attempt')} that were seen whole or ended so.",)
    if count < LEAST_ATTEMPTS:
        return (f"No critical error in {plural(count, 'attempt')} seen whole: {TOO_FEW} to say more.",)
    most = critical_share_up_to(count)
    told = (
        f"No critical error in {plural(count, 'attempt')} seen whole. With so few, one could still happen "
        f"{chance_words(most)} (exact upper bound, wrong once in 20): none seen is not safe."
    )
    return (told,)


def _finding(rule: Rule, a_day: int) -> str:
    """What the curve shows, as its title."""
    low, high = within_budget(rule, a_day, SHARES[0]), within_budget(rule, a_day, SHARES[-2])
    return (
        f"Within {plural(rule.budget, 'attempt')}, one whose attempts count {times_words(SHARES[0])} meets the rule "
        f"{chance_words(low)}; one with {times_words(SHARES[-2])}, {chance_words(high)}."
    )


def _missed_row(rule: Rule, a_day: int, share: float) -> MissedRow:
    chances = tuple(within_budget(rule, a_day, share, missed) for missed in MISSED)
    return MissedRow(share, times_words(share), chances, tuple(map(chance_words, chances)))


def _points(rule: Rule, a_day: int, longest: int, share: float) -> tuple[CurvePoint, ...]:
    return tuple(
        CurvePoint(number, share, chance) for number, chance in enumerate(_curve(rule, a_day, longest, share), 1)
    )


@lru_cache(maxsize=512)
def _curve(rule: Rule, a_day: int, attempts: int, share: float, missed: float = 0.0) -> tuple[float, ...]:
    chances = met_by(rule, even_days(rule, attempts, a_day), Reliability(share, missed=missed))
    return tuple(float(chance) for chance in chances)


@lru_cache(maxsize=512)
def _ruled_out(rule: Rule, days: tuple[DayPlan, ...]) -> float:
    return ruled_out_below(rule, days)


_COUNTS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight", 9: "nine", 10: "ten"}


def times_words(share: float) -> str:
    """Say a share as "7 times in 10", or "95 times in 100" where tenths do not do."""
    tenths = share * 10
    return f"{round(tenths)} times in 10" if abs(tenths - round(tenths)) < 1e-9 else chance_words(share)


def faults_words(missed: float) -> str:
    """Say a share of faults as "2 faults in 10"."""
    tenths = round(missed * 10)
    return f"{plural(tenths, 'fault')} in 10"


def chance_words(chance: float) -> str:
    """Say a chance as "82 times in 100"; never rounded to never or to always."""
    hundredths = round(chance * 100)
    if chance <= 0:
        return "never"
    if chance >= 1:
        return "always"
    if hundredths == 0:
        return "less than once in 100"
    if hundredths == 100:
        return "more than 99 times in 100"
    return "once in 100" if hundredths == 1 else f"{hundredths} times in 100"
