"""What can be amended of one closed attempt: its sheets' marks, whose it is, whether it took place."""

from __future__ import annotations

from dataclasses import dataclass

from course.access import Sight
from course.answers.course_view import CourseView
from course.asker import question
from course.assessment.overruled import by_step
from course.errors import NotFoundError
from course.record.events import AttemptOpened, MarkGiven
from course.standards.rubric import Step
from course.storage.ledger import Ledger
from course.storage.lookup import skill_as_marked
from course.words import MARK_WORDS, Mark


@dataclass(frozen=True)
class AmendableSheet:
    """A sheet; only its observer amends it."""

    sheet: str
    observer: str
    name: str


@dataclass(frozen=True)
class AmendableStep:
    """A step with the marks that it can get, in words."""

    step: str
    words: str
    marks: tuple[tuple[str, MarkGiven], ...]


@dataclass(frozen=True)
class OverruledStep:
    """A step whose tick does not hold, since the unit was read outside its bounds."""

    step: str
    words: str
    readings: tuple[str, ...]


@dataclass(frozen=True)
class Amendable:
    """What an amendment needs to know of an attempt."""

    attempt: str
    opened: str
    """The event that opened it."""
    sheets: tuple[AmendableSheet, ...]
    steps: tuple[AmendableStep, ...]
    others: dict[str, str]
    """Students it could belong to instead: id to name."""
    elsewhere: str = ""
    """The other centre, for an attempt that was not seen here; it counts only as accepted."""
    overruled: tuple[OverruledStep, ...] = ()


@question(Sight.COURSE)
def amendable(ledger: Ledger, seen: CourseView, attempt_id: str) -> Amendable:
    """Return what can be amended of an attempt.

    Raises:
        NotFoundError: the course has no such attempt.
    """
    attempt = next((a for a in seen.attempts if a.id == attempt_id), None)
    opened = next((e.id for e in ledger.events(attempt_id) if e.kind == AttemptOpened.kind), None)
    if attempt is None or opened is None:
        raise NotFoundError("There is no such attempt on this course. Nothing was changed.")
    unit_type = seen.adopted.standards.unit_types.get(attempt.unit_type or "")
    skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    steps = skill.steps_for(unit_type.feature_set if unit_type else frozenset())
    said = by_step(skill, attempt, seen.against(attempt))
    return Amendable(
        attempt=attempt.id,
        opened=opened,
        sheets=tuple(AmendableSheet(s.id, s.observer, seen.name(s.observer)) for s in attempt.sheets),
        steps=tuple(AmendableStep(s.id, f"{number}. {s.do}", _marks(s)) for number, s in enumerate(steps, 1)),
        others={s: seen.name(s) for s in seen.students if s != attempt.student},
        overruled=tuple(
            OverruledStep(s.id, f"{s.do} The unit was {one.words}", tuple(r.reading for r in said[s.id]))
            for s in steps
            if s.id in said
            for one in said[s.id][:1]
        ),
        elsewhere=(attempt.elsewhere or "another centre") if attempt.from_elsewhere else "",
    )


def _marks(step: Step) -> tuple[tuple[str, MarkGiven], ...]:
    plain = [(MARK_WORDS[mark], MarkGiven(step=step.id, mark=mark)) for mark in Mark if mark != Mark.ERROR]
    errors = [
        (
            f"error: {error.label}{' (critical)' if error.critical else ''}",
            MarkGiven(step=step.id, mark=Mark.ERROR, errors=(error.id,)),
        )
        for error in step.errors
    ]
    return (*plain, *errors)
