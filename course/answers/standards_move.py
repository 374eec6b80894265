"""What moving a running course to other adopted standards would change for each student. Nothing is written."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.missing import StudentMissing, student_missing
from course.asker import question
from course.assessment.sentences import standing_line
from course.hours.requirements import Count, Hours
from course.standards.difference import StandardsDifference, difference
from course.standards.rubric import Skill
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.storage.lookup import adopted
from course.words import STANDING_WORDS, listed, plural


@dataclass(frozen=True)
class StudentMove:
    """What one student's record would be under the other standards."""

    student: str
    name: str
    sentence: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class StandardsMovePreview:
    """What a move would change, per student, before anybody decides."""

    course: str
    sentence: str
    changes: StandardsDifference
    students: tuple[StudentMove, ...]
    shown_from: tuple[str, ...]
    nothing: bool


@dataclass(frozen=True)
class MoveLine:
    """A move that was made, with who, when and why."""

    sentence: str


@question(Sight.STANDARDS)
def move_preview(
    ledger: Ledger, seen: CourseView, adoption: str, profile: str, revision: str, as_of: date
) -> StandardsMovePreview:
    """Return what would change if the course went on under another adoption.

    Raises:
        NotFoundError: there is no such adoption, profile or revision.
    """
    other = moved_view(ledger, seen, adoption, profile, revision)
    students = tuple(_student(seen, other, student, as_of) for student in seen.students)
    touched = [one for one in students if one.lines]
    changes = difference(seen.adopted.standards, other.adopted.standards)
    now_on = (seen.course.adoption, seen.course.profile, seen.course.revision)
    return StandardsMovePreview(
        course=seen.course.title,
        sentence=_sentence(seen, touched),
        changes=changes,
        students=students,
        shown_from=seen.course.unreplaced,
        nothing=now_on == (adoption, profile, revision) and "standards" not in seen.course.contested,
    )


def moved_view(ledger: Ledger, seen: CourseView, adoption: str, profile: str, revision: str) -> CourseView:
    """Return the course as it would be under another adoption; a copy in memory."""
    target = adopted(ledger, adoption)
    update = {"adoption": adoption, "profile": profile, "revision": revision}
    return seen.changed(
        course=seen.course.model_copy(update=update),
        adopted=target,
        profile=target.standards.profile(profile, revision),
    )


@question(Sight.COURSE)
def course_contest(seen: CourseView) -> str:
    """Return that two devices moved a course to different standards, and the way out; empty where they did not."""
    if "standards" not in seen.course.contested:
        return ""
    moves = {move.event: move for move in seen.course.moves}
    told = [
        f"{seen.name(moves[head].moved_by)} to {moves[head].profile} {moves[head].revision}"
        for head in seen.course.unreplaced
    ]
    return (
        f"{seen.course.title} was moved to different standards on two devices ({'; '.join(told)}). It stays on "
        f"{seen.course.profile} {seen.course.revision}, as both found it, until its lead decides on Standards under "
        "“Move a course”."
    )


@question(Sight.STANDARDS)
def moves_made(ledger: Ledger, seen: CourseView) -> tuple[MoveLine, ...]:
    """Return every move that was made, the newest first."""
    notes = ledger.private(seen.course).get("by_event", {})
    lines = [
        MoveLine(
            f"Moved to {move.profile} {move.revision} by {seen.name(move.moved_by)} on "
            f"{day_words(move.observed.local.date())}: {notes.get(move.event, {}).get('why') or 'the reason is erased'}"
        )
        for move in seen.course.moves
    ]
    return tuple(reversed(lines))


def _sentence(seen: CourseView, touched: list[StudentMove]) -> str:
    if not seen.students:
        return "Nobody is on this course yet: no record would change."
    if not touched:
        return "No student's record would change."
    return f"The record of {len(touched)} of {plural(len(seen.students), 'student')} would change."


