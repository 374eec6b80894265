"""How many pool sessions, dives and training days of a person are long enough for the requirements."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from course.hours.minutes import SessionMinutes
from course.moments import training_day
from course.standards.profile import CountRule


@dataclass(frozen=True)
class Count:
    """One count against its rule. `minutes` are those of each, in the order of time."""

    rule: CountRule
    minutes: tuple[int, ...]

    @property
    def have(self) -> int:
        """How many are long enough."""
        return sum(one >= self.rule.each_at_least_minutes for one in self.minutes)

    @property
    def short_by(self) -> int:
        """How many are missing; 0 where the rule is met."""
        return max(0, self.rule.at_least - self.have)


def counts(parts: Sequence[SessionMinutes], rules: Iterable[CountRule]) -> tuple[Count, ...]:
    """Return each count that the requirements ask for.

    A pool session and a dive are as long as the minutes on the loop in them: whoever stayed at the edge had none. A
    training day is as long as the time in its sessions. What lasted under a minute is none.

    Args:
        parts: one person's sessions, as `session_minutes` gives them.
        rules: of the requirements.
    """
    found = {
        "pool_sessions": [sum(w.loop_minutes for w in p.water) for p in parts if p.session.setting == "pool"],
        "open_water_dives": [w.loop_minutes for p in parts if p.session.setting == "open_water" for w in p.water],
        "training_days": _days(parts),
    }
    return tuple(Count(rule, tuple(minutes for minutes in found[rule.of] if minutes)) for rule in rules)


def _days(parts: Iterable[SessionMinutes]) -> list[int]:
    days: dict[date, timedelta] = {}
    for part in parts:
        day = training_day(part.session.start)
        days[day] = days.get(day, timedelta()) + part.time
    return [int(time.total_seconds()) // 60 for time in days.values()]
