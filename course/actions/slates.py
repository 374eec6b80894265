"""Give out paper sheets for a session, and set aside those that will not be entered."""

from __future__ import annotations

from collections.abc import Sequence

from course.access import Act
from course.actions.drafting import allow, body, draft
from course.answers.course_view import view
from course.errors import NotFoundError, RefusedError
from course.moments import new_id
from course.record.events import SlateIssued, SlateSetAside
from course.record.facts import Session
from course.record.slate_code import code_of
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.storage.lookup import needed
from course.words import SETTING_WORDS, listed


def give_out(
    ledger: Ledger,
    actor: str,
    session: str,
    *,
    skills: Sequence[str],
    students: Sequence[str] = (),
    group: str | None = None,
    tries: int = 1,
) -> tuple[str, ...]:
    """Give out one sheet a skill for these students, or for the group's, or the session's; return the sheets' ids.

    A sheet of the same skill, students and tries that this session gave out and nobody set aside is given back as it
    is: printing again is not giving out again.

    Raises:
        NotFoundError: there is no such session, group or skill.
        RefusedError: a skill is not for this setting, or somebody is no student of the course; nothing was given out.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    seen = view(ledger, fact.course)
    columns = tuple(students) or _students_of(fact, group) or seen.students
    if strangers := [person for person in columns if person not in seen.students]:
        raise RefusedError(
            f"{listed([seen.name(person) for person in strangers])} is on this course as no student. "
            "Nothing was given out."
        )
    known = {(slate.skill, slate.rubric, slate.students, slate.tries): slate for slate in fact.slates}
    drafts, slates = [], []
    for skill_id in skills:
        refuse_other_setting(fact, seen.adopted.skill(skill_id))
        rubric = seen.adopted.hashes[skill_id]
        same = known.get((skill_id, rubric, columns, tries))
        if same is not None and same.set_aside is None:
            slates.append(same.id)
            continue
        slate = new_id()
        content = body(
            SlateIssued, session=session, slate=slate, code=code_of(slate), skill=skill_id, rubric=rubric,
            students=columns, tries=tries, group=group,
        )  # fmt: skip
        drafts.append(draft(actor, content))
        slates.append(slate)
    if drafts:  # with none, a ledger that is open for reading only will do
        ledger.append(drafts)
    return tuple(slates)


def refuse_other_setting(session: Session, skill: Skill) -> None:
    """Refuse a skill that is not tried in a session's setting.

    Raises:
        RefusedError: it is not.
    """
    if session.setting not in skill.setting:
        raise RefusedError(
            f"{skill.title} is for {listed([SETTING_WORDS[s] for s in skill.setting], 'or')}, and {session.title} is "
            f"{SETTING_WORDS[session.setting]}. Nothing was given out."
        )


def set_aside(ledger: Ledger, actor: str, session: str, slate: str, how: str, why: str | None = None) -> None:
    """Say that a sheet that was given out will not be entered: not used, lost, or not to be read.

    Raises:
        NotFoundError: there is no such sheet.
        RefusedError: it is set aside already.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    known = next((one for one in fact.slates if one.id == slate), None)
    if known is None:
        raise NotFoundError("This session gave out no such sheet. Nothing was changed.")
    if known.set_aside:
        raise RefusedError(f"Sheet {known.code} is set aside already. Nothing was changed.")
    ledger.append([draft(actor, body(SlateSetAside, session=session, slate=slate, how=how, why=why or None))])


def _students_of(session: Session, group: str | None) -> tuple[str, ...]:
    groups = [one for one in session.groups if group is None or one.id == group]
    if group is not None and not groups:
        raise NotFoundError("This session has no such group. Nothing was given out.")
    return tuple(dict.fromkeys(student for one in groups for student in one.students))
