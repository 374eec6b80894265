"""Events of the centre and its courses: the database, people, units, standards, courses and sessions."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from course.moments import Observed
from course.record.body import Body, Day, DecimalText, Hash, Id, PrivateDay, PrivateLine, PrivateNote
from course.record.text import Line
from course.standards.rubric import Setting, Slug
from course.words import Role, SpanRole

# --- the database itself -------------------------------------------------------------------------------------------


class Predecessor(BaseModel):
    """The last event known of an earlier life of this database."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    chain: str
    seq: int
    hash: Hash


class ChainStarted(Body):
    """A database began a new life: restored from a backup, copied, or opened on another device."""

    kind: ClassVar[str] = "chain_started/1"
    about: ClassVar[str] = "chain"

    chain: str
    why: Literal["restored", "copied", "other_device"]
    predecessor: Predecessor


class ChainStartedAfterLoss(ChainStarted):
    """Somebody read what a damaged ledger had lost, and went on with what was left of it."""

    kind: ClassVar[str] = "chain_started/2"

    after_loss: Literal[True] = True


class CentreMade(Body):
    """A centre came into being, with its lead. The first event of a ledger."""

    kind: ClassVar[str] = "centre_made/1"
    about: ClassVar[str] = "centre"
    needed: ClassVar[tuple[str, ...]] = ("name",)

    centre: Id
    name: PrivateLine = None
    zone: str
    lead: Id


# --- people and units ----------------------------------------------------------------------------------------------


class PersonAdded(Body):
    """A person was entered."""

    kind: ClassVar[str] = "person_added/1"
    about: ClassVar[str] = "person"

    person: Id
    roles: Annotated[tuple[Role, ...], Field(min_length=1)]
    name: PrivateLine = None
    birth_date: PrivateDay = None
    contact: PrivateLine = None
    note: PrivateNote = None


class PersonAddedForOffice(PersonAdded):
    """A person was entered who neither teaches nor learns here; their office comes with their account."""

    kind: ClassVar[str] = "person_added/2"
    needed: ClassVar[tuple[str, ...]] = ("name",)

    roles: tuple[Role, ...] = ()


class CheckOutRecorded(Body):
    """An instructor's own check on a unit type; the requirements say how many days it is good for."""

    kind: ClassVar[str] = "check_out_recorded/1"
    about: ClassVar[str] = "person"

    person: Id
    unit_type: Slug
    day: Day
    note: PrivateNote = None


class UnitAdded(Body):
    """A unit was entered."""

    kind: ClassVar[str] = "unit_added/1"
    about: ClassVar[str] = "unit"
    needed: ClassVar[tuple[str, ...]] = ("label",)

    unit: Id
    label: PrivateLine = None
    unit_type: Slug
    serial: PrivateLine = None


# --- standards and courses -----------------------------------------------------------------------------------------


class RubricAdopted(Body):
    """Rubric files as written came into use; kept whole, so that an old standing can be derived again."""

    kind: ClassVar[str] = "rubric_adopted/1"
    about: ClassVar[str] = "adoption"

    adoption: Id
    files: dict[str, Any]


class RubricAdoptedAfter(Body):
    """Rubric files came into use in the place of others: what the person who adopted them had seen.

    Two laptops that adopt without knowing of each other take the place of the same ones, and that shows.
    """

    kind: ClassVar[str] = "rubric_adopted/2"
    about: ClassVar[str] = "adoption"

    adoption: Id
    files: dict[str, Any]
    replaces: tuple[Id, ...]
    """The adoptions whose place this one takes; empty for the first."""


class CourseMade(Body):
    """A course was opened on adopted rubrics and one revision of one set of requirements."""

    kind: ClassVar[str] = "course_made/1"
    about: ClassVar[str] = "course"
    needed: ClassVar[tuple[str, ...]] = ("title",)

    course: Id
    title: PrivateLine = None
    zone: str
    adoption: Id
    profile: Slug
    revision: Line
    first_day: Day
    last_day: Day

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.last_day < self.first_day:
            raise ValueError("the last day of the course is before its first day")
        return self


