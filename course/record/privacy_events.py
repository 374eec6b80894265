"""Events about personal data themselves: somebody's were erased; how long they are kept was set."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from course.moments import Observed
from course.record.body import Body, Id, PrivateNote
from course.words import Authority

Against = Literal["running_course", "open_incident", "worst_finding", "retention"]
"""What can speak against erasing somebody now."""
Days = Annotated[int, Field(ge=0, le=36_525)] | None
"""Up to a hundred years; None: nothing was set."""


class PersonErased(Body):
    """A person's key was deleted: name, birth date, contact and every text about them can be read no more.

    The reason is the centre's own and sealed with its key; nothing in it may name the person.
    """

    kind: ClassVar[str] = "person_erased/1"
    about: ClassVar[str] = "person"
    needed: ClassVar[tuple[str, ...]] = ("reason",)

    person: Id
    authority: Authority
    against: tuple[Against, ...] = ()
    """What spoke against it and was told before it was done."""
    observed: Observed
    reason: PrivateNote = None
    despite: PrivateNote = None
    """Why it was done in spite of what spoke against it."""


class RetentionSet(Body):
    """The centre said for how many days after the end of their last course people's data are kept."""

    kind: ClassVar[str] = "retention_set/1"
    about: ClassVar[str] = "centre"

    centre: Id
    student_days: Days = None
    staff_days: Days = None
    incident_days: Days = None
    """For whoever was there when something went wrong; it holds where it is the longer one."""
    replaces: tuple[Id, ...] = ()
    observed: Observed
    note: PrivateNote = None
    """Which law, contract or agency asks for it."""
