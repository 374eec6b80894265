"""A student's own page, and the sheet to take home: one person's own record and nothing of anybody else's."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import as_of_words, day_words, weekday_words
from course.answers.decisions import HELD, signed_word
from course.answers.gate_view import adjustment_lines
from course.answers.missing import MissingSkill, student_missing
from course.answers.other_forms import by_other_forms
from course.answers.practice import Repeat, WeakSkillLine, student_practice
from course.answers.record_answer import LedgerHead
from course.asker import question
from course.assessment.attempts import SeenAttempt, evaluating_sheets
from course.assessment.history import Effect, StreakStep
from course.assessment.sentences import standing_line
from course.record.facts import Attempt
from course.standards.rubric import Skill
from course.standards.units import applies
from course.words import EXAMPLE_NOTE, OUTCOME_WORDS, RECORD_NOTE, listed, plural, with_optional


@dataclass(frozen=True)
class HeldSkill:
    """A skill that the student holds."""

    skill: str
    title: str
    line: str
    """ "met: 24 Oct 2026" """
    signed: str
    """ "signed", "signed on an older record", "held back" or "not signed" """
    required: bool = True
    """Whether the course's requirements ask for it."""


@dataclass(frozen=True)
class OpenSkill:
    """A required skill that is not held: what is missing, in one line."""

    skill: str
    title: str
    line: str


@dataclass(frozen=True)
class OwnAttempt:
    """One attempt of the student's and who saw it."""

    day: date
    title: str
    number: int
    outcome: str
    effect: str
    seen_by: tuple[str, ...]


@dataclass(frozen=True)
class StudentPage:
    """Everything of one student's own, as of one day."""

    centre: str
    course: str
    student: str
    as_of: str
    sentence: str
    held: tuple[HeldSkill, ...]
    missing: tuple[OpenSkill, ...]
    hours: tuple[str, ...]
    """Minutes that are short, by kind: "short by 25 minutes in water on the loop"."""
    gaps: tuple[str, ...]
    """Items missed in the exam that nobody has talked through yet."""
    papers: tuple[str, ...]
    """Papers that hold a stage shut; of a medical one never that it says no."""
    adjustments: tuple[str, ...]
    weak: tuple[WeakSkillLine, ...]
    repeat: tuple[Repeat, ...]
    attempts: tuple[OwnAttempt, ...]
    """Newest first."""
    seen_by: tuple[tuple[str, int], ...]
    """Who saw how many of the attempts, most first."""
    cautions: tuple[str, ...]
    head: LedgerHead
    course_id: str = ""
    student_id: str = ""
    day: str = ""
    """The ISO day that it is as of."""

    @property
    def held_words(self) -> str:
        """As read: "49 required and 1 optional skill, 3 signed"; the same required ones as in the sentence."""
        signed = sum(one.signed == "signed" for one in self.held)
        skills = with_optional(sum(one.required for one in self.held), len(self.held), "skill")
        return f"{skills}, {signed} signed"

    @property
    def asked(self) -> dict[str, str]:
        """What it answers, so that the same can be asked again."""
        return {"course": self.course_id, "student": self.student_id, "as_of": self.day}

    def plain(self) -> dict[str, Any]:
        """The answer as plain data."""
        plain = asdict(self)
        for attempt in plain["attempts"]:
            attempt["day"] = attempt["day"].isoformat()
        return plain


@question(Sight.STUDENT)
def student_page(seen: CourseView, student: str, as_of: date) -> StudentPage:
    """Return one student's own page: what is held, what is missing, what to repeat, and who saw it."""
    state, practice = student_missing(seen, student, as_of), student_practice(seen, student, as_of)
    attempts = _attempts(seen, student, as_of)
    return StudentPage(
        centre=seen.centre.name,
        course=seen.course.title,
        student=seen.name(student),
        as_of=as_of_words(as_of, seen.last_day, seen.last_day),  # no word of today: it is a paper too
        sentence=_sentence(seen.name(student), state.held, state.required, practice.repeat),
        held=_held(seen, student, as_of),
        missing=_missing(state.skills, practice.repeat),
        hours=tuple(one.short for one in state.short),
        gaps=tuple(gap.item for gap in state.requirements.exam.gaps),
        papers=tuple(dict.fromkeys(gate.words for gate in state.requirements.shut)),
        adjustments=adjustment_lines(seen, student),
        weak=practice.weak,
        repeat=practice.repeat,
        attempts=attempts,
        seen_by=tuple(Counter(name for attempt in attempts for name in attempt.seen_by).most_common()),
        cautions=(RECORD_NOTE, EXAMPLE_NOTE, seen.profile.notice),
        head=seen.head,
        course_id=seen.course.id,
        student_id=student,
        day=as_of.isoformat(),
    )