class CourseStandardsMoved(Body):
    """A running course went on under other adopted rubrics or requirements: the lead's decision, with its reason."""

    kind: ClassVar[str] = "course_standards_moved/1"
    about: ClassVar[str] = "course"
    needed: ClassVar[tuple[str, ...]] = ("why",)

    course: Id
    adoption: Id
    profile: Slug
    revision: Line
    replaces: tuple[Id, ...] = ()
    """Earlier moves that this one takes the place of."""
    observed: Observed
    why: PrivateNote = None


class Enrolled(Body):
    """A person belongs to a course in a role."""

    kind: ClassVar[str] = "enrolled/1"
    about: ClassVar[str] = "course"

    course: Id
    person: Id
    role: Role


class UnitAssigned(Body):
    """From a day on a person dives this unit on this course."""

    kind: ClassVar[str] = "unit_assigned/1"
    about: ClassVar[str] = "course"

    course: Id
    person: Id
    unit: Id
    unit_type: Slug
    from_day: Day


# --- sessions ------------------------------------------------------------------------------------------------------


class SessionPlanned(Body):
    """A planned gathering of a course."""

    kind: ClassVar[str] = "session_planned/1"
    about: ClassVar[str] = "session"
    needed: ClassVar[tuple[str, ...]] = ("title",)

    session: Id
    course: Id
    title: PrivateLine = None
    setting: Setting
    place: PrivateLine = None
    start: Observed
    end: Observed

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.end.moment <= self.start.moment:
            raise ValueError("the session ends before it begins")
        return self


class GroupMade(Body):
    """Who is with whom in a session. A later one for the same group names what it replaces."""

    kind: ClassVar[str] = "group_made/1"
    about: ClassVar[str] = "session"
    needed: ClassVar[tuple[str, ...]] = ("name",)

    session: Id
    group: Id
    name: PrivateLine = None
    staff: tuple[Id, ...]
    students: tuple[Id, ...]
    replaces: tuple[Id, ...] = ()


class SpanRecorded(Body):
    """One person's in-out time in a role, half open; without an end while they are still there."""

    kind: ClassVar[str] = "span_recorded/1"
    about: ClassVar[str] = "session"

    session: Id
    span: Id
    person: Id
    role: SpanRole
    group: Id | None = None
    start: Observed
    end: Observed | None = None

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.end and self.end.moment <= self.start.moment:
            raise ValueError("the span ends before it begins")
        return self


class SpanEnded(Body):
    """A person left."""

    kind: ClassVar[str] = "span_ended/1"
    about: ClassVar[str] = "session"

    session: Id
    span: Id
    end: Observed


class WaterTimeRecorded(Body):
    """One person's time in the water in a session: in, out, minutes on the loop and on bailout, greatest depth."""

    kind: ClassVar[str] = "water_time_recorded/1"
    about: ClassVar[str] = "session"

    session: Id
    water: Id
    person: Id
    unit: Id | None = None
    entered: Observed | None = None
    left: Observed | None = None
    loop_minutes: Annotated[int, Field(ge=0, le=1440)]
    bailout_minutes: Annotated[int, Field(ge=0, le=1440)] = 0
    max_depth_m: DecimalText | None = None


class WaterTimeSeen(WaterTimeRecorded):
    """The same with the visibility that was met; the first version is read for ever."""

    kind: ClassVar[str] = "water_time_recorded/2"

    visibility_m: DecimalText | None = None


class VisibilityCalled(Body):
    """Somebody who runs the session called its visibility low, or took that back. It holds for the whole session."""

    kind: ClassVar[str] = "visibility_called/1"
    about: ClassVar[str] = "session"

    session: Id
    low: bool
    replaces: tuple[Id, ...] = ()
    observed: Observed
