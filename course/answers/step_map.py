"""A skill of a student as a map: every step against every attempt, as the deciding sheet has it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.csv_text import csv_text
from course.answers.days import day_words
from course.answers.pad import LETTERS
from course.answers.practice import telling_steps
from course.asker import question
from course.assessment.attempts import AttemptJudgement, SeenAttempt
from course.assessment.history import Effect
from course.assessment.marks import Reason, StepReading, read_step, step_name
from course.assessment.overruled import by_step
from course.standards.rubric import OTHER_ERROR, Skill, Step
from course.words import MARK_WORDS, Mark, plural

AS_A_WHOLE = "clean as a whole"


@dataclass(frozen=True)
class MapCell:
    """One step of one attempt."""

    step: str
    """ "3 Only then take it out of the mouth" """
    attempt: str
    """ "10 · 24 Oct" """
    mark: Mark
    letter: str
    critical: bool
    words: str


@dataclass(frozen=True)
class MarkRead:
    """What one attempt says of one step."""

    step: Step
    mark: Mark
    words: str
    letter: str = ""
    critical: bool = False
    reasons: tuple[Reason, ...] = ()
    out_of_order: bool = False
    filled: bool = False
    """Done only by the one stroke for a whole clean attempt."""


@dataclass(frozen=True)
class StepMap:
    """Steps against attempts, oldest first, with what it says in one sentence."""

    finding: str
    steps: tuple[str, ...]
    attempts: tuple[str, ...]
    cells: tuple[MapCell, ...]

    def csv(self) -> str:
        """The map as a table: one line a step and attempt."""
        columns = ("step", "attempt", "mark", "letter", "critical", "in words")
        return csv_text(
            columns,
            [(c.step, c.attempt, c.mark.value, c.letter, "yes" if c.critical else "", c.words) for c in self.cells],
        )


@question(Sight.COURSE)
def step_map(seen: CourseView, student: str, skill_id: str, as_of: date) -> StepMap:
    """Return the map of one skill of one student; attempts on another unit type or in no standing are not in it."""
    skill = seen.adopted.skill(skill_id)
    by_id = {one.attempt.id: one for one in seen.seen(student, skill)}
    own = [
        (by_id[step.attempt], step.judgement)
        for step in seen.standing(student, skill, as_of).history
        if step.effect not in (Effect.OUTSIDE, Effect.OTHER_TYPE)
    ]
    names = {step.id: f"{number} {step_name(step)}" for number, step in enumerate(skill.steps, 1)}
    cells = [
        MapCell(names[read.step.id], _attempt_words(one), read.mark, read.letter, read.critical, read.words)
        for one, judged in own
        for read in marks_read(one, judged, skill)
    ]
    used = {cell.step for cell in cells}
    return StepMap(
        finding=_finding(seen, student, skill, as_of, len(own)),
        steps=tuple(name for name in names.values() if name in used),
        attempts=tuple(_attempt_words(one) for one, _ in own),
        cells=tuple(cells),
    )


def _finding(seen: CourseView, student: str, skill: Skill, as_of: date, attempts: int) -> str:
    lines = telling_steps(seen, student, skill, as_of)
    if not attempts:
        return "No attempt to draw yet."
    if not lines:
        return f"No step went wrong in {plural(attempts, 'attempt')}."
    others = f" {plural(len(lines) - 1, 'other step')} went wrong too." if len(lines) > 1 else " All other steps right."
    return lines[0].sentence + others


def _attempt_words(one: SeenAttempt) -> str:
    """The attempt's number and day; those from elsewhere have numbers of their own."""
    elsewhere = "from elsewhere " if one.attempt.from_elsewhere else ""
    return f"{elsewhere}{one.attempt.number} · {day_words(one.day).rsplit(' ', 1)[0]}"


def marks_read(one: SeenAttempt, judged: AttemptJudgement, skill: Skill) -> tuple[MarkRead, ...]:
    """Return each step of one attempt, from the sheet that decides; nothing where no sheet does."""
    sheet = next((s for s in one.attempt.sheets if judged.held and s.id == judged.held.sheet), None)
    if sheet is None:
        return ()
    out_of_order = {reason.step: reason.critical for reason in judged.reasons if reason.what == "order" and reason.step}
    here = skill.steps if one.features is None else skill.steps_for(one.features)
    said = by_step(skill, one.attempt, one.against)
    read = ((step, read_step(step, sheet, one.attempt.joint, said.get(step.id, ()))) for step in here)
    return tuple(_read(step, reading, out_of_order) for step, reading in read)


def _read(step: Step, reading: StepReading, out_of_order: Mapping[str, bool]) -> MarkRead:
    """The mark to draw, its letter, whether it is critical, and the same in words."""
    words = " ".join(reason.sentence for reason in reading.reasons)
    critical = any(reason.critical for reason in reading.reasons) or out_of_order.get(step.id, False)
    errors = [reason for reason in reading.reasons if reason.what in ("error", "limit", "reading")]
    late = step.id in out_of_order
    read = partial(MarkRead, step, critical=critical, reasons=reading.reasons, out_of_order=late)
    if errors:
        return read(Mark.ERROR, words, letter=_letter(step, errors[0].error))
    if late:
        return read(Mark.ERROR, f"{words} Out of order.".strip())
    if reading.left_out:
        return read(Mark.LEFT_OUT, words)
    if reading.reasons:
        return read(Mark.PROMPTED, words)
    if not reading.seen:
        return MarkRead(step, Mark.NOT_SEEN, MARK_WORDS[Mark.NOT_SEEN])
    return MarkRead(step, Mark.DONE, AS_A_WHOLE if reading.filled else MARK_WORDS[Mark.DONE], filled=reading.filled)


def _letter(step: Step, error_id: str | None) -> str:
    """The error's letter as on pad and slate."""
    if error_id == OTHER_ERROR:
        return OTHER_ERROR
    ids = [error.id for error in step.errors]
    return LETTERS[ids.index(error_id)] if error_id in ids and ids.index(error_id) < len(LETTERS) else ""
