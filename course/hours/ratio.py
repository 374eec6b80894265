"""How many students a group has to its instructors and assistants: at one instant, and every break over a time.

Ratio is counted per group, never over a whole place: pooled numbers hide a break in one group. Students, instructors
and assistants are taken from spans only. Someone in two places counts in the span that began first, and in the other
from the minute they are free. Times are UTC, half open, so that elapsed time is true over a change of the clocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import NamedTuple

from course.record.facts import Session, Span
from course.standards.profile import RatioRule
from course.words import SpanRole, plural

STILL_THERE = datetime.max.replace(tzinfo=UTC)
"""The end of a time that nobody ended and that still runs."""


class Place(NamedTuple):
    """A group of a session; None for those who are in no group."""

    session: str
    group: str | None


@dataclass(frozen=True)
class Presence:
    """A half-open stretch in which one person was in one place in one role."""

    person: str
    role: SpanRole
    place: Place
    start: datetime
    end: datetime


@dataclass(frozen=True)
class Ratio:
    """Who is in a group, against what the setting's rule allows. `rule` is None where there is none."""

    students: tuple[str, ...]
    instructors: tuple[str, ...]
    assistants: tuple[str, ...]
    rule: RatioRule | None

    @property
    def limit(self) -> int | None:
        """How many students these instructors and assistants may have; None where no rule says."""
        if not self.instructors:
            return 0
        if self.rule is None:
            return None
        allowed = self.rule.students_per_instructor * len(self.instructors)
        allowed += self.rule.extra_with_assistant * len(self.assistants)
        return min(self.rule.most_students, allowed)

    @property
    def too_many(self) -> int:
        """Students over the limit; where no instructor is left, all of them."""
        limit = self.limit
        return 0 if limit is None else max(0, len(self.students) - limit)

    @property
    def broken(self) -> bool:
        """Whether more students are in than may be."""
        return self.too_many > 0

    @property
    def room(self) -> int:
        """Students who could still come in; 0 where no rule says."""
        return max(0, (self.limit or 0) - len(self.students))

    @property
    def sentence(self) -> str:
        """The ratio in words: "3 students to 1 instructor and 1 assistant; limit 4"."""
        if not (self.students or self.instructors or self.assistants):
            return "Nobody is in"
        if not self.instructors:
            helped = f" ({plural(len(self.assistants), 'assistant')})" if self.assistants else ""
            return f"{plural(len(self.students), 'student')} and no instructor{helped}"
        staff = plural(len(self.instructors), "instructor")
        if self.assistants:
            staff += f" and {plural(len(self.assistants), 'assistant')}"
        return f"{plural(len(self.students), 'student')} to {staff}; {self._limit_words()}"

    @property
    def short(self) -> str:
        """The ratio in few words: "4 to 1, limit 3"."""
        if not self.instructors:
            return f"{plural(len(self.students), 'student')} and no instructor" if self.students else "no student is in"
        return f"{len(self.students)} to {len(self.instructors)}, {self._limit_words()}"

    def without(self, person: str) -> Ratio:
        """The ratio as it is once this person leaves."""

        def others(people: tuple[str, ...]) -> tuple[str, ...]:
            return tuple(one for one in people if one != person)

        return Ratio(others(self.students), others(self.instructors), others(self.assistants), self.rule)

    def _limit_words(self) -> str:
        return "the requirements set no limit here" if self.limit is None else f"limit {self.limit}"


@dataclass(frozen=True)
class Stretch:
    """A time through which a group stayed as it was."""

    start: datetime
    end: datetime
    ratio: Ratio


@dataclass(frozen=True)
class RatioBreak:
    """A time without a gap in which a group had too many students; `worst` is the ratio at its worst."""

    place: Place
    start: datetime
    end: datetime
    worst: Ratio
    left: tuple[str, ...]
    """Instructors and assistants who left as it began."""
    came: tuple[str, ...]
    """Students who came as it began."""
    elsewhere: tuple[str, ...] = ()
    """Staff entered here too as it began, who counted in another place: such a break belongs to the double booking."""

    @property
    def elapsed(self) -> timedelta:
        """True elapsed time."""
        return self.end - self.start

    @property
    def minutes(self) -> int:
        """Whole minutes of it."""
        return int(self.elapsed.total_seconds()) // 60

    @property
    def sentence(self) -> str:
        """The break in words, without names and clock times: "4 students to 1 instructor; limit 3: 14 minutes"."""
        return f"{self.worst.sentence}: {plural(self.minutes, 'minute') if self.minutes else 'under a minute'}"


_PARTS = {SpanRole.STUDENT: "students", SpanRole.TEACHING: "instructors", SpanRole.ASSISTING: "assistants"}
"""Roles that count; a candidate, a technician and surface support count in none."""


