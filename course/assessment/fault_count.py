"""How many faults a person found, missed and took for one that was none: counts with their n, never a share."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from course.record.unit_facts import SlipReply
from course.words import SlipAnswer, plural


@dataclass(frozen=True)
class FaultCount:
    """What one person made of the faults that were set for training. A fault met in two tries counts twice."""

    found: int = 0
    missed: int = 0
    false_alarms: int = 0

    @property
    def met(self) -> int:
        """How many faults there were to find."""
        return self.found + self.missed

    @property
    def sentence(self) -> str:
        """The count in words: "3 of 4 found, 1 false alarm"."""
        found = f"{self.found} of {self.met} found" if self.met else "no fault met"
        return f"{found}, {plural(self.false_alarms, 'false alarm')}" if self.false_alarms else found


def count_faults(replies: Iterable[SlipReply]) -> dict[str, FaultCount]:
    """Return the count of each person, in the order in which they answered first."""
    answers: dict[str, list[SlipAnswer]] = {}
    for reply in replies:
        answers.setdefault(reply.person, []).append(reply.answer)
    return {
        person: FaultCount(
            given.count(SlipAnswer.HIT), given.count(SlipAnswer.MISSED), given.count(SlipAnswer.FALSE_ALARM)
        )
        for person, given in answers.items()
    }
