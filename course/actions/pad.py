"""Take what the step pad sends: taps with ids made on the tablet, each saved, or refused with a sentence."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from course.access import Act
from course.actions.attempts import close_draft
from course.actions.beginning import begin_attempt, begin_sheet
from course.actions.drafting import allow, body, draft
from course.actions.session_limits import refuse_after_the_session
from course.actions.sheet_checks import check_mark, check_order, measured
from course.errors import CourseError, NotFoundError, OtherNameError, RefusedError, SignedOutError, StorageError
from course.moments import Observed, observed_at
from course.record.events import (
    Body,
    Draft,
    Id,
    MarksGiven,
    OrderAnswered,
    OrderAnswered2,
    ValueMeasured,
    WholeAttemptClean,
    Withdrawn,
    plain_faults,
)
from course.record.facts import Attempt, Course, Sheet
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.storage.lookup import needed, skill_as_marked, unit_features
from course.words import Closing

_OTHERS = "These taps are somebody else's. They wait on this tablet until that person signs in on it. NOT saved yet."
_UNDOABLE = (MarksGiven.kind, WholeAttemptClean.kind, ValueMeasured.kind, OrderAnswered.kind, OrderAnswered2.kind)


class PadItem(BaseModel):
    """One tap as the pad sends it: what was on screen, and what was tapped."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: Id
    attempt: Id
    student: Id
    sheet: Id
    kind: Literal[
        "attempt_opened/1",
        "sheet_started/1",
        "marks_given/1",
        "whole_attempt_clean/1",
        "value_measured/1",
        "order_answered/1",
        "order_answered/2",
        "withdrawn/1",
        "attempt_closed/1",
    ]
    body: dict[str, Any] = {}
    tapped_at: datetime
    clock_offset_ms: int | None = Field(default=None, ge=-(10**11), le=10**11)


@dataclass(frozen=True)
class PadAnswer:
    """Ids that are in the ledger now, and those refused with the reason."""

    saved: tuple[str, ...]
    refused: tuple[tuple[str, str], ...]
    left: tuple[str, ...] = ()
    """Ids of taps of somebody else than who is signed in: neither saved nor refused, they wait for that person."""


def take(ledger: Ledger, items: Sequence[dict[str, Any]]) -> PadAnswer:
    """Save taps in their order. The same tap again is acknowledged and adds nothing.

    Raises:
        StorageError: NOT saved; those before it are, and the pad keeps the rest.
        OtherNameError: every one of them is somebody else's than who is signed in; the pad keeps them.
    """
    saved: list[str] = []
    refused: list[tuple[str, str]] = []
    left: list[str] = []
    for plain in items:
        name = str(plain.get("id", ""))[:64]
        try:
            _take_one(ledger, PadItem.model_validate(plain))
            saved.append(name)
        except (StorageError, SignedOutError):
            raise
        except OtherNameError:
            (saved if ledger.event(name) else left).append(name)
        except ValidationError as error:
            refused.append((name, f"This tap cannot be read: {plain_faults(error)} It was NOT saved."))
        except CourseError as error:
            refused.append((name, error.sentence))
    if left and not (saved or refused):
        raise OtherNameError(_OTHERS)
    return PadAnswer(tuple(saved), tuple(refused), tuple(left))


def _take_one(ledger: Ledger, item: PadItem) -> None:
    match item.kind:
        case "attempt_opened/1":
            begin_attempt(ledger, item, lambda zone: _observed(item, zone))
        case "sheet_started/1":
            begin_sheet(ledger, item, lambda zone: _observed(item, zone))
        case _:
            _take_stroke(ledger, item)


def _take_stroke(ledger: Ledger, item: PadItem) -> None:
    attempt = needed(ledger, Attempt, item.attempt, "attempt")
    if item.student != attempt.student:
        raise RefusedError(
            "This tap was made for another student than the attempt belongs to. It was NOT saved; reload the page."
        )
    sheet = next((s for s in attempt.sheets if s.id == item.sheet), None)
    if sheet is None:
        raise NotFoundError("This attempt has no such sheet. The tap was NOT saved; reload the page.")
    allow(ledger, sheet.observer, Act.PRACTISE)
    of_course = needed(ledger, Course, attempt.course, "course")
    observed = _observed(item, of_course.zone)
    again = ledger.event(item.id) is not None
    if not again:
        _refuse_after_the_end(attempt, sheet, observed)
        refuse_after_the_session(ledger, attempt.session, observed, ends=_ends(item))
        _refuse_step_not_for_the_unit(ledger, item, attempt, of_course)
    ledger.append([_draft(ledger, item, attempt, sheet, observed, again=again)])


def _ends(item: PadItem) -> bool:
    """Whether it ends an attempt without saying that it was completed: that is possible while a session is frozen."""
    return item.kind == "attempt_closed/1" and item.body.get("how") in (Closing.STOPPED, Closing.VOID)


