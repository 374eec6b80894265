"""Exceptions: an instructor proposes to let a requirement be that is short, and a second one looks and says so too.

Each of the two does their own act. Never over a critical error that nothing has cleared, and never over a paper.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from course.access import Act
from course.actions import amending
from course.actions.drafting import allow, body, draft, living, told
from course.actions.gates import refuse_signing
from course.actions.signing import deciding, refuse_unread
from course.answers.course_view import CourseView
from course.answers.decisions import HELD, evidence, is_held_back
from course.answers.exceptions import (
    WAITS,
    counted_hash,
    exception_states,
    live_exceptions,
    rule_of,
    uncleared,
)
from course.answers.missing import student_counts, student_hours
from course.answers.other_forms import by_other_forms
from course.asker import refuse_unconfirmed
from course.assessment.sentences import standing_sentence
from course.assessment.standing import Standing
from course.errors import RefusedError
from course.hours.requirements import Count, Hours
from course.moments import new_id, now, observed_at
from course.record.facts import Person
from course.record.signing_events import Confirmed, ExceptionProposed, ExceptionSeconded
from course.record.signing_facts import MadeException
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.storage.lookup import needed, skill_as_marked
from course.words import StandingState

_CRITICAL = (
    "a critical error was seen and nothing has cleared it. No exception goes over it: re-teach, then the rule anew."
)


@dataclass(frozen=True)
class _Short:
    """What is short, as the tool says it."""

    sentence: str
    rests_on: str
    events_used: int = 0
    unit_type: str | None = None
    have: int | None = None
    required: int | None = None


def propose(
    ledger: Ledger,
    actor: str,
    *,
    course: str,
    student: str,
    rule: str,
    as_of: date,
    rests_on: str,
    reason: str,
    confirmed_with: Confirmed | None = None,
) -> str:
    """Propose to let a requirement be that is short; returns the exception's id. Alone it changes nothing.

    Args:
        rule: "skill:ID", "hours:KIND" or "count:KIND".
        rests_on: the hash over what is short as the person saw it.

    Raises:
        RefusedError: a critical error is not cleared, nothing is short, nothing was seen of the skill, the record
            changed since it was shown, a paper is missing, no reason is given, or the person does not decide here.
    """
    seen = deciding(ledger, actor, course)
    refuse_unconfirmed(confirmed_with)
    refuse_signing(seen.course, seen.profile, _person(ledger, seen, student), as_of)
    short = _short(ledger, seen, student, rule, as_of)
    if short.rests_on != rests_on:
        raise RefusedError("The record changed since this page showed it. Look at it again; nothing was changed.")
    before = live_exceptions(seen, student, rule)
    if any(one.rests_on == rests_on for one in before):
        raise RefusedError(
            "An exception to this is proposed already, on this very record. A second instructor looks at it; nothing "
            "was changed."
        )
    content = body(
        ExceptionProposed,
        exception=new_id(),
        course=course,
        student=student,
        rule=rule,
        unit_type=short.unit_type,
        sentence=short.sentence,
        as_of=as_of.isoformat(),
        have=short.have,
        required=short.required,
        rests_on=rests_on,
        events_used=short.events_used,
        replaces=tuple(one.id for one in before),
        observed=observed_at(now(), seen.course.zone),
        confirmed_with=confirmed_with,
        reason=told(reason),
    )
    ledger.append([draft(actor, content, private_of=student)])
    return content.exception


def second(
    ledger: Ledger,
    actor: str,
    exception: str,
    *,
    as_of: date,
    rests_on: str,
    reason: str,
    confirmed_with: Confirmed | None = None,
) -> None:
    """Agree to an exception as the second instructor, with one's own reason: from now on it stands.

    Raises:
        NotFoundError: there is no such exception, or it was taken back.
        RefusedError: it is the proposer's own, it stands already, the record changed, a critical error is not
            cleared, no reason is given, or the person does not decide on this course.
    """
    allow(ledger, actor, Act.SIGN)
    made = needed(ledger, MadeException, exception, "exception")
    seen = deciding(ledger, actor, made.course)
    refuse_unconfirmed(confirmed_with)
    if made.proposed_by == actor:
        raise RefusedError(
            f"{seen.name(actor)} proposed this exception. It needs a second instructor, who looks at the record "
            "themselves. Nothing was changed."
        )
    refuse_signing(seen.course, seen.profile, _person(ledger, seen, made.student), as_of)
    states = exception_states(ledger, seen, made.student, as_of, _counted(seen, made.student, as_of))
    state = next((one for one in states if one.id == exception), None)
    if state is None or made.rests_on != rests_on or state.why_not != WAITS:
        why = (state.why_not if state else "") or "it stands already"
        why = "the record changed since this page showed it" if why == WAITS else why
        raise RefusedError(f"This exception takes no second word now: {why}. Look again; nothing was changed.")
    if made.skill:
        _short(ledger, seen, made.student, made.rule, as_of)
    content = body(
        ExceptionSeconded,
        exception=exception,
        rests_on=rests_on,
        observed=observed_at(now(), seen.course.zone),
        confirmed_with=confirmed_with,
        reason=told(reason),
    )
    ledger.append([draft(actor, content, private_of=made.student)])


def take_back(
    ledger: Ledger, actor: str, exception: str, reason: str, confirmed_with: Confirmed | None = None
) -> None:  # fmt: skip
    """Take an exception back, with both its words; it stays to be read. Confirmed as proposing is.

    Raises:
        NotFoundError: there is no such exception, or it was taken back.
        RefusedError: no reason is given, it was not confirmed, or the person does not decide on this course.
    """
    allow(ledger, actor, Act.SIGN)
    refuse_unconfirmed(confirmed_with)
    made = needed(ledger, MadeException, exception, "exception")
    deciding(ledger, actor, made.course)
    first = next(one.id for one in ledger.events(exception) if one.kind == ExceptionProposed.kind)
    amending.withdraw(ledger, actor, first, reason, confirmed_with)


def _person(ledger: Ledger, seen: CourseView, student: str) -> Person:
    """The student with their papers opened.

    Raises:
        RefusedError: nobody on the course, or their data were erased.
    """
    living(ledger, student)
    if student not in seen.students:
        raise RefusedError(f"This person is no {seen.profile.for_whom} of the course. Nothing was changed.")
    return seen.person(student)


def _short(ledger: Ledger, seen: CourseView, student: str, rule: str, as_of: date) -> _Short:
    """What is short in one line of the requirements.

    Raises:
        RefusedError: nothing is, or it is nothing that an exception can be made of.
    """
    kind, _, name = rule.partition(":")
    if kind == "skill" and name in seen.profile.required_skills and name in seen.adopted.standards.skills:
        return _short_skill(ledger, seen, student, seen.adopted.skill(name), as_of)
    for one in _counted(seen, student, as_of):
        if rule_of(one) == rule and one.required:
            return _short_count(one)
    raise RefusedError(
        "An exception is made to a required skill, to minutes or to a count that these requirements ask for; papers "
        "and the exam are not let be. Nothing was changed."
    )


def _counted(seen: CourseView, student: str, as_of: date) -> list[Hours | Count]:
    return [*student_hours(seen, student, as_of), *student_counts(seen, student, as_of)]


def _short_skill(ledger: Ledger, seen: CourseView, student: str, skill: Skill, as_of: date) -> _Short:
    standing = seen.standing(student, skill, as_of)
    refuse_unread(seen, student, skill)
    never = _never(seen, student, skill, standing)
    if _uncleared_by_other_forms(ledger, seen, student, skill, as_of):
        never = _CRITICAL
    if never:
        raise RefusedError(f"{skill.title}: {never} Nothing was changed.")
    unit_type = seen.unit_type_of(student, as_of)
    return _Short(
        sentence=standing_sentence(standing, skill),
        rests_on=evidence(seen, skill, standing),
        events_used=len(standing.events),
        unit_type=unit_type.id if unit_type else None,
    )


def _uncleared_by_other_forms(ledger: Ledger, seen: CourseView, student: str, skill: Skill, as_of: date) -> bool:
    """Whether an attempt that another form of the skill was asked in left a critical error behind: seen is seen."""
    older = by_other_forms(seen, student, skill, as_of)
    for rubric in dict.fromkeys(one.attempt.rubric for one in older):
        form = skill_as_marked(ledger, skill.id, rubric)
        tried = [one for one in older if one.attempt.rubric == rubric]
        if any(one.met_on is None for one in seen.standing_of(student, form, tried, as_of).criticals):
            return True
    return False


def _never(seen: CourseView, student: str, skill: Skill, standing: Standing) -> str:
    """Why no exception is made to a skill; empty when one can be."""
    reasons = (
        (uncleared(seen, student, skill, standing), _CRITICAL),
        (bool(standing.open_attempts), "an attempt is still open. Close it first."),
        (standing.state in HELD, "the rule is met, so it is signed and no exception is needed."),
        (standing.state == StandingState.NOT_FOR_THIS_UNIT, "it is not asked for on this unit."),
        (not standing.used, "nothing was seen of it here that counts, so there is nothing that two could agree on."),
        (is_held_back(seen, student, skill, standing.as_of), "an instructor holds it back. Take that back first."),
    )
    return next((words for is_so, words in reasons if is_so), "")


def _short_count(one: Hours | Count) -> _Short:
    if not one.short_by:
        raise RefusedError(f"{one.what[:1].upper()}{one.what[1:]}: nothing is short. Nothing was changed.")
    return _Short(one.short, counted_hash(one), have=one.total, required=one.required)
