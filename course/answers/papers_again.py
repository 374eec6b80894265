"""Ask a paper's own question again, of the ledger as it is now. A line a paper; those without one cannot be asked.

Whoever holds a paper may have it checked, also one about somebody else: asked as a part of the check, these questions
are not refused, and what the check tells of their answers is no more than `is_open` lets it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date
from typing import Any

from course.access import Sight
from course.answers.audit import audit_answer
from course.answers.bench_sheet import bench_sheet
from course.answers.candidate_file import candidate_file
from course.answers.centre_answer import centre
from course.answers.competency import competency_record
from course.answers.course_file import course_file
from course.answers.course_view import view
from course.answers.day_paper import day_paper
from course.answers.filed_paper import BENCH_SHEET, CANDIDATE_FILE, COURSE_FILE, STATEMENT, TRANSFER_FILE, UNIT_HISTORY
from course.answers.incident_paper import incident_paper
from course.answers.ledger_then import without_names
from course.answers.origin import event_origin
from course.answers.origin_finding import finding_origin
from course.answers.origin_of import minute_origin, session_origin, signed_origin, standing_origin
from course.answers.statement import statement
from course.answers.student_page import student_page
from course.answers.transfer import transfer_file
from course.answers.unit_history import unit_history
from course.asker import may_ask, only_own
from course.errors import NotFoundError, RefusedError
from course.record.facts import Person
from course.storage.ledger import Ledger

Asked = Mapping[str, str]
Again = Callable[[Ledger, Asked], Any]


def _record(ledger: Ledger, asked: Asked) -> Any:
    return competency_record(ledger, view(ledger, asked["course"]), asked["student"], _day(asked))


def _take_home(ledger: Ledger, asked: Asked) -> Any:
    return student_page(view(ledger, asked["course"]), asked["student"], _day(asked))


def _day_sheet(ledger: Ledger, asked: Asked) -> Any:
    seen = view(ledger, asked["course"])
    return day_paper(ledger, seen, [seen.sessions[one] for one in asked["sessions"].split()])


def _incidents(ledger: Ledger, asked: Asked) -> Any:
    seen = view(ledger, asked["course"])
    which = zip(asked["sessions"].split(), asked["incidents"].split(), strict=True)
    return [incident_paper(ledger, seen, session, incident) for session, incident in which]


def _course_file(ledger: Ledger, asked: Asked) -> Any:
    return course_file(ledger, view(ledger, asked["course"]), _day(asked))


def _statement(ledger: Ledger, asked: Asked) -> Any:
    return statement(ledger, view(ledger, asked["course"]), asked["student"], _day(asked))


def _unit_history(ledger: Ledger, asked: Asked) -> Any:
    return unit_history(
        ledger, view(ledger, asked["course"]), asked["unit"], _day(asked) if "as_of" in asked else None
    )  # fmt: skip


def _candidate_file(ledger: Ledger, asked: Asked) -> Any:
    return candidate_file(ledger, view(ledger, asked["course"]), asked["student"], _day(asked))


def _transfer_file(ledger: Ledger, asked: Asked) -> Any:
    try:
        return transfer_file(ledger, view(ledger, asked["course"]), asked["student"], _day(asked))
    except RefusedError as error:
        raise NotFoundError(error.sentence) from error


def _bench_sheet(ledger: Ledger, asked: Asked) -> Any:
    return bench_sheet(ledger) if asked["centre"] == ledger.centre_id else None


def _why(ledger: Ledger, asked: Asked) -> Any:
    seen = view(ledger, asked["course"])
    which = asked["why"]
    if which == "event":
        return event_origin(ledger, seen, asked["event"])
    if which == "session":
        return session_origin(ledger, seen, asked["session"])
    if which == "minutes":
        return minute_origin(ledger, seen, asked["student"], asked["kind"], _day(asked))
    if which == "finding":
        return finding_origin(ledger, seen, asked["finding"], _day(asked), asked["asker"] or None)
    tell = {"standing": standing_origin, "signed": signed_origin}[which]
    return tell(ledger, seen, asked["student"], seen.adopted.skill(asked["skill"]), _day(asked))


def _audit(ledger: Ledger, asked: Asked) -> Any:
    """With the same findings of the check, which was of the folder as it was then; without names where it has none."""
    courses = [one.split("/") for one in asked["courses"].split()]
    days = [(course, date.fromisoformat(day)) for course, day in courses]
    found = {"findings": asked["findings"].splitlines(), "notices": asked["notices"].splitlines()}
    if "given_to" in asked:
        return audit_answer(ledger, days, asked["given_to"], **found)
    with without_names(ledger) as nameless:
        return audit_answer(nameless, days, None, **found)


AGAIN: dict[str, Again] = {
    "Competency record": _record,
    "Sheet to take home": _take_home,
    "Day sheet": _day_sheet,
    "Incident sheet": _incidents,
    COURSE_FILE: _course_file,
    STATEMENT: _statement,
    UNIT_HISTORY: _unit_history,
    BENCH_SHEET: _bench_sheet,
    CANDIDATE_FILE: _candidate_file,
    TRANSFER_FILE: _transfer_file,
    "Show why": _why,
    "Audit file": _audit,
}
"""By the paper's title."""
_FIRST_WITHOUT = frozenset({"Show why", "Audit file"})
"""Papers that did not say at first what they were asked."""
OF_A_STUDENT = frozenset({"Competency record", "Sheet to take home", STATEMENT})
"""What they are asked about is course, student and as_of: a code alone is enough to find it."""


def can_be_asked(paper: str, asked: Asked | None) -> bool:
    """Whether this kind of paper can be asked again, and the paper itself says what it was asked where it is known."""
    return paper in AGAIN and (asked is None or bool(asked) or paper not in _FIRST_WITHOUT)


def is_open(paper: str, asked: Asked) -> bool:
    """Whether whoever asks may see this paper itself; others are told whether it still holds, not what it would say."""
    sight = Sight.AUDIT_FILE if paper == "Audit file" else Sight.PAPERS
    return may_ask(sight) and only_own(sight) in (None, asked.get("student"))


def asked_again(ledger: Ledger, paper: str, asked: Asked) -> Any:
    """Return the answer of now; None where this kind of paper cannot be asked again.

    Raises:
        NotFoundError: what it was about is not in this ledger.
    """
    if paper not in AGAIN:
        return None
    person = ledger.fact("person", asked.get("student", ""))
    if isinstance(person, Person) and person.erased:
        raise NotFoundError("The data of whom this paper was about were erased.")
    try:
        return AGAIN[paper](ledger, asked)
    except (KeyError, ValueError) as error:  # a student who is not on the course, a day that is none
        raise NotFoundError("What this paper was about is not in this ledger.") from error


def could_be(ledger: Ledger, paper: str, day: str) -> Iterator[dict[str, str]]:
    """Yield every question that a paper of a student may have answered, where its code alone is known."""
    if paper not in OF_A_STUDENT or not day:
        return
    courses = sorted(centre(ledger).courses, key=lambda one: not one.first_day <= day <= one.last_day)
    for course in courses:  # first those that the paper's day is in
        for student in view(ledger, course.id).students:
            yield {"course": course.id, "student": student, "as_of": day}


def _day(asked: Asked) -> date:
    return date.fromisoformat(asked["as_of"])
