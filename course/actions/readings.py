"""Write down what a unit shows: kept for good with all that is needed to judge it, and once more as a step's value.

Whoever holds a sheet may say that a reading is the value of a step on it: a value beats a tick.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from course.access import Act, may
from course.actions.drafting import allow, body, draft
from course.actions.session_limits import refuse_after_the_session
from course.actions.sheet_checks import measured
from course.assessment.cell_votes import votes
from course.assessment.unit_readings import HOW, fields, judged
from course.errors import NotFoundError, RefusedError
from course.moments import Observed, new_id
from course.physics.field_names import named
from course.physics.gas import SLACK
from course.physics.quantity import Input
from course.record.events import Draft, ReadingTaken
from course.record.facts import Attempt, Person, Sheet, Unit
from course.record.unit_events import Amount
from course.record.unit_facts import Reading
from course.standards.rubric import Limit, is_decimal
from course.storage.ledger import Ledger
from course.storage.lookup import needed, skill_as_marked
from course.words import READING_WORDS, ReadingKind, listed

MOST_CELLS = 9
_SECONDS = {"s": 1, "min": 60}
_NOT_READ = ("-", "\u2013", "\u2014")


@dataclass(frozen=True)
class ForStep:
    """The step of an attempt, on an observer's own sheet, whose value a reading is."""

    attempt: str
    sheet: str
    step: str


def take_reading(
    ledger: Ledger,
    actor: str,
    unit: str,
    what: ReadingKind,
    amounts: Mapping[str, str],
    observed: Observed,
    *,
    cell: int | None = None,
    for_step: ForStep | None = None,
    note: str | None = None,
) -> str:
    """Write one reading into a unit's history; returns the reading's id.

    Args:
        ledger: the ledger.
        actor: who read it.
        unit: of which unit.
        what: which kind of reading.
        amounts: decimal texts by key, in the units of `fields(what)`; empty ones count as left out.
        observed: when and in which zone.
        cell: which of several cells.
        for_step: the step whose value it is too.
        note: a free word about it.

    Raises:
        NotFoundError: there is no such unit, attempt, sheet or step.
        RefusedError: a number is missing, is none or lies outside of what can be; or the step does not take it.
    """
    return _keep(ledger, actor, unit, what, [_Row(cell, _filled(amounts))], observed, for_step, note)[0]


def take_readings(
    ledger: Ledger,
    actor: str,
    unit: str,
    what: ReadingKind,
    typed: Mapping[str, str],
    observed: Observed,
    *,
    first: int = 1,
    for_step: ForStep | None = None,
    note: str | None = None,
) -> tuple[str, ...]:
    """Write down several cells that were read together, in one append; returns the readings' ids.

    Args:
        ledger: the ledger.
        actor: who read them.
        unit: of which unit.
        what: which kind of reading.
        typed: as the amounts of `take_reading`; of what each cell has its own a number for each cell, such as
            "10.4 10.2 10.5", with a dash for one that was not read.
        observed: when and in which zone.
        first: the cell of the first number.
        for_step: the step whose value the one farthest from good is too.
        note: a free word, kept with the first of them.

    Raises:
        NotFoundError: there is no such unit, attempt, sheet or step.
        RefusedError: as `take_reading`; or the cells do not have as many numbers of each kind. Nothing is kept then.
    """
    return _keep(ledger, actor, unit, what, _rows(what, _filled(typed), first), observed, for_step, note)


def readings_now(
    unit: Unit, what: ReadingKind, typed: Mapping[str, str], observed: Observed, first: int = 1
) -> tuple[str, ...]:
    """Return what readings would say, before they are kept: a sentence a cell, and what the vote of three hides.

    Raises:
        RefusedError: a number is missing, is none or lies outside of what can be.
    """
    found = [
        Reading(
            id="", event="", what=what, cell=row.cell, amounts=_amounts(what, row.given), observed=observed,
            taken_by=unit.id,
        )
        for row in _rows(what, _filled(typed), first)
    ]  # fmt: skip
    told = [judged(one).told for one in found]
    return (*told, *(vote.told for vote in votes(found))) if found[1:] else tuple(told)


@dataclass(frozen=True)
class _Row:
    """What was read of one cell, or of the unit."""

    cell: int | None
    given: Mapping[str, str]


def _keep(
    ledger: Ledger,
    actor: str,
    unit: str,
    what: ReadingKind,
    rows: Sequence[_Row],
    observed: Observed,
    for_step: ForStep | None,
    note: str | None,
) -> tuple[str, ...]:
    """Append every row, and the number of the worst of them as the step's value where there is one."""
    _allow(ledger, actor)
    fact = needed(ledger, Unit, unit, "unit")
    amounts = [_amounts(what, row.given) for row in rows]
    drafts, worst = [], None
    if for_step:
        worst, value = _value(ledger, actor, fact, what, rows, for_step, observed)
        drafts = [value]
    bodies = [
        body(
            ReadingTaken, unit=unit, reading=new_id(), what=what, cell=row.cell, observed=observed, amounts=found,
            note=(note or None) if row is rows[0] else None,
            attempt=for_step.attempt if for_step and row is worst else None,
            step=for_step.step if for_step and row is worst else None,
        )
        for row, found in zip(rows, amounts, strict=True)
    ]  # fmt: skip
    ledger.append([*(draft(actor, one) for one in bodies), *drafts])
    return tuple(one.reading for one in bodies)


def _filled(amounts: Mapping[str, str]) -> dict[str, str]:
    return {key: text.strip() for key, text in amounts.items() if text.strip()}


