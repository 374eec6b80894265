"""A person's decision on a standing: agree when the rule is met, or hold back with a reason. The agency certifies."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from course.access import Act
from course.actions.drafting import allow, body, draft, refuse_erased, refuse_unconfirmed_of_known, told
from course.actions.gates import refuse_signing
from course.answers.course_view import CourseView, view
from course.answers.days import day_words
from course.answers.decisions import HELD, evidence
from course.assessment.sentences import standing_sentence
from course.errors import RefusedError
from course.moments import new_id, now, observed_at
from course.record.events import Draft, Signed, SignedConfirmed
from course.record.signing_events import Confirmed
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
    confirmed_with: Confirmed | None = None,
) -> str:
    """Put a decision on a standing into the ledger and return its id.

    Args:
        rests_on: the hash over the record as the person saw it; a record that changed since is not signed.
        reason: needed for holding back what the rule says is met.
        confirmed_with: what the signer typed at the act to confirm that it is them; None where they have
            neither account nor PIN for signing, which keeps nobody from deciding.

    Raises:
        RefusedError: the rule is not met or no longer is, the record changed since it was shown, a reason is missing, a
            paper that the course asks for before sign-off is missing, something in the record cannot be read by this
            version, or the person does not decide on this course.
    """
    seen = deciding(ledger, actor, course)
    refuse_unconfirmed_of_known(ledger, actor, confirmed_with)
    found = seen.adopted.skill(skill)
    if decided == DecisionKind.STRICTER:
        told(reason)
    made = _decision(seen, actor, student, found, decided, as_of, rests_on, reason, confirmed_with)
    ledger.append([made])
    return made.body.subject


def sign_all(
    ledger: Ledger,
    actor: str,
    *,
    course: str,
    student: str,
    as_of: date,
    rests_on: Mapping[str, str],
    confirmed_with: Confirmed | None = None,
) -> tuple[str, ...]:
    """Agree to several standings of one student at once; all of them are signed, or none.

    Args:
        rests_on: by skill, the hash over the record as the person saw it.

    Raises:
        RefusedError: one of them cannot be signed (told which).
    """
    seen = deciding(ledger, actor, course)
    refuse_unconfirmed_of_known(ledger, actor, confirmed_with)
    made = [
        _decision(
            seen, actor, student, seen.adopted.skill(skill), DecisionKind.AGREED, as_of, shown, None, confirmed_with
        )
        for skill, shown in rests_on.items()
    ]
    if not made:
        raise RefusedError("There is nothing to sign for this student now.")
    ledger.append(made)
    return tuple(draft_.body.subject for draft_ in made)


def refuse_lost_since(seen: CourseView, student: str, skill: Skill, as_of: date) -> None:
    """Refuse what was met on a day and no longer is, by what was tried after that day.

    Raises:
        RefusedError: a later attempt took the standing away (told when, and how it stands since).
    """
    since = max((one.day for one in seen.seen(student, skill) if one.day > as_of), default=None)
    if since is None:
        return
    now_standing = seen.standing(student, skill, since)
    if now_standing.state not in HELD:
        raise RefusedError(
            f"{skill.title}: it was tried again on {day_words(since)}, after {day_words(as_of)}, and since then: "
            f"{standing_sentence(now_standing, skill)} Nothing was signed."
        )


def deciding(ledger: Ledger, actor: str, course: str) -> CourseView:
    """Return the course, for somebody who may decide on it.

    Raises:
        NotFoundError: there is no such course.
        RefusedError: they may not.
    """
    allow(ledger, actor, Act.SIGN)
    seen = view(ledger, course)
    _refuse_stranger(seen, actor)
    return seen


def _decision(
    seen: CourseView,
    actor: str,
    student: str,
    skill: Skill,
    decided: DecisionKind,
    as_of: date,
    rests_on: str,
    reason: str | None,
    confirmed_with: Confirmed | None,
) -> Draft:
    standing = seen.standing(student, skill, as_of)
    if evidence(seen, skill, standing) != rests_on:
        raise RefusedError(
            f"{skill.title}: the record changed since this page showed it. Look at it again; nothing was signed."
        )
    if standing.state not in HELD:
        raise RefusedError(
            f"{skill.title}: {standing_sentence(standing, skill)} Only a standing that is met is signed. "
            "Nothing was signed."
        )
    refuse_erased(seen.person(student))
    if decided == DecisionKind.AGREED:
        refuse_lost_since(seen, student, skill, as_of)
        refuse_signing(seen.course, seen.profile, seen.persons[student], as_of)
    refuse_unread(seen, student, skill)
    unit_type = seen.unit_type_of(student, as_of)
    content = body(
        SignedConfirmed if confirmed_with else Signed,
        decision=new_id(),
        course=seen.course.id,
        student=student,
        skill=skill.id,
        unit_type=unit_type.id if unit_type else None,
        decided=decided,
        standing=standing.state.value,
        sentence=standing_sentence(standing, skill),
        as_of=as_of.isoformat(),
        rubric=seen.adopted.hashes[skill.id],
        rests_on=rests_on,
        events_used=len(standing.events),
        replaces=tuple(before.id for before in seen.decisions_live(student, skill, as_of)),
        observed=observed_at(now(), seen.course.zone),
        reason=reason or None,
        confirmed_with=confirmed_with,
    )
    return draft(actor, content, private_of=student)


def _refuse_stranger(seen: CourseView, actor: str) -> None:
    if actor not in seen.course.people(*EVALUATORS):
        raise RefusedError("Only a lead or an instructor of this course signs. Nothing was signed.")


def refuse_unread(seen: CourseView, student: str, skill: Skill) -> None:
    """Refuse to sign over what this version cannot read, or over corrections that disagree.

    Raises:
        RefusedError: there is such a thing in the record of the skill.
    """
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
