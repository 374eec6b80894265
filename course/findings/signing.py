"""Rules about sign-off of a course and about exceptions: older records, issues apart, one person in two parts."""

from __future__ import annotations

from collections.abc import Iterator

from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground, SignedCourse
from course.moments import day_words
from course.words import plural


def signed_off_on_older(ground: Ground) -> Iterator[Finding]:
    """A student was signed off, and the record under it has changed since."""
    for one in ground.signed_courses:
        if one.stale:
            yield Finding(
                rule="signed_off_on_older",
                severity=Severity.RULE,
                about=(one.sign_off.id,),
                sentence=f"{_issue(ground, one)}, and the record has changed since: signed on an older record. "
                "Look at it again; take it back or sign the next issue.",
                figures=(one.sign_off.rests_on, one.rests_on_now),
                evidence=_of(one),
            )


def signed_off_apart(ground: Ground) -> Iterator[Finding]:
    """Two issues of one student's sign-off stand beside each other, from devices that did not know of each other."""
    for student in ground.students:
        own = [one for one in ground.signed_courses if one.sign_off.student == student]
        if len(own) > 1:
            ids = tuple(sorted(one.sign_off.id for one in own))
            told = " and ".join(f"issue {one.sign_off.issue} by {ground.name(one.sign_off.signed_by)}" for one in own)
            yield Finding(
                rule="signed_off_apart",
                severity=Severity.RULE,
                about=ids,
                sentence=f"{ground.name(student)}: {told} stand beside each other. Sign the next issue, which takes "
                "the place of both, or take one back.",
                figures=tuple(sorted(one.sign_off.rests_on for one in own)),
                evidence=tuple(part for one in own for part in _of(one)),
            )


def assessor_decides(ground: Ground) -> Iterator[Finding]:
    """Whoever signed a student off alone assessed what counts in some of the skills."""
    for one in ground.signed_courses:
        if one.alone:
            yield Finding(
                rule="assessor_decides",
                severity=Severity.LOOK,
                about=(one.sign_off.id,),
                sentence=f"{_issue(ground, one)}, who alone assessed {plural(len(one.alone), 'required skill')} of it: "
                "assessor and decider are one person there.",
                figures=one.alone,
                evidence=_of(one),
            )


def exception_ended(ground: Ground) -> Iterator[Finding]:
    """Two instructors let a requirement be, and it no longer stands: a critical error came, or the record changed."""
    for one in ground.exceptions_ended:
        made = one.made
        yield Finding(
            rule="exception_ended",
            severity=Severity.RULE,
            about=(made.id,),
            sentence=f"{ground.name(made.student)} · {one.what}: the exception by {ground.name(made.proposed_by)} and "
            f"{ground.name(made.seconds[0].by)} counts no more, {one.why}.",
            figures=(made.rests_on, one.why),
            evidence=(Evidence("decision", made.id), Evidence("person", made.student)),
        )


def _issue(ground: Ground, one: SignedCourse) -> str:
    fact = one.sign_off
    day = day_words(fact.observed.local.date())
    return f"{ground.name(fact.student)}: issue {fact.issue} was signed off by {ground.name(fact.signed_by)} on {day}"


def _of(one: SignedCourse) -> tuple[Evidence, ...]:
    return (Evidence("decision", one.sign_off.id), Evidence("person", one.sign_off.student))