def presences(sessions: Iterable[Session], *, live: bool = False) -> tuple[Presence, ...]:
    """Return who was where, as it was entered.

    Args:
        sessions: sessions with their spans; withdrawn ones are left out.
        live: the day still runs: a time without an end goes on past the planned end of its session until the person
            is signed in again somewhere. Otherwise it counts to the planned end.
    """
    told = [(session, span) for session in sessions if not session.withdrawn for span in session.spans]
    begun: dict[str, list[datetime]] = {}
    for _, span in told:
        begun.setdefault(span.person, []).append(span.start.moment)
    found = [
        Presence(
            person=span.person,
            role=span.role,
            place=Place(session.id, span.group),
            start=span.start.moment,
            end=_end(session, span, begun[span.person] if live else None),
        )
        for session, span in told
    ]
    return tuple(sorted((one for one in found if one.end > one.start), key=_order))


def _end(session: Session, span: Span, begun: Sequence[datetime] | None) -> datetime:
    if span.end is not None:
        return span.end.moment
    if begun is None:
        return session.end.moment
    again = min((start for start in begun if start > span.start.moment), default=STILL_THERE)
    return max(session.end.moment, again)


def _order(one: Presence) -> tuple[datetime, datetime, str, str, str]:
    return (one.start, one.end, one.place.session, one.place.group or "", one.person)


def counted(entered: Iterable[Presence]) -> tuple[Presence, ...]:
    """Return the same with each body counted once: of two overlapping, the one that began first has the time."""
    free_from: dict[str, datetime] = {}
    found = []
    for one in sorted(entered, key=_order):
        start = max(one.start, free_from.get(one.person, one.start))
        if one.end > start:
            found.append(replace(one, start=start))
            free_from[one.person] = one.end
    return tuple(found)


def ratio_at(places: Iterable[Presence], moment: datetime, rule: RatioRule | None) -> Ratio:
    """Return the ratio of one group at an instant.

    Args:
        places: what is counted of this group alone.
        moment: the instant.
        rule: the setting's rule, if the requirements have one.
    """
    return _ratio([one for one in places if one.start <= moment < one.end], rule)


def sweep(places: Sequence[Presence], rule: RatioRule | None, until: datetime = STILL_THERE) -> tuple[Stretch, ...]:
    """Return one group's times from change to change, up to `until`; all changes of one instant fall together."""
    instants = sorted({at for one in places for at in (one.start, one.end) if at <= until})
    if until != STILL_THERE and instants and instants[-1] < until:
        instants.append(until)
    begins: dict[datetime, list[Presence]] = {}
    for one in places:
        begins.setdefault(one.start, []).append(one)
    there: list[Presence] = []
    stretches = []
    for start, end in pairwise(instants):
        there = [one for one in there if one.end > start] + begins.get(start, [])
        stretches.append(Stretch(start, end, _ratio(there, rule)))
    return tuple(stretches)


def ratio_breaks(
    entered: Iterable[Presence], rules: Mapping[str, RatioRule | None], until: datetime = STILL_THERE
) -> tuple[RatioBreak, ...]:
    """Return every break of every group, the earliest first.

    Args:
        entered: as `presences` gives it.
        rules: by session, the rule of its setting.
        until: look no further; a break that still runs ends here.
    """
    entered = tuple(entered)
    groups: dict[Place, list[Presence]] = {}
    for one in counted(entered):
        groups.setdefault(one.place, []).append(one)
    found = [
        replace(one, elsewhere=_counted_elsewhere(entered, one))
        for place, own in groups.items()
        for one in _breaks_of(place, sweep(own, rules.get(place.session), until))
    ]
    return tuple(sorted(found, key=lambda one: (one.start, one.place.session, one.place.group or "")))


def _breaks_of(place: Place, stretches: Sequence[Stretch]) -> list[RatioBreak]:
    found: list[RatioBreak] = []
    before = Ratio((), (), (), None)
    for stretch in stretches:
        ratio = stretch.ratio
        if ratio.broken and before.broken:
            last = found.pop()
            worst = max(last.worst, ratio, key=lambda one: one.too_many)
            found.append(replace(last, end=stretch.end, worst=worst))
        elif ratio.broken:
            staff = (*before.instructors, *before.assistants)
            left = tuple(p for p in staff if p not in (*ratio.instructors, *ratio.assistants))
            came = tuple(p for p in ratio.students if p not in before.students)
            found.append(RatioBreak(place, stretch.start, stretch.end, ratio, left, came))
        before = ratio
    return found


def _counted_elsewhere(entered: Iterable[Presence], one: RatioBreak) -> tuple[str, ...]:
    staff = {
        presence.person
        for presence in entered
        if presence.place == one.place
        and presence.role in (SpanRole.TEACHING, SpanRole.ASSISTING)
        and presence.start <= one.start < presence.end
    }
    return tuple(sorted(staff.difference(one.worst.instructors, one.worst.assistants)))


def _ratio(there: Iterable[Presence], rule: RatioRule | None) -> Ratio:
    people: dict[str, list[str]] = {name: [] for name in _PARTS.values()}
    for one in there:
        if one.role in _PARTS:
            people[_PARTS[one.role]].append(one.person)
    return Ratio(**{name: tuple(sorted(who)) for name, who in people.items()}, rule=rule)
