"""Findings that follow from another stand under it, so that a list tells each thing once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from course.findings.finding import Finding, worst_first


@dataclass(frozen=True)
class Folded:
    """A finding with those that follow from it."""

    finding: Finding
    follow: tuple[Finding, ...] = ()


def folded(findings: Iterable[Finding]) -> tuple[Folded, ...]:
    """Return the findings, the worst first, each with those that follow from it, at any distance.

    Of two with one key the worse stands. A finding whose causes are not found stands by itself; so does one of a ring
    of causes, which no rule should make.
    """
    by_key: dict[str, Finding] = {}
    for finding in sorted(findings, key=worst_first):
        by_key.setdefault(finding.key, finding)
    ordered = list(by_key.values())
    roots = {finding.key: _root(finding, by_key) for finding in ordered}
    return tuple(
        Folded(finding, tuple(one for one in ordered if roots[one.key] == finding.key and one is not finding))
        for finding in ordered
        if roots[finding.key] == finding.key
    )


def _root(finding: Finding, by_key: dict[str, Finding]) -> str:
    seen: list[str] = []
    while finding.key not in seen:
        seen.append(finding.key)
        cause = next((by_key[key] for key in finding.causes if key in by_key), None)
        if cause is None:
            return finding.key
        finding = cause
    return min(seen)
