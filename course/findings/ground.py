"""What rules look at: one course's facts, each read and judged once, with the words that every sentence needs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from course.assessment.attempts import AttemptJudgement, SeenAttempt
from course.assessment.shared import Shared
from course.hours.gates import GatePassed
from course.hours.groups import groups_of
from course.hours.overlaps import Overlap
from course.hours.oxygen import DayExposure
from course.hours.ratio import Presence, RatioBreak
from course.hours.requirements import Count, Hours
from course.hours.unit_time import Booking, HeldTime
from course.moments import day_words, observed_at, training_day, weekday_words
from course.record.facts import Attempt, Course, Decision, Person, Session, Slip, Unit
from course.record.signing_facts import MadeException, SignOff
from course.standards.profile import Profile
from course.standards.rubric import Skill


@dataclass(frozen=True)
class Tried:
    """One attempt: seen, judged, and when its marks were last entered."""

    one: SeenAttempt
    skill: Skill | None
    """None where the attempt was marked by a form that the standards in force do not have."""
    judged: AttemptJudgement | None
    last_entered: datetime | None

    @property
    def attempt(self) -> Attempt:
        """The attempt itself."""
        return self.one.attempt


@dataclass(frozen=True)
class SeenTogether:
    """Two observers on the attempts that both scored."""

    first: str
    second: str
    shared: Shared
    differs: bool
    """By more than chance makes."""


@dataclass(frozen=True)
class SignedStanding:
    """A decision that holds, and whether the record is another one than it rests on."""

    decision: Decision
    stale: bool
    found: tuple[str, ...]
    """What was entered, amended or taken away since, in words."""


@dataclass(frozen=True)
class WithdrawnApart:
    """An attempt that was withdrawn, and what other devices said of it that whoever withdrew it did not know."""

    tried: Tried
    withdrawn_by: str
    unknown: tuple[tuple[str, str], ...]
    """(event, who said it)."""


@dataclass(frozen=True)
class SignedCourse:
    """An issue of a student's sign-off that stands."""

    sign_off: SignOff
    rests_on_now: str
    alone: tuple[str, ...]
    """Skills that its signer alone assessed, by id."""

    @property
    def stale(self) -> bool:
        """Whether the record is another one than it was signed on."""
        return self.sign_off.rests_on != self.rests_on_now


@dataclass(frozen=True)
class EndedException:
    """An exception with both words that no longer counts."""

    made: MadeException
    what: str
    why: str


@dataclass(frozen=True)
class OtherRevision:
    """Another revision of the requirements that was in force while the course is held to its own."""

    revision: str
    first_day: date
    added: tuple[str, ...]
    """Skills that it asks and the course's own does not: "Rescue ... (rs-after)"."""
    dropped: tuple[str, ...]
    more: tuple[tuple[str, int], ...]
    """(what, how many more are asked); below 0: fewer."""
    students: tuple[tuple[str, str, int, int], ...]
    """(student, what, short by now, short by under it) where that differs."""


@dataclass(frozen=True)
class Ground:
    """One course up to a day. Everything in here is a fact or was worked out of facts by pure code."""

    course: Course
    profile: Profile
    as_of: date
    now: datetime
    name: Callable[[str], str]
    """A person's name as shown."""
    students: tuple[str, ...]
    persons: Mapping[str, Person] = field(default_factory=dict)
    sessions: Mapping[str, Session] = field(default_factory=dict)
    units: Mapping[str, Unit] = field(default_factory=dict)
    unit_types: Mapping[str, str] = field(default_factory=dict)
    """Titles by id."""
    skills: Mapping[str, Skill] = field(default_factory=dict)
    tried: tuple[Tried, ...] = ()
    entered: tuple[Presence, ...] = ()
    overlaps: tuple[Overlap, ...] = ()
    breaks: tuple[RatioBreak, ...] = ()
    gates: tuple[GatePassed, ...] = ()
    booked: tuple[Booking, ...] = ()
    held: tuple[HeldTime, ...] = ()
    filling_minutes: Mapping[str, int] = field(default_factory=dict)
    """By unit: minutes on the loop since its last scrubber filling, in every course."""
    slips: tuple[Slip, ...] = ()
    short: Mapping[str, tuple[Hours | Count, ...]] = field(default_factory=dict)
    """By student: minutes and counts that are short."""
    exposures: tuple[DayExposure, ...] = ()
    """Oxygen exposure of whoever was in the water, day by day."""
    depth_limits: Mapping[tuple[str, str], int] = field(default_factory=dict)
    """(session, person) to metres."""
    pairs: tuple[SeenTogether, ...] = ()
    signed: tuple[SignedStanding, ...] = ()
    apart: tuple[tuple[Decision, ...], ...] = ()
    """Decisions on one standing that hold beside each other and say different things, or rest on different records."""
    withdrawn_apart: tuple[WithdrawnApart, ...] = ()
    signed_courses: tuple[SignedCourse, ...] = ()
    exceptions_ended: tuple[EndedException, ...] = ()
    revisions: tuple[OtherRevision, ...] = ()
    made_here: datetime | None = None
    """When the course was written into the ledger."""

    def clock(self, moment: datetime) -> str:
        """The clock time of a moment where the course is."""
        return f"{observed_at(moment, self.course.zone).local:%H:%M}"

    def times(self, start: datetime, end: datetime) -> str:
        """From when to when by the clock: "15:06-15:20"."""
        return f"{self.clock(start)}-{self.clock(end)}"

    def day(self, day: date) -> str:
        """A day in few words: "Thu 22 Oct"."""
        return short_day(day)

    def session_words(self, session: str) -> str:
        """A session with its day: "Thu 22 Oct, Pool 1"."""
        found = self.sessions.get(session)
        return f"{short_day(training_day(found.start))}, {found.title}" if found else "a session that was withdrawn"

    def place_words(self, session: str, group: str | None) -> str:
        """A session with its day and the group: "Thu 22 Oct, Pool 1, P"."""
        found = self.sessions.get(session)
        told = self.session_words(session)
        return f"{told}, {groups_of(found).get(group, 'no group')}" if found and group else told

    def attempt_words(self, tried: Tried) -> str:
        """An attempt: "Jonas · Negative pressure test, attempt 2, Thu 22 Oct"."""
        attempt = tried.attempt
        title = self.title(attempt.skill)
        return f"{self.name(attempt.student)} · {title}, attempt {attempt.number}, {short_day(tried.one.day)}"

    def title(self, skill: str) -> str:
        """A skill's title."""
        known = self.skills.get(skill)
        return known.title if known else skill

    def type_title(self, unit_type: str) -> str:
        """A unit type's title."""
        return self.unit_types.get(unit_type, unit_type)

    def is_over(self, session: Session) -> bool:
        """Whether a session's planned end is past."""
        return session.end.moment <= self.now

    def of_session(self, session: str) -> Iterable[Tried]:
        """Attempts of a session."""
        return (tried for tried in self.tried if tried.attempt.session == session)


def short_day(day: date) -> str:
    """A day in few words: "Thu 22 Oct"."""
    return f"{weekday_words(day)} {day_words(day).rsplit(' ', 1)[0]}"


def moment_figure(moment: datetime) -> str:
    """A moment as a figure of a finding."""
    return moment.isoformat(timespec="seconds")
