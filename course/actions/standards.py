"""Adopt edited standards, and move a running course to others: the lead's decision, with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from threading import Lock
from typing import Any

from course.access import Act
from course.actions.drafting import allow, body, draft, told
from course.errors import RefusedError
from course.moments import new_id, now, observed_at
from course.record.chain import content_hash
from course.record.events import CourseStandardsMoved, RubricAdoptedAfter
from course.record.facts import Course
from course.standards.standards import standards_from
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, adoption_heads, in_force, needed
from course.words import Role, listed

_ADOPTING = Lock()
"""One program writes to a folder; inside it two people may save at once."""

OVERTAKEN = (
    "Somebody else adopted a newer revision while you were editing. Nothing of yours is lost: see what they changed, "
    "then save yours on top of it. Nothing was saved."
)


def adopt_revision(ledger: Ledger, actor: str, files: Mapping[str, Any], began_from: str | None) -> str:
    """Take an edited set of rubric files into use for new courses and return the adoption's id.

    Args:
        files: the whole set, as plain data by file name.
        began_from: the adoption that was in force when the editing began; None: nothing was.

    Raises:
        StandardsError: the files have flaws; every one is told and nothing was saved.
        RefusedError: another revision was adopted meanwhile, or nothing differs from the only one in force; of two that
            two laptops adopted the one in force can be adopted once more, which settles it.
    """
    allow(ledger, actor, Act.SET_UP)
    standards_from(files)
    with _ADOPTING:
        current = in_force(ledger)
        if (current.id if current else None) != began_from:
            raise RefusedError(OVERTAKEN)
        heads = tuple(fact.id for fact in adoption_heads(ledger))
        if current and len(heads) == 1 and content_hash(current.files) == content_hash(dict(files)):
            raise RefusedError("Nothing differs from what is in force. Nothing was saved.")
        adoption = new_id()
        content = body(RubricAdoptedAfter, adoption=adoption, files=dict(files), replaces=heads)
        ledger.append([draft(actor, content)])
    return adoption


def move_course(
    ledger: Ledger,
    actor: str,
    course: str,
    *,
    adoption: str,
    profile: str,
    revision: str,
    why: str,
    shown_from: tuple[str, ...],
) -> None:
    """Let a running course go on under other adopted standards.

    Args:
        shown_from: the moves that no other had taken the place of when the preview was shown (`Course.unreplaced`).

    Raises:
        NotFoundError: there is no such course, adoption, profile or revision.
        RefusedError: the person does not lead the course, gives no reason, nothing would differ, a unit type of a
            student is missing there, or somebody moved the course since the preview was shown.
    """
    allow(ledger, actor, Act.SET_UP)
    fact = needed(ledger, Course, course, "course")
    if actor not in fact.people(Role.LEAD):
        raise RefusedError("Only the lead of this course moves it to other standards. Nothing was changed.")
    reason = told(why)
    target = adopted(ledger, adoption).standards
    target.profile(profile, revision)
    if fact.unreplaced != shown_from:
        raise RefusedError(
            "Somebody moved this course meanwhile. Look at what would change again; nothing was changed."
        )
    if (fact.adoption, fact.profile, fact.revision) == (
        adoption,
        profile,
        revision,
    ) and "standards" not in fact.contested:
        raise RefusedError("The course is on these standards already. Nothing was changed.")
    lacking = sorted({a.unit_type for a in fact.assignments} - target.unit_types.keys())
    if lacking:
        raise RefusedError(f"Students dive {listed(lacking)}, which those standards do not know. Nothing was changed.")
    content = body(
        CourseStandardsMoved,
        course=course,
        adoption=adoption,
        profile=profile,
        revision=revision,
        replaces=fact.unreplaced,
        observed=observed_at(now(), fact.zone),
        why=reason,
    )
    ledger.append([draft(actor, content)])
