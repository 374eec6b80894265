"""Every kind of event, with its version. A published kind never changes; `/2` is added beside it.

A body is what happened. Fields marked `Private` hold what belongs to one person (or to the centre). They are sealed
before they reach the ledger: a body read back has None there, and `sealed` stands for them.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import Field, ValidationError

from course.errors import RefusedError
from course.moments import Observed
from course.record.account_events import (
    AccountClosed,
    AccountClosedAsLast,
    AccountMade,
    OfficesGiven,
    PasswordSet,
    PinSet,
    SignedIn,
    SignedOut,
    SigningPinLetGo,
    SigningPinSet,
)
from course.record.arrival_events import ArrivedFromElsewhere, ElsewhereAccepted, TransferAgreed
from course.record.attempt_events import (
    AttemptClosed,
    AttemptOpened,
    AttemptsJoined,
    ElsewhereAnswered,
    JointLineAgreed,
    MarkGiven,
    MarksGiven,
    OrderAnswered,
    OrderAnswered2,
    ReadingSetAside,
    SheetStarted,
    ValueMeasured,
    WholeAttemptClean,
)
from course.record.body import (
    Body,
    Day,
    DecimalText,
    Draft,
    Hash,
    Id,
    Private,
    PrivateNote,
    Sealed,
    Secret,
    plain_faults,
)
from course.record.centre_events import (
    CentreMade,
    ChainStarted,
    ChainStartedAfterLoss,
    CheckOutRecorded,
    CourseMade,
    CourseStandardsMoved,
    Enrolled,
    GroupMade,
    PersonAdded,
    PersonAddedForOffice,
    Predecessor,
    RubricAdopted,
    RubricAdoptedAfter,
    SessionPlanned,
    SpanEnded,
    SpanRecorded,
    UnitAdded,
    UnitAssigned,
    VisibilityCalled,
    WaterTimeRecorded,
    WaterTimeSeen,
)
from course.record.day_events import (
    CheckpointMade,
    CheckpointSigned,
    IncidentNoted,
    KnownHead,
    RollCalled,
    SessionClosed,
    SessionFrozen,
    SessionReopened,
    SessionResumed,
    SetPointNoted,
    SetPointReached,
    SitePlanned,
    SlateIssued,
    SlateSetAside,
)
from course.record.finding_events import FindingAnswered
from course.record.key_events import CentreKeyMade, CentreKeyReplaced
from course.record.merge_events import DeviceAccepted, LedgerMerged
from course.record.paper_events import (
    AdjustmentApproved,
    ConsentGiven,
    ExamTaken,
    GapClosed,
    InterestNoted,
    LeftCourse,
    ProofSeen,
    Returned,
)
from course.record.privacy_events import PersonErased, RetentionSet
from course.record.signing_events import (
    Confirmed,
    ExceptionProposed,
    ExceptionSeconded,
    SignedOff,
    SignOffCountersigned,
    SignOffWithdrawn,
)
from course.record.text import Note
from course.record.unit_events import (
    FaultAnswered,
    FaultCleared,
    FaultSet,
    ReadingTaken,
    UnitCared,
    UnitHeld,
    UnitReleased,
)
from course.standards.rubric import Slug
from course.words import DecisionKind

__all__ = [
    "KINDS",
    "SECRETS",
    "STARTS",
    "WITHDRAWALS",
    "AccountClosed",
    "AccountClosedAsLast",
    "AccountMade",
    "AdjustmentApproved",
    "ArrivedFromElsewhere",
    "AttemptClosed",
    "AttemptOpened",
    "AttemptsJoined",
    "Body",
    "CentreKeyMade",
    "CentreKeyReplaced",
    "CentreMade",
    "ChainStarted",
    "ChainStartedAfterLoss",
    "CheckOutRecorded",
    "CheckpointMade",
    "CheckpointSigned",
    "ConsentGiven",
    "Corrected",
    "CourseMade",
    "CourseStandardsMoved",
    "Day",
    "DecimalText",
    "DeviceAccepted",
    "Draft",
    "ElsewhereAccepted",
    "ElsewhereAnswered",
    "Enrolled",
    "ExamTaken",
    "ExceptionProposed",
    "ExceptionSeconded",
    "FaultAnswered",
    "FaultCleared",
    "FaultSet",
    "FindingAnswered",
    "GapClosed",
    "GroupMade",
    "Hash",
    "Id",
    "IncidentNoted",
    "InterestNoted",
    "JointLineAgreed",
    "KnownHead",
    "LedgerMerged",
    "LeftCourse",
    "MarkGiven",
    "MarksGiven",
    "OfficesGiven",
    "OrderAnswered",
    "OrderAnswered2",
    "PasswordSet",
    "PersonAdded",
    "PersonAddedForOffice",
    "PersonErased",
    "PinSet",
    "Predecessor",
    "Private",
    "ProofSeen",
    "ReadingSetAside",
    "ReadingTaken",
    "RetentionSet",
    "Returned",
    "RollCalled",
    "RubricAdopted",
    "RubricAdoptedAfter",
    "Sealed",
    "SessionClosed",
    "SessionFrozen",
    "SessionPlanned",
    "SessionReopened",
    "SessionResumed",
    "SetPointNoted",
    "SetPointReached",
    "SheetStarted",
    "SignOffCountersigned",
    "SignOffWithdrawn",
    "Signed",
    "SignedConfirmed",
    "SignedIn",
    "SignedOff",
    "SignedOut",
    "SigningPinLetGo",
    "SigningPinSet",
    "SitePlanned",
    "SlateIssued",
    "SlateSetAside",
    "SpanEnded",
    "SpanRecorded",
    "TransferAgreed",
    "UnitAdded",
    "UnitAssigned",
    "UnitCared",
    "UnitHeld",
    "UnitReleased",
    "ValueMeasured",
    "VisibilityCalled",
    "WaterTimeRecorded",
    "WaterTimeSeen",
    "WholeAttemptClean",
    "Withdrawn",
    "WithdrawnConfirmed",
    "plain_faults",
    "read_body",
]

# --- amending ------------------------------------------------------------------------------------------------------


class Corrected(Body):
    """Fields of an earlier event were wrong. It stands; what is true now takes the new values."""

    kind: ClassVar[str] = "corrected/1"
    about: ClassVar[str] = "thing"

    thing: Id
    """The subject of the corrected event."""
    corrects: Id
    replaces: tuple[Id, ...] = ()
    """Earlier corrections that this one takes the place of, in the fields that it changes."""
    change: dict[str, Any] = Field(default_factory=dict)
    private_change: Annotated[dict[str, Any] | None, Private()] = None
    why: PrivateNote = None


class Withdrawn(Body):
    """An earlier event no longer holds."""

    kind: ClassVar[str] = "withdrawn/1"
    about: ClassVar[str] = "thing"

    thing: Id
    withdraws: Id
    why: PrivateNote = None


class WithdrawnConfirmed(Withdrawn):
    """An earlier event no longer holds, and whoever says so confirmed at the act that it was them."""

    kind: ClassVar[str] = "withdrawn/2"

    confirmed_with: Confirmed


STARTS: dict[str, type[ChainStarted]] = {one.kind: one for one in (ChainStarted, ChainStartedAfterLoss)}
WITHDRAWALS = (Withdrawn.kind, WithdrawnConfirmed.kind)

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
    sentence: Note
    as_of: Day
    rubric: Hash
    rests_on: Hash
    events_used: int
    replaces: tuple[Id, ...] = ()
    """Earlier decisions that this one takes the place of."""
    observed: Observed
    reason: PrivateNote = None


class SignedConfirmed(Signed):
    """A decision whose signer confirmed at the act itself that it was them."""

    kind: ClassVar[str] = "signed/2"

    confirmed_with: Confirmed


KINDS: dict[str, type[Body]] = {
    body.kind: body
    for body in (
        ChainStarted, CentreMade, PersonAdded, CheckOutRecorded, UnitAdded, RubricAdopted, RubricAdoptedAfter,
        CourseMade, Enrolled,
        UnitAssigned, SessionPlanned, GroupMade, SpanRecorded, SpanEnded, WaterTimeRecorded, AttemptOpened,
        SheetStarted, MarksGiven, WholeAttemptClean, ValueMeasured, OrderAnswered, OrderAnswered2, AttemptClosed,
        AttemptsJoined, JointLineAgreed, ElsewhereAnswered, Corrected, Withdrawn, Signed, SlateIssued, SlateSetAside,
        SitePlanned, RollCalled, SessionFrozen, IncidentNoted, SessionResumed, SessionClosed, SessionReopened,
        CheckpointMade, CheckpointSigned,
        UnitCared, UnitHeld, UnitReleased, FaultSet, FaultAnswered, FaultCleared, CourseStandardsMoved,
        WaterTimeSeen, VisibilityCalled,
        ProofSeen, ConsentGiven, ExamTaken, GapClosed, AdjustmentApproved, LeftCourse, Returned, InterestNoted,
        FindingAnswered, DeviceAccepted, LedgerMerged, PersonErased, RetentionSet, ReadingTaken, SetPointNoted,
        SetPointReached,
        CentreKeyMade, CentreKeyReplaced, SignedConfirmed, ExceptionProposed, ExceptionSeconded, SignedOff,
        SignOffWithdrawn, SignOffCountersigned, TransferAgreed, ArrivedFromElsewhere, ElsewhereAccepted,
        AccountMade, PasswordSet, PinSet, OfficesGiven, AccountClosed, AccountClosedAsLast, PersonAddedForOffice,
        SignedIn, SignedOut, ReadingSetAside, SigningPinSet, SigningPinLetGo,
        WithdrawnConfirmed, ChainStartedAfterLoss,
    )
}  # fmt: skip
SECRETS = frozenset(
    name
    for model in KINDS.values()
    for name, field in model.model_fields.items()
    if any(isinstance(mark, Secret) for mark in field.metadata)
)
"""Names of private fields that are left out wherever private data are opened, but for `Ledger.secrets`."""


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
