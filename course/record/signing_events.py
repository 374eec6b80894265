"""Events of signing beyond one agreed or held-back standing: exceptions by two people, and sign-off of a whole course.

Whoever signs is the event's actor. How they confirmed that it was them is public, what they typed never is.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from course.moments import Observed
from course.record.body import Body, Day, Hash, Id, PrivateLine, PrivateNote
from course.record.text import Note
from course.standards.rubric import Slug

Confirmed = Literal["password", "pin"]
"""What the signer typed at the act itself, where people have accounts."""
Rule = Annotated[str, Field(max_length=120, pattern=r"^(skill|hours|count):[a-z0-9][a-z0-9_-]*$")]
"""One line of the requirements: a skill, minutes of one kind, or a count."""
Count = Annotated[int, Field(ge=0, le=10**6)]


class ExceptionProposed(Body):
    """An instructor would let one requirement be that is short. It holds nothing until a second one says so too."""

    kind: ClassVar[str] = "exception_proposed/1"
    about: ClassVar[str] = "exception"
    needed: ClassVar[tuple[str, ...]] = ("reason",)

    exception: Id
    course: Id
    student: Id
    rule: Rule
    unit_type: Slug | None = None
    sentence: Note
    """What the tool said: the standing, or how much is short."""
    as_of: Day
    have: Count | None = None
    """Minutes or times that were there; the exception reaches no further down than to these."""
    required: Count | None = None
    rests_on: Hash
    events_used: Count = 0
    replaces: tuple[Id, ...] = ()
    """Earlier exceptions to the same rule that this one takes the place of."""
    observed: Observed
    confirmed_with: Confirmed | None = None
    reason: PrivateNote = None


class ExceptionSeconded(Body):
    """A second instructor looked at the same record and agrees to the exception."""

    kind: ClassVar[str] = "exception_seconded/1"
    about: ClassVar[str] = "exception"
    needed: ClassVar[tuple[str, ...]] = ("reason",)

    exception: Id
    rests_on: Hash
    observed: Observed
    confirmed_with: Confirmed | None = None
    reason: PrivateNote = None


class SignedOff(Body):
    """A person signs that a student has all that the course asks for. The agency certifies."""

    kind: ClassVar[str] = "signed_off/1"
    about: ClassVar[str] = "sign_off"

    sign_off: Id
    course: Id
    student: Id
    issue: Annotated[int, Field(ge=1, le=999)]
    """The first is 1; a record that is signed off once more gets the next number."""
    replaces: tuple[Id, ...] = ()
    """Earlier issues whose place this one takes, withdrawn ones too."""
    profile: Slug
    revision: str
    as_of: Day
    rests_on: Hash
    """Over every line of the requirements as it stood."""
    rules: Count
    """How many lines of the requirements were met."""
    exceptions: tuple[Id, ...] = ()
    """Those that stood in for a line that is short."""
    assessors: tuple[Id, ...] = ()
    """Who had seen the attempts that count."""
    observed: Observed
    confirmed_with: Confirmed | None = None
    reason: PrivateNote = None
    """Why there is another issue."""


class SignOffCountersigned(Body):
    """Somebody else whose signature the requirements ask for signed the same issue, or gave their initials to it."""

    kind: ClassVar[str] = "sign_off_countersigned/1"
    about: ClassVar[str] = "sign_off"

    sign_off: Id
    role: Literal["second_instructor", "student", "training_manager"]
    observed: Observed
    confirmed_with: Confirmed | None = None
    initials: PrivateLine = None
    """Of somebody who signs beside the event's actor: the student on the actor's screen."""


class SignOffWithdrawn(Body):
    """A person takes a sign-off back. It stays to be read, and the next issue names it."""

    kind: ClassVar[str] = "sign_off_withdrawn/1"
    about: ClassVar[str] = "sign_off"
    needed: ClassVar[tuple[str, ...]] = ("reason",)

    sign_off: Id
    observed: Observed
    confirmed_with: Confirmed | None = None
    reason: PrivateNote = None
