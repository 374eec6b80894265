"""Correct or withdraw what stands in the ledger: a new line with a reason; the old one stays to be read."""

from __future__ import annotations

import json
from typing import Any

from course.access import Act
from course.actions.drafting import allow, body, draft, refuse_unconfirmed_of_known, told
from course.actions.field_words import field_words
from course.actions.sheet_checks import check_mark
from course.answers.course_view import view
from course.asker import refuse_unconfirmed
from course.errors import NotFoundError, RefusedError
from course.moments import Observed
from course.record import events as kinds
from course.record.arrival_facts import Arrival, Transfer
from course.record.chain import Event
from course.record.events import (
    KINDS,
    WITHDRAWALS,
    Corrected,
    Draft,
    MarkGiven,
    MarksGiven,
    Withdrawn,
    WithdrawnConfirmed,
)
from course.record.facts import Attempt, Centre, Course, Decision, Session, Slip, Unit
from course.record.signing_events import Confirmed
from course.record.signing_facts import MadeException
from course.record.statements import Statement, live_statements
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed, skill_as_marked
from course.words import SlipKind

_ADOPTED_FOR_GOOD = "courses and attempts rest on its very words; adopt the new rubrics beside it"
_FOR_GOOD: dict[str, str] = {
    kinds.CentreMade.kind: "the ledger began with it",
    **dict.fromkeys(kinds.STARTS, "it tells of the database itself"),
    kinds.RubricAdopted.kind: _ADOPTED_FOR_GOOD,
    kinds.RubricAdoptedAfter.kind: _ADOPTED_FOR_GOOD,
    kinds.AccountMade.kind: "close the account and make another",
    kinds.AccountClosed.kind: "make another account",
    kinds.AccountClosedAsLast.kind: "make another account",
    kinds.PasswordSet.kind: "set another password",
    kinds.PinSet.kind: "set another PIN, or take it away",
    kinds.SigningPinSet.kind: "let it go, and choose another at the next signature",
    kinds.SigningPinLetGo.kind: "choose another PIN at the next signature",
    kinds.OfficesGiven.kind: "give or take the office on the People page",
    kinds.PersonErased.kind: "a key that was deleted does not come back",
    kinds.CourseStandardsMoved.kind: "it was the lead's decision; the lead moves the course again, with a reason",
    kinds.SignedOff.kind: "it is frozen; take it back on Ready, with a reason",
    kinds.SignOffCountersigned.kind: "it is frozen; take the whole issue back on Ready, with a reason",
    kinds.SignOffWithdrawn.kind: "sign off anew on Ready; the next issue takes its place",
}
"""Kinds that are neither corrected nor withdrawn, and why."""
_DECISIONS = (kinds.Signed.kind, kinds.SignedConfirmed.kind)
_NOT_CORRECTED: dict[str, str] = _FOR_GOOD | {
    Corrected.kind: "correct the line that it corrects once more",
    **dict.fromkeys(WITHDRAWALS, "withdraw it, and what it took back holds again"),
    **dict.fromkeys(_DECISIONS, "a decision is frozen; decide anew"),
    kinds.ExceptionProposed.kind: "it is frozen; withdraw it and propose it anew",
    kinds.ExceptionSeconded.kind: "it is frozen; withdraw it",
    kinds.TransferAgreed.kind: "withdraw it and note it anew",
    kinds.ArrivedFromElsewhere.kind: "it is what the file says; withdraw it and take the right file in",
    kinds.ElsewhereAccepted.kind: "accept it anew on Ready, or withdraw it",
}
_CONFIRMED = frozenset(
    one.kind
    for one in (
        kinds.ExceptionProposed, kinds.ExceptionSeconded, kinds.ElsewhereAccepted, kinds.ArrivedFromElsewhere
    )
)  # fmt: skip
"""What belongs to signing off, and is taken back by whoever confirms at the act that it is them."""
_OF_A_STUDENT = ("madeexception", "transfer", "arrival")
_SKILL_FIELDS = frozenset({"skill", "rubric", "course"})
_OF_THE_HOLD = {
    kinds.UnitHeld.kind: frozenset({"slip", "hold"}),
    kinds.FaultSet.kind: frozenset({"how", "fault", "unit", "session", "course"}),
}
"""Fields that tie a planted fault to the hold on its unit: another value would take the hold from it."""
_TIMES = {
    kinds.SpanRecorded.kind: "Enter or mend who was there",
    kinds.SpanEnded.kind: "Enter or mend who was there",
    kinds.WaterTimeRecorded.kind: "Enter or mend time in the water",
    kinds.WaterTimeSeen.kind: "Enter or mend time in the water",
}
"""Times of people: checked against their session, the clock and each other where they are mended; see `times`."""
_OF_THE_STANDARDS = frozenset({"adoption", "profile", "revision"})
"""Fields of a course that only a move changes: the lead decides, with what it changes per student shown first."""


