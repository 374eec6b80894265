"""Laws of folding: whatever the causes, every finding is told exactly once, the worst first, in one order."""

from __future__ import annotations

from itertools import pairwise
from random import Random

from hypothesis import example, given
from hypothesis import strategies as st

from course.findings.finding import Evidence, Finding, Severity, worst_first
from course.findings.folding import Folded, folded

NAMES = "abcdefgh"


def made(name: str, *causes: str, severity: Severity = Severity.RULE, said: str = "") -> Finding:
    """A finding of an invented rule; causes are names of others, or of nothing."""
    return Finding(
        rule="rule", severity=severity, about=(name,), sentence=f"It does not fit. {said}", figures=(said,),
        evidence=(Evidence("session", name),), causes=tuple(f"rule/{cause}" for cause in causes),
    )  # fmt: skip


def keys(whole: Folded) -> list[str]:
    """A root and what follows from it."""
    return [whole.finding.key, *(one.key for one in whole.follow)]


some = st.lists(
    st.builds(
        lambda name, causes, severity, said: made(name, *causes, severity=severity, said=said),
        st.sampled_from(NAMES),
        st.lists(st.sampled_from(NAMES + "xyz"), max_size=3),  # x, y, z are never found
        st.sampled_from(Severity),
        st.sampled_from(["", "1", "2"]),
    ),
    max_size=12,
)


@given(some)
@example([made("a", "b"), made("b", "a")])
@example([made("a", "a")])
@example([made("d", "a"), made("a", "b"), made("b", "c"), made("c", "b")])
@example([made("a"), made("a", "b"), made("b", "a")])
def test_every_finding_is_told_exactly_once(findings: list[Finding]) -> None:
    """Also in rings of causes, where a cause is not found, and where two have one key."""
    told = [key for whole in folded(findings) for key in keys(whole)]
    assert sorted(told) == sorted({one.key for one in findings})


@given(some)
def test_the_worst_comes_first_among_roots_and_among_those_that_follow(findings: list[Finding]) -> None:
    found = folded(findings)
    for row in ([whole.finding for whole in found], *(whole.follow for whole in found)):
        assert all(worst_first(one) <= worst_first(other) for one, other in pairwise(row))


@given(some, st.randoms(use_true_random=False))
def test_the_order_in_which_rules_find_changes_nothing(findings: list[Finding], by: Random) -> None:
    before = folded(findings)
    by.shuffle(findings)
    assert folded(findings) == before


@given(some)
def test_a_finding_follows_only_from_what_is_found_and_a_root_has_no_cause_but_in_a_ring(
    findings: list[Finding],
) -> None:
    """From each that follows a way of causes leads to its root."""
    found = folded(findings)
    by_key = {one.key: one for whole in found for one in (whole.finding, *whole.follow)}
    for whole in found:
        for one in whole.follow:
            assert whole.finding.key in _reached(one, by_key)
        if cause := next((key for key in whole.finding.causes if key in by_key), None):
            assert _is_ringed(by_key[cause], by_key)


def _reached(finding: Finding, by_key: dict[str, Finding]) -> set[str]:
    seen: set[str] = set()
    left = [key for key in finding.causes if key in by_key]
    while left:
        key = left.pop()
        if key not in seen:
            seen.add(key)
            left += [cause for cause in by_key[key].causes if cause in by_key]
    return seen


def _is_ringed(finding: Finding, by_key: dict[str, Finding]) -> bool:
    return any(key in _reached(by_key[key], by_key) for key in {finding.key, *_reached(finding, by_key)})


def test_what_follows_at_a_distance_stands_under_the_first_cause() -> None:
    found = folded([made("a"), made("b", "a"), made("c", "b"), made("d", "x")])
    assert [keys(whole) for whole in found] == [["rule/a", "rule/b", "rule/c"], ["rule/d"]]


def test_of_two_with_one_key_the_worse_stands() -> None:
    (whole,) = folded([made("a", severity=Severity.LOOK), made("a", severity=Severity.DANGER)])
    assert whole.finding.severity == Severity.DANGER


def test_a_finding_is_another_one_once_its_figures_or_its_evidence_are() -> None:
    """Its key stays: an answer finds it again, and says that it changed."""
    one, other = made("a", said="1"), made("a", said="2")
    assert one.key == other.key
    assert one.rests_on != other.rests_on
    assert made("a", "b", severity=Severity.LOOK).rests_on == made("a").rests_on
