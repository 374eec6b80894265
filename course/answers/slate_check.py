"""What saving a copied sheet would do, said before it is saved: gaps, what it breaks, what it touches, what is doubled.

Standings are compared as they are and as they would be, through the same judgement that every other answer uses.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from course.access import Sight
from course.answers.days import day_words
from course.answers.slate_beside import Beside, beside
from course.answers.slate_copy import CopiedColumn, CopiedSheet, asked_twice, column_of, seen_between
from course.answers.slate_faults import Copying, copying, faults, part_of
from course.answers.slate_foreseen import foreseen_attempt
from course.answers.slate_sheet import SlateColumn, SlateRow, entered_from, short_name
from course.asker import question
from course.assessment.attempts import AttemptJudgement, judge
from course.assessment.history import Effect
from course.assessment.sentences import standing_line
from course.assessment.standing import Standing, standing
from course.moments import training_day
from course.record.facts import Attempt
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.words import (
    OUTCOME_WORDS,
    Capacity,
    Closing,
    DecisionKind,
    Mark,
    StandingState,
    listed,
    plural,
)

LATE = timedelta(hours=24)
_HELD = (StandingState.MET, StandingState.MET_WATCH)


@dataclass(frozen=True)
class Gap:
    """A box that should not be empty, or whose value is missing."""

    student: str
    attempt_try: int
    step: str
    sentence: str


@dataclass(frozen=True)
class Consequence:
    """What saving would do, or what is odd about it. A serious one breaks, changes or touches what stands."""

    sentence: str
    serious: bool = False


@dataclass(frozen=True)
class ColumnOutcome:
    """What one column would come to as an attempt."""

    student: str
    attempt_try: int
    sentence: str
    critical: bool


@dataclass(frozen=True)
class SlateCheck:
    """Everything there is to say before a copied sheet is saved."""

    faults: tuple[str, ...] = ()
    twice: tuple[str, ...] = ()
    """Which of "start" and "end" stand in an hour that came twice and wait for a choice."""
    gaps: tuple[Gap, ...] = ()
    consequences: tuple[Consequence, ...] = ()
    outcomes: tuple[ColumnOutcome, ...] = ()
    entered: tuple[Beside, ...] = ()
    attempts: int = 0
    """How many attempts saving would make."""
    marks: int = 0
    sentence: str = ""

    @property
    def may_save(self) -> bool:
        """Whether saving would add something, and nothing stands against it."""
        return not self.faults and self.attempts > 0

    @property
    def told(self) -> str:
        """A short hash of all that was said: saving names it, so that nothing is saved over news nobody has read."""
        return hashlib.sha256(repr(asdict(self)).encode()).hexdigest()[:16]

    def plain(self) -> dict[str, Any]:
        """The same as plain data, for the grid."""
        rows = [
            {**asdict(one), "rows": [{**asdict(row), "same": row.same} for row in one.rows]} for one in self.entered
        ]
        return {**asdict(self), "entered": rows, "may_save": self.may_save, "told": self.told}


@question(Sight.SLATE)
def check_slate(ledger: Ledger, copy: CopiedSheet, at: datetime) -> SlateCheck:
    """Say what saving this copy would do, and what is missing on it. Nothing is changed.

    Args:
        ledger: the ledger.
        copy: what was copied.
        at: the moment of asking; an entry more than a day after the session is called late.

    Raises:
        NotFoundError: this centre gave out no such sheet.
        RefusedError: it is of another session.
    """
    into = copying(ledger, copy)
    before = entered_from(ledger, into.session.id, into.sheet.slate.id)
    doubled = [column for column in copy.written if column.key in before]
    fresh = [column for column in copy.written if column.key not in before]
    wrong = faults(into)
    found = SlateCheck(
        faults=wrong,
        twice=tuple(asked_twice(into.session, copy.seen)),
        gaps=tuple(gap for column in fresh for gap in _gaps(into, column)),
        entered=tuple(beside(into, column, before[column.key]) for column in doubled if not column.leave),
        attempts=len(fresh),
        marks=sum(len(c.marks) + len(c.values) + c.whole_clean for c in fresh),
    )
    differing = [one for one in found.entered if not one.identical]
    wrong += tuple(f"{one.name}: was entered before with other marks. Leave it or amend it." for one in differing)
    if wrong:
        return replace(found, faults=wrong, sentence="This sheet cannot be saved as it is. Nothing typed is lost.")
    attempts = _foreseen(into, fresh)
    told = [*_standing_consequences(into, attempts), *_odd(into, at, fresh)]
    told.sort(key=lambda one: not one.serious)
    outcomes = tuple(_outcome(into, column, attempt) for column, attempt in attempts)
    return replace(found, consequences=tuple(told), outcomes=outcomes, sentence=_sentence(found, told))


def _foreseen(into: Copying, fresh: list[CopiedColumn]) -> list[tuple[CopiedColumn, Attempt]]:
    part = part_of(into.seen, into.copy.observer)
    made, numbers = [], next_numbers(into, fresh)
    for column, number in zip(fresh, numbers, strict=True):
        known = column_of(into.sheet, *column.key)
        if part is not None and known is not None:
            attempt = foreseen_attempt(into.sheet, into.session, into.skill, into.copy, column, known, part, number)
            unit = into.seen.unit_of(column.student, training_day(into.session.start))
            made.append((column, attempt.model_copy(update={"unit": unit.id if unit else None})))
    return made


def next_numbers(into: Copying, columns: list[CopiedColumn]) -> list[int]:
    """The attempts' numbers for columns in the order in which they are given: two tries of one student follow."""
    latest: dict[str, int] = {}
    numbers = []
    for column in columns:
        known = into.seen.by_student_and_skill.get((column.student, into.skill.id), ())
        first = max((one.attempt.number for one in known), default=0)
        latest[column.student] = latest.get(column.student, first) + 1
        numbers.append(latest[column.student])
    return numbers