def correct(
    ledger: Ledger,
    actor: str,
    event_id: str,
    why: str,
    *,
    change: dict[str, Any] | None = None,
    private_change: dict[str, Any] | None = None,
) -> str:
    """Give fields of an earlier event new values, with a reason; returns the correction's id.

    Earlier corrections of the same fields that are known here are replaced.

    Raises:
        NotFoundError: there is no such event.
        RefusedError: it is not corrected at all or in another place, the new values do not fit its kind, or no reason
            is given.
    """
    made = correction(ledger, actor, event_id, why, change=change, private_change=private_change)
    if where := _TIMES.get(_event(ledger, event_id).kind):
        raise RefusedError(
            f"A time is mended on Hours, under “{where}”: there it is checked against its session, the clock and the "
            "person's other times. Nothing was changed."
        )
    ledger.append([made])
    return made.id


def correction(
    ledger: Ledger,
    actor: str,
    event_id: str,
    why: str,
    *,
    change: dict[str, Any] | None = None,
    private_change: dict[str, Any] | None = None,
) -> Draft:
    """Return the event that corrects an earlier one, to be added with others.

    Raises:
        NotFoundError, RefusedError: as for `correct`.
    """
    allow(ledger, actor, Act.AMEND)
    event = _event(ledger, event_id)
    if event.kind in _NOT_CORRECTED:
        raise RefusedError(f"{event.kind} is not corrected: {_NOT_CORRECTED[event.kind]}. Nothing was changed.")
    if tied := _OF_THE_HOLD.get(event.kind, frozenset()) & (change or {}).keys():
        raise RefusedError(
            f"{', '.join(sorted(tied))}: stays as it is, since a unit is on hold for it. Clear the fault, pass the "
            "list, and set it anew. Nothing was changed."
        )
    if event.kind == kinds.CourseMade.kind and _OF_THE_STANDARDS & (change or {}).keys():
        raise RefusedError(
            "Rubrics and requirements of a course are not corrected: its lead moves the course on Standards, under "
            "“Move a course”, where what it would change for each student is shown first. Nothing was changed."
        )
    change, private_change = change or {}, private_change or {}
    statements = live_statements(ledger.events(event.subject))
    _refuse_misfit(next(s for s in statements if s.event.id == event_id), change, private_change)
    if event.kind == kinds.AttemptOpened.kind:
        _refuse_lost(ledger, event.subject, change)
    content = body(
        Corrected,
        thing=event.subject,
        corrects=event_id,
        replaces=_corrections(ledger, statements, event_id, change.keys() | private_change.keys()),
        change=change,
        private_change=private_change or None,
        why=told(why),
    )
    return draft(actor, content, private_of=_owner(ledger, event))


