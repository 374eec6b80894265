"""The frozen answer that a competency record is printed from; the page shows the same object."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from course.words import StandingState


class StepMark(StrEnum):
    """What the deciding sheet of one attempt says of one step."""

    RIGHT = "right"
    WHOLE = "right as a whole"
    """By the one stroke for a whole clean attempt: weaker evidence."""
    ERROR = "error"
    CRITICAL = "critical error"
    LEFT_OUT = "left out"
    CRITICAL_LEFT_OUT = "critical, left out"
    PROMPTED = "prompted"
    NOT_SEEN = "not seen"
    NOT_ASKED = "not asked"
    """Not a step of that attempt's unit, or an attempt without a sheet that decides."""


@dataclass(frozen=True)
class CriticalSeen:
    """A critical error that was seen, and what cleared it."""

    day: str
    step: str
    label: str
    consequence: str
    observers: tuple[str, ...]
    cleared: str
    """One sentence: "Cleared: re-teach on 23 Oct, rule met anew on 25 Oct." or "Not cleared yet." """


@dataclass(frozen=True)
class DecisionLine:
    """A person's act on the standing."""

    sentence: str
    """ "Signed as met by NAME on 25 Oct 2026." or "NAME holds it back: REASON" """
    decided_by: str
    day: str
    reason: str | None
    agrees: bool
    stale: bool
    """Signed on an older record: the events it rests on are not those of now."""
    held_back: bool = False
    """An instructor is stricter than the tool."""


@dataclass(frozen=True)
class AttemptTold:
    """One attempt of a skill in the row that a trend picture draws."""

    label: str
    """ "3 · 22 Oct 2026"; one from elsewhere says so. """
    outcome: str
    streak: int
    """In a row after it."""
    holds: bool
    """Whether it is of the streak that the standing rests on."""


@dataclass(frozen=True)
class WentWrong:
    """One thing that went wrong at a step, and how often."""

    label: str
    times: int
    critical: bool


@dataclass(frozen=True)
class StepLine:
    """One step of a skill over all attempts; `right` to `not_seen` count attempts and leave out those without it."""

    name: str
    """ "3 Only then take it out of the mouth" """
    can_be_critical: bool
    right: int
    wrong: int
    prompted: int
    not_seen: int
    marks: tuple[StepMark, ...]
    """One an attempt, in the attempts' order."""
    went_wrong: tuple[WentWrong, ...]


@dataclass(frozen=True)
class SkillLine:
    """One skill of the record."""

    skill: str
    title: str
    state: StandingState
    state_word: str
    sentence: str
    rule: str
    """The rule without its budget, which stands here as a number."""
    streak: int
    in_a_row: int
    days: int
    distinct_days: int
    settings: tuple[str, ...]
    """Settings filled over the streak (their codes; paper and page have the words)."""
    attempts: int
    budget: int
    observers: tuple[str, ...]
    outcomes: tuple[str, ...]
    """Outcome words of the attempts in order, oldest first."""
    weaker_evidence: int
    """Attempts in the streak that rest in part on one stroke for the whole attempt."""
    criticals: tuple[CriticalSeen, ...]
    decision: DecisionLine | None
    required: bool = True
    """Optional skills are printed, but the counts are of what the course requires."""
    amended: tuple[str, ...] = ()
    """What was changed after the fact, oldest attempt first: attempt and day, what, by whom, when and why."""
    tries: tuple[AttemptTold, ...] = ()
    """The attempts behind `outcomes`, in the same order."""
    steps: tuple[StepLine, ...] = ()


@dataclass(frozen=True)
class PhaseLines:
    """The skills of one phase, in rubric order."""

    title: str
    skills: tuple[SkillLine, ...]


@dataclass(frozen=True)
class HoursLine:
    """Minutes of one kind: a union over the person's time, never a sum of overlapping spans."""

    kind: str
    minutes: int
    required_minutes: int | None
    elsewhere: int = 0
    """Accepted from another centre, beside those of here."""

    @property
    def total(self) -> int:
        """Minutes of here and from elsewhere."""
        return self.minutes + self.elsewhere


@dataclass(frozen=True)
class AskedLine:
    """One thing that the requirements ask for beside minutes, met or short by how much."""

    name: str
    have: str
    """ "4 of 4"; empty where there is nothing to count."""
    met: bool
    words: str
    """ "met", or "short by 2 open-water dives" """


@dataclass(frozen=True)
class LedgerHead:
    """Where the ledger stood."""

    centre: str
    chain: str
    seq: int
    hash: str


@dataclass(frozen=True)
class CompetencyRecord:
    """Everything on one student's competency record for one course, as of one day."""

    centre: str
    course: str
    course_days: str
    """ "20 to 25 Oct 2026" """
    requirements: str
    requirements_notice: str
    student: str
    student_id: str
    birth_year: str | None
    unit_type: str
    unit: str | None
    as_of: str
    """ISO day."""
    as_of_words: str
    """ "25 Oct 2026, the last day of the course" """
    summary: str
    """The one sentence that matters: "48 of 50 skills met, 47 signed; missing: ..." """
    phases: tuple[PhaseLines, ...]
    hours: tuple[HoursLine, ...]
    hours_note: str
    adjustments: tuple[str, ...]
    cautions: tuple[str, ...]
    head: LedgerHead
    evidence: str
    """Hash over the sorted hashes of the events used and the rubrics' hash."""
    course_id: str = ""
    """The course's id, so that the same can be asked again."""
    sign_offs: tuple[str, ...] = ()
    """Every issue of its sign-off, the first one first: by whom, when, whether it stands, who assessed."""
    exceptions: tuple[str, ...] = ()
    """Requirements that two instructors let be: both of them, when and why."""
    elsewhere: tuple[str, ...] = ()
    """What a lead accepted from another centre, each with who, when and why; a skill has to be shown again here."""
    asked: tuple[AskedLine, ...] = ()
    """What is required beside minutes."""
    consents: tuple[str, ...] = ()
    """Who agreed to what on which day, and which papers were seen; nothing medical."""
    signers: tuple[str, ...] = ("instructor", "student")
    """Who has to sign by hand, as the requirements say."""
    assessors: tuple[str, ...] = ()
    """Everybody whose sheets the standings rest on, for their initials."""
    deciders: tuple[str, ...] = ()
    """Everybody who decided on a standing."""
    sign_off: str = ""
    """Whether the student is signed off, in a few words; empty while nobody signed an issue."""
    confirmed: str = ""
    """What was confirmed by password or PIN as it was made: decisions and sign-off; empty where there is none."""
