"""Several students at the same skill, one after another, on one pad; one student alone is a line of one.

The address of the page holds the line. Attempts get their ids from it, so that a reload and another tablet on the same
address know them by the same ids; none of them is in the ledger before its first mark.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from course.access import Sight
from course.answers.course_view import CourseView, standing_word, view
from course.answers.pad import Planned, pad, planned_pad
from course.asker import question, refuse_other_name
from course.errors import NotFoundError, RefusedError
from course.moments import derived_id, is_id, training_day
from course.record.facts import Attempt, Session
from course.standards.rubric import Skill
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.storage.lookup import needed, skill_as_marked
from course.words import plural

SPARE = 2
"""Attempts planned ahead for each student, so that another try can begin while the server does not answer."""
MOST_STUDENTS = 12
MOST_TRIES = 50


@dataclass(frozen=True)
class Line:
    """Who goes at what, in which session, and who marks.

    `first` is the attempt and sheet of one that was begun before, where the line goes on from there. `also` are
    skills that the observer wants to mark inside the same act.
    """

    id: str
    session: str
    skill: str
    observer: str
    students: tuple[str, ...]
    first: tuple[str, str] | None = None
    also: tuple[str, ...] = ()

    def address(self) -> dict[str, str]:
        """The line as the page's address holds it."""
        return {
            "line": self.id,
            "session": self.session,
            "skill": self.skill,
            "by": self.observer,
            "students": ",".join(self.students),
        }

    def ids(self, student: str, number: int) -> tuple[str, str]:
        """Attempt and sheet of a student's try, counted from 0."""
        if self.first and number == 0:
            return self.first
        attempt = derived_id(self.id, student, self.skill, str(number))
        return attempt, sheet_of(attempt, self.observer)


@dataclass(frozen=True)
class LineSkill:
    """A skill for a whole line: for whom it is, and where they stand."""

    skill: str
    title: str
    students: tuple[str, ...]
    line: str


def sheet_of(attempt: str, observer: str) -> str:
    """The id of an observer's sheet, which is begun with its first mark."""
    return derived_id(attempt, "sheet", observer)


@question(Sight.MARK)
def line_at(ledger: Ledger, address: Mapping[str, str]) -> Line:
    """Read a line from the page's address.

    Raises:
        NotFoundError: what it names is not there.
    """
    also = tuple(dict.fromkeys(part for part in address.get("also", "").split(",") if part))
    if "attempt" in address:
        return _from_attempt(ledger, address["attempt"], address.get("sheet"), address.get("by"), also)
    given = {name: address.get(name, "") for name in ("line", "session", "by")}
    students = tuple(dict.fromkeys(part for part in address.get("students", "").split(",") if part))
    if not all(map(is_id, (*given.values(), *students))) or not 0 < len(students) <= MOST_STUDENTS:
        raise NotFoundError("This address names no line of students. Go back to Mark and choose again.")
    return Line(given["line"], given["session"], address.get("skill", ""), given["by"], students, also=also)


@question(Sight.MARK)
def line_pads(ledger: Ledger, line: Line) -> dict[str, Any]:
    """Return everything that one pad draws: each student's attempts of this line, begun ones and the next ones.

    Raises:
        NotFoundError: session, skill, student, attempt or sheet are not there.
        RefusedError: the skill is not for this session or for a student's unit, or the observer is somebody else than
            who is signed in: what they tapped would not be taken.
    """
    refuse_other_name(line.observer)
    session = needed(ledger, Session, line.session, "session")
    seen = view(ledger, session.course)
    skill = _skill_of(ledger, seen, line)
    _refuse_what_does_not_fit(seen, line, skill)
    pads = [{**one, "turn": turn} for turn in line.students for one in _tries(ledger, seen, line, turn, skill)]
    if not pads:
        raise RefusedError(
            f"{skill.title} is not for the unit of anybody in this line. Go back to Mark and choose again."
        )
    return {
        "centre": ledger.centre_id,
        "line": line.id,
        "students": [{"id": s, "name": seen.name(s)} for s in line.students],
        "pads": pads,
        "also": {t: _also(seen, session, skill, t) for t in {one["unit_type"] for one in pads}},
    }


@question(Sight.MARK)
def line_skills(seen: CourseView, session: str, students: tuple[str, ...]) -> tuple[tuple[str, list[LineSkill]], ...]:
    """Skills that a line can go at, by phase: those that fit the session and at least one of the students' units."""
    day = training_day(seen.sessions[session].start)
    standards = seen.adopted.standards
    phases = []
    for phase in standards.phases:
        fits = [
            _line_skill(seen, skill, own, students)
            for skill in seen.skills()
            if standards.phase_of[skill.id] == phase.id and seen.sessions[session].setting in skill.setting
            if (own := tuple(s for s in students if applies(skill, seen.unit_type_of(s, day))))
        ]
        if fits:
            phases.append((phase.title, fits))
    return tuple(phases)


def _line_skill(seen: CourseView, skill: Skill, own: tuple[str, ...], students: tuple[str, ...]) -> LineSkill:
    states = [seen.standing(student, skill, seen.usual_day).state for student in own]
    words = ", ".join(f"{states.count(state)} {standing_word(state)}" for state in dict.fromkeys(states))
    others = [seen.name(student) for student in students if student not in own]
    aside = f"; not for the unit of {', '.join(others)}" if others else ""
    return LineSkill(skill.id, skill.title, own, f"{plural(len(own), 'student')}: {words}{aside}")


