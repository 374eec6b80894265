"""What is true of answers to findings. A finding itself is derived and never stored."""

from __future__ import annotations

from course.moments import Observed
from course.record.facts import Fact


class FindingAnswer(Fact):
    """What a person said to a finding; the reason is private. The finding itself is derived and never stored."""

    course: str
    finding: str
    rests_on: str
    answered_by: str
    observed: Observed
    replaces: tuple[str, ...] = ()
