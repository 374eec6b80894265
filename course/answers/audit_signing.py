"""Of an audit file: exceptions, sign-offs with every issue, what arrived from elsewhere, on paper and in tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Any

from course.answers.course_view import CourseView
from course.answers.elsewhere import accepted_words, arrivals_of
from course.answers.exceptions import OLDER, exception_states
from course.answers.missing import student_missing
from course.answers.sign_off import issue_line, issues_of
from course.record.arrival_facts import Arrival
from course.record.signing_facts import MadeException, SignOff
from course.storage.ledger import Ledger

Row = tuple[str, Sequence[Any]]


def signing_entries(ledger: Ledger, seen: CourseView, as_of: date) -> Iterator[tuple[str, str, str, bool]]:
    """Yield whom it is about, what was signed, accepted or let be, what it rests on, and whether the record changed.

    Told are exceptions that nobody took back, every issue of a sign-off, and what was accepted from elsewhere.
    """
    for student in seen.students:
        about = seen.name(student)
        if any(one.student == student for one in seen.exceptions):
            counted = student_missing(seen, student, as_of).requirements.counted
            for one in exception_states(ledger, seen, student, as_of, counted):
                yield about, one.sentence, one.rests_on, one.why_not == OLDER
        for fact in issues_of(seen, student):
            issue = issue_line(ledger, seen, fact)
            yield about, issue.sentence, fact.rests_on, issue.older
        for arrival in arrivals_of(seen, student):
            for word in arrival.accepted:
                yield about, accepted_words(ledger, seen, arrival, word), arrival.file, False


def signing_rows(ledger: Ledger, course: str) -> Iterator[Row]:
    """Yield the rows of one course, withdrawn ones too."""
    for fact in ledger.facts("madeexception", course=course):
        if isinstance(fact, MadeException):
            yield "exceptions", _exception(fact)
    for fact in ledger.facts("signoff", course=course):
        if isinstance(fact, SignOff):
            yield "sign_offs", _sign_off(fact)
    for fact in ledger.facts("arrival", course=course):
        if isinstance(fact, Arrival):
            yield "arrivals", _arrival(fact)
            for one in fact.accepted:
                told = fact.amount_of(one.item)
                at = (one.by, one.observed.utc, one.event, one.confirmed_with)
                yield "accepted_elsewhere", (fact.id, one.item, told, one.amount, *at)


def _exception(one: MadeException) -> Sequence[Any]:
    return (
        one.id, one.course, one.student, one.rule, one.have, one.required, one.as_of, one.rests_on, one.proposed_by,
        _ids(word.by for word in one.seconds), one.observed.utc, _ids(one.replaces), _yes(is_so=one.withdrawn),
        one.confirmed_with, _ids(word.confirmed_with or "-" for word in one.seconds),
    )  # fmt: skip


def _sign_off(one: SignOff) -> Sequence[Any]:
    return (
        one.id, one.course, one.student, one.issue, one.profile, one.revision, one.as_of, one.rests_on, one.rules,
        _ids(one.exceptions), _ids(one.assessors), one.signed_by, one.observed.utc, one.confirmed_with,
        _ids(word.by for word in one.countersigned), _ids(word.by for word in one.taken_back), _ids(one.replaces),
    )  # fmt: skip


def _arrival(one: Arrival) -> Sequence[Any]:
    return (
        one.id, one.course, one.student, one.file, one.from_centre, one.from_course, one.as_of, one.signature, one.key,
        one.noted_by, one.observed.utc, _yes(is_so=one.withdrawn),
    )  # fmt: skip


def _ids(ids: Iterable[str]) -> str:
    return " ".join(ids)


def _yes(*, is_so: bool) -> str:
    return "yes" if is_so else "no"