def move_attempt(ledger: Ledger, actor: str, attempt: str, student: str, why: str) -> str:
    """Give an attempt that was entered for the wrong student to the right one, on the unit that they dived that day.

    Raises:
        NotFoundError: there is no such attempt.
        RefusedError: the other person is no student of the course, or no reason is given.
    """
    fact = needed(ledger, Attempt, attempt, "attempt")
    day = needed(ledger, Session, fact.session, "session").start.local.date().isoformat()
    assigned = needed(ledger, Course, fact.course, "course").assignment(student, day)
    opened = next(event.id for event in ledger.events(attempt) if event.kind == kinds.AttemptOpened.kind)
    change = {"student": student}
    if assigned is not None:
        change |= {"unit": assigned.unit, "unit_type": assigned.unit_type}
    return correct(ledger, actor, opened, why, change=change)


def withdraw(
    ledger: Ledger, actor: str, event_id: str, why: str, confirmed_with: Confirmed | None = None
) -> str:  # fmt: skip
    """Say that an earlier event no longer holds, with a reason; returns the withdrawal's id.

    Args:
        confirmed_with: what was typed at the act by whoever takes back what belongs to signing off.

    Raises:
        NotFoundError: there is no such event.
        RefusedError: something else rests on it, no reason is given, or it was not confirmed.
    """
    allow(ledger, actor, Act.AMEND)
    event = _event(ledger, event_id)
    about = _taken_back(ledger, event).kind
    if about in _CONFIRMED:
        refuse_unconfirmed(confirmed_with)
    elif about in _DECISIONS:
        refuse_unconfirmed_of_known(ledger, actor, confirmed_with)
    if event.kind in _FOR_GOOD:
        raise RefusedError(f"{event.kind} is not withdrawn: {_FOR_GOOD[event.kind]}. Nothing was changed.")
    _refuse_in_use(ledger, event)
    made = draft(actor, withdrawal(event, why, confirmed_with), private_of=_owner(ledger, event))
    ledger.append([made])
    return made.id


def withdrawal(event: Event, why: str, confirmed_with: Confirmed | None) -> Withdrawn:
    """Return what says that an event no longer holds; what it was confirmed by stands in it where it was.

    Raises:
        RefusedError: no reason is given.
    """
    kind = WithdrawnConfirmed if confirmed_with else Withdrawn
    return body(kind, thing=event.subject, withdraws=event.id, why=told(why), confirmed_with=confirmed_with)


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
    """Give a step of a closed attempt another mark on its observer's own sheet, with a reason.

    Raises:
        NotFoundError: there is no such attempt, sheet, step or error.
        RefusedError: the sheet is another observer's, or no reason is given.
    """
    fact = needed(ledger, Attempt, attempt, "attempt")
    own = next((s for s in fact.sheets if s.id == sheet), None)
    if own is None:
        raise NotFoundError("This attempt has no such sheet. Nothing was changed.")
    if own.observer != actor:
        raise RefusedError(
            "Only its observer amends a sheet; another observer starts a sheet of their own. Nothing was changed."
        )
    allow(ledger, actor, Act.PRACTISE)
    notes = {line.step: note} if note else {}
    check_mark(skill_as_marked(ledger, fact.skill, fact.rubric), line, notes)
    live = tuple(dict.fromkeys(mark.event for mark in own.marks if mark.step == line.step))
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


def _taken_back(ledger: Ledger, event: Event) -> Event:
    """What a withdrawal, or the withdrawal of one, is about in the end; any other event itself."""
    while event.kind in WITHDRAWALS:
        event = _event(ledger, json.loads(event.body)["withdraws"])
    return event


def _owner(ledger: Ledger, event: Event) -> str | None:
    """Whose key seals what is written about an event: that of the person it is about, else the centre's."""
    sealed = json.loads(event.body).get("sealed")
    if sealed:
        return str(sealed["of"])
    if ledger.fact("person", event.subject):
        return event.subject
    known = (ledger.fact(kind, event.subject) for kind in ("attempt", "decision", *_OF_A_STUDENT))
    about = next((fact for fact in known if fact), None)
    return about.student if isinstance(about, Attempt | Decision | MadeException | Transfer | Arrival) else None


