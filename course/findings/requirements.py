"""Rules about what the course has to come to: minutes and counts that are short, other revisions, changed records."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground, OtherRevision, SignedStanding
from course.hours.gates import left_on
from course.hours.requirements import Count, Hours
from course.moments import day_words
from course.words import DecisionKind, listed


def hours_short(ground: Ground) -> Iterator[Finding]:
    """On the course's last day, and after it, a student is short of minutes or counts; before it everybody is."""
    if ground.as_of < date.fromisoformat(ground.course.last_day):
        return
    for student, short in ground.short.items():
        person = ground.persons.get(student)
        if person and left_on(person, ground.course.id):
            continue
        for one in short:
            yield Finding(
                rule="hours_short",
                severity=Severity.RULE,
                about=(student, one.kind),
                sentence=f"{ground.name(student)}: {_of_required(one)}: short by {_lacking(one)}.",
                figures=(one.kind, str(one.short_by), str(one.required or 0)),
                evidence=(
                    Evidence("person", student),
                    *(
                        Evidence("session", session.id)
                        for session in ground.sessions.values()
                        if any(w.person == student for w in session.water)
                        or (one.kind == session.setting and any(s.person == student for s in session.spans))
                    ),
                ),
            )


def other_revision(ground: Ground) -> Iterator[Finding]:
    """A later revision of the requirements is in force, and the course is held to its own. Nothing moves silently."""
    for one in ground.revisions:
        told = [f"add {listed(list(one.added))}"] if one.added else []
        told += [f"drop {listed(list(one.dropped))}"] if one.dropped else []
        asks = [f"{abs(more)} {what} {'more' if more > 0 else 'fewer'}" for what, more in one.more]
        told += [f"ask {listed(asks)}"] if asks else []
        would = f" would {listed(told)}" if told else " would change nothing that is counted"
        students = "; ".join(
            f"{ground.name(student)} would be short by {after} {what} instead of {before}"
            for student, what, before, after in one.students
        )
        yield Finding(
            rule="other_revision",
            severity=Severity.LOOK,
            about=(ground.course.id, one.revision),
            sentence=f"{ground.course.title} is on {ground.profile.revision}; {one.revision}, in force since "
            f"{day_words(one.first_day)},{would}{f': {students}' if students else ''}. "
            "It stays on its own until its lead moves it.",
            figures=_figures(one),
            evidence=(Evidence("course", ground.course.id),),
        )


def signed_on_older(ground: Ground) -> Iterator[Finding]:
    """A standing was signed, and the record under it has changed since."""
    for one in ground.signed:
        if one.stale and one.decision.decided == DecisionKind.AGREED:
            decision = one.decision
            found = f" Found after signing: {'; '.join(one.found)}." if one.found else ""
            yield Finding(
                rule="signed_on_older",
                severity=Severity.RULE,
                about=(decision.id,),
                sentence=f"{ground.name(decision.student)} · {ground.title(decision.skill)}: signed by "
                f"{ground.name(decision.decided_by)} on {day_words(decision.observed.local.date())} on an older "
                f"record.{found}",
                figures=(decision.rests_on, *one.found),
                evidence=_of_decision(ground, one),
            )


def _of_decision(ground: Ground, one: SignedStanding) -> tuple[Evidence, ...]:
    tried = [
        t.attempt.id
        for t in ground.tried
        if (t.attempt.student, t.attempt.skill) == (one.decision.student, one.decision.skill)
    ]
    return (Evidence("decision", one.decision.id), *(Evidence("attempt", attempt) for attempt in tried))


def _of_required(one: Hours | Count) -> str:
    have = one.minutes if isinstance(one, Hours) else one.have
    return f"{have} of {one.required} {one.what}"


def _lacking(one: Hours | Count) -> str:
    return f"{one.short_by} min" if isinstance(one, Hours) else one.lacking


def _figures(one: OtherRevision) -> tuple[str, ...]:
    more = [f"{what} {count}" for what, count in one.more]
    students = [f"{student} {what} {before} {after}" for student, what, before, after in one.students]
    return (one.revision, *sorted((*one.added, *one.dropped)), *more, *sorted(students))
