"""Events of a session's day: paper sheets given out, roll calls, a session frozen, closed, and the day's checkpoint."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field

from course.moments import Observed
from course.record.body import Body, Day, DecimalText, Hash, Id, PrivateLine, PrivateNote
from course.record.chain import canonical
from course.record.key_events import Signature
from course.standards.rubric import Slug

_CHECKPOINT = b"loopledger.checkpoint.v1\n"
Students = Annotated[tuple[Id, ...], Field(min_length=1, max_length=12)]


class SlateIssued(Body):
    """A paper sheet was given out for a session: which skill, and the students in the order of its columns.

    Printing it again is the same sheet and appends nothing.
    """

    kind: ClassVar[str] = "slate_issued/1"
    about: ClassVar[str] = "session"

    session: Id
    slate: Id
    code: Annotated[str, Field(pattern=r"^[0-9A-Z]{4}-[0-9A-Z]{5}$")]
    """What is read aloud and typed; the last character checks the others."""
    skill: Slug
    rubric: Hash
    students: Students
    tries: Annotated[int, Field(ge=1, le=3)] = 1
    """Columns for each student."""
    group: Id | None = None


class SlateSetAside(Body):
    """A sheet that was given out will not be entered."""

    kind: ClassVar[str] = "slate_set_aside/1"
    about: ClassVar[str] = "session"

    session: Id
    slate: Id
    how: Literal["not_used", "lost", "unreadable"]
    why: PrivateNote = None


class SitePlanned(Body):
    """What stands on the day sheet for an emergency. A later one takes the place of those that it names."""

    kind: ClassVar[str] = "site_planned/1"
    about: ClassVar[str] = "session"

    session: Id
    emergency: PrivateNote = None
    """Whom to call, with numbers, and where help is."""
    plan: PrivateNote = None
    """Way in and out, oxygen and first aid, boat, limits of the place."""
    replaces: tuple[Id, ...] = ()


class RollCalled(Body):
    """Who was there, and who was missing, when the roll was called."""

    kind: ClassVar[str] = "roll_called/1"
    about: ClassVar[str] = "session"

    session: Id
    roll: Id
    when: Literal["going_in", "coming_out", "other"]
    present: tuple[Id, ...]
    missing: tuple[Id, ...] = ()
    observed: Observed


class SessionFrozen(Body):
    """Something went wrong: who was in, on which units, and which attempts were under way, all at that moment."""

    kind: ClassVar[str] = "session_frozen/1"
    about: ClassVar[str] = "session"

    session: Id
    incident: Id
    people: tuple[Id, ...] = ()
    units: tuple[Id, ...] = ()
    attempts: tuple[Id, ...] = ()
    tablets_waiting: Annotated[int, Field(ge=0, le=999)] = 0
    """Tablets known to hold marks that had not arrived."""
    observed: Observed
    note: PrivateNote = None


class IncidentNoted(Body):
    """More about an incident, in the words of whoever writes it."""

    kind: ClassVar[str] = "incident_noted/1"
    about: ClassVar[str] = "session"

    session: Id
    incident: Id
    observed: Observed
    note: PrivateNote = None


class SessionResumed(Body):
    """A frozen session goes on, with a reason."""

    kind: ClassVar[str] = "session_resumed/1"
    about: ClassVar[str] = "session"

    session: Id
    incident: Id
    observed: Observed
    why: PrivateNote = None


class SessionClosed(Body):
    """Nothing more is entered for a session, but by opening it again with a reason."""

    kind: ClassVar[str] = "session_closed/1"
    about: ClassVar[str] = "session"

    session: Id
    observed: Observed


class SessionReopened(Body):
    """A closed session takes entries again."""

    kind: ClassVar[str] = "session_reopened/1"
    about: ClassVar[str] = "session"

    session: Id
    observed: Observed
    why: PrivateNote = None


class KnownHead(BaseModel):
    """How far one chain had come."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    chain: str
    seq: Annotated[int, Field(ge=1)]
    hash: Hash


class CheckpointMade(Body):
    """At the end of a day: every head that this database knew, so that laptops and papers witness each other."""

    kind: ClassVar[str] = "checkpoint_made/1"
    about: ClassVar[str] = "checkpoint"

    checkpoint: Id
    course: Id
    day: Day
    heads: Annotated[tuple[KnownHead, ...], Field(min_length=1)]
    still_open: Annotated[int, Field(ge=0)] = 0
    """How many things were left open when the day was closed."""
    note: PrivateLine = None

    def said(self, centre: str) -> bytes:
        """Return what a signature is over: whose it is, and every head that is named."""
        heads = [[one.chain, one.seq, one.hash] for one in self.heads]
        return _CHECKPOINT + canonical([centre, self.checkpoint, self.course, self.day, heads])


class CheckpointSigned(CheckpointMade):
    """A checkpoint that the centre's key signed: whoever writes a ledger anew without the key cannot make it fit."""

    kind: ClassVar[str] = "checkpoint_made/2"

    public: Hash
    """The key's public part."""
    signed: Signature


class SetPointNoted(Body):
    """Which set point was held in a session: by one person, or by everybody without one of their own."""

    kind: ClassVar[str] = "set_point_noted/1"
    about: ClassVar[str] = "session"

    session: Id
    person: Id | None = None
    set_point_bar: DecimalText
    replaces: tuple[Id, ...] = ()
    observed: Observed


class SetPointReached(SetPointNoted):
    """The same from a moment on: over so many minutes the loop went there evenly from what was held before it."""

    kind: ClassVar[str] = "set_point_noted/2"

    begins: Observed
    over_minutes: Annotated[int, Field(ge=0, le=240)] = 0
    """0: at once."""
