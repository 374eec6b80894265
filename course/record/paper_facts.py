"""Parts of what is true of a person on a course: proofs, consents, exams, adjustments, leaving, interests.

What is private stands here as None; it is filled in as a person is read, and stays None once it is erased.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Literal, Self

from course.record.frozen import Frozen


class CheckOut(Frozen):
    """An instructor's own check on a unit type."""

    unit_type: str
    day: str


class Paper(Frozen):
    """What every part has: its event, the course it was noted for, who noted it, and on which day it was so."""

    event: str
    course: str
    by: str
    day: str

    private: ClassVar[tuple[str, ...]] = ()

    def opened(self, by_event: Mapping[str, Mapping[str, Any]]) -> Self:
        """The part with its private fields, where they can still be read."""
        own = by_event.get(self.event, {})
        known = {name: own[name] for name in self.private if own.get(name) is not None}
        return self.model_copy(update={n: tuple(v) if isinstance(v, list) else v for n, v in known.items()})


class Proof(Paper):
    """A paper that was seen."""

    private: ClassVar[tuple[str, ...]] = ("good_until", "cleared", "paper")

    prerequisite: str
    good_until: str | None = None
    cleared: Literal["yes", "no"] | None = None
    paper: str | None = None


class Consent(Paper):
    """A guardian's consent."""

    private: ClassVar[tuple[str, ...]] = ("until", "guardian")

    stages: tuple[str, ...]
    until: str | None = None
    guardian: str | None = None


class ClosedGap(Frozen):
    """A gap that was talked through."""

    event: str
    gap: int
    day: str
    by: str
    session: str | None


class Exam(Paper):
    """An exam and its gaps."""

    private: ClassVar[tuple[str, ...]] = ("items", "form")

    id: str
    session: str | None
    mark: str
    of: str
    gaps: int
    items: tuple[str, ...] = ()
    form: str | None = None
    closed: tuple[ClosedGap, ...] = ()

    def item(self, gap: int) -> str:
        """What was missed, by its number from 1."""
        return self.items[gap - 1] if gap <= len(self.items) else f"item {gap} (its name is erased)"


class Adjustment(Paper):
    """Another way of doing a skill."""

    private: ClassVar[tuple[str, ...]] = ("how", "waiver")

    id: str
    skill: str
    without: tuple[str, ...] = ()
    how: str | None = None
    waiver: str | None = None


class Turn(Paper):
    """Leaving a course, or coming back to it."""

    private: ClassVar[tuple[str, ...]] = ("why", "note")

    left: bool
    why: str | None = None
    note: str | None = None


class Interest(Paper):
    """A tie between somebody on the staff and a student."""

    private: ClassVar[tuple[str, ...]] = ("note",)

    student: str
    note: str | None = None


class Papers(Frozen):
    """Everything that was noted of a person."""

    proofs: tuple[Proof, ...] = ()
    consents: tuple[Consent, ...] = ()
    exams: tuple[Exam, ...] = ()
    adjustments: tuple[Adjustment, ...] = ()
    turns: tuple[Turn, ...] = ()
    interests: tuple[Interest, ...] = ()

    def opened_papers(self, by_event: Mapping[str, Mapping[str, Any]]) -> dict[str, tuple[Paper, ...]]:
        """Each kind of paper with what is private of it, where that can still be read."""
        kinds: dict[str, tuple[Paper, ...]] = {name: getattr(self, name) for name in Papers.model_fields}
        return {name: tuple(one.opened(by_event) for one in papers) for name, papers in kinds.items()}
