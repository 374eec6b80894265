"""Sign a student off, or take that back. Nothing is signed while a line is short; nothing signed is ever changed."""

from __future__ import annotations

from datetime import date

from course.access import Act
from course.actions.drafting import allow, body, draft, living, told
from course.actions.gates import refuse_signing
from course.actions.signing import deciding, refuse_unread
from course.answers.course_view import CourseView
from course.answers.sign_off import (
    SignOffSheet,
    is_older,
    issues_of,
    live_issues,
    sign_off_sheet,
    signers_of,
    still_to_sign,
    who_signs,
)
from course.asker import refuse_unconfirmed
from course.errors import RefusedError
from course.moments import day_words, new_id, now, observed_at
from course.record.signing_events import Confirmed, SignedOff, SignOffCountersigned, SignOffWithdrawn
from course.record.signing_facts import SignOff
from course.storage.ledger import Ledger
from course.storage.lookup import needed

_MOST_NAMED = 5


def sign_off(
    ledger: Ledger,
    actor: str,
    *,
    course: str,
    student: str,
    as_of: date,
    rests_on: str,
    reason: str | None = None,
    confirmed_with: Confirmed | None = None,
) -> str:
    """Sign that a student has all that the course asks for; returns the sign-off's id.

    Args:
        rests_on: the hash over every line as the person saw it; a record that changed since is not signed.
        reason: why there is another issue; needed from the second on.
        confirmed_with: what the signer typed at the act to confirm that it is them, where people have accounts.

    Raises:
        RefusedError: a line is short, a standing is not signed or is held back, the record changed since it was shown,
            an issue stands already that says the same, or the person does not decide on this course.
    """
    seen = deciding(ledger, actor, course)
    refuse_unconfirmed(confirmed_with)
    living(ledger, student)
    sheet = sign_off_sheet(ledger, seen, student, as_of)
    refuse_signing(seen.course, seen.profile, seen.person(student), as_of)
    if actor not in who_signs(seen):
        raise RefusedError("These requirements ask for the lead's own signature under it. Nothing was signed.")
    _refuse_short(sheet)
    if sheet.rests_on != rests_on:
        raise RefusedError("The record changed since this page showed it. Look at it again; nothing was signed.")
    for skill in seen.skills():
        refuse_unread(seen, student, skill)
    before = issues_of(seen, student)
    _refuse_twice(sheet, len(live_issues(seen, student)))
    if before:
        told(reason)
    content = body(
        SignedOff,
        sign_off=new_id(),
        course=seen.course.id,
        student=student,
        issue=max((one.issue for one in before), default=0) + 1,
        replaces=tuple(one.id for one in before),
        profile=seen.profile.id,
        revision=seen.profile.revision,
        as_of=as_of.isoformat(),
        rests_on=rests_on,
        rules=sheet.rules_met,
        exceptions=tuple(one.id for one in sheet.exceptions if one.stands),
        assessors=sheet.assessors,
        observed=observed_at(now(), seen.course.zone),
        confirmed_with=confirmed_with,
        reason=reason or None,
    )
    ledger.append([draft(actor, content, private_of=student)])
    return content.sign_off


def _refuse_short(sheet: SignOffSheet) -> None:
    if sheet.to_do:
        more = len(sheet.to_do) - _MOST_NAMED
        rest = f"; and {more} more" if more > 0 else ""
        raise RefusedError(
            f"{sheet.name} is not signed off: {'; '.join(sheet.to_do[:_MOST_NAMED])}{rest}. Nothing was signed."
        )


def _refuse_twice(sheet: SignOffSheet, standing: int) -> None:
    """One issue that stands and says the same is enough; two of them, from two laptops, are put together by a third."""
    if (issue := sheet.standing_issue) and not issue.older and standing == 1:
        raise RefusedError(
            f"Issue {issue.issue} stands and says the same. Take it back with a reason first if another is to take "
            "its place. Nothing was signed."
        )


def countersign(
    ledger: Ledger,
    actor: str,
    sign_off_id: str,
    role: str,
    initials: str | None = None,
    confirmed_with: Confirmed | None = None,
) -> None:
    """Sign an issue too, as somebody whose signature the requirements ask for besides.

    Args:
        role: "second_instructor", "training_manager", or "student", who gives their initials on the actor's screen.

    Raises:
        NotFoundError: there is no such sign-off.
        RefusedError: the issue does not stand, the record changed since, this signature is not asked for or is there,
            it would be the signer's own second one, the initials are missing, or the person does not decide here.
    """
    allow(ledger, actor, Act.SIGN)
    fact = needed(ledger, SignOff, sign_off_id, "sign-off")
    seen = deciding(ledger, actor, fact.course)
    refuse_unconfirmed(confirmed_with)
    _refuse_gone(seen, fact)
    if is_older(seen, fact):
        raise RefusedError("The record changed since it was signed off. Sign it off anew first. Nothing was signed.")
    if role not in still_to_sign(seen, fact):
        raise RefusedError(
            "This signature is there already, or the requirements do not ask for it. Nothing was signed."
        )
    if role != "student" and actor in signers_of(fact):
        raise RefusedError(
            f"{seen.name(actor)} signed this issue. The other signature is another person's. Nothing was signed."
        )
    if role == "student" and not (initials or "").strip():
        raise RefusedError("The student's initials are missing. Nothing was signed.")
    content = body(
        SignOffCountersigned,
        sign_off=fact.id,
        role=role,
        observed=observed_at(now(), seen.course.zone),
        confirmed_with=confirmed_with,
        initials=initials if role == "student" else None,
    )
    ledger.append([draft(actor, content, private_of=fact.student)])


def take_back(
    ledger: Ledger, actor: str, sign_off_id: str, reason: str, confirmed_with: Confirmed | None = None
) -> None:
    """Take a sign-off back, with a reason. It stays to be read, and the next issue names it.

    Raises:
        NotFoundError: there is no such sign-off.
        RefusedError: it was taken back before, a later issue took its place, no reason is given, or the person does
            not decide on this course.
    """
    allow(ledger, actor, Act.SIGN)
    fact = needed(ledger, SignOff, sign_off_id, "sign-off")
    seen = deciding(ledger, actor, fact.course)
    refuse_unconfirmed(confirmed_with)
    _refuse_gone(seen, fact)
    observed = observed_at(now(), seen.course.zone)
    content = body(
        SignOffWithdrawn, sign_off=fact.id, observed=observed, confirmed_with=confirmed_with, reason=told(reason)
    )
    ledger.append([draft(actor, content, private_of=fact.student)])


def _refuse_gone(seen: CourseView, fact: SignOff) -> None:
    if fact.taken_back:
        word = fact.taken_back[0]
        day = day_words(word.observed.local.date())
        raise RefusedError(
            f"Issue {fact.issue} was taken back by {seen.name(word.by)} on {day} already. Nothing was changed."
        )
    if fact.id not in {one.id for one in live_issues(seen, fact.student)}:
        raise RefusedError(f"A later issue took the place of issue {fact.issue}. Nothing was changed.")
