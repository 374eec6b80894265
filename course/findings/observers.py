"""Rules about who saw: an observer not current, one who marks fewer errors, one with a tie to the student."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from course.assessment.attempts import evaluating_sheets
from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground, Tried, short_day
from course.moments import day_after, day_words
from course.words import listed, plural


def observer_not_current(ground: Ground) -> Iterator[Finding]:
    """Attempts were seen by somebody whose own check on that unit type was too long ago on that day."""
    found: dict[tuple[str, str], list[Tried]] = {}
    for tried in ground.tried:
        evaluators = {sheet.observer for sheet in evaluating_sheets(tried.attempt)}
        for observer in sorted(tried.one.lapsed & evaluators) if not tried.attempt.from_elsewhere else ():
            found.setdefault((observer, tried.attempt.unit_type or ""), []).append(tried)
    for (observer, unit_type), own in found.items():
        days = sorted({tried.one.day for tried in own})
        waiting = [tried for tried in own if tried.judged and tried.judged.lapsed_only]
        students = listed(list(dict.fromkeys(ground.name(tried.attempt.student) for tried in own)))
        they = f"{plural(len(own), 'attempt')} of {students}"
        wait = _waiting_words(len(waiting), len(own))
        yield Finding(
            rule="observer_not_current",
            severity=Severity.RULE,
            about=(observer, unit_type),
            sentence=f"{ground.name(observer)}, {ground.type_title(unit_type)}: last good day "
            f"{_last_good_day(ground, observer, unit_type, days[0])}. Seen on "
            f"{listed([short_day(day) for day in days])} only: {they}; {wait} for a current "
            "instructor. What was seen before stands.",
            figures=(
                *(day.isoformat() for day in days),
                *sorted(f"{tried.attempt.id}{' waits' if tried in waiting else ''}" for tried in own),
            ),
            evidence=(
                Evidence("person", observer, "checks on unit types"),
                *(
                    Evidence("attempt", t.attempt.id, "waits" if t in waiting else "also seen by somebody else")
                    for t in own
                ),
            ),
        )


def fewer_errors(ground: Ground) -> Iterator[Finding]:
    """Of two who scored the same attempts one recorded fewer errors by more than chance makes. For the lead alone."""
    for pair in ground.pairs:
        errors = pair.shared.errors
        if not pair.differs or errors.p_value is None:
            continue
        fewer, more = (pair.first, pair.second) if errors.only_first < errors.only_second else (pair.second, pair.first)
        low, high = sorted((errors.only_first, errors.only_second))
        yield Finding(
            rule="fewer_errors",
            severity=Severity.LOOK,
            about=tuple(sorted((fewer, more))),
            sentence=f"{ground.name(fewer)} marks fewer errors than {ground.name(more)} on the same "
            f"{pair.shared.attempts} attempts: {high} seen only by {ground.name(more)}, {low} only by "
            f"{ground.name(fewer)}, {errors.both} in common; exact two-sided sign test p = {errors.p_value:.4f}. "
            "It says who recorded what, not who is right, and asks for a joint scoring hour. No standing "
            "changes by it.",
            figures=(str(low), str(high), str(errors.both), str(pair.shared.attempts)),
            evidence=tuple(
                Evidence("attempt", attempt, "scored by both")
                for attempt in dict.fromkeys(step.attempt for step in pair.shared.steps)
            ),
            for_lead=True,
        )


def tied_observer(ground: Ground) -> Iterator[Finding]:
    """Somebody marked a student to whom a tie of theirs is noted: a relative, an employer."""
    for person in ground.persons.values():
        for student in dict.fromkeys(tie.student for tie in person.interests if tie.course == ground.course.id):
            own = [
                tried
                for tried in ground.tried
                if tried.attempt.student == student
                and any(sheet.observer == person.id for sheet in evaluating_sheets(tried.attempt))
            ]
            if own:
                yield Finding(
                    rule="tied_observer",
                    severity=Severity.LOOK,
                    about=(person.id, student),
                    sentence=f"{ground.name(person.id)} marked {plural(len(own), 'attempt')} of "
                    f"{ground.name(student)}; a tie between the two is noted. They count; let somebody else "
                    "see some.",
                    figures=(str(len(own)),),
                    evidence=(Evidence("person", person.id), *(Evidence("attempt", t.attempt.id) for t in own)),
                )


def _waiting_words(waiting: int, of: int) -> str:
    if waiting == of:
        return "it waits" if of == 1 else "all wait"
    return f"{waiting} of them {'waits' if waiting == 1 else 'wait'}"


def _last_good_day(ground: Ground, observer: str, unit_type: str, day: date) -> str:
    person = ground.persons.get(observer)
    checks = [date.fromisoformat(c.day) for c in person.check_outs if c.unit_type == unit_type] if person else []
    last = max((check for check in checks if check <= day), default=None)
    return day_words(day_after(last, ground.profile.instructor_currency_days)) if last else "not known"
