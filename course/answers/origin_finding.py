"""Show why, asked from a finding: its rule, its answers, and every entry that it rests on."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import as_of_words
from course.answers.findings import EvidenceLine, ShownFinding, course_findings, find_finding
from course.answers.origin import Origin, OriginPart, attempt_form, origin, rubric_facts, trail
from course.answers.origin_of import lines_about
from course.asker import question
from course.errors import NotFoundError
from course.moments import training_day
from course.storage.ledger import Ledger


@question(Sight.WHY)
def finding_origin(ledger: Ledger, seen: CourseView, key: str, as_of: date, asker: str | None = None) -> Origin:
    """Return what a finding rests on.

    Args:
        ledger: the ledger.
        seen: the course.
        key: the finding's code, or its whole key.
        as_of: the day that findings are asked as of.
        asker: who looks; None: whoever has the folder.

    Raises:
        NotFoundError: nothing of that name is found on that day.
    """
    answer = course_findings(ledger, seen, as_of, asker)
    found = find_finding(answer, key)
    if found is None:
        raise NotFoundError(f"No finding is called {key[:60]!r} here. course findings tells the name of each.")
    facts = [
        ("As of", as_of_words(as_of, seen.last_day, seen.last_day)),
        ("Rule", found.looks_for),
        ("It weighs", found.severity.value),
        *(("Follows from it", other.sentence) for other in found.follow),
        *(("Earlier answer" if one.replaced else "Answer", one.sentence) for one in found.answers),
        ("Code", found.code),
        ("Rests on", found.rests_on),
    ]
    asked = (("why", "finding"), ("finding", key), ("asker", asker or ""), ("as_of", as_of.isoformat()))
    about = f"Finding · {found.state}", asked
    return origin(seen, about, found.sentence, facts, _parts(ledger, seen, found))


def _parts(ledger: Ledger, seen: CourseView, found: ShownFinding) -> Iterator[OriginPart]:
    about = set(found.key.split("/"))
    for line in found.evidence:
        if line.kind == "session" and line.id in seen.sessions:
            yield _session(ledger, seen, line, about)
        elif line.kind == "attempt":
            yield _attempt(ledger, seen, line)
        else:
            yield OriginPart(line.words, (), trail(ledger, seen, list(ledger.events(line.id))))


def _session(ledger: Ledger, seen: CourseView, line: EvidenceLine, about: set[str]) -> OriginPart:
    """Times of the people whom it is about, or everything that was entered for the session."""
    session = seen.sessions[line.id]
    things = {one.id for one in session.spans if {one.person, one.id} & about}
    things |= {one.id for one in session.water if {one.person, one.id} & about}
    if things:
        return OriginPart(line.words, (), lines_about(ledger, seen, session, things))
    return OriginPart(
        line.words, (), trail(ledger, seen, list(ledger.events(line.id)), None, training_day(session.start))
    )


def _attempt(ledger: Ledger, seen: CourseView, line: EvidenceLine) -> OriginPart:
    attempt = next((one for one in seen.attempts if one.id == line.id), None)
    events = [event for of in (line.id, *(attempt.joined if attempt else ())) for event in ledger.events(of)]
    form = attempt_form(ledger, attempt) if attempt else None
    notes = (
        tuple(value for _, value in rubric_facts(ledger, seen, form, attempt.rubric)[:1]) if form and attempt else ()
    )
    return OriginPart(line.words, notes, trail(ledger, seen, events, form))
