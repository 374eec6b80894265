"""Every kind of event, with its version. A published kind never changes; `/2` is added beside it.

A body is what happened. Fields marked `Private` hold what belongs to one person (or to the centre). They are sealed
before they reach the ledger: a body read back has None there, and `sealed` stands for them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from course.errors import RefusedError
from course.moments import Observed, is_id
from course.record.text import Line, Note
from course.standards.rubric import Quantity, Setting, Slug, Unit, decimal_of
from course.words import Capacity, Closing, DecisionKind, Mark, Role, SheetSource, SpanRole


class Private:
    """Marks a field that is sealed before it is stored."""


def _an_id(text: str) -> str:
    if not is_id(text):
        raise ValueError("is not an id")
    return text


def _a_day(text: str) -> str:
    return date.fromisoformat(text).isoformat()


def _a_decimal(text: str) -> str:
    decimal_of(text)
    return text


Id = Annotated[str, AfterValidator(_an_id)]
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Day = Annotated[str, AfterValidator(_a_day)]
DecimalText = Annotated[str, AfterValidator(_a_decimal), Field(max_length=24)]
PrivateLine = Annotated[Line | None, Private()]
PrivateNote = Annotated[Note | None, Private()]
PrivateDay = Annotated[Day | None, Private()]


class Sealed(BaseModel):
    """The private part of one body: whose key opens it, and the sealed bytes in base64."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    of: Id
    data: str


class Body(BaseModel):
    """What every kind of event has in common."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    kind: ClassVar[str]
    about: ClassVar[str]
    """The field that names the event's subject."""

    sealed: Sealed | None = None

    @classmethod
    def private_fields(cls) -> tuple[str, ...]:
        """Names of the fields that are sealed."""
        return tuple(
            name for name, field in cls.model_fields.items() if any(isinstance(m, Private) for m in field.metadata)
        )

    @property
    def subject(self) -> str:
        """The id of the thing that this event is a statement about."""
        return str(getattr(self, self.about))

    def public_part(self) -> dict[str, Any]:
        """The body as plain data without the private fields and without empty ones."""
        return self.model_dump(mode="json", by_alias=True, exclude_none=True, exclude=set(self.private_fields()))

    def private_part(self) -> dict[str, Any]:
        """The private fields that are filled, as plain data."""
        return self.model_dump(mode="json", include=set(self.private_fields()), exclude_none=True)


@dataclass(frozen=True)
class Draft:
    """An event on its way into the ledger: made where the person acts, with its id."""

    id: str
    actor: str
    body: Body
    private_of: str | None = None
    """Whose key seals the private fields; None: the centre's."""


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


class CentreMade(Body):
    """A centre came into being, with its lead. The first event of a ledger."""

    kind: ClassVar[str] = "centre_made/1"
    about: ClassVar[str] = "centre"

    centre: Id
    name: Line
    zone: str
    lead: Id
    lead_name: PrivateLine = None


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

    unit: Id
    label: Line
    unit_type: Slug
    serial: PrivateLine = None


# --- standards and courses -----------------------------------------------------------------------------------------


class RubricAdopted(Body):
    """Rubric files as written came into use; kept whole, so that an old standing can be derived again."""

    kind: ClassVar[str] = "rubric_adopted/1"
    about: ClassVar[str] = "adoption"

    adoption: Id
    files: dict[str, Any]


class CourseMade(Body):
    """A course was opened on adopted rubrics and one revision of one set of requirements."""

    kind: ClassVar[str] = "course_made/1"
    about: ClassVar[str] = "course"

    course: Id
    title: Line
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

    session: Id
    course: Id
    title: Line
    setting: Setting
    place: Line | None = None
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

    session: Id
    group: Id
    name: Line
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


# --- attempts, sheets, marks ---------------------------------------------------------------------------------------


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
    elsewhere: Line | None = None
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
    observed: Observed


class MarkGiven(BaseModel):
    """One step's mark. `errors` are letters' error ids of the step, or `x` for another; `replaces` names events."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    step: Slug
    mark: Mark
    errors: tuple[Slug, ...] = ()
    prompted: bool = False
    fixed_self: bool = False
    replaces: tuple[Id, ...] = ()

    @model_validator(mode="after")
    def _errors_go_with_an_error(self) -> Self:
        if self.prompted and self.mark != Mark.ERROR:
            raise ValueError(f"step {self.step}: a prompt without an error is the mark prompted")
        if (self.mark == Mark.ERROR) != bool(self.errors):
            raise ValueError(f"step {self.step}: an error mark names its errors, and no other mark does")
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
    why: PrivateNote = None


# --- amending ------------------------------------------------------------------------------------------------------


class Corrected(Body):
    """Fields of an earlier event were wrong. It stands; what is true now takes the new values."""

    kind: ClassVar[str] = "corrected/1"
    about: ClassVar[str] = "thing"

    thing: Id
    """The subject of the corrected event."""
    corrects: Id
    replaces: tuple[Id, ...] = ()
    """Earlier corrections that this one takes the place of."""
    change: dict[str, Any] = {}
    private_change: Annotated[dict[str, Any] | None, Private()] = None
    why: PrivateNote = None


class Withdrawn(Body):
    """An earlier event no longer holds."""

    kind: ClassVar[str] = "withdrawn/1"
    about: ClassVar[str] = "thing"

    thing: Id
    withdraws: Id
    why: PrivateNote = None


# --- signing -------------------------------------------------------------------------------------------------------


class Signed(Body):
    """A person's decision on one standing, frozen with what it rests on."""

    kind: ClassVar[str] = "signed/1"
    about: ClassVar[str] = "decision"

    decision: Id
    course: Id
    student: Id
    skill: Slug
    unit_type: Slug | None = None
    decided: DecisionKind
    standing: str
    """The tool's own standing at that moment."""
    sentence: Line
    as_of: Day
    rubric: Hash
    rests_on: Hash
    events_used: int
    replaces: tuple[Id, ...] = ()
    """Earlier decisions that this one takes the place of."""
    observed: Observed
    reason: PrivateNote = None


KINDS: dict[str, type[Body]] = {
    body.kind: body
    for body in (
        ChainStarted, CentreMade, PersonAdded, CheckOutRecorded, UnitAdded, RubricAdopted, CourseMade, Enrolled,
        UnitAssigned, SessionPlanned, GroupMade, SpanRecorded, SpanEnded, WaterTimeRecorded, AttemptOpened,
        SheetStarted, MarksGiven, WholeAttemptClean, ValueMeasured, OrderAnswered, AttemptClosed, AttemptsJoined,
        JointLineAgreed, ElsewhereAnswered, Corrected, Withdrawn, Signed,
    )
}  # fmt: skip


def read_body(kind: str, plain: dict[str, Any]) -> Body | None:
    """Read a body from plain data; None when the kind comes from a newer version.

    Raises:
        RefusedError: the data do not fit the kind, told field by field.
    """
    model = KINDS.get(kind)
    if model is None:
        return None
    try:
        return model.model_validate(plain)
    except ValidationError as error:
        raise RefusedError(f"{kind}: {plain_faults(error)}") from None


def plain_faults(error: ValidationError) -> str:
    """Tell a model's complaints as one sentence for people, without any of the values."""
    told = []
    for fault in error.errors():
        where = ".".join(str(part) for part in fault["loc"])
        text = fault["msg"].removeprefix("Value error, ")
        told.append(f"{where}: {text}" if where else text)
    return "; ".join(told) + "."
