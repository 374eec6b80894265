"""Every rule, and what they find. A new rule is one function in the module of its theme, a line here, and one test."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from course.findings import attempts, laptops, observers, papers, readings, requirements, signing, time, water
from course.findings.finding import Finding, worst_first
from course.findings.ground import Ground

Rule = Callable[[Ground], Iterator[Finding]]

RULES: tuple[Rule, ...] = (
    time.double_booking,
    time.impossible_presence,
    time.ratio_break,
    time.no_end,
    water.held_unit,
    water.lapsed_unit,
    water.fault_left,
    water.filling_over,
    water.too_deep,
    water.oxygen_over,
    papers.gate_passed,
    papers.consent_missing,
    observers.observer_not_current,
    observers.fewer_errors,
    observers.tied_observer,
    attempts.entered_late,
    attempts.more_than_time_allows,
    attempts.same_marks,
    attempts.value_against_tick,
    readings.reading_against_tick,
    readings.flood_without_hold,
    attempts.critical_open,
    attempts.not_closed,
    attempts.corrections_disagree,
    laptops.closed_differently,
    laptops.marked_differently,
    laptops.withdrawn_unknowing,
    laptops.signed_apart,
    attempts.void_over_critical,
    attempts.no_second_person,
    attempts.foreign_setting,
    attempts.session_withdrawn,
    requirements.hours_short,
    requirements.other_revision,
    requirements.signed_on_older,
    signing.signed_off_on_older,
    signing.signed_off_apart,
    signing.assessor_decides,
    signing.exception_ended,
)


def rule_words(rule: str) -> str:
    """What a rule looks for, in a sentence; empty for a rule of a newer version."""
    found = next((one for one in RULES if one.__name__ == rule), None)
    return (found.__doc__ or "").split("\n")[0] if found else ""


def is_for_lead(rule: str) -> bool:
    """Whether what a rule finds is for the lead alone; of a rule of a newer version nobody here can tell, so it is."""
    return rule == observers.fewer_errors.__name__ or not rule_words(rule)


def findings(ground: Ground, rules: Iterable[Rule] = RULES) -> tuple[Finding, ...]:
    """Return everything that the rules find, the worst first."""
    return tuple(sorted((found for rule in rules for found in rule(ground)), key=worst_first))
