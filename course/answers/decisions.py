"""What a person decided about a standing: whose word it is, what it rests on, and whether the record changed since."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.after_signing import found_after_signing
from course.answers.confirmed import confirmed_words
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.asker import question
from course.assessment.history import Effect
from course.assessment.sentences import standing_sentence
from course.assessment.standing import Standing
from course.record.chain import evidence_hash
from course.record.facts import Decision
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.words import DecisionKind, StandingState, listed

HELD = (StandingState.MET, StandingState.MET_WATCH)
"""Standings that hold the skill; only these are signed."""
STALE = "signed on an older record"


@dataclass(frozen=True)
class DecisionDetail:
    """What a person decided, and whether the record is still the one it rests on."""

    sentence: str
    decided_by: str
    day: str
    reason: str | None
    decided: DecisionKind
    stale: bool
    apart: str = ""
    """Who had assessed what counts, told apart from who decided; flagged where it is one person alone."""


@dataclass(frozen=True)
class ToSign:
    """A standing that is met and that nobody has decided on as it is."""

    skill: str
    title: str
    sentence: str
    rests_on: str
    required: bool
    """Whether the course's requirements ask for it."""


@question(Sight.COURSE)
def to_sign(seen: CourseView, student: str, as_of: date) -> tuple[ToSign, ...]:
    """Return what can be signed for a student now; what somebody held back is not among it."""
    found = []
    for skill in seen.skills():
        standing = seen.standing(student, skill, as_of)
        if standing.state in HELD and signed_word(seen, student, skill, as_of) in ("", STALE):
            sentence = standing_sentence(standing, skill, seen.names)
            rests_on, required = evidence(seen, skill, standing), seen.is_required(skill)
            found.append(ToSign(skill.id, skill.title, sentence, rests_on, required))
    return tuple(found)


@question(Sight.COURSE)
def evidence(seen: CourseView, skill: Skill, standing: Standing) -> str:
    """The hash that a signature on this standing rests on."""
    return evidence_hash(standing.events, seen.adopted.hashes[skill.id])


def is_stale(seen: CourseView, decision: Decision, skill: Skill, as_of: date) -> bool:
    """Whether the record is another one than the decision rests on, or has come to another standing since.

    Looking back to a day before the decision does not make it stale: it is asked as of its own day or a later one.
    """
    own_day = date.fromisoformat(decision.as_of)
    now = seen.standing(decision.student, skill, max(own_day, as_of))
    then = seen.standing(decision.student, skill, own_day)
    return evidence(seen, skill, now) != decision.rests_on or then.state != decision.standing


def is_signed(seen: CourseView, student: str, skill: Skill, as_of: date) -> bool:
    """Whether the skill is held, and somebody agreed to the record as it is."""
    decision = seen.decision(student, skill, as_of)
    if decision is None or decision.decided != DecisionKind.AGREED:
        return False
    return seen.standing(student, skill, as_of).state in HELD and not is_stale(seen, decision, skill, as_of)


@question(Sight.COURSE)
def is_held_back(seen: CourseView, student: str, skill: Skill, as_of: date) -> bool:
    """Whether a person is stricter than the tool about the skill."""
    decision = seen.decision(student, skill, as_of)
    return decision is not None and decision.decided == DecisionKind.STRICTER


@question(Sight.COURSE)
def changed_since_signed(ledger: Ledger, seen: CourseView, as_of: date) -> tuple[str, ...]:
    """Return a line for each standing that was signed on an older record, for whoever leads to look at."""
    found = []
    for student in seen.students:
        for skill in seen.skills():
            decision = seen.decision(student, skill, as_of)
            if decision and decision.decided == DecisionKind.AGREED and is_stale(seen, decision, skill, as_of):
                detail = decision_detail(ledger, seen, student, skill, as_of)
                found.append(f"{seen.name(student)} · {skill.title}: {detail.sentence if detail else ''}")
    return tuple(found)


def signed_word(seen: CourseView, student: str, skill: Skill, as_of: date) -> str:
    """What a person did about a standing, for a cell; empty when nobody did anything."""
    decision = seen.decision(student, skill, as_of)
    if decision is None:
        return ""
    if decision.decided == DecisionKind.STRICTER:
        return "held back"
    return STALE if is_stale(seen, decision, skill, as_of) else "signed"


@question(Sight.COURSE)
def decision_detail(ledger: Ledger, seen: CourseView, student: str, skill: Skill, as_of: date) -> DecisionDetail | None:
    """Tell a decision with who, when, and the reason where it differs from the tool; None when there is none."""
    decision = seen.decision(student, skill, as_of)
    if decision is None:
        return None
    reason = ledger.private(decision).get("reason")
    who, day = seen.name(decision.decided_by), day_words(decision.observed.local.date())
    how, stale = confirmed_words(decision.confirmed_with), is_stale(seen, decision, skill, as_of)
    if decision.decided == DecisionKind.STRICTER:
        told = f"Held back by {who} on {day}{how}: {reason or 'the reason is erased'}"
    else:
        told = f"Signed as met by {who} on {day}{how}." + (f" {reason}" if reason else "")
    if stale:
        told += " The record has changed since: signed on an older record."
        found = found_after_signing(ledger, seen, decision, skill, as_of)
        told += f" Found after signing: {'; '.join(found)}." if found else ""
    return DecisionDetail(told, who, day, reason, decision.decided, stale, _apart(seen, decision, skill))


def _apart(seen: CourseView, decision: Decision, skill: Skill) -> str:
    standing = seen.standing(decision.student, skill, date.fromisoformat(decision.as_of))
    people = assessors_of(standing)
    if people == {decision.decided_by}:
        return f"Assessor and decider are one person: {seen.name(decision.decided_by)}."
    assessed = listed(sorted(seen.name(one) for one in people)) or "nobody, of what counts"
    return f"Assessed by {assessed}; decided by {seen.name(decision.decided_by)}."


def assessors_of(standing: Standing) -> set[str]:
    """Return the ids of those who saw the attempts of a standing that count."""
    return {who for one in standing.history if one.effect == Effect.COUNTS for who in one.judgement.assessors}
