"""Answer a finding: what there is to it, in somebody's words. Nothing is taken away by it."""

from __future__ import annotations

from datetime import date

from course.access import Act
from course.actions.drafting import allow, body, draft, told
from course.answers.course_view import CourseView, view
from course.answers.findings import ShownFinding, course_findings, find_finding
from course.errors import NotFoundError, RefusedError
from course.moments import new_id, now, observed_at
from course.record.events import FindingAnswered
from course.storage.ledger import Ledger


def answer_finding(
    ledger: Ledger, actor: str, *, course: str, finding: str, rests_on: str, reason: str, as_of: date
) -> str:
    """Put an answer to a finding into the ledger and return its id. An earlier answer stays to be read.

    Args:
        ledger: where it is kept.
        actor: a lead or an instructor; of what is for the lead alone, the lead.
        course: whose finding it is.
        finding: its key.
        rests_on: the finding's hash as the person saw it.
        reason: what there is to it.
        as_of: the day that it was looked at as of.

    Raises:
        NotFoundError: it is found no more.
        RefusedError: the finding changed since it was shown, there is no reason, or the person may not.
    """
    allow(ledger, actor, Act.ANSWER)
    seen = view(ledger, course)
    if actor not in {member.person for member in seen.course.members}:
        raise RefusedError("Findings are answered by those who run the course. Nothing was changed.")
    found = find_finding(course_findings(ledger, seen, as_of, actor), finding)
    if found is None:
        raise NotFoundError("This is found no more: the record changed. Look at the list again; nothing was changed.")
    if found.rests_on != rests_on:
        raise RefusedError("This finding changed since it was shown. Look at it again; nothing was changed.")
    content = body(
        FindingAnswered,
        answer=new_id(),
        course=course,
        finding=found.key,
        rests_on=found.rests_on,
        replaces=found.replaces,
        observed=observed_at(now(), seen.course.zone),
        reason=told(reason),
    )
    ledger.append([draft(actor, content, private_of=_whose(seen, found))])
    return content.subject


def _whose(seen: CourseView, found: ShownFinding) -> str | None:
    """Whose key seals the reason: the one student whom the finding is about; the centre's where it is about several."""
    students = {line.student or line.id for line in found.evidence if line.kind in ("attempt", "person", "decision")}
    whose = students.pop() if len(students) == 1 else ""
    return whose if whose in seen.people else None
