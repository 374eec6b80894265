"""Of a competency record: what is asked beside minutes, met or short by, who agreed to what, and who signs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from course.answers.confirmed import confirmed_words
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.gate_view import is_medical
from course.answers.missing import StudentMissing, student_gates
from course.answers.record_answer import AskedLine, PhaseLines
from course.answers.sign_off import live_issues
from course.assessment.sentences import of_asked
from course.hours.gates import STAGE_WORDS
from course.hours.requirements import Count
from course.record.paper_facts import Consent, Proof
from course.standards.field_labels import SIGNER_WORDS
from course.words import SETTING_WORDS, listed, plural

MET = "met"


def asked_lines(seen: CourseView, state: StudentMissing, as_of: date) -> tuple[AskedLine, ...]:
    """Return every requirement beside minutes: skills, counts, the exam and its gaps, papers by the stage they shut."""
    return (
        _skills(state),
        *(
            AskedLine(
                _capital(one.what),
                of_asked(one.total, one.required),
                met=not one.is_short,
                words=_count_words(one),
            )
            for one in state.requirements.counts
        ),
        *_exam(seen, state),
        *_papers(seen, state.student, as_of),
    )


def _count_words(one: Count) -> str:
    words = "by exception" if one.excused else (f"short by {one.lacking}" if one.short_by else MET)
    return f"{words}, {one.elsewhere} from elsewhere" if one.elsewhere else words


def _skills(state: StudentMissing) -> AskedLine:
    lacking = state.required - state.held - state.excused
    words = f"short by {plural(lacking, 'skill')}" if lacking else MET
    words += f", {state.excused} by exception" if state.excused else ""
    return AskedLine("Required skills held", of_asked(state.held, state.required), met=not lacking, words=words)


def _exam(seen: CourseView, state: StudentMissing) -> Iterator[AskedLine]:
    exam = state.requirements.exam
    if exam.exam is None:
        if exam.short:
            yield AskedLine("Exam", "", met=False, words=exam.short)
        return
    rule = seen.profile.exam
    asked = f" ({rule.at_least} of {rule.of} asked)" if rule else ""
    yield AskedLine(
        f"Exam of {day_words(date.fromisoformat(exam.exam.day))}{asked}",
        f"{exam.exam.mark} of {exam.exam.of}",
        met=not exam.short,
        words="short" if exam.short else MET,
    )
    if exam.exam.gaps:
        lacking = len(exam.gaps)
        words = f"short by {plural(lacking, 'gap')}" if lacking else MET
        done = f"{exam.exam.gaps - lacking} of {exam.exam.gaps}"
        yield AskedLine("Gaps of the exam talked through", done, met=not lacking, words=words)


def _papers(seen: CourseView, student: str, as_of: date) -> Iterator[AskedLine]:
    """Each gate with its stages, or with those that it shuts; why is told without what only the lead is told."""
    stages: dict[tuple[str, str], list[str]] = {}
    for state in student_gates(seen, student, as_of):
        words = f"shut: {state.shut.words}" if state.shut else MET
        stages.setdefault((state.label, words), []).append(STAGE_WORDS[state.stage])
    for (label, words), shuts in stages.items():
        yield AskedLine(f"{label} (for {listed(shuts)})", "", met=words == MET, words=words)


def consent_lines(seen: CourseView, student: str, as_of: date) -> tuple[str, ...]:
    """Return who agreed to what on which day, and the papers that were seen up to a day; nothing medical."""
    person, day = seen.person(student), as_of.isoformat()
    consents = [_consent(seen, one) for one in person.consents if one.course == seen.course.id and one.day <= day]
    asked = {one.id: one.label for one in seen.profile.prerequisites}
    proofs = [
        _proof(seen, one, asked[one.prerequisite])
        for one in person.proofs
        if one.course == seen.course.id
        and one.day <= day
        and one.prerequisite in asked
        and not is_medical(seen, one.prerequisite)
    ]
    return (*consents, *proofs)


def _consent(seen: CourseView, one: Consent) -> str:
    where = listed([SETTING_WORDS[stage] for stage in one.stages])
    who = one.guardian or "a guardian whose name is erased"
    until = f", good until {day_words(date.fromisoformat(one.until))}" if one.until else ""
    given = day_words(date.fromisoformat(one.day))
    return f"{who} agreed on {given} to the stages {where}{until}; noted by {seen.name(one.by)}."


def _proof(seen: CourseView, one: Proof, label: str) -> str:
    paper = f" ({one.paper})" if one.paper else ""
    return f"{label}{paper}: seen by {seen.name(one.by)} on {day_words(date.fromisoformat(one.day))}."


def signers(seen: CourseView) -> tuple[str, ...]:
    """Return who signs the record by hand, as the requirements in force say."""
    return tuple(SIGNER_WORDS[one] for one in seen.profile.sign_by)


def assessors_of(phases: Iterable[PhaseLines]) -> tuple[str, ...]:
    """Return everybody whose sheets are behind the standings, by name."""
    return tuple(sorted({name for phase in phases for skill in phase.skills for name in skill.observers}))


def deciders_of(phases: Iterable[PhaseLines]) -> tuple[str, ...]:
    """Return everybody who decided on one of the standings, by name."""
    return tuple(sorted({one.decision.decided_by for phase in phases for one in phase.skills if one.decision}))


def confirmations(seen: CourseView, student: str, skills: Iterable[str], as_of: date) -> str:
    """Tell how many decisions, and whether the sign-off in force, were confirmed by password or PIN.

    The others must not look as if they were; a check of the paper tells the same sentences.
    """
    issues = live_issues(seen, student)[-1:]
    off = [f"Sign-off, issue {one.issue}{confirmed_words(one.confirmed_with)}." for one in issues]
    return " ".join([*_decisions_confirmed(seen, student, skills, as_of), *off])


def _decisions_confirmed(seen: CourseView, student: str, skills: Iterable[str], as_of: date) -> list[str]:
    made = [one for skill in skills if (one := seen.decision(student, seen.adopted.skill(skill), as_of))]
    known, many = sum(one.confirmed_with is not None for one in made), plural(len(made), "decision")
    if known < len(made):
        told = (
            f"Confirmed by password or PIN as they were made: {known} of {many}. The rest were made where whoever held "
            "the device chose the name: this record alone does not show that it was them."
        )
        return [told]
    return [f"Confirmed by password or PIN as they were made: {many}, all of them."] if made else []


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