# --- what is missing ---------------------------------------------------------------------------------------------


def _gaps(into: Copying, column: CopiedColumn) -> Iterator[Gap]:
    """Boxes that are empty though the attempt went through to its end, and ticks without the value they need."""
    known = column_of(into.sheet, *column.key)
    if known is None or column.how != Closing.COMPLETED:
        return
    for row in into.sheet.rows:
        if row.step not in known.not_here and (told := _gap(row, column)):
            yield Gap(*column.key, row.step, f"{into.words(column)}: step {row.number} {told}")


def _gap(row: SlateRow, column: CopiedColumn) -> str:
    line, value = column.mark(row.step), column.values.get(row.step)
    filled = column.whole_clean and not row.own_box
    if line is None and value is None and not filled:
        return "is empty. Saved so, it is kept as not seen."
    seen_through = line is not None and line.mark in (Mark.DONE, Mark.PROMPTED)
    if row.limit is not None and value is None and seen_through:
        keeps = " Without it the step counts as not seen." if row.own_box and row.limit.at_least is not None else ""
        return f"has no value written down.{keeps}"
    return "has a value and no mark. Saved so, it is kept as not seen." if line is None and not filled else ""


# --- what it does to what stands ---------------------------------------------------------------------------------


def _standing_consequences(into: Copying, attempts: list[tuple[CopiedColumn, Attempt]]) -> Iterator[Consequence]:
    if not into.same_form:
        yield Consequence(
            "The rubric of this skill has changed since the sheet was printed. The marks are kept by the printed form "
            "and shown; they do not count by the form in force."
        )
        return
    by_student: dict[str, list[Attempt]] = {}
    for _, attempt in attempts:
        by_student.setdefault(attempt.student, []).append(attempt)
    for student, own in by_student.items():
        yield from _for_student(into, student, own)


def _for_student(into: Copying, student: str, own: list[Attempt]) -> Iterator[Consequence]:
    seen, skill = into.seen, into.seen.adopted.skill(into.skill.id)
    as_of = max(seen.usual_day, training_day(into.session.start))
    before, after = seen.standing(student, skill, as_of), _standing_after(into, student, own, as_of)
    name = _short(into, student)
    new = {attempt.id for attempt in own}
    breaking = [s for s in after.history if s.attempt in new and s.effect in (Effect.BREAKS, Effect.CRITICAL)]
    if breaking and before.streak > after.streak:
        yield Consequence(f"This breaks {name}'s {before.streak} in a row at {skill.title}.", serious=True)
    was, comes = standing_line(before, skill), standing_line(after, skill)
    if before.state != after.state:
        fell = before.state in _HELD and after.state not in _HELD
        yield Consequence(f"{name}, {skill.title}: now “{was}”, with this sheet “{comes}”.", serious=fell)
    if set(before.used) != set(after.used) and (told := _signed(into, student, as_of)):
        yield Consequence(told, serious=True)


def _standing_after(into: Copying, student: str, own: list[Attempt], as_of: date) -> Standing:
    seen, skill = into.seen, into.seen.adopted.skill(into.skill.id)
    unit_type = seen.unit_type_of(student, as_of)
    return standing(
        (*seen.seen(student, skill), *(seen.as_seen(attempt) for attempt in own)),
        skill,
        unit_type.id if unit_type else None,
        unit_type.feature_set if unit_type else frozenset(),
        as_of,
        applies=applies(skill, unit_type),
    )


def _signed(into: Copying, student: str, as_of: date) -> str:
    skill = into.seen.adopted.skill(into.skill.id)
    decision = into.seen.decision(student, skill, as_of)
    if decision is None:
        return ""
    did = "signed it as met" if decision.decided == DecisionKind.AGREED else "held it back"
    who, day = into.seen.name(decision.decided_by), day_words(decision.observed.local.date())
    return (
        f"{_short(into, student)}, {skill.title}: {who} {did} on {day}, without this attempt. That decision will stand "
        "on an older record; look at it again on the Course page."
    )


