"""Correct or withdraw what stands in the ledger: a new line with a reason; the old one stays to be read."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from course.access import Act
from course.actions.attempts import check_mark
from course.actions.drafting import allow, body, draft, told
from course.errors import NotFoundError, RefusedError
from course.moments import Observed
from course.record.chain import Event
from course.record.events import KINDS, Corrected, MarkGiven, MarksGiven, Withdrawn
from course.record.facts import Attempt
from course.storage.ledger import Ledger
from course.storage.lookup import needed, skill_as_marked


def correct(
    ledger: Ledger,
    actor: str,
    event_id: str,
    why: str,
    *,
    change: dict[str, Any] | None = None,
    private_change: dict[str, Any] | None = None,
    replaces: Sequence[str] = (),
    private_of: str | None = None,
) -> str:
    """Give fields of an earlier event new values, with a reason; returns the correction's id.

    Raises:
        NotFoundError: there is no such event.
        RefusedError: the new values do not fit its kind, or no reason is given.
    """
    allow(ledger, actor, Act.AMEND)
    event = _event(ledger, event_id)
    model = KINDS[event.kind]
    _refuse_misfit(model, event, change or {}, private_change or {})
    content = body(
        Corrected,
        thing=event.subject,
        corrects=event_id,
        replaces=tuple(replaces),
        change=change or {},
        private_change=private_change,
        why=told(why),
    )
    made = draft(actor, content, private_of=private_of)
    ledger.append([made])
    return made.id


def withdraw(ledger: Ledger, actor: str, event_id: str, why: str) -> str:
    """Say that an earlier event no longer holds, with a reason; returns the withdrawal's id."""
    allow(ledger, actor, Act.AMEND)
    event = _event(ledger, event_id)
    made = draft(actor, body(Withdrawn, thing=event.subject, withdraws=event_id, why=told(why)))
    ledger.append([made])
    return made.id


def amend_marks(
    ledger: Ledger,
    actor: str,
    attempt: str,
    sheet: str,
    line: MarkGiven,
    why: str,
    observed: Observed,
    note: str | None = None,
) -> None:
    """Give a step of a closed attempt another mark on its observer's own sheet, with a reason."""
    fact = needed(ledger, Attempt, attempt, "attempt")
    own = next((s for s in fact.sheets if s.id == sheet), None)
    if own is None:
        raise NotFoundError("This attempt has no such sheet. Nothing was changed.")
    if own.observer != actor:
        raise RefusedError("Only its observer amends a sheet; another observer starts a sheet of their own.")
    allow(ledger, actor, Act.PRACTISE)
    notes = {line.step: note} if note else {}
    check_mark(skill_as_marked(ledger, fact.skill, fact.rubric), line, notes)
    live = tuple(mark.event for mark in own.marks if mark.step == line.step)
    content = body(
        MarksGiven,
        attempt=attempt,
        sheet=sheet,
        marks=(line.model_copy(update={"replaces": live}),),
        observed=observed,
        why=told(why),
        notes=notes or None,
    )
    ledger.append([draft(actor, content, private_of=fact.student)])


def _event(ledger: Ledger, event_id: str) -> Event:
    event = ledger.event(event_id)
    if event is None or event.kind not in KINDS:
        raise NotFoundError("There is no such line in the ledger. Nothing was changed.")
    return event


def _refuse_misfit(model: type[Any], event: Event, change: dict[str, Any], private: dict[str, Any]) -> None:
    unknown = [name for name in (*change, *private) if name not in model.model_fields or name == model.about]
    if unknown or not (change or private):
        raise RefusedError(
            f"{event.kind} has no field {', '.join(unknown) or 'named'} to correct. Nothing was changed."
        )
    plain = {name: value for name, value in json.loads(event.body).items() if name != "sealed"}
    body(model, **(plain | change | private))
