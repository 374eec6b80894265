"""Gates of a course's students: which stage each may go to, which paper holds a stage shut, and what runs out when."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.missing import student_exam, student_gates
from course.asker import question
from course.hours.gates import (
    STAGE_WORDS,
    STAGES,
    GatePassed,
    GateState,
    Stage,
    age_on,
    gates_passed,
    left_on,
    shut_in,
    shut_words,
)
from course.hours.requirements import ExamState, finish_window
from course.record.facts import Person, Session
from course.record.paper_facts import Adjustment
from course.words import Role, listed, plural


@dataclass(frozen=True)
class GateLine:
    """One gate of one stage, as it is on the stage's own day."""

    gate: str
    label: str
    open: bool
    words: str
    for_lead: str
    """The same, with what only the lead is told."""


@dataclass(frozen=True)
class StageLine:
    """One stage of one student."""

    stage: Stage
    word: str
    open: bool
    days: str
    gates: tuple[GateLine, ...]


@dataclass(frozen=True)
class StudentGates:
    """The gates of one student."""

    student: str
    name: str
    sentence: str
    stages: tuple[StageLine, ...]
    age: str
    runs_out: tuple[str, ...]
    """What runs out while the course may still take, with the day."""
    exam: ExamState
    adjustments: tuple[str, ...]
    left: str


@dataclass(frozen=True)
class GatesAnswer:
    """The gates of a course."""

    sentence: str
    students: tuple[StudentGates, ...]
    interests: tuple[str, ...]


@question(Sight.GATES)
def gates_answer(seen: CourseView, as_of: date) -> GatesAnswer:
    """Return the gates of every student as of a day: each over the days of its stage that are still to come."""
    students = tuple(student_stages(seen, student, as_of) for student in seen.students)
    held = [f"{one.name}: {listed([s.word for s in one.stages if not s.open])}" for one in students if _is_held(one)]
    return GatesAnswer(
        sentence=_sentence(len(students), held),
        students=students,
        interests=interest_lines(seen),
    )


@question(Sight.GATES)
def student_stages(seen: CourseView, student: str, as_of: date) -> StudentGates:
    """Return the gates of one student, stage by stage."""
    person, states = seen.person(student), student_gates(seen, student, as_of)
    stages = tuple(_stage(seen, stage, states) for stage in STAGES if any(s.stage == stage for s in states))
    shut = [stage.word for stage in stages if not stage.open]
    left = left_on(person, seen.course.id)
    return StudentGates(
        student=student,
        name=seen.name(student),
        sentence=f"{listed(shut)} shut" if shut else "every stage open",
        stages=stages,
        age=_age_words(seen, person),
        runs_out=_runs_out(seen, states),
        exam=student_exam(seen, student, as_of),
        adjustments=adjustment_lines(seen, student),
        left=f"left unfinished on {day_words(left)}" if left else "",
    )


@question(Sight.MARK)
def door_words(seen: CourseView, session: Session, student: str) -> str:
    """Return why a student does not come into a session, in a sentence; empty where nothing holds them back."""
    person = seen.person(student)
    if left := left_on(person, seen.course.id):
        return f"Left the course on {day_words(left)}."
    return shut_words(shut_in(session, person, seen.course, seen.profile))


def gates_passed_by(seen: CourseView) -> tuple[GatePassed, ...]:
    """Return every gate that was shut on the day of a session in which its student was there."""
    there = {span.person for session in seen.sessions.values() for span in session.spans}
    there |= {water.person for session in seen.sessions.values() for water in session.water}
    people = {one: person for one in there if (person := seen.people.person(one))}
    return gates_passed(seen.sessions.values(), people, seen.course, seen.profile)


def adjustment_lines(seen: CourseView, student: str) -> tuple[str, ...]:
    """Return a student's adjustments on this course as sentences, each with its skill and who approved it."""
    made = []
    for one in _adjustments(seen, student):
        found = seen.adopted.standards.skills.get(one.skill)
        by = f"approved by {seen.name(one.by)} on {day_words(date.fromisoformat(one.day))}"
        made.append(f"{found.title if found else one.skill}: {_how(seen, one)}; {by}.")
    return tuple(made)


def adjusted(seen: CourseView, student: str, skill: str) -> tuple[str, ...]:
    """Return how a student does one skill another way, for whoever marks it."""
    return tuple(f"{_how(seen, one)}." for one in _adjustments(seen, student) if one.skill == skill)


def _adjustments(seen: CourseView, student: str) -> list[Adjustment]:
    person = seen.people.person(student)
    return [one for one in person.adjustments if one.course == seen.course.id] if person else []