def _refuse_step_not_for_the_unit(ledger: Ledger, item: PadItem, attempt: Attempt, of_course: Course) -> None:
    lines = item.body.get("marks") if item.kind == "marks_given/1" else [item.body]
    named = {str(line.get("step")) for line in lines or () if isinstance(line, dict) and line.get("step")}
    skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    if not any(step.only_if for step in skill.steps if step.id in named):
        return
    here = {step.id for step in skill.steps_for(unit_features(ledger, of_course.adoption, attempt.unit_type))}
    for number, step in enumerate(skill.steps, 1):
        if step.id in named and step.id not in here:
            raise RefusedError(
                f"Step {number} of {skill.title} is not for this student's unit. It was NOT saved; reload the page: "
                "the unit may have been changed since."
            )


def _observed(item: PadItem, zone: str) -> Observed:
    """The moment of the tap by the server's clock, as far as the tablet knew how much its own was off."""
    tapped = item.tapped_at if item.tapped_at.tzinfo else item.tapped_at.replace(tzinfo=UTC)
    try:
        moment = tapped.astimezone(UTC) + timedelta(milliseconds=item.clock_offset_ms or 0)
        return observed_at(moment, zone, clock_offset_ms=item.clock_offset_ms)
    except (OverflowError, ValueError):
        raise RefusedError("The tablet's clock is too far off to be believed. The tap was NOT saved.") from None


def _refuse_after_the_end(attempt: Attempt, sheet: Sheet, observed: Observed) -> None:
    """A tap made before the end that only arrives after it is kept; a later one is an amendment.

    Another observer than the one who closed goes on: theirs is a sheet of its own.
    """
    ending = attempt.ending
    if ending is not None and sheet.observer == ending.closed_by and observed.moment > ending.observed.moment:
        raise RefusedError(
            "This attempt is closed. The tap was NOT saved; amend the attempt on the Course page, with a reason."
        )


def _draft(ledger: Ledger, item: PadItem, attempt: Attempt, sheet: Sheet, observed: Observed, *, again: bool) -> Draft:
    common: dict[str, Any] = {"attempt": attempt.id, "sheet": sheet.id, "observed": observed}
    given = {key: value for key, value in item.body.items() if key not in common}
    skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    match item.kind:
        case "marks_given/1":
            content: Body = _marks(skill, given, common)
        case "whole_attempt_clean/1":
            content = body(WholeAttemptClean, **given, **common)
        case "value_measured/1":
            content = _value(skill, given, common)
        case "order_answered/1" | "order_answered/2":
            answer = body(OrderAnswered2 if item.kind.endswith("/2") else OrderAnswered, **given, **common)
            check_order(skill, answer.first_done, answer.should_come_first)
            content = answer
        case "withdrawn/1":
            content = _withdrawal(ledger, given, attempt, sheet)
        case "attempt_closed/1":
            state = attempt.model_copy(update={"ending": None}) if again else attempt
            return close_draft(
                ledger, sheet.observer, state, _closing(given), observed,
                stopped_by=given.get("stopped_by"), reason=given.get("reason"), second=given.get("second"),
                event_id=item.id,
            )  # fmt: skip
        case _:
            raise RefusedError("This tap says nothing that a sheet can hold. It was NOT saved.")
    return draft(sheet.observer, content, private_of=attempt.student, event_id=item.id)


def _marks(skill: Skill, given: dict[str, Any], common: dict[str, Any]) -> MarksGiven:
    content = body(MarksGiven, **given, **common)
    for line in content.marks:
        check_mark(skill, line, content.notes or {})
    return content


def _value(skill: Skill, given: dict[str, Any], common: dict[str, Any]) -> ValueMeasured:
    replaces = {"replaces": given["replaces"]} if given.get("replaces") else {}
    step, value = str(given.get("step", "")), str(given.get("value", ""))
    return measured(skill, step, value, given.get("unit"), **replaces, **common)


def _closing(given: dict[str, Any]) -> Closing:
    try:
        return Closing(str(given.get("how")))
    except ValueError:
        raise RefusedError("An attempt ends completed, stopped or void. It was NOT saved.") from None


def _withdrawal(ledger: Ledger, given: dict[str, Any], attempt: Attempt, sheet: Sheet) -> Withdrawn:
    """Undo: a pad takes back only what stands on its own sheet."""
    event = ledger.event(str(given.get("withdraws")))
    if event is None or event.kind not in _UNDOABLE or json.loads(event.body)["sheet"] != sheet.id:
        raise NotFoundError("What this would take back is not on this sheet. Nothing was changed.")
    return body(Withdrawn, thing=attempt.id, withdraws=event.id, why=given.get("why"))
