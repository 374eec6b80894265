"""A person's decision on a standing: agree when the rule is met, or hold back with a reason. The agency certifies."""

from __future__ import annotations

from datetime import date

from course.access import Act
from course.actions.drafting import allow, body, draft, told
from course.answers.course_view import CourseView, find_skill, view
from course.answers.decisions import HELD, evidence
from course.assessment.sentences import standing_sentence
from course.errors import RefusedError
from course.moments import new_id, now, observed_at
from course.record.events import Signed
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.words import EVALUATORS, DecisionKind


def sign(
    ledger: Ledger,
    actor: str,
    *,
    course: str,
    student: str,
    skill: str,
    decided: DecisionKind,
    as_of: date,
    rests_on: str,
    reason: str | None = None,
) -> str:
    """Put a decision on a standing into the ledger and return its id.

    Args:
        rests_on: the hash over the record as the person saw it; a record that changed since is not signed.
        reason: needed for holding back what the rule says is met.

    Raises:
        RefusedError: the rule is not met, the record changed since it was shown, a reason is missing, something in
            the record cannot be read by this version, or the person does not decide on this course.
    """
    allow(ledger, actor, Act.SIGN)
    seen = view(ledger, course)
    found = find_skill(seen, skill)
    _refuse_stranger(seen, actor)
    standing = seen.standing(student, found, as_of)
    if evidence(seen, found, standing) != rests_on:
        raise RefusedError("The record changed since this page showed it. Look at it again; nothing was signed.")
    if standing.state not in HELD:
        raise RefusedError(
            f"{standing_sentence(standing, found)} Only a standing that is met is signed. Nothing was signed."
        )
    if decided == DecisionKind.STRICTER:
        told(reason)
    _refuse_unread(seen, student, found)
    before = seen.decisions_live(student, found, as_of)
    unit_type = seen.unit_type_of(student, as_of)
    content = body(
        Signed,
        decision=new_id(),
        course=course,
        student=student,
        skill=found.id,
        unit_type=unit_type.id if unit_type else None,
        decided=decided,
        standing=standing.state.value,
        sentence=standing_sentence(standing, found),
        as_of=as_of.isoformat(),
        rubric=seen.adopted.hashes[found.id],
        rests_on=rests_on,
        events_used=len(standing.events),
        replaces=tuple(decision.id for decision in before),
        observed=observed_at(now(), seen.course.zone),
        reason=reason or None,
    )
    ledger.append([draft(actor, content, private_of=student)])
    return content.decision


def _refuse_stranger(seen: CourseView, actor: str) -> None:
    if actor not in seen.course.people(*EVALUATORS):
        raise RefusedError("Only a lead or an instructor of this course signs. Nothing was signed.")


def _refuse_unread(seen: CourseView, student: str, skill: Skill) -> None:
    attempts = [s.attempt for s in seen.seen(student, skill)]
    sessions = [seen.sessions[a.session] for a in attempts if a.session in seen.sessions]
    unread = sorted({kind for fact in (seen.course, *attempts, *sessions) for kind in fact.unread})
    contested = [a for a in attempts if a.contested]
    if unread:
        raise RefusedError(
            f"The record holds what this version cannot read ({', '.join(unread)}). Install the newer version first; "
            "nothing was signed."
        )
    if contested:
        raise RefusedError("Two corrections of an attempt disagree. Settle them first; nothing was signed.")
