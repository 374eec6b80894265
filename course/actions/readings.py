"""Write down what a unit shows: kept for good with all that is needed to judge it, and once more as a step's value.

Whoever holds a sheet may say that a reading is the value of a step on it: a value beats a tick.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from course.access import Act, may
from course.actions.drafting import allow, body, draft
from course.actions.session_limits import refuse_after_the_session
from course.actions.sheet_checks import measured
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
from course.words import READING_WORDS, ReadingKind

_SECONDS = {"s": 1, "min": 60}


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
    """Write a reading into a unit's history; returns the reading's id.

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
    _allow(ledger, actor)
    fact = needed(ledger, Unit, unit, "unit")
    given = {key: text.strip() for key, text in amounts.items() if text.strip()}
    content = body(
        ReadingTaken, unit=unit, reading=new_id(), what=what, cell=cell, observed=observed, note=note or None,
        amounts=_amounts(what, given), attempt=for_step.attempt if for_step else None,
        step=for_step.step if for_step else None,
    )  # fmt: skip
    drafts = [draft(actor, content)]
    if for_step:
        drafts.append(_value(ledger, actor, fact, what, given, for_step, observed))
    ledger.append(drafts)
    return content.reading


def reading_now(unit: Unit, what: ReadingKind, amounts: Mapping[str, str], observed: Observed, cell: int | None) -> str:
    """Return what a reading would say, before it is kept.

    Raises:
        RefusedError: a number is missing, is none or lies outside of what can be.
    """
    given = {key: text.strip() for key, text in amounts.items() if text.strip()}
    reading = Reading(
        id="", event="", what=what, cell=cell, amounts=_amounts(what, given), observed=observed, taken_by=unit.id
    )
    return judged(reading).told


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
    ledger: Ledger, actor: str, unit: Unit, what: ReadingKind, given: Mapping[str, str], to: ForStep, observed: Observed
) -> Draft:
    """The same number as the value of a step; it takes the place of the value that stood there."""
    attempt = needed(ledger, Attempt, to.attempt, "attempt")
    sheet = next((one for one in attempt.sheets if one.id == to.sheet), None)
    if sheet is None:
        raise NotFoundError("This attempt has no such sheet. Nothing was changed.")
    _refuse_value(ledger, actor, unit, attempt, sheet, observed)
    skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    step = skill.step(to.step)
    value = value_for(step.limit, what, given) if step and step.limit else None
    if value is None:
        raise RefusedError(f"This step does not ask for a {READING_WORDS[what]}. Nothing was changed.")
    before = tuple(line.event for line in sheet.values if line.step == to.step)
    content = measured(
        skill, to.step, value, attempt=attempt.id, sheet=sheet.id, observed=observed, replaces=before
    )  # fmt: skip
    return draft(actor, content)


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
