"""The same answers the slow and plain way: loops, every subset, every look-back from the start.

Written from the rulings, not from the code under test, and sharing nothing with it but facts and rubric models.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations
from typing import Any

LADDER = ["clean", "minor", "neither", "breaks", "critical"]
OUTCOMES = ["void", "critical", "stopped", "minor", "incomplete", "clean"]


@dataclass
class PlainSheet:
    """One sheet: outcome word, place on the ladder, how many minors and prompts."""

    outcome: str
    ladder: str
    minors: int
    prompts: int


def plain_pairs(skill: Any) -> set[tuple[str, str]]:
    """(later, earlier) for every path through `after`, by going round until nothing is new."""
    pairs = {(step.id, earlier) for step in skill.steps for earlier in step.after}
    while True:
        new = {(a, d) for a, b in pairs for c, d in pairs if b == c} - pairs
        if not new:
            return pairs
        pairs |= new


def closed(pairs: set[tuple[str, str]]) -> set[tuple[str, str]]:
    """The pairs with all that follow from them."""
    pairs = set(pairs)
    while True:
        new = {(a, d) for a, b in pairs for c, d in pairs if b == c} - pairs
        if not new:
            return pairs
        pairs |= new


def smallest_explanations(pairs: set[tuple[str, str]]) -> list[set[str]]:
    """Every smallest set of steps that touches every pair, by trying all sets."""
    steps = sorted({step for pair in pairs for step in pair})
    for size in range(len(steps) + 1):
        found = [set(some) for some in combinations(steps, size) if all(set(pair) & set(some) for pair in pairs)]
        if found:
            return found
    raise AssertionError


def plain_step(step: Any, sheet: Any, joint: Any) -> dict[str, Any]:  # noqa: C901 - plain on purpose
    """Errors, prompt, omission and whether it was seen, of one step of one sheet."""
    lines = [line for line in joint if line.step == step.id]
    numbers = [Decimal(line.value) for line in lines if line.value is not None]
    if not lines:
        lines = [line for line in sheet.marks if line.step == step.id]
        numbers = [
            Decimal(v.value)
            for v in sheet.values
            if step.limit and v.step == step.id and v.unit == step.limit.unit and v.quantity == step.limit.quantity
        ]
    critical_ids = {error.id for error in step.errors if error.critical}
    risky = bool(critical_ids) or step.if_left_out == "critical" or len(step.after_critical) > 0

    def errors_of(line: Any) -> set[str]:
        errors = set(line.errors)
        if step.prompt_error and (line.prompted or line.mark == "prompted"):
            errors.add(step.prompt_error)
        return errors

    def rank(line: Any) -> tuple[Any, ...]:
        errors = errors_of(line)
        if errors & critical_ids or (line.mark == "left_out" and step.if_left_out == "critical"):
            first = 6
        elif errors:
            first = 5
        else:
            first = {"left_out": 4, "prompted": 3, "not_seen": 2, "done": 1}[line.mark]
        return (first, len(errors), line.prompted or line.mark == "prompted", sorted(errors))

    line = sorted(lines, key=rank)[-1] if lines else None
    mark = line.mark if line else "done" if sheet.whole_clean and not risky else "not_seen"
    errors = errors_of(line) if line else set()
    left_out = mark == "left_out"
    was_left_out = left_out
    prompt = bool(line and (line.prompted or line.mark == "prompted") and not step.prompt_error)
    seen = mark != "not_seen"
    if step.limit:
        low = Decimal(step.limit.at_least) if step.limit.at_least else None
        high = Decimal(step.limit.at_most) if step.limit.at_most else None
        if low is not None and risky and mark == "done" and not numbers:
            seen = False
        for number in numbers:
            if (low is not None and number < low) or (high is not None and number > high):
                errors.add(step.limit.error or "the limit itself")
                seen = True
                left_out = left_out and step.if_left_out == "critical"
    return {
        "risky": risky,
        "seen": seen,
        "critical": bool(errors & critical_ids) or (left_out and step.if_left_out == "critical"),
        "minors": len(errors - critical_ids) + (left_out and step.if_left_out != "critical"),
        "prompt": prompt,
        "touched": bool(errors) or left_out or prompt,
        "was_left_out": was_left_out,
    }


def plain_sheet(sheet: Any, skill: Any, features: frozenset[str], joint: Any, how: str) -> PlainSheet:
    """Judge one sheet."""
    here = {}
    for step in skill.steps:
        needs = step.only_if
        if needs is None or (
            set(needs.all) <= features
            and (not needs.any or set(needs.any) & features)
            and not set(needs.none) & features
        ):
            here[step.id] = plain_step(step, sheet, joint)
    listed = {(step.id, earlier) for step in skill.steps for earlier in step.after_critical}
    yes = {(line.first_done, line.should_come_first) for line in sheet.orders if line.seen_so} & plain_pairs(skill)
    yes = {(a, b) for a, b in yes if a in here and b in here and not here[b]["was_left_out"]}
    minor_pairs = closed(yes - listed)
    minors = sum(one["minors"] for one in here.values()) + len(smallest_explanations(minor_pairs)[0])
    prompts = sum(one["prompt"] for one in here.values())
    critical = bool(yes & listed) or any(one["critical"] for one in here.values())
    unseen = any(one["risky"] and not one["seen"] for one in here.values())
    touched = any(one["risky"] and one["touched"] for one in here.values())
    within = not touched and minors <= skill.rule.minor_errors_allowed and prompts <= skill.rule.prompts_allowed
    if how == "void":
        return PlainSheet("void", "neither", minors, prompts)
    if critical:
        return PlainSheet("critical", "critical", minors, prompts)
    if how == "stopped":
        return PlainSheet("stopped", "neither", minors, prompts)
    if minors or prompts:
        ladder = "breaks" if not within else "neither" if unseen else "minor"
        return PlainSheet("minor", ladder, minors, prompts)
    return PlainSheet("incomplete", "neither", 0, 0) if unseen else PlainSheet("clean", "clean", 0, 0)


def plain_attempt(seen: Any, skill: Any, features: frozenset[str], *, mild: bool) -> dict[str, Any]:
    """What an attempt is worth."""
    attempt = seen.attempt
    features = features if seen.features is None else seen.features
    sheets = [s for s in attempt.sheets if s.capacity == "evaluating" and s.role in ("lead", "instructor")]
    how = attempt.ending.how if attempt.ending else "completed"
    judged = [(plain_sheet(s, skill, features, attempt.joint, how), s.id) for s in sheets]
    judged.sort(
        key=lambda p: (LADDER.index(p[0].ladder), -OUTCOMES.index(p[0].outcome), p[0].minors + p[0].prompts, p[1])
    )
    takes_part = (
        bool(sheets)
        and attempt.ending is not None
        and not attempt.withdrawn
        and how != "void"
        and (attempt.elsewhere is None or attempt.accepted is True)
    )
    if not takes_part:
        return {"in": False}
    held = judged[0][0] if mild else judged[-1][0]
    observers = {s.observer for s in sheets}
    current = observers - seen.lapsed
    odd = attempt.setting not in skill.setting or bool(attempt.contested)
    believed = not odd and (bool(current) or mild)
    return {
        "in": True,
        "day": seen.day,
        "id": attempt.id,
        "type": attempt.unit_type,
        "setting": attempt.setting,
        "who": current or observers,
        "critical": held.ladder == "critical",
        "breaks": held.ladder == "critical" or (held.ladder == "breaks" and not odd),
        "would_count": held.ladder in ("clean", "minor") and believed,
        "retaught": held.outcome in ("clean", "minor") and believed,
        "outcome": held.outcome,
    }


def rule_holds(rule: Any, some: list[dict[str, Any]]) -> bool:
    """Whether these counting attempts in a row are what the rule asks for."""
    return (
        len(some) >= rule.in_a_row
        and len({one["day"] for one in some}) >= rule.distinct_days
        and all(any(one["setting"] == wanted for one in some) for wanted in rule.settings)
        and len({who for one in some for who in one["who"]}) >= rule.assessors
    )


def plain_reading(  # noqa: C901 - plain on purpose
    attempts: Iterable[Any], skill: Any, unit_type: str | None, features: frozenset[str], as_of: date, *, mild: bool
) -> dict[str, Any]:
    """One reading, strict or mild: looks back to the start for every attempt."""
    rule = skill.rule
    ordered = sorted(
        (s for s in attempts if s.day <= as_of), key=lambda s: (s.day, s.session_start, s.attempt.number, s.attempt.id)
    )
    everything = [one for s in ordered if (one := plain_attempt(s, skill, features, mild=mild))["in"]]

    def owed_before(number: int) -> int:
        earlier = everything[:number]
        places = [place for place, one in enumerate(earlier) if one["critical"]]
        if not places:
            return 0
        used = sum(one["retaught"] for one in earlier[places[-1] + 1 :])
        return max(0, int(rule.reteach) - used)

    def is_own(one: dict[str, Any]) -> bool:
        return not rule.same_unit_type or one["type"] is None or one["type"] == unit_type

    run: list[dict[str, Any]] = []
    best, met_on, until, watch, word = 0, None, None, False, "not_yet"
    started = False
    window = timedelta(days=skill.currency_days)
    for number, one in enumerate(everything):
        if not is_own(one):
            continue
        started = True
        if met_on and one["day"] > until:
            run, met_on, watch, word = [], None, False, "out_of_date"
        if one["critical"]:
            if met_on or word in ("out_of_date", "again"):
                word = "again"
            run, met_on, watch, until = [], None, False, None
        elif one["breaks"]:
            run, watch = [], met_on is not None
        elif one["would_count"] and owed_before(number) == 0:
            run = [*run, one]
            best = max(best, len(run))
            if met_on:
                until = one["day"] + window
            if (met_on is None or watch) and rule_holds(rule, run):
                met_on, until, watch, word = one["day"], one["day"] + window, False, "not_yet"
    if met_on and as_of > until:
        run, met_on, watch, word = [], None, False, "out_of_date"
    state = "not_started" if not started else word
    if met_on:
        state = "met_watch" if watch else "met"
    return {
        "state": state,
        "streak": len(run),
        "best": best,
        "met_on": met_on,
        "good_until": until if met_on or word == "out_of_date" else None,
        "reteach": owed_before(len(everything)),
        "budget_used": len(everything),
    }


def plain_standing(
    attempts: Iterable[Any], skill: Any, unit_type: str | None, features: frozenset[str], as_of: date
) -> dict[str, Any]:
    """The standing: strict, unless only somebody's word is missing."""
    attempts = list(attempts)
    strict = plain_reading(attempts, skill, unit_type, features, as_of, mild=False)
    mild = plain_reading(attempts, skill, unit_type, features, as_of, mild=True)
    held_back = strict["state"] in ("not_started", "not_yet", "out_of_date")
    if held_back and mild["state"] in ("met", "met_watch"):
        strict["state"] = "waiting"
    return strict
