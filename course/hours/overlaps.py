"""Who is in two places, or in two roles, at once: every overlap once, with its minutes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from course.hours.ratio import Presence
from course.words import SpanRole

_STAFF = (SpanRole.TEACHING, SpanRole.ASSISTING)


@dataclass(frozen=True)
class Overlap:
    """A time in which one person was entered twice. `counts` is where they were first: there alone they count."""

    person: str
    counts: Presence
    other: Presence
    start: datetime
    end: datetime

    @property
    def minutes(self) -> int:
        """Whole minutes of it."""
        return int((self.end - self.start).total_seconds()) // 60

    @property
    def learns_and_teaches(self) -> bool:
        """Student and staff at once: an error of entering, which goes before a double booking."""
        roles = {self.counts.role, self.other.role}
        return SpanRole.STUDENT in roles and bool(roles.intersection(_STAFF))


def overlaps(entered: Iterable[Presence]) -> tuple[Overlap, ...]:
    """Return every overlap of one person with themselves, the earliest first.

    Args:
        entered: as `presences` gives it, from the sessions of a day or of a whole course.
    """
    found: list[Overlap] = []
    still: dict[str, list[Presence]] = {}
    for one in sorted(entered, key=lambda p: (p.start, p.end, p.place.session, p.place.group or "", p.person)):
        before = [other for other in still.get(one.person, []) if other.end > one.start]
        found += [Overlap(one.person, other, one, one.start, min(one.end, other.end)) for other in before]
        still[one.person] = [*before, one]
    return tuple(found)
