"""Exceptions: where two instructors let a requirement be that is short, whether it stands, and why not if it does not.

It stands with two people's words on the record as it is. It never stands over a critical error that nothing cleared,
nor while an instructor holds the skill back; once the record changes it is shown and counts no more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.confirmed import confirmed_words
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.decisions import HELD, evidence, is_held_back
from course.answers.taken_back import taken_back
from course.asker import question
from course.assessment.standing import Standing
from course.hours.requirements import Count, Hours
from course.record.chain import content_hash
from course.record.signing_facts import MadeException
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.words import EVALUATORS, StandingState

WAITS = "a second instructor has to look at it"
OLDER = "made on an older record"
_UNCLEARED = "over a critical error that nothing has cleared"
_HELD_BACK = "an instructor holds the skill back"
ENDED = frozenset({OLDER, _UNCLEARED, _HELD_BACK})
"""Why an exception that two people made counts no more, where somebody has to look."""


@dataclass(frozen=True)
class ExceptionState:
    """One exception that nobody took back or put another in the place of."""

    id: str
    rule: str
    what: str
    """What is let be: the skill's title, or what is counted."""
    proposed_by: str
    stands: bool
    why_not: str
    """Why it does not stand; empty when it does."""
    waits: bool
    """Only the second word is missing."""
    rests_on: str
    sentence: str
    """Who, when and why; both of them."""


def rule_of(one: Skill | Hours | Count) -> str:
    """Return the name of one line of the requirements."""
    if isinstance(one, Skill):
        return f"skill:{one.id}"
    return f"{'hours' if isinstance(one, Hours) else 'count'}:{one.kind}"


def counted_hash(one: Hours | Count) -> str:
    """The hash that an exception to minutes or to a count rests on."""
    return content_hash([rule_of(one), one.total, one.required or 0, one.each])


@question(Sight.READY)
def live_exceptions(seen: CourseView, student: str, rule: str) -> tuple[MadeException, ...]:
    """Return the exceptions to one rule that nobody took back and that no other takes the place of."""
    own = [one for one in seen.exceptions if one.student == student and one.rule == rule]
    replaced = {earlier for one in own for earlier in one.replaces}
    return tuple(one for one in own if not one.withdrawn and one.id not in replaced)


def is_excused(seen: CourseView, student: str, skill: Skill, as_of: date) -> bool:
    """Whether two instructors let a skill be that is not held, on the record as it is."""
    return any(not skill_why_not(seen, one, skill, as_of) for one in live_exceptions(seen, student, rule_of(skill)))


def is_count_excused(seen: CourseView, student: str, one: Hours | Count) -> bool:
    """Whether two instructors let minutes or a count be that are short."""
    return any(not counted_why_not(seen, made, one) for made in live_exceptions(seen, student, rule_of(one)))


def skill_why_not(seen: CourseView, one: MadeException, skill: Skill, as_of: date) -> str:
    """Say why an exception to a skill does not stand on a day; empty when it does."""
    own_day = date.fromisoformat(one.as_of)
    standing = seen.standing(one.student, skill, max(own_day, as_of))
    if uncleared(seen, one.student, skill, standing):
        return _UNCLEARED
    if is_held_back(seen, one.student, skill, as_of):
        return _HELD_BACK
    if evidence(seen, skill, standing) != one.rests_on or one.unread:
        return OLDER
    if standing.state in HELD:
        return "the rule is met by itself now"
    return "" if _is_by_two(seen, one) else WAITS


def _is_by_two(seen: CourseView, made: MadeException) -> bool:
    """Whether two people who decide on this course made it, whatever laptop their words came from."""
    deciders = seen.course.people(*EVALUATORS)
    return made.proposed_by in deciders and any(word.by in deciders for word in made.seconds)


def counted_why_not(seen: CourseView, made: MadeException, one: Hours | Count) -> str:
    """Say why an exception to minutes or to a count does not stand; empty when it does."""
    if made.required != (one.required or 0) or (made.have or 0) > one.total or made.unread:
        return OLDER
    if not one.short_by:
        return "nothing is short now"
    return "" if _is_by_two(seen, made) else WAITS


