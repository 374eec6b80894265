"""Which paper sheets a session needs: for each group the skills that fit the setting and are still missing."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Literal

from course.access import Sight
from course.answers.course_view import CourseView, find_person, find_skill, view
from course.answers.decisions import HELD
from course.answers.marking import session_words
from course.asker import question
from course.errors import NotFoundError
from course.moments import training_day
from course.record.facts import Group, Session
from course.standards.rubric import Skill
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.storage.lookup import all_of
from course.words import STAFF

MOST_SKILLS = 6
"""Sheets that are proposed for one group: more than a session's dives have room for."""
MOST_STUDENTS = 12
"""Students of one sheet."""


@dataclass(frozen=True)
class SlatePlan:
    """The sheets of one group of a session: one a skill, with these students as columns."""

    course: str
    session: str
    session_words: str
    group: str | None
    group_name: str
    students: tuple[str, ...]
    names: tuple[str, ...]
    skills: tuple[str, ...]
    titles: tuple[str, ...]
    tries: int
    given: tuple[str, ...]
    """Ids of those that were given out already: printing them again appends nothing."""
    how: Literal["named", "given out before", "chosen"]
    """How the skills came to be these."""
    left: tuple[str, ...]
    """Other skills that fit and are missing, and were not chosen."""

    @property
    def is_new(self) -> bool:
        """Whether a sheet has to be given out."""
        return len(self.given) < len(self.skills)


@question(Sight.SLATE)
def find_session(ledger: Ledger, seen: CourseView, wanted: str) -> str:
    """Return a session's id by its id, its title or an unmistakable part of it.

    An id is looked up in the whole centre, a title in one course.

    Raises:
        NotFoundError: none fits, or several do (all are named).
    """
    if any(session.id == wanted for session in all_of(ledger, Session)):
        return wanted
    asked = unicodedata.normalize("NFC", wanted).strip().casefold()
    known = list(seen.sessions.values())
    fits = [s for s in known if s.title.casefold() == asked]
    fits = fits or [s for s in known if asked and asked in session_words(s).casefold()]
    if len(fits) == 1:
        return fits[0].id
    told = "; ".join(session_words(s) for s in fits or known) or "none yet"
    if fits:
        raise NotFoundError(
            f"Several sessions fit {wanted[:60]!r}: {told}. Write more of the title, or the session's id."
        )
    raise NotFoundError(f"{seen.course.title} has no session {wanted[:60]!r}. There are: {told}.")


@question(Sight.SLATE)
def sessions_of_day(ledger: Ledger, day: date, course: str | None = None) -> tuple[str, ...]:
    """Return the ids of the centre's, or a course's, sessions that began on a day, in order.

    Raises:
        NotFoundError: there is none.
    """
    known = [s for s in all_of(ledger, Session, course=course) if training_day(s.start) == day]
    if not known:
        raise NotFoundError(f"No session begins on {day.isoformat()}. Plan one first, or name another day.")
    return tuple(s.id for s in sorted(known, key=lambda s: (s.start.utc, s.id)))


@question(Sight.SLATE)
def find_staff(seen: CourseView, wanted: str | None) -> str:
    """Return who gives the sheets out: somebody of the course's staff by name or id, the centre's lead unless named.

    Raises:
        NotFoundError: nobody fits, or several do.
    """
    if wanted is None:
        return seen.centre.lead
    staff = list(dict.fromkeys([seen.centre.lead, *seen.course.people(*STAFF)]))
    asked = unicodedata.normalize("NFC", wanted).strip().casefold()
    fits = [p for p in staff if asked in (p, seen.name(p).casefold())]
    fits = fits or [p for p in staff if asked and asked in seen.name(p).casefold()]
    if len(fits) == 1:
        return fits[0]
    names = ", ".join(seen.name(p) for p in fits or staff)
    if fits:
        raise NotFoundError(f"Several people fit {wanted[:60]!r}: {names}. Write more of the name.")
    raise NotFoundError(f"Nobody on the staff of {seen.course.title} fits {wanted[:60]!r}. There are: {names}.")


