"""What a standing would be if one attempt had been another, or under another rule. Worked out in memory, never written.

The facts are copied with one thing changed and judged by the same functions as ever, so that the answer is what the
tool would say. It is for looking: a correction of what was seen is made in the attempt, with a reason.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from course.access import Sight
from course.answers.course_view import CourseView
from course.asker import question
from course.assessment.attempts import SeenAttempt, evaluating_sheets
from course.assessment.sentences import rule_sentence, standing_sentence
from course.assessment.standing import Standing
from course.errors import NotFoundError
from course.record.facts import Attempt, Ending, MarkLine, Sheet, ValueLine
from course.standards.rubric import OTHER_ERROR, Rule, Skill, Step
from course.words import Closing, Mark, StandingState


class Supposed(StrEnum):
    """What one attempt is supposed to have been."""

    VOID = "void"
    WITHDRAWN = "withdrawn"
    CLEAN = "clean"
    MINOR = "minor"
    CRITICAL = "critical"
    STOPPED = "stopped"
    NOT_SEEN = "incomplete"


SUPPOSED_WORDS = {
    Supposed.VOID: "were void",
    Supposed.WITHDRAWN: "had never been entered",
    Supposed.CLEAN: "had been clean",
    Supposed.MINOR: "had been minor and had not counted",
    Supposed.CRITICAL: "had ended with a critical error",
    Supposed.STOPPED: "had been stopped",
    Supposed.NOT_SEEN: "had been incomplete",
}
NOTHING_WRITTEN = "Nothing was written: this is a question, not a correction."


@dataclass(frozen=True)
class WhatIf:
    """A standing as it is and as it would be."""

    question: str
    """ "If attempt 4 were void" """
    before: str
    after: str
    state_before: StandingState
    state_after: StandingState

    @property
    def differs(self) -> bool:
        """Whether anything about the standing would be said differently."""
        return self.before != self.after

    @property
    def sentence(self) -> str:
        """The answer in one sentence."""
        told = self.after if self.differs else f"nothing would change. {self.after}"
        return f"{self.question}: {told}"

    def text(self) -> str:
        """The answer in lines, for the command line."""
        return "\n".join([self.sentence, f"As it is: {self.before}", NOTHING_WRITTEN])


def suppositions(skill: Skill) -> tuple[Supposed, ...]:
    """Return what an attempt at a skill can be supposed to have been: nothing critical where nothing can be."""
    critical = _critical_line(skill) is not None
    needs_critical = (Supposed.CRITICAL, Supposed.NOT_SEEN)
    return tuple(one for one in Supposed if critical or one not in needs_critical)


@question(Sight.COURSE)
def attempts_by_number(seen: CourseView, student: str, skill: Skill, as_of: date) -> dict[str, int]:
    """Return the closed attempts that a standing looks at, as id and number, in the order that counts."""
    found = [s for s in seen.seen(student, skill) if s.attempt.ending and not s.attempt.withdrawn and s.day <= as_of]
    return {s.attempt.id: s.attempt.number for s in sorted(found, key=lambda s: s.order)}


@question(Sight.COURSE)
def if_attempt(seen: CourseView, student: str, skill: Skill, attempt: str, supposed: Supposed, as_of: date) -> WhatIf:
    """Return the standing if one attempt had been another.

    Raises:
        NotFoundError: the standing looks at no such attempt, or it cannot have been that.
    """
    numbers = attempts_by_number(seen, student, skill, as_of)
    if attempt not in numbers:
        raise NotFoundError("This standing looks at no such closed attempt. Nothing was changed.")
    if supposed not in suppositions(skill):
        raise NotFoundError(f"Nothing critical can happen in {skill.title}, so no attempt can have been that.")
    attempts = [
        replace(one, attempt=_supposed(one.attempt, _features_form(skill, one), supposed))
        if one.attempt.id == attempt
        else one
        for one in seen.seen(student, skill)
    ]
    after = seen.standing_of(student, skill, attempts, as_of)
    question = f"If attempt {numbers[attempt]} {SUPPOSED_WORDS[supposed]}"
    return _answer(question, seen, seen.standing(student, skill, as_of), skill, after, skill)


@question(Sight.COURSE)
def if_void(seen: CourseView, student: str, skill: Skill, number: int, as_of: date) -> WhatIf:
    """Return the standing if the attempt of a number were void.

    Raises:
        NotFoundError: the standing looks at no attempt of that number; those that it looks at are named.
    """
    numbers = attempts_by_number(seen, student, skill, as_of)
    attempt = next((name for name, own in numbers.items() if own == number), None)
    if attempt is None:
        known = ", ".join(map(str, sorted(numbers.values()))) or "none yet"
        raise NotFoundError(f"This standing looks at no closed attempt {number}. There are: {known}.")
    return if_attempt(seen, student, skill, attempt, Supposed.VOID, as_of)


@question(Sight.COURSE)
def if_rule(seen: CourseView, student: str, skill: Skill, rule: Rule, as_of: date) -> WhatIf:
    """Return the standing under another rule, with the attempts as they are."""
    other = skill.model_copy(update={"rule": rule})
    after = seen.standing_of(student, other, seen.seen(student, skill), as_of)
    question = f"Under the other rule ({rule_sentence(other).removesuffix('.')})"
    return _answer(question, seen, seen.standing(student, skill, as_of), skill, after, other)


def _answer(question: str, seen: CourseView, before: Standing, skill: Skill, after: Standing, other: Skill) -> WhatIf:
    return WhatIf(
        question=question,
        before=standing_sentence(before, skill, seen.names),
        after=standing_sentence(after, other, seen.names),
        state_before=before.state,
        state_after=after.state,
    )


def _features_form(skill: Skill, one: SeenAttempt) -> Skill:
    """The skill with the steps that the attempt's unit has, so that what is supposed can be judged on it."""
    if one.features is None:
        return skill
    return skill.model_copy(update={"steps": skill.steps_for(one.features)})