@question(Sight.READY)
def uncleared(seen: CourseView, student: str, skill: Skill, standing: Standing) -> bool:
    """Whether a critical error stands that nothing cleared: on the day of a standing, or made on any day since.

    One that was made after the days to finish in does not count for the standing, and was seen all the same.
    """
    every = (*seen.seen(student, skill), *seen.after_window(student, skill))
    last = max((one.day for one in every), default=standing.as_of)
    days = dict.fromkeys((standing.as_of, max(standing.as_of, last)))
    return any(_is_uncleared(seen.standing_of(student, skill, every, day)) for day in days)


def _is_uncleared(standing: Standing) -> bool:
    return standing.state == StandingState.AGAIN or any(one.met_on is None for one in standing.criticals)


@question(Sight.READY)
def exception_states(
    ledger: Ledger, seen: CourseView, student: str, as_of: date, counted: Sequence[Hours | Count]
) -> tuple[ExceptionState, ...]:
    """Return the exceptions made for a student that hold or wait, in the order in which they were made."""
    by_rule = {rule_of(one): one for one in counted}
    found = []
    for made in (one for one in seen.exceptions if one.student == student):
        if made not in live_exceptions(seen, student, made.rule):
            continue
        what, why_not = _what(seen, made, by_rule), "these requirements do not ask for it any more"
        if made.skill in seen.adopted.standards.skills:
            why_not = skill_why_not(seen, made, seen.adopted.skill(made.skill or ""), as_of)
        elif made.rule in by_rule:
            why_not = counted_why_not(seen, made, by_rule[made.rule])
        found.append(_state(ledger, seen, made, what, why_not))
    return tuple(found)


def exceptions_taken_back(
    ledger: Ledger, seen: CourseView, student: str, counted: Sequence[Hours | Count]
) -> tuple[str, ...]:
    """Return the exceptions that were taken back as sentences, in the order in which they were made."""
    by_rule = {rule_of(one): one for one in counted}
    back = [one for one in seen.exceptions if one.student == student and one.withdrawn]
    return tuple(exception_words(ledger, seen, one, _what(seen, one, by_rule)) for one in back)


def _what(seen: CourseView, made: MadeException, by_rule: Mapping[str, Hours | Count]) -> str:
    if made.skill in seen.adopted.standards.skills:
        return seen.title_of(made.skill or "")
    return by_rule[made.rule].what if made.rule in by_rule else made.rule.partition(":")[2]


def _state(ledger: Ledger, seen: CourseView, made: MadeException, what: str, why_not: str) -> ExceptionState:
    return ExceptionState(
        id=made.id,
        rule=made.rule,
        what=what,
        proposed_by=made.proposed_by,
        stands=not why_not,
        why_not=why_not,
        waits=why_not == WAITS,
        rests_on=made.rests_on,
        sentence=exception_words(ledger, seen, made, what) + (f" It does not count: {why_not}." if why_not else ""),
    )


def exception_words(ledger: Ledger, seen: CourseView, made: MadeException, what: str) -> str:
    """Say who made an exception, on what, when, and why: both of them; and who took back which word of it."""
    by_event = ledger.private(made).get("by_event", {})
    first = next(iter(ledger.events(made.id))).id
    told = f"Exception: {what}. The tool said: {made.sentence.rstrip('.')}. "
    told += f"{seen.name(made.proposed_by)} on {day_words(made.observed.local.date())}"
    told += f"{confirmed_words(made.confirmed_with)}: {_why(by_event, first)}"
    for word in made.seconds[:1]:
        told += f" {seen.name(word.by)} on {day_words(word.observed.local.date())}"
        told += f"{confirmed_words(word.confirmed_with)}: {_why(by_event, word.event)}"
    for event, words in taken_back(ledger, seen, made.id).items():
        told += f" {'It was' if event == first else 'A second word on it was'} {words}"
    return told


def _why(by_event: dict[str, dict[str, str]], event: str) -> str:
    reason = by_event.get(event, {}).get("reason")
    return f"{reason.rstrip('.')}." if reason else "the reason is erased."