def _sentence(name: str, held: int, required: int, repeat: tuple[Repeat, ...]) -> str:
    first = f"{name} holds {held} of {plural(required, 'required skill')}."
    if repeat:
        return f"{first} Next: {repeat[0].title}, {repeat[0].place}."
    return f"{first} Nothing has to be repeated." if held == required else first


def _missing(skills: Iterable[MissingSkill], repeat: tuple[Repeat, ...]) -> tuple[OpenSkill, ...]:
    """In the order in which they are to be repeated, so that a shortened list keeps what comes next."""
    place = {one.skill: number for number, one in enumerate(repeat)}
    ordered = sorted(skills, key=lambda one: place.get(one.skill, len(place)))
    return tuple(OpenSkill(s.skill, s.title, f"{s.word}: {s.line}" if s.line else s.word) for s in ordered)


def _held(seen: CourseView, student: str, as_of: date) -> tuple[HeldSkill, ...]:
    unit_type = seen.unit_type_of(student, as_of)
    standings = [(skill, seen.standing(student, skill, as_of)) for skill in seen.skills() if applies(skill, unit_type)]
    return tuple(
        HeldSkill(
            skill.id,
            skill.title,
            standing_line(standing, skill),
            signed_word(seen, student, skill, as_of) or "not signed",
            seen.is_required(skill),
        )
        for skill, standing in standings
        if standing.state in HELD
    )


def _attempts(seen: CourseView, student: str, as_of: date) -> tuple[OwnAttempt, ...]:
    found = []
    for skill in seen.skills():
        by_id = {one.attempt.id: one for one in seen.seen(student, skill)}
        found += [
            (by_id[step.attempt].order, _attempt(seen, skill, by_id[step.attempt].attempt, step))
            for step in seen.standing(student, skill, as_of).history
        ]
        found += [(one.order, _by_other_form(seen, skill, one)) for one in by_other_forms(seen, student, skill, as_of)]
    asked = {skill.id for skill in seen.skills()}
    for (person, skill_id), own in seen.by_student_and_skill.items():
        if person == student and skill_id not in asked:
            found += [(one.order, _not_asked(seen, one)) for one in own if one.day <= as_of]
    return tuple(attempt for _, attempt in sorted(found, key=lambda pair: pair[0], reverse=True))


def _attempt(seen: CourseView, skill: Skill, attempt: Attempt, step: StreakStep) -> OwnAttempt:
    sheets = evaluating_sheets(attempt) or attempt.sheets
    outside = step.effect == Effect.OUTSIDE
    return OwnAttempt(
        day=step.day,
        title=skill.title,
        number=attempt.number,
        outcome=step.note if outside else OUTCOME_WORDS[step.outcome],
        effect="in no standing" if outside else step.note,
        seen_by=tuple(dict.fromkeys(seen.name(sheet.observer) for sheet in sheets)),
    )


def _by_other_form(seen: CourseView, skill: Skill, of: SeenAttempt) -> OwnAttempt:
    return _kept(seen, of, skill.title, "marked by another form of this rubric")


def _not_asked(seen: CourseView, of: SeenAttempt) -> OwnAttempt:
    return _kept(seen, of, seen.title_of(of.attempt.skill), "a skill that this course does not ask")


def _kept(seen: CourseView, of: SeenAttempt, title: str, why: str) -> OwnAttempt:
    sheets = evaluating_sheets(of.attempt) or of.attempt.sheets
    return OwnAttempt(
        day=of.day,
        title=title,
        number=of.attempt.number,
        outcome=why,
        effect="kept, does not count",
        seen_by=tuple(dict.fromkeys(seen.name(sheet.observer) for sheet in sheets)),
    )


def attempt_words(attempt: OwnAttempt) -> str:
    """One attempt in a line: skill, which attempt, outcome, what it did, who saw it."""
    return f"{attempt.title} · attempt {attempt.number} · {attempt.outcome} · {attempt.effect} · seen by " + listed(
        list(attempt.seen_by)
    )


def days_of(page: StudentPage) -> dict[str, list[OwnAttempt]]:
    """A student's attempts by training day in words, newest day first."""
    found: dict[str, list[OwnAttempt]] = {}
    for attempt in page.attempts:
        found.setdefault(f"{weekday_words(attempt.day)} {day_words(attempt.day)}", []).append(attempt)
    return found
