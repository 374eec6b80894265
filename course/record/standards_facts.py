"""Parts of what is true of the standards of a course."""

from __future__ import annotations

from course.moments import Observed
from course.record.frozen import Frozen


class StandardsMove(Frozen):
    """A course went on under other adopted rubrics; the reason is private, by event."""

    event: str
    adoption: str
    profile: str
    revision: str
    moved_by: str
    observed: Observed
