"""Events of units: care and its dates, holds, and faults that are planted on a bench or shown in the water."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import BaseModel, ConfigDict, Field

from course.moments import Observed
from course.record.body import Body, Day, DecimalText, Id, PrivateLine, PrivateNote
from course.standards.rubric import Slug
from course.words import Care, ReadingKind, SlipAnswer, SlipKind


class UnitCared(Body):
    """A unit was serviced, or got new cells or a new scrubber filling; and how long that is good for."""

    kind: ClassVar[str] = "unit_cared/1"
    about: ClassVar[str] = "unit"

    unit: Id
    care: Id
    what: Care
    observed: Observed
    good_until: Day | None = None
    good_minutes: Annotated[int, Field(ge=1, le=10_000)] | None = None
    """For a scrubber filling: minutes in use, by the maker's manual and whoever filled it."""
    note: PrivateNote = None


class UnitHeld(Body):
    """A unit may not go in the water until the hold is lifted."""

    kind: ClassVar[str] = "unit_held/1"
    about: ClassVar[str] = "unit"

    unit: Id
    hold: Id
    observed: Observed
    slip: Id | None = None
    """The planted fault that it is held for; such a hold ends only when the slip is cleared and the list passed."""
    why: PrivateNote = None


class UnitReleased(Body):
    """A hold was lifted."""

    kind: ClassVar[str] = "unit_released/1"
    about: ClassVar[str] = "unit"

    unit: Id
    hold: Id
    observed: Observed
    list_passed_by: Id | None = None
    """Who saw the unit's whole list passed again; needed after a planted fault."""
    why: PrivateNote = None


class Amount(BaseModel):
    """One number of a reading: what it is of, as a decimal string, in a unit."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    key: Slug
    value: DecimalText
    unit: Annotated[str, Field(max_length=12)] = ""


class ReadingTaken(Body):
    """Something was read of a unit: what it showed, and what has to be known to judge it."""

    kind: ClassVar[str] = "reading_taken/1"
    about: ClassVar[str] = "unit"

    unit: Id
    reading: Id
    what: ReadingKind
    cell: Annotated[int, Field(ge=1, le=9)] | None = None
    """Which cell, where it is one of several."""
    amounts: Annotated[tuple[Amount, ...], Field(min_length=1, max_length=16)]
    observed: Observed
    attempt: Id | None = None
    """The attempt for whose step it was written down as a value too."""
    step: Slug | None = None
    note: PrivateNote = None


class FaultSet(Body):
    """A fault was planted on a bench, or shown in the water by a slip that is held up."""

    kind: ClassVar[str] = "fault_set/1"
    about: ClassVar[str] = "slip"

    slip: Id
    course: Id
    session: Id
    how: SlipKind
    fault: Slug
    """Of the planted faults, or for a shown one the skill that answers it."""
    unit: Id | None = None
    for_whom: tuple[Id, ...] = ()
    bag: PrivateLine = None
    """Where the part that was taken out waits, as written on its bag."""
    observed: Observed


class FaultAnswered(Body):
    """What one person made of a fault: found it, missed it, or took something sound for one."""

    kind: ClassVar[str] = "fault_answered/1"
    about: ClassVar[str] = "slip"

    slip: Id
    person: Id
    answer: SlipAnswer
    replaces: tuple[Id, ...] = ()
    observed: Observed
    note: PrivateNote = None


class FaultCleared(Body):
    """A planted fault was taken out again."""

    kind: ClassVar[str] = "fault_cleared/1"
    about: ClassVar[str] = "slip"

    slip: Id
    observed: Observed
    note: PrivateNote = None
