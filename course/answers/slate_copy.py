"""What somebody copies from one paper sheet: columns of marks, as they were written, before anything is saved."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from course.answers.slate_sheet import SlateColumn, SlateSheet, short_name
from course.errors import RefusedError
from course.moments import Observed, derived_id, from_wall_clock, observed_at
from course.record.body import Id, plain_faults
from course.record.events import MarkGiven
from course.record.facts import Session
from course.record.text import Note
from course.standards.rubric import Slug
from course.words import Closing

Clock = Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]


class _Shape(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class SeenTime(_Shape):
    """When it was seen, on the wall clock of the course. An hour that came twice needs `..._second` to be said."""

    start: Clock
    end: Clock
    start_second: bool | None = None
    end_second: bool | None = None


class CopiedColumn(_Shape):
    """One column as written. `id` is made where it is copied; every event that comes of it takes its id from it."""

    id: Id
    student: Id
    attempt_try: Annotated[int, Field(ge=1, le=3)] = 1
    marks: tuple[MarkGiven, ...] = ()
    values: dict[Slug, Annotated[str, Field(max_length=24)]] = {}
    whole_clean: bool = False
    out_of_order: tuple[tuple[Slug, Slug], ...] = ()
    """Pairs (done first, should have come first) that the observer wrote down as seen so."""
    notes: dict[Slug, Note] = {}
    how: Closing = Closing.COMPLETED
    stopped_by: Literal["student", "instructor"] | None = None
    reason: Note | None = None
    second: Id | None = None
    seen: SeenTime | None = None
    leave: bool = False
    """The column was entered before with other marks, and what is in the ledger stays as it is."""

    @field_validator("values")
    @classmethod
    def _comma_is_a_point(cls, values: dict[str, str]) -> dict[str, str]:
        return {step: text.strip().replace(",", ".") for step, text in values.items()}

    @property
    def is_empty(self) -> bool:
        """Whether nothing at all is written: no attempt is made of it."""
        return not (self.marks or self.values or self.whole_clean or self.out_of_order or self.how != Closing.COMPLETED)

    @property
    def key(self) -> tuple[str, int]:
        """Whose column it is, and which of theirs."""
        return self.student, self.attempt_try

    @property
    def sheet_id(self) -> str:
        """The id of the observer's sheet of this attempt."""
        return derived_id(self.id, "sheet")

    def mark(self, step: str) -> MarkGiven | None:
        """What is written for a step."""
        return next((line for line in self.marks if line.step == step), None)


class CopiedSheet(_Shape):
    """A whole sheet as copied by one person, marks of one observer."""

    slate: Id
    session: Id
    observer: Id
    seen: SeenTime | None = None
    """None: only the session's own times are known."""
    columns: Annotated[tuple[CopiedColumn, ...], Field(max_length=90)] = ()

    @property
    def written(self) -> tuple[CopiedColumn, ...]:
        """The columns on which something is written."""
        return tuple(column for column in self.columns if not column.is_empty)


def read_copy(plain: Any) -> CopiedSheet:
    """Read a copied sheet from plain data, such as a grid or a file holds.

    Raises:
        RefusedError: it cannot be read; each fault names its column.
    """
    try:
        return CopiedSheet.model_validate(plain)
    except ValidationError as error:
        places = {fault["loc"][1] for fault in error.errors() if fault["loc"][:1] == ("columns",) and fault["loc"][1:]}
        where = "".join(f"Column {int(place) + 1}: " for place in sorted(places)[:1] if isinstance(place, int))
        raise RefusedError(f"{where}{plain_faults(error)} Nothing was saved.") from None


def column_of(sheet: SlateSheet, student: str, attempt_try: int) -> SlateColumn | None:
    """The column of the paper for a student's try."""
    return next((c for c in sheet.columns if (c.student, c.attempt_try) == (student, attempt_try)), None)


def column_words(sheet: SlateSheet, column: SlateColumn) -> str:
    """How a column is named in a sentence: "Column 3, Amaru"; a second try of the same student says so."""
    tries = f", try {column.attempt_try}" if sheet.slate.tries > 1 else ""
    return f"Column {sheet.columns.index(column) + 1}, {short_name(column)}{tries}"


def seen_between(session: Session, seen: SeenTime | None) -> tuple[Observed, Observed]:
    """Return when a column was seen, from and to; the session's own times where nothing was written.

    Raises:
        RefusedError: an hour came twice and it was not said which, it never came, or it ends before it begins.
    """
    if seen is None:
        whole: dict[str, Any] = {"precision": "session", "clock_offset_ms": None}
        return session.start.model_copy(update=whole), session.end.model_copy(update=whole)
    start = _moment(session, seen.start, second=seen.start_second)
    end = _moment(session, seen.end, second=seen.end_second)
    if end.moment < start.moment:
        raise RefusedError(f"Seen from {seen.start} to {seen.end}: it ends before it begins. Nothing was saved.")
    return start, end


def asked_twice(session: Session, seen: SeenTime | None) -> Iterator[Literal["start", "end"]]:
    """Yield which of the two times stand in an hour that the clocks showed twice, and nobody said which is meant."""
    sides: tuple[Literal["start", "end"], ...] = ("start", "end")
    for side in sides if seen else ():
        if getattr(seen, f"{side}_second") is None and _comes_twice(session, getattr(seen, side)):
            yield side


def _comes_twice(session: Session, clock: str) -> bool:
    wall, zone = _wall(session, clock), session.start.zone
    try:
        first, second = (from_wall_clock(wall, zone, second_time=which) for which in (False, True))
    except RefusedError:
        return False
    return first < second


def _moment(session: Session, clock: str, *, second: bool | None) -> Observed:
    zone = session.start.zone
    return observed_at(from_wall_clock(_wall(session, clock), zone, second_time=second), zone, "minute")


def _wall(session: Session, clock: str) -> datetime:
    """The day of a time of day: the session's own, or the next where it runs past midnight."""
    start, end = session.start.local, session.end.local
    at = time.fromisoformat(clock)
    later = end.date() > start.date() and at < start.time()
    return datetime.combine(start.date() + timedelta(days=int(later)), at)
