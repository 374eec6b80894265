"""Parts of what is true of a session: paper sheets given out, roll calls, incidents, times in the water."""

from __future__ import annotations

from typing import Literal

from course.moments import Observed
from course.record.frozen import Frozen


class Slate(Frozen):
    """A paper sheet that was given out: students in the order of its columns, each with as many columns as tries."""

    id: str
    event: str
    code: str
    skill: str
    rubric: str
    students: tuple[str, ...]
    tries: int
    group: str | None
    issued_by: str
    set_aside: Literal["not_used", "lost", "unreadable"] | None = None
    set_aside_by: str | None = None


class RollCall(Frozen):
    """Who was there when the roll was called."""

    id: str
    event: str
    when: Literal["going_in", "coming_out", "other"]
    present: tuple[str, ...]
    missing: tuple[str, ...]
    called_by: str
    observed: Observed


class IncidentLine(Frozen):
    """A note about an incident; its text is private, found by its event."""

    event: str
    written_by: str
    observed: Observed


class Incident(Frozen):
    """A session frozen: who was in, on what, and what was under way."""

    id: str
    event: str
    people: tuple[str, ...]
    units: tuple[str, ...]
    attempts: tuple[str, ...]
    tablets_waiting: int
    frozen_by: str
    observed: Observed
    lines: tuple[IncidentLine, ...] = ()
    resumed: Observed | None = None
    resumed_by: str | None = None


class WaterTime(Frozen):
    """One person's time in the water in a session."""

    id: str
    person: str
    unit: str | None
    entered: Observed | None
    left: Observed | None
    loop_minutes: int
    bailout_minutes: int
    max_depth_m: str | None
    visibility_m: str | None = None


class SetPoint(Frozen):
    """A set point of a session; `person` None: of everybody without one of their own."""

    event: str
    person: str | None
    bar: str
    begins: Observed | None = None
    """None: what was held at first."""
    over_minutes: int = 0
    """In how many minutes the loop went there evenly from what was held before; 0: at once."""
