"""How many students a group has to its instructors and assistants: at one instant, and every break over a time.

Ratio is counted per group, never over a whole place: pooled numbers hide a break in one group. Students, instructors
and assistants are taken from spans only. Someone in two places counts in the span that began first, and in the other
from the minute they are free. Times are UTC, half open, so that elapsed time is true over a change of the clocks.
A minor among the students, low visibility and a deeper dive each make the limit stricter where the rule says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from enum import StrEnum
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


class Condition(StrEnum):
    """What makes a limit stricter, as said in a sentence."""

    MINOR = "with a minor"
    LOW_VISIBILITY = "in low visibility"
    DEEPER = "on a deeper dive"


@dataclass(frozen=True)
class Dive:
    """One person's time in the water with its greatest depth, which stands for all of it."""

    person: str
    start: datetime
    end: datetime
    depth_m: Decimal


@dataclass(frozen=True)
class Circumstances:
    """What a session's limits depend on besides who is there."""

    minors: frozenset[str] = frozenset()
    low_visibility: bool = False
    dives: tuple[Dive, ...] = ()

    def deeper(self, rule: RatioRule | None) -> tuple[Dive, ...]:
        """Dives that go deeper than the rule's own depth."""
        below = rule.deeper_than_m if rule else None
        return () if below is None else tuple(dive for dive in self.dives if dive.depth_m > below)


PLAIN = Circumstances()


@dataclass(frozen=True)
class Ratio:
    """Who is in a group, against what the setting's rule allows. `rule` is None where there is none."""

    students: tuple[str, ...]
    instructors: tuple[str, ...]
    assistants: tuple[str, ...]
    rule: RatioRule | None
    conditions: frozenset[Condition] = frozenset()

    @property
    def limit(self) -> int | None:
        """How many students these instructors and assistants may have; None where no rule says."""
        if not self.instructors:
            return 0
        if self.rule is None:
            return None
        allowed = self._each(self.rule)[0] * len(self.instructors)
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

        students, instructors, assistants = map(others, (self.students, self.instructors, self.assistants))
        return replace(self, students=students, instructors=instructors, assistants=assistants)

    def _each(self, rule: RatioRule) -> tuple[int, str]:
        """Students for each instructor, and the condition that makes it so few; of two such the first is named."""
        asked = {
            Condition.MINOR: rule.students_per_instructor_with_minor,
            Condition.LOW_VISIBILITY: rule.low_visibility_students_per_instructor,
            Condition.DEEPER: rule.students_per_instructor_deeper,
        }
        found = [(each, one.value) for one, each in asked.items() if each is not None and one in self.conditions]
        return min([(rule.students_per_instructor, ""), *found], key=lambda pair: pair[0])

    def _limit_words(self) -> str:
        if self.limit is None or self.rule is None:
            return "the requirements set no limit here"
        why = self._each(self.rule)[1]
        return f"limit {self.limit} {why}" if why else f"limit {self.limit}"


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


def by_place(places: Iterable[Presence]) -> dict[Place, list[Presence]]:
    """Return what is counted, group by group."""
    groups: dict[Place, list[Presence]] = {}
    for one in places:
        groups.setdefault(one.place, []).append(one)
    return groups


def ratio_at(
    places: Iterable[Presence], moment: datetime, rule: RatioRule | None, circumstances: Circumstances = PLAIN
) -> Ratio:
    """Return the ratio of one group at an instant.

    Args:
        places: what is counted of this group alone.
        moment: the instant.
        rule: the setting's rule, if the requirements have one.
        circumstances: of the session.
    """
    return _ratio([one for one in places if one.start <= moment < one.end], moment, rule, circumstances)


def sweep(
    places: Sequence[Presence],
    rule: RatioRule | None,
    until: datetime = STILL_THERE,
    circumstances: Circumstances = PLAIN,
) -> tuple[Stretch, ...]:
    """Return one group's times from change to change, up to `until`; all changes of one instant fall together."""
    changes = {at for one in places for at in (one.start, one.end)}
    begin, finish = min(changes, default=until), max(changes, default=until)
    deeper = {at for dive in circumstances.deeper(rule) for at in (dive.start, dive.end)}
    instants = sorted(at for at in changes | deeper if begin <= at <= min(finish, until))
    if until != STILL_THERE and instants and instants[-1] < until:
        instants.append(until)
    begins: dict[datetime, list[Presence]] = {}
    for one in places:
        begins.setdefault(one.start, []).append(one)
    there: list[Presence] = []
    stretches = []
    for start, end in pairwise(instants):
        there = [one for one in there if one.end > start] + begins.get(start, [])
        stretches.append(Stretch(start, end, _ratio(there, start, rule, circumstances)))
    return tuple(stretches)


def ratio_breaks(
    entered: Iterable[Presence],
    rules: Mapping[str, RatioRule | None],
    until: datetime = STILL_THERE,
    circumstances: Mapping[str, Circumstances] | None = None,
) -> tuple[RatioBreak, ...]:
    """Return every break of every group, the earliest first.

    Args:
        entered: as `presences` gives it.
        rules: by session, the rule of its setting.
        until: look no further; a break that still runs ends here.
        circumstances: by session, what makes its limits stricter.
    """
    entered, met = tuple(entered), circumstances or {}
    found = [
        replace(one, elsewhere=_counted_elsewhere(entered, one))
        for place, own in by_place(counted(entered)).items()
        for one in _breaks_of(place, sweep(own, rules.get(place.session), until, met.get(place.session, PLAIN)))
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


def _ratio(there: Sequence[Presence], moment: datetime, rule: RatioRule | None, circumstances: Circumstances) -> Ratio:
    people: dict[str, list[str]] = {name: [] for name in _PARTS.values()}
    for one in there:
        if one.role in _PARTS:
            people[_PARTS[one.role]].append(one.person)
    return Ratio(
        **{name: tuple(sorted(who)) for name, who in people.items()},
        rule=rule,
        conditions=_conditions(people["students"], [one.person for one in there], moment, rule, circumstances),
    )


def _conditions(
    students: Sequence[str], there: Sequence[str], at: datetime, rule: RatioRule | None, met: Circumstances
) -> frozenset[Condition]:
    found = {Condition.LOW_VISIBILITY} if met.low_visibility else set()
    if met.minors.intersection(students):
        found.add(Condition.MINOR)
    if any(dive.person in there and dive.start <= at < dive.end for dive in met.deeper(rule)):
        found.add(Condition.DEEPER)
    return frozenset(found)
