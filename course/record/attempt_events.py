"""Events of attempts: opening, sheets, marks, values, order, closing, and what is agreed about them later."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from course.moments import Observed
from course.record.body import Body, DecimalText, Hash, Id, Private, PrivateLine, PrivateNote
from course.record.text import Note
from course.standards.rubric import Quantity, Setting, Slug, Unit
from course.words import Capacity, Closing, Mark, Role, SheetSource


class AttemptOpened(Body):
    """One student began one try at one skill."""

    kind: ClassVar[str] = "attempt_opened/1"
    about: ClassVar[str] = "attempt"

    attempt: Id
    course: Id
    session: Id
    student: Id
    skill: Slug
    rubric: Hash
    unit: Id | None = None
    unit_type: Slug | None = None
    setting: Setting
    number: Annotated[int, Field(ge=1, le=9999)]
    within: Id | None = None
    """The attempt inside whose act this one was seen too, by the observer's own stroke."""
    from_elsewhere: bool = False
    elsewhere: PrivateLine = None
    """The other centre that saw it, where it was not ours."""
    observed: Observed
    note: PrivateNote = None


class SheetStarted(Body):
    """An observer began to mark an attempt."""

    kind: ClassVar[str] = "sheet_started/1"
    about: ClassVar[str] = "attempt"

    attempt: Id
    sheet: Id
    observer: Id
    role: Role
    capacity: Capacity
    source: SheetSource
    slate: Id | None = None
    """The paper sheet that it was copied from."""
    slate_try: Annotated[int, Field(ge=1, le=3)] | None = None
    """Which of the student's columns on that sheet."""
    observed: Observed


class MarkGiven(BaseModel):
    """One step's mark. `errors` are letters' error ids of the step, or `x` for another; `replaces` names events."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    step: Slug
    mark: Mark
    errors: tuple[Slug, ...] = ()
    prompted: bool = False
    fixed_self: bool = False
    unreadable: bool = False
    """What stood on the paper could not be read: not seen, and told apart."""
    replaces: tuple[Id, ...] = ()

    @model_validator(mode="after")
    def _errors_go_with_an_error(self) -> Self:
        if self.prompted and self.mark != Mark.ERROR:
            raise ValueError(f"step {self.step}: a prompt without an error is the mark prompted")
        if (self.mark == Mark.ERROR) != bool(self.errors):
            raise ValueError(f"step {self.step}: an error mark names its errors, and no other mark does")
        if self.unreadable and self.mark != Mark.NOT_SEEN:
            raise ValueError(f"step {self.step}: what could not be read is marked as not seen")
        if len(set(self.errors)) != len(self.errors):
            raise ValueError(f"step {self.step}: the same error twice")
        return self


class MarksGiven(Body):
    """An observer gave steps of an attempt their marks: one from a tap, several from a slate."""

    kind: ClassVar[str] = "marks_given/1"
    about: ClassVar[str] = "attempt"

    attempt: Id
    sheet: Id
    marks: Annotated[tuple[MarkGiven, ...], Field(min_length=1, max_length=80)]
    observed: Observed
    why: PrivateNote = None
    """The reason, where the attempt was closed already."""
    notes: Annotated[dict[str, Note] | None, Private()] = None
    """Text for an error `x`, by step."""


class WholeAttemptClean(Body):
    """The observer's one stroke for a whole attempt; fills only unmarked steps where nothing critical can happen."""

    kind: ClassVar[str] = "whole_attempt_clean/1"
    about: ClassVar[str] = "attempt"

    attempt: Id
    sheet: Id
    observed: Observed


class ValueMeasured(Body):
    """A value written down for a step: a decimal string in a unit."""

    kind: ClassVar[str] = "value_measured/1"
    about: ClassVar[str] = "attempt"

    attempt: Id
    sheet: Id
    step: Slug
    quantity: Quantity
    unit: Unit
    value: DecimalText
    replaces: tuple[Id, ...] = ()
    observed: Observed


class OrderAnswered(Body):
    """The observer's answer to "was `first_done` done before `should_come_first`?"; only a yes is an order fault."""

    kind: ClassVar[str] = "order_answered/1"
    about: ClassVar[str] = "attempt"

    attempt: Id
    sheet: Id
    first_done: Slug
    should_come_first: Slug
    seen_so: bool
    replaces: tuple[Id, ...] = ()
    observed: Observed


class OrderAnswered2(OrderAnswered):
    """The same answer, with the word that the student put the order right unasked. It is shown and softens nothing."""

    kind: ClassVar[str] = "order_answered/2"

    fixed_self: bool = False
    """Means something beside a yes only."""


class AttemptClosed(Body):
    """An attempt ended. Void: not the student's doing, with a reason; over a critical error with a second person."""

    kind: ClassVar[str] = "attempt_closed/1"
    about: ClassVar[str] = "attempt"

    attempt: Id
    how: Closing
    stopped_by: Literal["student", "instructor"] | None = None
    second: Id | None = None
    observed: Observed
    reason: PrivateNote = None

    @model_validator(mode="after")
    def _says_who_stopped(self) -> Self:
        if (self.how == Closing.STOPPED) != (self.stopped_by is not None):
            raise ValueError("a stopped attempt says who stopped it, and no other does")
        return self


class AttemptsJoined(Body):
    """Two or more attempts in the ledger were one try; the first one named keeps all sheets."""

    kind: ClassVar[str] = "attempts_joined/1"
    about: ClassVar[str] = "join"

    join: Id
    course: Id
    attempts: Annotated[tuple[Id, ...], Field(min_length=2, max_length=8)]
    why: PrivateNote = None


class JointLineAgreed(Body):
    """Two observers of one attempt agreed on what was seen of one step; it stands on both sheets."""

    kind: ClassVar[str] = "joint_line_agreed/1"
    about: ClassVar[str] = "attempt"

    attempt: Id
    line: MarkGiven
    value: DecimalText | None = None
    observers: Annotated[tuple[Id, ...], Field(min_length=2, max_length=8)]
    observed: Observed
    why: PrivateNote = None


class ElsewhereAnswered(Body):
    """The receiving lead accepts an attempt seen at another centre, or does not."""

    kind: ClassVar[str] = "elsewhere_answered/1"
    about: ClassVar[str] = "attempt"

    attempt: Id
    accepted: bool
    replaces: tuple[Id, ...] = ()
    why: PrivateNote = None


class ReadingSetAside(Body):
    """Somebody who decides says, with a reason, that readings of the unit say nothing against a step's tick."""

    kind: ClassVar[str] = "reading_set_aside/1"
    about: ClassVar[str] = "attempt"

    attempt: Id
    step: Slug
    readings: Annotated[tuple[Id, ...], Field(min_length=1, max_length=16)]
    observed: Observed
    why: PrivateNote = None