def _rows(what: ReadingKind, given: Mapping[str, str], first: int) -> list[_Row]:
    """A row for each cell that has numbers of its own; one row for what is read of the unit."""
    each = [key for key in HOW[what].each if key in given]
    if not HOW[what].each:
        return [_Row(None, given)]
    if not each:
        return [_Row(first, given)]  # the number that is missing is told with the others
    numbers = {key: given[key].replace("/", " ").split() for key in each}
    many = {len(found) for found in numbers.values()}
    known = {one.key: one for one in fields(what)}
    if len(many) > 1:
        told = listed([f"{named(key)}: {len(found)}" for key, found in numbers.items()])
        raise RefusedError(f"Every cell needs a number of each kind; there are {told}. Nothing was changed.")
    if first + max(many, default=1) - 1 > MOST_CELLS:
        raise RefusedError(f"A unit has at most {MOST_CELLS} cells here. Nothing was changed.")
    rows = []
    for place, own in enumerate(zip(*numbers.values(), strict=True)):
        unread = [text in _NOT_READ for text in own]
        if any(unread) and not all(unread):
            lacks = named(each[unread.index(True)])
            raise RefusedError(f"Cell {first + place} has no number for {lacks}. Nothing was changed.")
        if not any(unread):
            rows.append(_Row(first + place, {**given, **dict(zip(each, own, strict=True))}))
    if not rows:
        raise RefusedError(f"{_field(known[each[0]])} is missing. Nothing was changed.")
    return rows


def _allow(ledger: Ledger, actor: str) -> None:
    roles = needed(ledger, Person, actor, "acting person").roles
    allow(ledger, actor, Act.PRACTISE if may(roles, Act.PRACTISE) else Act.CARE)


def _amounts(what: ReadingKind, given: Mapping[str, str]) -> tuple[Amount, ...]:
    known = {one.key: one for one in fields(what)}
    for key in given:
        if key not in known:
            raise RefusedError(f"A {READING_WORDS[what]} has no {key}. Nothing was changed.")
    for one in known.values():
        if one.key not in given and one.default is None and not one.optional:
            raise RefusedError(f"{_field(one)} is missing. Nothing was changed.")
    return tuple(_amount(known[key], text) for key, text in given.items())


def _amount(one: Input, text: str) -> Amount:
    if not is_decimal(text):
        raise RefusedError(f"{_field(one)}: {text!r} is no plain decimal number such as 10.4. Nothing was changed.")
    if not one.lowest - SLACK <= float(text) <= one.highest + SLACK:
        held = f"{one.lowest:g} to {one.highest:g} {one.unit}".rstrip()
        raise RefusedError(f"{_field(one)}: {text} is outside of {held}. Nothing was changed.")
    return Amount(key=one.key, value=text, unit=one.unit)


def _field(one: Input) -> str:
    return f"{named(one.key)} ({one.what})"


def _value(
    ledger: Ledger,
    actor: str,
    unit: Unit,
    what: ReadingKind,
    rows: Sequence[_Row],
    to: ForStep,
    observed: Observed,
) -> tuple[_Row, Draft]:
    """The row that is worst by the step's limit, and its number as the step's value instead of the one there."""
    attempt = needed(ledger, Attempt, to.attempt, "attempt")
    sheet = next((one for one in attempt.sheets if one.id == to.sheet), None)
    if sheet is None:
        raise NotFoundError("This attempt has no such sheet. Nothing was changed.")
    _refuse_value(ledger, actor, unit, attempt, sheet, observed)
    skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    step = skill.step(to.step)
    limit = step.limit if step else None
    found = [(row, value) for row in rows if limit and (value := value_for(limit, what, row.given)) is not None]
    if limit is None or len(found) < len(rows):
        raise RefusedError(f"This step does not ask for a {READING_WORDS[what]}. Nothing was changed.")
    row, value = max(found, key=lambda one: _missed(limit, float(one[1])))
    before = tuple(line.event for line in sheet.values if line.step == to.step)
    content = measured(
        skill, to.step, value, attempt=attempt.id, sheet=sheet.id, observed=observed, replaces=before
    )  # fmt: skip
    return row, draft(actor, content)


def _missed(limit: Limit, value: float) -> float:
    """How far a value is outside of a limit, less than nothing where it is inside."""
    ends = ((-1, limit.at_least), (1, limit.at_most))
    return max(sign * (value - float(end)) for sign, end in ends if end is not None)


def _refuse_value(ledger: Ledger, actor: str, unit: Unit, attempt: Attempt, sheet: Sheet, observed: Observed) -> None:
    if sheet.observer != actor:
        raise RefusedError("Only its observer writes a value on a sheet. Nothing was changed.")
    if attempt.ending is not None:
        raise RefusedError("This attempt is closed; amend it with a reason. Nothing was changed.")
    if attempt.unit != unit.id:
        raise RefusedError(f"This attempt is not on {unit.label}. Nothing was changed.")
    refuse_after_the_session(ledger, attempt.session, observed, ends=False)


def value_for(limit: Limit, what: ReadingKind, given: Mapping[str, str]) -> str | None:
    """Return the number of a reading that a step's limit asks for, in its unit; None where it asks for another."""
    key = HOW[what].shown
    text = given.get(key)
    unit = next((one.unit for one in fields(what) if one.key == key), "")
    if text is None or not is_decimal(text):
        return None
    if limit.quantity == "time" and unit in _SECONDS:
        seconds = Decimal(text) * _SECONDS[unit] / _SECONDS[limit.unit]
        return f"{seconds.normalize():f}"
    fits = {"voltage": "mV", "po2": "bar"}.get(limit.quantity) == unit
    return text if fits and limit.unit == unit else None
