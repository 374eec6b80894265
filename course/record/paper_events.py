"""Events of the papers behind a person on a course: proofs, consent, the exam, adjustments, leaving, interests.

What somebody types is private and sealed with the key of the person it is about. Of a medical statement only the
clearance is kept, yes or no and until when: the answers stay with the doctor's paper.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from course.record.body import Body, Day, DecimalText, Id, Private, PrivateDay, PrivateLine, PrivateNote
from course.record.text import Line
from course.standards.rubric import Slug

Items = Annotated[tuple[Line, ...], Field(max_length=200)]


class ProofSeen(Body):
    """Somebody on the staff saw a paper that the requirements ask for. Who saw it is the event's actor."""

    kind: ClassVar[str] = "proof_seen/1"
    about: ClassVar[str] = "person"

    person: Id
    course: Id
    prerequisite: Slug
    """The requirement's id in the profile."""
    day: Day
    """The day on which it was seen."""
    good_until: PrivateDay = None
    """The last day on which the paper is good, where it says one."""
    cleared: Annotated[Literal["yes", "no"] | None, Private()] = None
    """Of a medical paper alone: whether it clears the person."""
    paper: PrivateLine = None
    """The paper's name and revision."""
    replaces: tuple[Id, ...] = ()


class ConsentGiven(Body):
    """A guardian agreed to what a minor does in the water."""

    kind: ClassVar[str] = "consent_given/1"
    about: ClassVar[str] = "person"
    needed: ClassVar[tuple[str, ...]] = ("guardian",)

    person: Id
    course: Id
    stages: Annotated[tuple[Literal["pool", "open_water"], ...], Field(min_length=1)]
    day: Day
    """The day on which it was given."""
    until: PrivateDay = None
    guardian: PrivateLine = None
    replaces: tuple[Id, ...] = ()


class ExamTaken(Body):
    """A theory exam: which form, the mark, and the items missed, each a gap to be talked through on the dry day."""

    kind: ClassVar[str] = "exam_taken/1"
    about: ClassVar[str] = "person"

    person: Id
    course: Id
    exam: Id
    session: Id | None = None
    day: Day
    mark: DecimalText
    of: DecimalText
    gaps: Annotated[int, Field(ge=0, le=200)] = 0
    """How many items were missed; they stay counted when their names are erased."""
    items: Annotated[Items | None, Private()] = None
    """The items missed, in the order of their numbers from 1."""
    form: PrivateLine = None
    replaces: tuple[Id, ...] = ()

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if Decimal(self.mark) < 0 or Decimal(self.of) <= 0 or Decimal(self.mark) > Decimal(self.of):
            raise ValueError("the mark is not between 0 and what it is out of")
        if self.items is not None and len(self.items) != self.gaps:
            raise ValueError("there are not as many items as gaps")
        return self


class GapClosed(Body):
    """An item missed in an exam was talked through. By whom is the event's actor."""

    kind: ClassVar[str] = "gap_closed/1"
    about: ClassVar[str] = "person"

    person: Id
    exam: Id
    gap: Annotated[int, Field(ge=1, le=200)]
    session: Id | None = None
    day: Day
    note: PrivateNote = None


class AdjustmentApproved(Body):
    """How a student does a skill another way, approved by the lead.

    It changes how, and never takes out a step in which something critical can happen, unless the agency's written
    waiver is attached.
    """

    kind: ClassVar[str] = "adjustment_approved/1"
    about: ClassVar[str] = "person"
    needed: ClassVar[tuple[str, ...]] = ("how",)

    person: Id
    course: Id
    adjustment: Id
    skill: Slug
    day: Day
    without: tuple[Slug, ...] = ()
    """Steps that are not asked of this student."""
    how: PrivateNote = None
    waiver: PrivateLine = None
    """The agency's waiver: its number, date, who wrote it."""
    replaces: tuple[Id, ...] = ()


class LeftCourse(Body):
    """A student left a course unfinished."""

    kind: ClassVar[str] = "left_course/1"
    about: ClassVar[str] = "person"
    needed: ClassVar[tuple[str, ...]] = ("why",)

    person: Id
    course: Id
    day: Day
    why: PrivateNote = None


class Returned(Body):
    """A student who had left goes on with the course."""

    kind: ClassVar[str] = "returned/1"
    about: ClassVar[str] = "person"

    person: Id
    course: Id
    day: Day
    note: PrivateNote = None


class InterestNoted(Body):
    """Somebody on the staff is a student's relative, employer or the like; for the audit's list."""

    kind: ClassVar[str] = "interest_noted/1"
    about: ClassVar[str] = "person"
    needed: ClassVar[tuple[str, ...]] = ("note",)

    person: Id
    """Of the staff."""
    course: Id
    student: Id
    day: Day
    note: PrivateNote = None