def _corrections(
    ledger: Ledger, statements: list[Statement], event_id: str, fields: frozenset[str] | set[str]
) -> tuple[str, ...]:
    """Corrections known here of any of the same fields of the same event, private ones too."""
    return tuple(
        s.event.id
        for s in statements
        if isinstance(s.body, Corrected)
        and not s.withdrawn
        and s.body.corrects == event_id
        and fields & (s.body.change.keys() | ledger.private_of(s.event).get("private_change", {}).keys())
    )


def _refuse_misfit(statement: Statement, change: dict[str, Any], private: dict[str, Any]) -> None:
    """New values have to fit the event as it stands now, with the corrections that it has already."""
    model, now = KINDS[statement.event.kind], statement.body
    open_fields = model.model_fields.keys() - {"sealed", model.about} - set(model.private_fields())
    unknown = sorted((change.keys() - open_fields) | (private.keys() - set(model.private_fields())))
    if now is None or unknown or not (change or private):
        raise RefusedError(
            f"{model.kind} has no field {', '.join(unknown) or 'named'} to correct. Nothing was changed."
        )
    if emptied := sorted(name for name in model.needed if name in private and not private[name]):
        words = field_words(model.__name__)
        told = ", ".join(f"“{words.get(name, name)}”" for name in emptied)
        raise RefusedError(f"{told} cannot be empty. Nothing was changed.")
    body(model, **(now.public_part() | change | private))


def _refuse_lost(ledger: Ledger, attempt: str, change: dict[str, Any]) -> None:
    """An attempt stays with its skill, and where it moves there must be such a student or session."""
    fact = needed(ledger, Attempt, attempt, "attempt")
    if change.keys() & _SKILL_FIELDS:
        raise RefusedError(
            "An attempt stays with its skill and course. Withdraw it and enter it where it belongs. "
            "Nothing was changed."
        )
    seen = view(ledger, fact.course)
    if change.get("student", fact.student) not in seen.students:
        raise RefusedError(
            f"This person is no {seen.profile.for_whom} of the course. Put them on it on People first. "
            "Nothing was changed."
        )
    session = needed(ledger, Session, change.get("session", fact.session), "session")
    if session.course != fact.course:
        raise RefusedError("This session belongs to another course. Nothing was changed.")


def _refuse_in_use(ledger: Ledger, event: Event) -> None:
    """A thing is not withdrawn while others rest on it."""
    courses = all_of(ledger, Course)
    match event.kind:
        case kinds.PersonAdded.kind:
            lead = needed(ledger, Centre, ledger.centre_id, "centre").lead
            rests = lead == event.subject or any(m.person == event.subject for c in courses for m in c.members)
            what = "This person is on a course, or leads the centre"
        case kinds.UnitAdded.kind:
            rests = any(a.unit == event.subject for c in courses for a in c.assignments)
            what = "This unit is assigned on a course"
        case kinds.CourseMade.kind:
            rests = bool(all_of(ledger, Session, course=event.subject))
            what = "This course has sessions"
        case kinds.SessionPlanned.kind:
            rests = bool(all_of(ledger, Attempt, session=event.subject))
            what = "Attempts were seen in this session"
        case kinds.UnitHeld.kind | kinds.FaultSet.kind if _is_planted(ledger, event):
            raise RefusedError(
                "A unit is or was on hold for this planted fault, and no hold is taken back: clear the fault and pass "
                "the whole list again. Nothing was changed."
            )
        case _:
            return
    if rests:
        raise RefusedError(f"{what}. Withdraw or move these first. Nothing was changed.")


def _is_planted(ledger: Ledger, event: Event) -> bool:
    """Whether a slip or a hold is of a planted fault."""
    slip, unit = ledger.fact("slip", event.subject), ledger.fact("unit", event.subject)
    if isinstance(slip, Slip):
        return slip.how == SlipKind.PLANTED
    return isinstance(unit, Unit) and any(hold.slip for hold in unit.holds if hold.event == event.id)