@question(Sight.SLATE)
def plan_slates(
    ledger: Ledger,
    session_id: str,
    *,
    skills: Sequence[str] = (),
    students: Sequence[str] = (),
    group: str | None = None,
    tries: int = 1,
) -> tuple[SlatePlan, ...]:
    """Return the sheets that a session needs, group by group; nothing is given out by this.

    Without skills named: those that were given out to the group already; else up to `MOST_SKILLS` that fit the
    setting and were still missing for somebody of it the day before (see `missing_here`).

    Args:
        ledger: where the session is.
        session_id: the session.
        skills: ids or titles.
        students: ids or names; with them the groups do not matter.
        group: id or name; every group unless named.
        tries: columns for each student.

    Raises:
        NotFoundError: there is no such session, skill, student or group.
    """
    session = next((s for s in all_of(ledger, Session) if s.id == session_id), None)
    if session is None:
        raise NotFoundError("There is no such session in this centre. It may have been withdrawn.")
    seen = view(ledger, session.course)
    named = tuple(dict.fromkeys(find_skill(seen, skill).id for skill in skills))
    chosen = tuple(dict.fromkeys(find_person(seen, student) for student in students))
    made = [
        _plan(seen, session, of, own[start : start + MOST_STUDENTS], named, tries)
        for of, own in _columns(seen, session, chosen, group)
        for start in range(0, len(own), MOST_STUDENTS)
    ]
    return tuple(plan for plan in made if plan.skills)


@question(Sight.SLATE)
def plan_day(
    ledger: Ledger, sessions: Sequence[str], *, skills: Sequence[str] = (), **more: Any
) -> tuple[SlatePlan, ...]:
    """Return the sheets of several sessions; of the skills named, each session gets those that are for its setting.

    Raises:
        NotFoundError: there is no such skill or student.
    """
    known = {s.id: s for s in all_of(ledger, Session)}
    made: list[SlatePlan] = []
    for session in sessions:
        seen = view(ledger, known[session].course)
        named = [find_skill(seen, skill) for skill in skills]
        fit = [skill.id for skill in named if known[session].setting in skill.setting]
        if fit or not named:
            made += plan_slates(ledger, session, skills=fit, **more)
    return tuple(made)


def missing_here(seen: CourseView, session: Session, students: Sequence[str]) -> tuple[Skill, ...]:
    """Return required skills that fit the session's setting and were missing for somebody the day before it.

    Those whose rule asks for an attempt in this setting come first; each kind in the order of phases.
    """
    day = training_day(session.start)
    before = day - timedelta(days=1)
    found = [
        skill
        for skill in seen.skills()
        if seen.is_required(skill)
        and session.setting in skill.setting
        and any(
            applies(skill, seen.unit_type_of(student, day)) and seen.standing(student, skill, before).state not in HELD
            for student in students
        )
    ]
    return tuple(sorted(found, key=lambda skill: session.setting not in skill.rule.settings))


def _columns(
    seen: CourseView, session: Session, chosen: tuple[str, ...], wanted: str | None
) -> list[tuple[Group | None, tuple[str, ...]]]:
    groups = list(session.groups)
    if wanted is not None:
        groups = [g for g in groups if wanted == g.id or wanted.strip().casefold() == g.name.casefold()]
        if not groups:
            names = ", ".join(g.name for g in session.groups) or "none"
            raise NotFoundError(f"{session.title} has no group {wanted[:60]!r}. There are: {names}.")
    if chosen:
        return [(next((g for g in groups if set(chosen) <= set(g.students)), None), chosen)]
    if not groups:
        return [(None, tuple(s for s in seen.students if not seen.is_erased(s)))]
    there = [(g, tuple(s for s in g.students if not seen.is_erased(s))) for g in groups]
    return [(group, students) for group, students in there if students]


def _plan(
    seen: CourseView,
    session: Session,
    group: Group | None,
    students: tuple[str, ...],
    named: tuple[str, ...],
    tries: int,
) -> SlatePlan:
    live = [s for s in session.slates if s.set_aside is None and s.students == students and s.tries == tries]
    before = tuple(dict.fromkeys(slate.skill for slate in live))
    fitting = tuple(skill.id for skill in missing_here(seen, session, students))
    skills = named or before or fitting[:MOST_SKILLS]
    hashes = seen.adopted.hashes
    return SlatePlan(
        course=seen.course.id,
        session=session.id,
        session_words=session_words(session),
        group=group.id if group else None,
        group_name=group.name if group else "",
        students=students,
        names=tuple(seen.name(student) for student in students),
        skills=skills,
        titles=tuple(seen.adopted.skill(skill).title for skill in skills),
        tries=tries,
        given=tuple(s.id for skill in skills for s in live if (s.skill, s.rubric) == (skill, hashes[skill])),
        how="named" if named else "given out before" if before else "chosen",
        left=tuple(skill for skill in fitting if skill not in skills),
    )