def _from_attempt(
    ledger: Ledger, attempt_id: str, sheet_id: str | None, observer: str | None, also: tuple[str, ...]
) -> Line:
    attempt = needed(ledger, Attempt, attempt_id, "attempt")
    own = next((s for s in attempt.sheets if s.id == sheet_id or (observer and s.observer == observer)), None)
    if own is None and (observer is None or not is_id(observer)):
        raise NotFoundError("This attempt has no such sheet. Go back to Mark and open it again.")
    marks = own.observer if own else str(observer)
    first = (attempt.id, own.id if own else sheet_of(attempt.id, marks))
    return Line(attempt.id, attempt.session, attempt.skill, marks, (attempt.student,), first, also)


def _skill_of(ledger: Ledger, seen: CourseView, line: Line) -> Skill:
    """The skill in force; for an attempt begun before the skill was taken out of the rubrics, as it was marked."""
    if line.first and line.skill not in seen.adopted.standards.skills:
        begun = needed(ledger, Attempt, line.first[0], "attempt")
        return skill_as_marked(ledger, begun.skill, begun.rubric)
    return seen.adopted.skill(line.skill)


def _refuse_what_does_not_fit(seen: CourseView, line: Line, skill: Skill) -> None:
    session = seen.sessions[line.session]
    for student in line.students:
        if student not in seen.students and line.first is None:
            raise NotFoundError(
                "Somebody in this line is not on the course any more. Go back to Mark and choose again."
            )
    if line.first is None and session.setting not in skill.setting:
        raise RefusedError(f"{skill.title} is not for this session's setting. Go back to Mark and choose again.")


def _tries(ledger: Ledger, seen: CourseView, line: Line, student: str, skill: Skill) -> list[dict[str, Any]]:
    """A student's attempts in this line and the next ones, each followed by what was or can be seen inside it."""
    found: list[dict[str, Any]] = []
    numbers = [s.attempt.number for s in seen.by_student_and_skill.get((student, skill.id), ())]
    planned, number = 0, 0
    while planned < SPARE and number < MOST_TRIES:
        attempt, sheet = line.ids(student, number)
        number += 1
        fact = ledger.fact("attempt", attempt)
        if isinstance(fact, Attempt):
            planned = 0
            found = [one for one in found if one["opens"] is None or one["opens"]["attempt"] is None]
            found += [pad(ledger, attempt, sheet, line.observer), *_inside(ledger, seen, line, fact.student, attempt)]
        elif _can_begin(seen, line, skill, student):
            planned += 1
            next_number = max(numbers, default=0) + planned
            found.append(
                planned_pad(seen, Planned(attempt, sheet, line.session, student, skill.id, line.observer, next_number))
            )
            found += _inside(ledger, seen, line, student, attempt) if planned == 1 else []
        else:
            break
    return found


def _can_begin(seen: CourseView, line: Line, skill: Skill, student: str) -> bool:
    session = seen.sessions.get(line.session)
    if session is None or session.setting not in skill.setting or student not in seen.students:
        return False
    return skill in seen.skills() and applies(skill, seen.unit_type_of(student, training_day(session.start)))


def _inside(ledger: Ledger, seen: CourseView, line: Line, student: str, host: str) -> list[dict[str, Any]]:
    """Attempts at other skills inside one act: those that were begun, and those that the observer may begin."""
    begun = [a for a in seen.attempts if a.within == host]
    pads = []
    for attempt in begun:
        sheet = next((s.id for s in attempt.sheets if s.observer == line.observer), sheet_of(attempt.id, line.observer))
        pads.append(pad(ledger, attempt.id, sheet, line.observer))
    skill = _skill_of(ledger, seen, line)
    wanted = [s for s in dict.fromkeys((*skill.before, *line.also)) if s not in {a.skill for a in begun}]
    for other in (s for s in seen.skills() if s.id in wanted and s.id != line.skill):
        if not _can_begin(seen, line, other, student):
            continue
        number = 1 + max((s.attempt.number for s in seen.by_student_and_skill.get((student, other.id), ())), default=0)
        own = derived_id(host, "within", other.id)
        planned = Planned(
            own, sheet_of(own, line.observer), line.session, student, other.id, line.observer, number, host
        )
        pads.append(planned_pad(seen, planned))
    return pads


def _also(seen: CourseView, session: Session, skill: Skill, unit_type: str) -> list[dict[str, str]]:
    """Skills that can be seen inside this one here: what comes before it first, then its phase, then others."""
    known = seen.adopted.standards.unit_types.get(unit_type)
    phase_of = seen.adopted.standards.phase_of
    fits = [s for s in seen.skills() if s.id != skill.id and session.setting in s.setting and applies(s, known)]

    def distance(other: Skill) -> int:
        return 0 if other.id in skill.before else 1 if phase_of[other.id] == phase_of.get(skill.id) else 2

    return [{"id": s.id, "title": s.title} for s in sorted(fits, key=distance)]
