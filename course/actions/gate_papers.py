"""Note what opens a gate: proofs, a guardian's consent, the exam and its gaps, adjustments; leaving and coming back.

Whoever notes a paper is the one who saw it. Medical answers are never entered: only whether a doctor clears, and until
when.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from course.access import Act
from course.actions.drafting import allow, body, draft, living, told
from course.actions.gates import profile_of
from course.errors import NotFoundError, RefusedError
from course.hours.gates import left_on
from course.hours.requirements import finish_window
from course.moments import day_words, new_id
from course.record.events import (
    AdjustmentApproved,
    Body,
    ConsentGiven,
    ExamTaken,
    GapClosed,
    InterestNoted,
    LeftCourse,
    ProofSeen,
    Returned,
)
from course.record.facts import Course, Person
from course.record.paper_facts import Exam
from course.standards.profile import Prerequisite
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, needed
from course.words import STAFF, Role, listed


def note_proof(
    ledger: Ledger,
    actor: str,
    course: str,
    person: str,
    prerequisite: str,
    day: str,
    *,
    good_until: str | None = None,
    cleared: bool | None = None,
    paper: str | None = None,
    replaces: Sequence[str] = (),
) -> str:
    """Note that the acting person saw a paper, and return the event's id.

    Args:
        ledger: open for writing.
        actor: who saw it.
        course, person, prerequisite: for which course, whose, and which of the requirements it answers.
        day: when it was seen.
        good_until: the last good day, where the paper says one.
        cleared: of a medical paper, whether it clears the person; needed there, and said of no other.
        paper: its name and revision.
        replaces: events of earlier proofs that were noted wrongly.

    Raises:
        NotFoundError: there is no such course or person.
        RefusedError: the requirements ask for no such paper, or what is said does not fit it.
    """
    asked = _asked(ledger, actor, course, person, prerequisite)
    if (cleared is not None) != (asked.proof == "medical_form"):
        raise RefusedError(
            f"{asked.label}: say whether it clears the person, yes or no. Nothing was changed."
            if cleared is None
            else f"{asked.label}: only a medical paper clears somebody. Nothing was changed."
        )
    _refuse_backwards(day, good_until)
    content = body(
        ProofSeen, person=person, course=course, prerequisite=prerequisite, day=day, good_until=good_until or None,
        cleared=None if cleared is None else ("yes" if cleared else "no"), paper=paper or None,
        replaces=tuple(replaces),
    )  # fmt: skip
    return _append(ledger, actor, content)


def note_consent(
    ledger: Ledger,
    actor: str,
    course: str,
    person: str,
    *,
    stages: Sequence[str],
    day: str,
    guardian: str,
    until: str | None = None,
    replaces: Sequence[str] = (),
) -> str:
    """Note a guardian's consent to stages in the water, and return the event's id.

    Raises:
        NotFoundError: there is no such course or person.
        RefusedError: no stage or no guardian is named, or a day does not fit.
    """
    _course_and_person(ledger, actor, course, person)
    _refuse_backwards(day, until)
    content = body(
        ConsentGiven, person=person, course=course, stages=tuple(stages), day=day, until=until or None,
        guardian=guardian or None, replaces=tuple(replaces),
    )  # fmt: skip
    if content.guardian is None:
        raise RefusedError("Write who gave the consent. Nothing was changed.")
    return _append(ledger, actor, content)


def note_exam(
    ledger: Ledger,
    actor: str,
    course: str,
    person: str,
    *,
    day: str,
    mark: str,
    of: str,
    items: Sequence[str] = (),
    form: str | None = None,
    session: str | None = None,
    replaces: Sequence[str] = (),
) -> str:
    """Note an exam with the items missed, and return the exam's id; each item is a gap until it is talked through.

    Raises:
        NotFoundError: there is no such course or person.
        RefusedError: the marks do not fit, or a text cannot be kept.
    """
    _course_and_person(ledger, actor, course, person)
    missed = tuple(item for item in (one.strip() for one in items) if item)
    content = body(
        ExamTaken, person=person, course=course, exam=new_id(), session=session, day=day, mark=mark, of=of,
        gaps=len(missed), items=missed or None, form=form or None, replaces=tuple(replaces),
    )  # fmt: skip
    _append(ledger, actor, content)
    return content.exam


def close_gap(
    ledger: Ledger,
    actor: str,
    person: str,
    exam: str,
    gap: int,
    *,
    day: str,
    session: str | None = None,
    note: str | None = None,
) -> None:
    """Note that an item missed was talked through with the student.

    Raises:
        NotFoundError: there is no such person, exam or gap.
        RefusedError: it is closed already; or the day is before the exam's.
    """
    allow(ledger, actor, Act.EVALUATE)
    fact = living(ledger, person)
    found = next((one for one in fact.exams if one.id == exam), None)
    if found is None or not 1 <= gap <= found.gaps:
        raise NotFoundError("There is no such gap of an exam. Nothing was changed.")
    _refuse_closed(found, gap, day)
    content = body(GapClosed, person=person, exam=exam, gap=gap, session=session, day=day, note=note or None)
    _append(ledger, actor, content)


def approve_adjustment(
    ledger: Ledger,
    actor: str,
    course: str,
    student: str,
    skill: str,
    *,
    how: str,
    day: str,
    without: Sequence[str] = (),
    waiver: str | None = None,
    replaces: Sequence[str] = (),
) -> str:
    """Approve another way of doing a skill, as the course's lead, and return the adjustment's id.

    Raises:
        NotFoundError: there is no such course, person, skill or step.
        RefusedError: the person does not lead the course; or a step in which something critical can happen would be
            taken out without the agency's written waiver.
    """
    of_course, _ = _course_and_person(ledger, actor, course, student)
    if actor not in of_course.people(Role.LEAD):
        raise RefusedError("Only the lead of this course approves an adjustment. Nothing was changed.")
    found = adopted(ledger, of_course.adoption).skill(skill)
    steps = {step.id: step for step in found.steps}
    if unknown := [step for step in without if step not in steps]:
        raise NotFoundError(f"{found.title} has no step {listed(unknown)}. Nothing was changed.")
    critical = [steps[step].do for step in without if steps[step].can_be_critical]
    if critical and not (waiver or "").strip():
        raise RefusedError(
            f"{found.title}: something critical can happen in “{critical[0]}”. An adjustment changes how it is done; "
            "it is taken out only with the agency's written waiver. Nothing was changed."
        )
    content = body(
        AdjustmentApproved, person=student, course=course, adjustment=new_id(), skill=skill, day=day,
        without=tuple(without), how=told(how), waiver=(waiver or "").strip() or None, replaces=tuple(replaces),
    )  # fmt: skip
    _append(ledger, actor, content)
    return content.adjustment


def leave_course(ledger: Ledger, actor: str, course: str, student: str, *, day: str, why: str) -> None:
    """Note that a student left a course unfinished; what was done stays.

    Raises:
        NotFoundError: there is no such course or person.
        RefusedError: they are not on it, left already, or no reason is given.
    """
    of_course, fact = _course_and_person(ledger, actor, course, student)
    if student not in {member.person for member in of_course.members}:
        raise RefusedError("This person is not on the course. Nothing was changed.")
    if left_on(fact, course) is not None:
        raise RefusedError("This person left the course already. Nothing was changed.")
    _append(ledger, actor, body(LeftCourse, person=student, course=course, day=day, why=told(why)))


def return_to_course(
    ledger: Ledger, actor: str, course: str, student: str, *, day: str, note: str | None = None
) -> None:
    """Note that a student who had left goes on, within the days to finish in.

    Raises:
        NotFoundError: there is no such course or person.
        RefusedError: they did not leave, or the days to finish in are over.
    """
    of_course, fact = _course_and_person(ledger, actor, course, student)
    if left_on(fact, course) is None:
        raise RefusedError("This person did not leave the course. Nothing was changed.")
    content = body(Returned, person=student, course=course, day=day, note=note or None)
    last = finish_window(of_course, profile_of(ledger, of_course), date.fromisoformat(content.day)).last
    if date.fromisoformat(content.day) > last:
        raise RefusedError(
            f"The course had to be finished by {day_words(last)}. Enrol the person on another course. "
            "Nothing was changed."
        )
    _append(ledger, actor, content)


def note_interest(ledger: Ledger, actor: str, course: str, person: str, student: str, *, day: str, note: str) -> None:
    """Note that somebody on the staff is tied to a student: a relative, an employer; for the audit's list.

    Raises:
        NotFoundError: there is no such course or person.
        RefusedError: they are not on the course as staff and as student, or nothing is written.
    """
    of_course, _ = _course_and_person(ledger, actor, course, person)
    learners = of_course.people(Role(profile_of(ledger, of_course).for_whom))
    if person not in of_course.people(*STAFF) or student not in learners or person == student:
        raise RefusedError("Choose somebody of the staff and a student of this course. Nothing was changed.")
    content = body(InterestNoted, person=person, course=course, student=student, day=day, note=told(note))
    _append(ledger, actor, content)


def _append(ledger: Ledger, actor: str, content: Body) -> str:
    """What somebody typed is sealed with the key of the person it is about."""
    made = draft(actor, content, private_of=content.subject)
    ledger.append([made])
    return made.id


def _asked(ledger: Ledger, actor: str, course: str, person: str, prerequisite: str) -> Prerequisite:
    of_course, _ = _course_and_person(ledger, actor, course, person)
    profile = profile_of(ledger, of_course)
    found = next((asked for asked in profile.prerequisites if asked.id == prerequisite), None)
    if found is None:
        raise RefusedError(f"{profile.title} {profile.revision} asks for no paper {prerequisite}. Nothing was changed.")
    return found


def _course_and_person(ledger: Ledger, actor: str, course: str, person: str) -> tuple[Course, Person]:
    allow(ledger, actor, Act.SET_UP)
    return needed(ledger, Course, course, "course"), living(ledger, person)


def _refuse_backwards(day: str, until: str | None) -> None:
    if until and until < day:
        raise RefusedError("The last good day is before the day it was seen. Nothing was changed.")


def _refuse_closed(exam: Exam, gap: int, day: str) -> None:
    if any(one.gap == gap for one in exam.closed):
        raise RefusedError("This gap was talked through already. Nothing was changed.")
    if day < exam.day:
        raise RefusedError("A gap is talked through after its exam. Nothing was changed.")