def _how(seen: CourseView, one: Adjustment) -> str:
    found = seen.adopted.standards.skills.get(one.skill)
    steps = {step.id: step.do.rstrip(".") for step in found.steps} if found else {}
    waiver = f" (waiver: {one.waiver})" if one.waiver else ""
    without = [f"not asked: {steps.get(step, step)}{waiver}" for step in one.without]
    return "; ".join([(one.how or "the adjustment is erased").rstrip("."), *without])


def interest_lines(seen: CourseView) -> tuple[str, ...]:
    """Return the ties between staff and students that were noted for this course."""
    return tuple(
        f"{seen.name(person.id)} and {seen.name(one.student)}: {one.note or 'the note is erased'} "
        f"(noted by {seen.name(one.by)}, {day_words(date.fromisoformat(one.day))})"
        for person in seen.persons.values()
        for one in person.interests
        if one.course == seen.course.id
    )


def _is_held(one: StudentGates) -> bool:
    return not one.left and any(not stage.open for stage in one.stages)


def _sentence(count: int, held: Sequence[str]) -> str:
    if not count:
        return "Nobody is on this course yet: papers are noted here as they are seen."
    return f"Shut for {'; '.join(held)}." if held else f"Every stage is open for {plural(count, 'student')}."


def _stage(seen: CourseView, stage: Stage, states: Iterable[GateState]) -> StageLine:
    own = [state for state in states if state.stage == stage]
    days = sorted({state.day for state in own})
    return StageLine(
        stage=stage,
        word=STAGE_WORDS[stage],
        open=not any(state.shut for state in own),
        days=listed([day_words(day) for day in days]),
        gates=tuple(_gate(seen, state) for state in own),
    )


def _gate(seen: CourseView, state: GateState) -> GateLine:
    if state.shut:
        return GateLine(state.gate, state.label, open=False, words=state.shut.words, for_lead=state.shut.for_lead)
    parts = [f"seen by {seen.name(state.seen_by)}" if state.seen_by else ""]
    parts += [f"on {day_words(state.seen_on)}" if state.seen_on else ""]
    parts += [f"good until {day_words(state.good_until)}" if state.good_until else ""]
    told = f"{state.label}: {' '.join(part for part in parts[:2] if part) or 'yes'}"
    told += f", {parts[2]}" if parts[2] else ""
    return GateLine(state.gate, state.label, open=True, words=told, for_lead=told)


def _runs_out(seen: CourseView, states: Iterable[GateState]) -> tuple[str, ...]:
    """Proofs that end within the days that the course may still take, each once."""
    last = finish_window(seen.course, seen.profile, seen.last_day).last
    ends: Mapping[str, GateState] = {state.gate: state for state in states if not state.shut and state.good_until}
    soon = sorted((s.good_until, s.label) for s in ends.values() if s.good_until and s.good_until < last)
    return tuple(f"{label} runs out on {day_words(day)}" for day, label in soon)


def _age_words(seen: CourseView, person: Person) -> str:
    """The age on the course's first day against the least; of a minor also that a guardian agrees."""
    if person.birth_date is None:
        return "birth date not entered"
    years = age_on(date.fromisoformat(person.birth_date), date.fromisoformat(seen.course.first_day))
    told = f"{years} years on the first day, {seen.profile.minimum_age_years} asked"
    if years >= seen.profile.consent_under_years:
        return told
    own = [c for c in person.consents if c.course == seen.course.id]
    ends = [f" until {day_words(date.fromisoformat(c.until))}" if c.until else "" for c in own]
    seen_by = [f"guardian's consent seen by {seen.name(c.by)}{end}" for c, end in zip(own, ends, strict=True)]
    return "; ".join([told, *(seen_by or ["no guardian's consent noted"])])


@question(Sight.GATES)
def gate_choices(seen: CourseView, *, medical: bool = True) -> dict[str, str]:
    """Return the papers that the course asks for, with or without medical ones: id to label with the stage it shuts."""
    asked = [p for p in seen.profile.prerequisites if medical or p.proof != "medical_form"]
    return {p.id: f"{p.label} ({STAGE_WORDS[p.blocks]})" for p in asked}


@question(Sight.GATES)
def is_medical(seen: CourseView, prerequisite: str) -> bool:
    """Whether a paper is a medical one, of which only the clearance is kept."""
    return any(p.id == prerequisite and p.proof == "medical_form" for p in seen.profile.prerequisites)


@question(Sight.GATES)
def learners(seen: CourseView) -> dict[str, str]:
    """Return those who learn on the course and everybody in the centre who could: id to name, members first."""
    role = Role(seen.profile.for_whom)
    everybody = seen.people.everybody()
    others = [p.id for p in everybody.values() if role in p.roles]
    members = {person: seen.name(person) for person in seen.students}
    return members | {person: everybody[person].shown for person in others}
