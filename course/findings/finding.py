"""A finding: one thing in a course's record that does not fit, what it rests on, and what it follows from."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal


class Severity(StrEnum):
    """How much a finding weighs, the heaviest first."""

    DANGER = "somebody could have been hurt"
    RULE = "a rule was not kept"
    LOOK = "to be looked at"


SEVERITIES = tuple(Severity)
Kind = Literal["attempt", "session", "unit", "person", "decision", "course"]


@dataclass(frozen=True)
class Evidence:
    """One thing in the ledger that a finding rests on."""

    kind: Kind
    id: str
    words: str = ""
    """What it shows, where the thing alone does not say it."""


@dataclass(frozen=True)
class Finding:
    """One thing that does not fit. `rule` and `about` name it for ever; `figures` are what an answer to it rests on."""

    rule: str
    severity: Severity
    about: tuple[str, ...]
    """Ids that tell it from others of its rule."""
    sentence: str
    figures: tuple[str, ...]
    """Minutes, moments, values and ids that make it what it is; no names and no words of people."""
    evidence: tuple[Evidence, ...]
    causes: tuple[str, ...] = ()
    """Keys of findings that it follows from."""
    for_lead: bool = False
    """Shown to the lead alone."""

    @property
    def key(self) -> str:
        """The finding's name: the same as long as it is the same finding, whatever its figures are."""
        return "/".join((self.rule, *self.about))

    @property
    def code(self) -> str:
        """A short name for people: eight signs that stand for the key."""
        return hashlib.sha256(self.key.encode()).hexdigest()[:8]

    @property
    def rests_on(self) -> str:
        """Hash (SHA-256) over what it is and what it rests on: an answer names it, so that a change shows."""
        told = [self.rule, list(self.about), list(self.figures), sorted(f"{e.kind}/{e.id}" for e in self.evidence)]
        return hashlib.sha256(json.dumps(told, separators=(",", ":")).encode()).hexdigest()


def worst_first(finding: Finding) -> tuple[int, str, tuple[str, ...], tuple[str, ...], str, str, tuple[str, ...]]:
    """Order of findings: by severity, then by rule and by their figures; whatever else they are settles the rest."""
    told = (finding.sentence, finding.rests_on, finding.causes)
    return (SEVERITIES.index(finding.severity), finding.rule, finding.figures, finding.about, *told)
