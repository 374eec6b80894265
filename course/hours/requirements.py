"""What a course requires of one student, and how much of it there is: one place for every rule of the profile.

Hours are minutes of training (see `minutes`); what counts as a pool session, a dive and a training day is in `counts`.
The standings of skills come in as plain data,
since they are judged elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import ClassVar

from course.hours.counts import long_enough
from course.hours.gates import ShutGate
from course.hours.minutes import ON_LOOP, session_minutes
from course.moments import day_after
from course.record.facts import Course, Person, Session
from course.record.paper_facts import Exam
from course.standards.profile import Profile
from course.words import SpanRole, plural

KIND_WORDS = {
    "theory": "theory",
    "dry": "dry",
    "pool": "pool",
    "open_water": "open water",
    ON_LOOP: "in water on the loop",
}
COUNT_WORDS = {
    "pool_sessions": ("pool session", "pool sessions"),
    "open_water_dives": ("open-water dive", "open-water dives"),
    "training_days": ("training day", "training days"),
}
WARNED_DAYS = 14
"""Days before the end of the time to finish in from which on it is told."""


@dataclass(frozen=True)
class Hours:
    """Minutes of one kind against what the requirements ask."""

    kind: str
    word: str
    minutes: int
    required: int | None
    excused: bool = False
    """Two instructors let it be that they are short; see `is_short`."""
    elsewhere: int = 0
    """Minutes at another centre that the lead accepted; never in `minutes`, which are those of here."""

    each: ClassVar[int] = 0

    @property
    def total(self) -> int:
        """Those of here with those accepted from elsewhere: what is held against the requirements."""
        return self.minutes + self.elsewhere

    @property
    def what(self) -> str:
        """What is counted."""
        return f"minutes {self.word}"

    @property
    def short_by(self) -> int:
        """Minutes that are missing; 0 when met or not asked for."""
        return max(0, (self.required or 0) - self.total)

    @property
    def is_short(self) -> bool:
        """Whether something is missing that nobody let be."""
        return self.short_by > 0 and not self.excused

    @property
    def lacking(self) -> str:
        """How much is missing: "25 minutes in water on the loop"."""
        return f"{plural(self.short_by, 'minute')} {self.word}"

    @property
    def short(self) -> str:
        """That it is missing: "short by 25 minutes in water on the loop"."""
        return f"short by {self.lacking}"


@dataclass(frozen=True)
class Count:
    """How many of something there are against what the requirements ask; each of at least so many minutes."""

    kind: str
    have: int
    required: int
    each: int
    """Minutes that each of them takes at least."""
    excused: bool = False
    """Two instructors let it be that they are short; see `is_short`."""
    elsewhere: int = 0
    """How many at another centre the lead accepted; never in `have`, which is of here."""

    @property
    def total(self) -> int:
        """Those of here with those accepted from elsewhere: what is held against the requirements."""
        return self.have + self.elsewhere

    @property
    def what(self) -> str:
        """What is counted."""
        each = f" of at least {plural(self.each, 'minute')}" if self.each else ""
        return f"{COUNT_WORDS[self.kind][1]}{each}"

    @property
    def short_by(self) -> int:
        """How many are missing; 0 when met."""
        return max(0, self.required - self.total)

    @property
    def is_short(self) -> bool:
        """Whether something is missing that nobody let be."""
        return self.short_by > 0 and not self.excused

    @property
    def lacking(self) -> str:
        """How much is missing: "2 open-water dives"."""
        return plural(self.short_by, *COUNT_WORDS[self.kind])

    @property
    def short(self) -> str:
        """That it is missing, with the rule: "short by 2 open-water dives of at least 37 minutes"."""
        each = f" of at least {plural(self.each, 'minute')}" if self.each else ""
        return f"short by {self.lacking}{each}"


@dataclass(frozen=True)
class SkillHeld:
    """Where a student stands with one required skill."""

    skill: str
    title: str
    held: bool
    line: str
    """The standing in words, with what is missing."""
    excused: bool = False
    """Not held, and two instructors let it be."""


@dataclass(frozen=True)
class OpenGap:
    """An item missed in the exam that nobody has talked through yet."""

    exam: str
    gap: int
    item: str


@dataclass(frozen=True)
class ExamState:
    """The exam that counts, the last one taken; `short` is empty when it is met or none is asked for."""

    exam: Exam | None
    short: str
    gaps: tuple[OpenGap, ...]


@dataclass(frozen=True)
class Requirements:
    """One student's state under every rule of the profile."""

    hours: tuple[Hours, ...]
    counts: tuple[Count, ...]
    skills: tuple[SkillHeld, ...]
    exam: ExamState
    shut: tuple[ShutGate, ...]

    @property
    def open_skills(self) -> tuple[SkillHeld, ...]:
        """Required skills that are not held and that nobody let be."""
        return tuple(skill for skill in self.skills if not (skill.held or skill.excused))

    @property
    def short(self) -> tuple[str, ...]:
        """Everything that is short, each by how much; empty when every rule is met."""
        skills = [f"{skill.title}: {skill.line}" for skill in self.open_skills]
        return (*skills, *(one.short for one in self.counted_short), *self.papers_short)

    @property
    def counted(self) -> tuple[Hours | Count, ...]:
        """Hours and counts."""
        return (*self.hours, *self.counts)

    @property
    def counted_short(self) -> tuple[Hours | Count, ...]:
        """Hours and counts that are short and that nobody let be."""
        return tuple(one for one in self.counted if one.is_short)

    @property
    def papers_short(self) -> tuple[str, ...]:
        """What is short of exam and papers: the mark, gaps that nobody talked through, gates that are shut."""
        gaps = [f"{plural(len(self.exam.gaps), 'gap')} of the exam not talked through"] if self.exam.gaps else []
        exam = [self.exam.short] if self.exam.short else []
        return (*exam, *gaps, *dict.fromkeys(gate.words for gate in self.shut))

    @property
    def met(self) -> bool:
        """Whether nothing is short."""
        return not self.short


