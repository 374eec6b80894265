"""Parts of what is true of a unit and of a fault slip."""

from __future__ import annotations

from course.moments import Observed
from course.record.frozen import Frozen
from course.record.unit_events import Amount
from course.words import Care, ReadingKind, SlipAnswer


class CareDone(Frozen):
    """What was done to a unit, and until when it is good."""

    id: str
    event: str
    what: Care
    observed: Observed
    good_until: str | None
    good_minutes: int | None
    done_by: str


class Reading(Frozen):
    """What was read of a unit."""

    id: str
    event: str
    hash: str = ""
    """Of the event; a standing that a reading overruled a tick of rests on it."""
    what: ReadingKind
    cell: int | None = None
    amounts: tuple[Amount, ...]
    observed: Observed
    taken_by: str
    attempt: str | None = None
    step: str | None = None


class SetAside(Frozen):
    """Readings that say nothing against one step of an attempt, by the word of somebody who decides."""

    event: str
    step: str
    readings: tuple[str, ...]
    by: str


class Hold(Frozen):
    """A time in which a unit may not go in the water; open while `until` is None."""

    id: str
    event: str
    slip: str | None
    since: Observed
    held_by: str
    until: Observed | None = None
    released_by: str | None = None
    release_event: str | None = None
    list_passed_by: str | None = None


class SlipReply(Frozen):
    """What one person made of a fault."""

    event: str
    person: str
    answer: SlipAnswer
    told_by: str
    observed: Observed