def _outcome(into: Copying, column: CopiedColumn, attempt: Attempt) -> ColumnOutcome:
    judged = _judged(into, attempt)
    word = OUTCOME_WORDS[judged.outcome]
    reasons = " ".join(reason.sentence for reason in judged.reasons)
    told = f"{into.words(column)}, attempt {attempt.number}: {word}. {reasons}".rstrip()
    return ColumnOutcome(*column.key, told, critical=bool(judged.critical_reasons))


def _judged(into: Copying, attempt: Attempt) -> AttemptJudgement:
    return judge(into.seen.as_seen(attempt), into.skill, frozenset())


# --- what is odd about it ----------------------------------------------------------------------------------------


def _odd(into: Copying, at: datetime, fresh: list[CopiedColumn]) -> Iterator[Consequence]:
    if not fresh:
        return
    yield from _about_time(into, at, fresh)
    yield from _about_sheet(into, fresh)
    for column in fresh:
        yield from _overruled(into, column)


def _about_time(into: Copying, at: datetime, fresh: list[CopiedColumn]) -> Iterator[Consequence]:
    session = into.session
    ended = session.end.moment
    if at - ended > LATE:
        days = (at.date() - ended.date()).days
        day = day_words(training_day(session.start))
        yield Consequence(
            f"Late entry: seen on {day}, entered {plural(max(days, 1), 'day')} later. Both times are kept."
        )
    if at < session.start.moment:
        yield Consequence("This session has not begun yet by this machine's clock.", serious=True)
    for where, seen in {"The sheet": into.copy.seen, **{into.words(c): c.seen for c in fresh if c.seen}}.items():
        if seen is None:
            continue
        start, end = seen_between(session, seen)
        if start.moment < session.start.moment or end.moment > ended:
            planned = f"{session.start.local:%H:%M} to {session.end.local:%H:%M}"
            yield Consequence(f"{where}: seen from {seen.start} to {seen.end}, and the session was {planned}.")


def _about_sheet(into: Copying, fresh: list[CopiedColumn]) -> Iterator[Consequence]:
    aside = into.sheet.slate.set_aside
    if aside is not None:
        yield Consequence(f"This sheet was set aside as {aside.replace('_', ' ')}. It is entered all the same.")
    who, day = into.copy.observer, training_day(into.session.start)
    part = part_of(into.seen, who)
    if part is not None and part[1] == Capacity.PRACTICE:
        yield Consequence(
            f"{into.seen.name(who)} may not evaluate here: these are practice sheets, and count for no student.",
            serious=True,
        )
    known = [column_of(into.sheet, *column.key) for column in fresh]
    types = sorted({one.unit_type for one in known if one and one.unit_type})
    lapsed = [unit_type for unit_type in types if into.seen.is_lapsed(who, unit_type, day)]
    if part is not None and part[1] == Capacity.EVALUATING and lapsed:
        titles = listed([into.seen.adopted.standards.unit_types[t].title for t in lapsed])
        yield Consequence(
            f"{into.seen.name(who)} was not current on {titles} that day: a current instructor has to see these again.",
            serious=True,
        )


def _overruled(into: Copying, column: CopiedColumn) -> Iterator[Consequence]:
    """A value outside its limit, and a reading of the unit outside its bounds, hold against a tick."""
    attempt = next((a for c, a in _foreseen(into, [column]) if c is column), None)
    if attempt is None:
        return
    ticked = {line.step for line in column.marks if line.mark == Mark.DONE}
    ticked |= {row.step for row in into.sheet.rows if column.whole_clean and not row.own_box}
    for reason in _judged(into, attempt).reasons:
        if reason.what == "limit" and reason.step in ticked:
            yield Consequence(f"{into.words(column)}: {reason.sentence} The value holds, whatever was ticked.")
        if reason.what == "reading":
            yield Consequence(f"{into.words(column)}: {reason.sentence} The reading holds until it is set aside.")


def _short(into: Copying, student: str) -> str:
    known: Mapping[str, SlateColumn] = {column.student: column for column in into.sheet.columns}
    return short_name(known[student]) if student in known else into.seen.name(student)


def _sentence(found: SlateCheck, told: list[Consequence]) -> str:
    serious = sum(one.serious for one in told)
    if not found.attempts:
        return "Nothing is to be added." if found.entered else "Nothing is written on this copy yet."
    parts = [f"{plural(found.attempts, 'attempt')} to save"]
    if found.gaps:
        parts.append(f"{plural(len(found.gaps), 'box', 'boxes')} to look at")
    if serious:
        parts.append(f"{plural(serious, 'thing')} to know first")
    return f"{listed(parts)}."
