"""Rules about papers: a stage entered though a gate was shut, a minor in the water without a guardian's consent."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground
from course.hours.gates import CONSENT, STAGE_WORDS, WATER, GatePassed
from course.words import listed


def gate_passed(ground: Ground) -> Iterator[Finding]:
    """Somebody took part though a paper that the requirements ask for was not there, or no longer good."""
    yield from _passed(ground, "gate_passed", [one for one in ground.gates if one.missing.gate != CONSENT])


def consent_missing(ground: Ground) -> Iterator[Finding]:
    """Somebody under age was in a stage in the water without a guardian's consent for it."""
    yield from _passed(ground, "consent_missing", [one for one in ground.gates if one.missing.gate == CONSENT])


def _passed(ground: Ground, rule: str, gates: Iterable[GatePassed]) -> Iterator[Finding]:
    """One finding for each person, gate and stage, whatever the number of sessions."""
    found: dict[tuple[str, str, str], list[GatePassed]] = {}
    for one in gates:
        found.setdefault((one.person, one.missing.gate, one.stage), []).append(one)
    for (person, gate, stage), own in found.items():
        sessions = list(dict.fromkeys(one.session for one in own))
        where = listed([ground.session_words(session) for session in sessions])
        yield Finding(
            rule=rule,
            severity=Severity.DANGER if stage in WATER else Severity.RULE,
            about=(person, gate, stage),
            sentence=f"{ground.name(person)} took part in {where}, though {STAGE_WORDS[own[0].stage]} was shut: "
            f"{own[0].missing.words}.",
            figures=tuple(
                sorted(sessions)
            ),  # never why: the hash of few words could be guessed, and a paper may be medical
            evidence=(
                Evidence("person", person, own[0].missing.label),
                *(Evidence("session", session) for session in sessions),
            ),
        )
