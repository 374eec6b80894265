"""The event with which a person answers a finding."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from course.moments import Observed
from course.record.body import Body, Hash, Id, PrivateNote


class FindingAnswered(Body):
    """Somebody says what there is to a finding. It takes nothing away: the finding stays, with the answer beside it."""

    kind: ClassVar[str] = "finding_answered/1"
    about: ClassVar[str] = "answer"
    needed: ClassVar[tuple[str, ...]] = ("reason",)

    answer: Id
    course: Id
    finding: Annotated[str, Field(min_length=1, max_length=600, pattern=r"^[a-z_]+(/[0-9A-Za-z_.:+ -]*)*$")]
    """Its rule and the ids that tell it from others of the rule."""
    rests_on: Hash
    """Over the finding as it was shown; another one now means that it changed since."""
    replaces: tuple[Id, ...] = ()
    """Earlier answers that this one takes the place of."""
    observed: Observed
    reason: PrivateNote = None