def _student(seen: CourseView, other: CourseView, student: str, as_of: date) -> StudentMove:
    before, after = student_missing(seen, student, as_of), student_missing(other, student, as_of)
    lines = (*_skills(seen, other, student, as_of), *_counted(before, after), *_papers(before, after))
    told = f"{before.held} of {before.required} required skills held becomes {after.held} of {after.required}"
    same = (before.held, before.required) == (after.held, after.required)
    return StudentMove(
        student,
        seen.name(student),
        f"{before.held} of {before.required} required skills held, as before" if same else told,
        lines,
    )


def _skills(seen: CourseView, other: CourseView, student: str, as_of: date) -> list[str]:
    """Skills added and taken out, and every standing that would be another one."""
    old, new = ({skill.id: skill for skill in view.skills()} for view in (seen, other))
    unit_type = other.unit_type_of(student, as_of)
    added = [s.title for s in new.values() if s.id not in old and applies(s, unit_type)]
    gone = [s.title for s in old.values() if s.id not in new and applies(s, unit_type)]
    lines = [f"Added: {listed(added)}."] if added else []
    lines += [f"No longer asked: {listed(gone)}; the attempts are kept."] if gone else []
    kept = [s for s in new.values() if s.id in old and applies(s, unit_type)]
    more = [s.title for s in kept if other.is_required(s) and not seen.is_required(old[s.id])]
    fewer = [s.title for s in kept if seen.is_required(old[s.id]) and not other.is_required(s)]
    lines += [f"Required, optional so far: {listed(more)}."] if more else []
    lines += [f"Optional, required so far: {listed(fewer)}."] if fewer else []
    for skill in (skill for name, skill in new.items() if name in old):
        lines += _standing(seen, other, student, old[skill.id], skill, as_of)
    return lines


def _standing(seen: CourseView, other: CourseView, student: str, old: Skill, new: Skill, as_of: date) -> list[str]:
    before, after = seen.standing(student, old, as_of), other.standing(student, new, as_of)
    aside = len(other.earlier_rubric(student, new)) - len(seen.earlier_rubric(student, old))
    why = f" ({plural(aside, 'attempt')} by the other form kept and shown, not counted)" if aside > 0 else ""
    back = f" ({plural(-aside, 'attempt')} counted again)" if aside < 0 else ""
    if before.state == after.state and before.met_on == after.met_on and not aside:
        return []
    became = STANDING_WORDS[after.state] if before.state != after.state else standing_line(after, new)
    return [f"{new.title}: {standing_line(before, old)} becomes {became}{why}{back}."]


def _counted(before: StudentMissing, after: StudentMissing) -> list[str]:
    """Hours and counts of which another number is asked: "556 asked instead of 523: short by 58 instead of 25"."""
    was = {one.kind: one for one in before.requirements.counted}
    lines = []
    for one in after.requirements.counted:
        old = was.pop(one.kind, None)
        asked, asks = (old.required if old else None) or 0, one.required or 0
        if asked != asks or (old is not None and old.each != one.each):
            lines.append(f"{one.what.capitalize()}: {asks} asked instead of {asked}{_short_by(old, one)}.")
    return [*lines, *(f"{old.what.capitalize()}: not asked any more." for old in was.values() if old.required)]


def _short_by(old: Hours | Count | None, new: Hours | Count) -> str:
    """How much a student would be short by, against now."""
    now_short = old.short_by if old else 0
    if not (new.short_by or now_short):
        return "; still met" if old and old.required else "; met"
    if not new.short_by:
        return f"; met instead of short by {now_short}"
    return f"; short by {new.short_by}" + (f" instead of {now_short}" if now_short else "")


def _papers(before: StudentMissing, after: StudentMissing) -> list[str]:
    """What exam and papers would be short of, and what they would not be any more."""
    lines = [f"Would be missing: {line}." for line in after.papers if line not in before.papers]
    return [*lines, *(f"Not missing any more: {line}." for line in before.papers if line not in after.papers)]
