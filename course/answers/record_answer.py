"""The frozen answer that a competency record is printed from; the page shows the same object."""

from __future__ import annotations

from dataclasses import dataclass

from course.words import StandingState


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