@dataclass(frozen=True)
class FinishWindow:
    """The days in which a course has to be finished. `last` is still within them."""

    last: date
    days_left: int
    """As of the day asked about; below 0 once it is over."""

    @property
    def is_over(self) -> bool:
        """Whether the last day is past."""
        return self.days_left < 0

    @property
    def is_near(self) -> bool:
        """Whether the end is near enough to be told."""
        return 0 <= self.days_left <= WARNED_DAYS


def finish_window(course: Course, profile: Profile, as_of: date) -> FinishWindow:
    """Return how long a course may still take, counted from its first day."""
    last = day_after(date.fromisoformat(course.first_day), profile.finish_within_days)
    return FinishWindow(last, (last - as_of).days)


def hours_of(minutes: Mapping[str, int], profile: Profile) -> tuple[Hours, ...]:
    """Return the minutes of each kind against what is asked; kinds that are neither asked nor there are left out.

    Args:
        minutes: whole minutes by kind, from `learner_minutes`.
        profile: what is asked.
    """
    asked: dict[str, int] = {rule.of: rule.at_least_minutes for rule in profile.hours}
    kinds = [kind for kind in KIND_WORDS if kind in minutes or kind in asked]
    return tuple(Hours(kind, KIND_WORDS[kind], minutes.get(kind, 0), asked.get(kind)) for kind in kinds)


def counts_of(
    sessions: Iterable[Session], person: str, profile: Profile, as_of: date, now: datetime | None = None
) -> tuple[Count, ...]:
    """Return how many pool sessions, dives and training days a student has against what the profile asks."""
    parts = session_minutes(sessions, person, SpanRole(profile.for_whom), as_of, now)
    return tuple(
        Count(rule.of, long_enough(parts, rule), rule.at_least, rule.each_at_least_minutes) for rule in profile.counts
    )


def exam_state(person: Person, course: str, profile: Profile, as_of: date) -> ExamState:
    """Return where a student stands with the exam on a day: the last one taken counts."""
    taken = [exam for exam in person.exams if exam.course == course and exam.day <= as_of.isoformat()]
    last = max(taken, key=lambda exam: (exam.day, exam.event), default=None)
    rule = profile.exam
    if last is None:
        return ExamState(None, f"no exam noted, {rule.at_least} of {rule.of} asked" if rule else "", ())
    right = Decimal(last.mark) * rule.of >= Decimal(last.of) * rule.at_least if rule else True
    told = "" if right or rule is None else f"exam {last.mark} of {last.of}, {rule.at_least} of {rule.of} asked"
    closed = {gap.gap for gap in last.closed if gap.day <= as_of.isoformat()}
    gaps = [OpenGap(last.id, gap, last.item(gap)) for gap in range(1, last.gaps + 1) if gap not in closed]
    return ExamState(last, told, tuple(gaps))