def _supposed(attempt: Attempt, skill: Skill, supposed: Supposed) -> Attempt:
    """A copy of an attempt with one thing changed."""
    if supposed == Supposed.WITHDRAWN:
        return attempt.model_copy(update={"withdrawn": True})
    if supposed == Supposed.VOID:
        return attempt.model_copy(update={"ending": _ended(attempt, Closing.VOID)})
    lines = _lines(skill, supposed)
    evaluating = {sheet.id for sheet in evaluating_sheets(attempt)}
    how = Closing.STOPPED if supposed == Supposed.STOPPED else Closing.COMPLETED
    sheets = tuple(_filled(s, skill, lines) if s.id in evaluating else s for s in attempt.sheets)
    return attempt.model_copy(update={"sheets": sheets, "joint": (), "contested": (), "ending": _ended(attempt, how)})


def _ended(attempt: Attempt, how: Closing) -> Ending | None:
    return attempt.ending.model_copy(update={"how": how}) if attempt.ending else None


def _filled(sheet: Sheet, skill: Skill, other: dict[str, MarkLine]) -> Sheet:
    """A sheet with every step done and every limit kept, save for what is supposed to have gone wrong."""
    marks = tuple(other.get(step.id) or _line(step.id, Mark.DONE) for step in skill.steps)
    values = tuple(
        ValueLine(
            event="supposed",
            step=step.id,
            quantity=step.limit.quantity,
            unit=step.limit.unit,
            value=step.limit.at_least or step.limit.at_most or "0",
        )
        for step in skill.steps
        if step.limit and not (step.id in other and other[step.id].mark == Mark.NOT_SEEN)
    )
    return sheet.model_copy(update={"marks": marks, "values": values, "orders": (), "whole_clean": None})


def _lines(skill: Skill, supposed: Supposed) -> dict[str, MarkLine]:
    """What is supposed to have gone wrong, by step."""
    if supposed == Supposed.CRITICAL and (critical := _critical_line(skill)):
        return {critical.step: critical}
    if supposed == Supposed.MINOR:
        return {step.id: _line(step.id, Mark.ERROR, OTHER_ERROR) for step in _steps_of_a_minor(skill)}
    if supposed == Supposed.NOT_SEEN:
        return {step.id: _line(step.id, Mark.NOT_SEEN) for step in skill.steps if step.can_be_critical}
    return {}


def _steps_of_a_minor(skill: Skill) -> tuple[Step, ...]:
    """Steps on which an unlisted error makes an attempt that does not count: one that can be critical, else all."""
    return tuple(step for step in skill.steps if step.can_be_critical)[:1] or skill.steps


def _critical_line(skill: Skill) -> MarkLine | None:
    """A mark that is critical by itself, if the skill has one."""
    for step in skill.steps:
        error = next((error.id for error in step.errors if error.critical), None)
        if error:
            return _line(step.id, Mark.ERROR, error)
        if step.if_left_out:
            return _line(step.id, Mark.LEFT_OUT)
    return None


def _line(step: str, mark: Mark, *errors: str) -> MarkLine:
    return MarkLine(event="supposed", step=step, mark=mark, errors=errors, utc="")
