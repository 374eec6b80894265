"""Events of a student who goes on at another centre or comes from one: consent, what arrived, what is accepted."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from course.moments import Observed
from course.record.body import Body, Day, Hash, Id, Private, PrivateLine, PrivateNote
from course.record.frozen import Frozen
from course.record.signing_events import Confirmed
from course.standards.rubric import Slug

Amount = Annotated[int, Field(ge=0, le=10**6, strict=True)]
Item = Annotated[str, Field(max_length=120, pattern=r"^(skill|hours|count):[a-z0-9][a-z0-9_-]*$")]
"""What is accepted: a skill as seen elsewhere, minutes of one kind, or a count."""


class ArrivedSkill(Frozen):
    """Where the student stood with a skill at the other centre, by that centre's own rubric."""

    skill: Slug
    rubric: Hash
    standing: str
    attempts: Amount
    counted: Amount
    last_day: Day | None = None


class ArrivedAmount(Frozen):
    """Minutes of one kind, or how many of something, that the other centre counted."""

    item: Item
    amount: Amount


class TransferAgreed(Body):
    """The student agreed that another centre gets what this one knows of their course."""

    kind: ClassVar[str] = "transfer_agreed/1"
    about: ClassVar[str] = "transfer"
    needed: ClassVar[tuple[str, ...]] = ("given_to",)

    transfer: Id
    course: Id
    student: Id
    day: Day
    replaces: tuple[Id, ...] = ()
    given_to: PrivateLine = None


class ArrivedFromElsewhere(Body):
    """A transfer file of a student came in. Nothing in it counts by that."""

    kind: ClassVar[str] = "arrived_from_elsewhere/1"
    about: ClassVar[str] = "arrival"

    arrival: Id
    """Made of the file, so that the same file is the same arrival."""
    course: Id
    student: Id
    file: Hash
    """Over the file's data as they were signed."""
    from_centre: Id
    from_course: Id
    from_student: Id
    as_of: Day
    signature: Literal["pinned", "unknown", "none"]
    """Whose key signed it: one that was pinned, one that nobody here knows, or none at all."""
    key: Annotated[str, Field(max_length=64, pattern=r"^[0-9a-f]*$")] = ""
    skills: Annotated[tuple[ArrivedSkill, ...], Field(max_length=500)] = ()
    amounts: Annotated[tuple[ArrivedAmount, ...], Field(max_length=50)] = ()
    observed: Observed
    centre_name: PrivateLine = None
    titles: Annotated[dict[str, Any] | None, Private()] = None
    """The other centre's own titles of its skills, by their ids."""
    sure: PrivateNote = None
    """Why it is the same person where the file calls them otherwise."""


class ElsewhereAccepted(Body):
    """The receiving lead accepts one thing of what arrived, with a reason."""

    kind: ClassVar[str] = "elsewhere_accepted/1"
    about: ClassVar[str] = "arrival"
    needed: ClassVar[tuple[str, ...]] = ("reason",)

    arrival: Id
    item: Item
    amount: Amount | None = None
    """Minutes or times that count here; none of a skill, which is seen elsewhere and shown again here."""
    replaces: tuple[Id, ...] = ()
    observed: Observed
    confirmed_with: Confirmed | None = None
    reason: PrivateNote = None
