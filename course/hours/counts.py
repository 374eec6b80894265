"""How many pool sessions, dives and training days of a person are long enough for the requirements."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from course.hours.minutes import SessionMinutes
from course.moments import training_day
from course.record.day_facts import WaterTime
from course.standards.profile import CountRule


def long_enough(parts: Sequence[SessionMinutes], rule: CountRule) -> int:
    """Return how many of what a rule counts last as long as it asks.

    A dive is one time in the water in open water, and a pool session one session in the pool; each is as long as its
    minutes under water, on the loop or on bailout gas: whoever stayed at the edge had none. A training day is a local
    day, as long as the time in its sessions.

    Args:
        parts: one person's sessions, as `session_minutes` gives them.
        rule: of the requirements.
    """
    match rule.of:
        case "pool_sessions":
            found = [sum(map(_under, p.water)) for p in parts if p.session.setting == "pool"]
        case "open_water_dives":
            found = [_under(water) for p in parts if p.session.setting == "open_water" for water in p.water]
        case "training_days":
            found = _days(parts)
    return sum(minutes >= rule.each_at_least_minutes for minutes in found)


def _under(water: WaterTime) -> int:
    return water.loop_minutes + water.bailout_minutes


def _days(parts: Iterable[SessionMinutes]) -> list[int]:
    days: dict[date, timedelta] = {}
    for part in parts:
        day = training_day(part.session.start)
        days[day] = days.get(day, timedelta()) + part.time
    return [int(time.total_seconds()) // 60 for time in days.values() if time]
