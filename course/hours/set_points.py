"""The PO2 that a loop was held at over a session, from the set points noted: level, and even changes between them.

A note without a time is what was held at first. Before the first note that has one, where none is without, the highest
noted counts, since nobody wrote down what was held; and of two notes of one moment the one that counts more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby, pairwise

from course.moments import Observed
from course.record.day_facts import SetPoint
from course.record.facts import Session

_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class Stretch:
    """One line of PO2 in bar over time, level or changing evenly; both moments in UTC."""

    begins: datetime
    ends: datetime
    bar_from: float
    bar_to: float


@dataclass(frozen=True)
class Turn:
    """From a moment on the loop went to a set point over so many minutes."""

    begins: datetime
    clock: str
    """As the clock of the place showed it."""
    bar: str
    over_minutes: int

    @property
    def words(self) -> str:
        """The turn in words."""
        if not self.over_minutes:
            return f"{self.bar} bar from {self.clock}"
        return f"to {self.bar} bar within {self.over_minutes} min from {self.clock}"


@dataclass(frozen=True)
class Held:
    """What one person's loop was held at over a session. Bars as they were noted."""

    first: str | None
    turns: tuple[Turn, ...]
    outside: tuple[Turn, ...]
    """Noted for times at which the person was not in the water; not counted."""

    @property
    def is_known(self) -> bool:
        """Whether anything is noted for the time in the water."""
        return bool(self.first or self.turns)

    @property
    def words(self) -> str:
        """What was held, in words."""
        first = [f"{self.first} bar{' at first' if self.turns else ''}"] if self.first else []
        return ", ".join([*first, *(turn.words for turn in self.turns)])

    @property
    def highest(self) -> str:
        """The highest noted, in bar."""
        return max([*([self.first] if self.first else []), *(turn.bar for turn in self.turns)], key=float)

    def stretches(self, start: datetime, end: datetime) -> tuple[Stretch, ...]:
        """Return what was held between two moments in UTC, without a gap."""
        found = (_within(one, start, end) for one in self._all(start, end))
        return tuple(one for one in found if one is not None)

    def _all(self, start: datetime, end: datetime) -> Iterator[Stretch]:
        level, known = float(self.first or self.highest), self.first is not None
        untils = [*(turn.begins for turn in self.turns), max([end, *(turn.begins for turn in self.turns)])]
        yield Stretch(min(start, untils[0]), untils[0], level, level)
        for turn, until in zip(self.turns, untils[1:], strict=True):
            there = turn.begins + timedelta(minutes=turn.over_minutes)
            cut = min(there, until)
            reached = _between(turn, level, cut) if known else level
            yield Stretch(turn.begins, cut, level, reached)
            level, known = (float(turn.bar) if there <= until else reached), True
            yield Stretch(cut, until, level, level)


def held_by(session: Session, person: str) -> Held:
    """Return what a person's loop was held at in a session.

    One's own notes hold; where there are none, those of everybody without one of their own.
    """
    own = [one for one in session.set_points if one.person == person]
    noted = own or [one for one in session.set_points if one.person is None]
    first = max((one.bar for one in noted if one.begins is None), key=float, default=None)
    turns = _turns(first, [(one.begins, one) for one in noted if one.begins is not None])
    wet = [one for one in session.water if one.person == person]
    times = [(one.entered.moment, one.left.moment) for one in wet if one.entered and one.left]
    if not times or len(times) < len(wet):
        return Held(first, turns, ())
    over = max(left for _, left in times)
    outside = tuple(turn for turn, until in _reigns(turns, over) if not _touches(turn.begins, until, times))
    return Held(first, tuple(turn for turn in turns if turn.begins < over), outside)


def _turns(first: str | None, noted: Iterable[tuple[Observed, SetPoint]]) -> tuple[Turn, ...]:
    """In order of time; of one moment the higher set point, on the way there that counts more."""
    found: list[Turn] = []
    for moment, same in groupby(sorted(noted, key=lambda pair: pair[0].moment), key=lambda pair: pair[0].moment):
        notes = list(same)
        bar = max((note.bar for _, note in notes), key=float)
        before = (
            Held(first, tuple(found), ()).stretches(moment, moment + _MINUTE)[0].bar_from if first or found else None
        )
        rises = before is not None and float(bar) >= before
        over = (min if rises else max)(note.over_minutes for _, note in notes)
        found.append(Turn(moment, f"{notes[0][0].local:%H:%M}", bar, over))
    return tuple(found)


def _reigns(turns: Sequence[Turn], over: datetime) -> Iterator[tuple[Turn, datetime]]:
    """Each turn with the moment until which it says anything: when the next one is through."""
    for turn, following in pairwise(turns):
        yield turn, following.begins + timedelta(minutes=following.over_minutes)
    yield from ((turn, max(over, turn.begins)) for turn in turns[-1:])


def _touches(begins: datetime, until: datetime, times: Iterable[tuple[datetime, datetime]]) -> bool:
    return any(begins < left and entered < until for entered, left in times)


def _between(turn: Turn, level: float, at: datetime) -> float:
    """The PO2 in bar on the way to a set point; all the way where it was gone at once."""
    if not turn.over_minutes:
        return float(turn.bar)
    gone = (at - turn.begins) / timedelta(minutes=turn.over_minutes)
    return level + (float(turn.bar) - level) * gone


def _within(one: Stretch, start: datetime, end: datetime) -> Stretch | None:
    """What of a stretch lies between two moments."""
    begins, ends = max(one.begins, start), min(one.ends, end)
    if begins >= ends:
        return None
    slope = (one.bar_to - one.bar_from) / ((one.ends - one.begins) / _MINUTE)
    first, last = (one.bar_from + slope * ((at - one.begins) / _MINUTE) for at in (begins, ends))
    return Stretch(begins, ends, first, one.bar_to if ends == one.ends else last)
