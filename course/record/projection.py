"""From a subject's events to what is true of it now.

A fact is a function of the set of events: the order in which they arrived does not matter. Statements are settled by
(lamport, chain, seq), never by a clock. A withdrawn event no longer holds; a corrected one holds with its new values.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import orjson

from course.moments import Observed
from course.record import account_facts, arrival_facts, day_facts, facts, finding_facts, merge_facts, signing_facts
from course.record import events as kinds
from course.record.chain import Event
from course.record.course_standards import build_standards
from course.record.key_facts import build_keys
from course.record.paper_facts import CheckOut
from course.record.person_papers import build_papers
from course.record.privacy_facts import build_erasure, build_retention
from course.record.session_day import build_day
from course.record.sheets import build_joint_lines, build_sheets
from course.record.statements import Statement, Statements, live_statements
from course.record.unit_state import build_set_aside, build_slip, build_unit
from course.words import Closing

PROJECTION_VERSION = 11
"""Raised when the same events give other facts or other texts of them, also by another default."""


@dataclass(frozen=True)
class FactKeys:
    """What a fact can be looked up by."""

    kind: str
    course: str | None = None
    person: str | None = None
    skill: str | None = None
    session: str | None = None


_MODELS: dict[str, type[facts.Fact]] = {
    "centre": facts.Centre,
    "person": facts.Person,
    "unit": facts.Unit,
    "adoption": facts.Adoption,
    "course": facts.Course,
    "session": facts.Session,
    "attempt": facts.Attempt,
    "join": facts.Join,
    "slip": facts.Slip,
    "checkpoint": facts.Checkpoint,
    "decision": facts.Decision,
    "madeexception": signing_facts.MadeException,
    "signoff": signing_facts.SignOff,
    "transfer": arrival_facts.Transfer,
    "arrival": arrival_facts.Arrival,
    "findinganswer": finding_facts.FindingAnswer,
    "device": merge_facts.Device,
    "merge": merge_facts.Merge,
    "account": account_facts.Account,
    "signingpin": account_facts.SigningPin,
}

_KINDS = {model: kind for kind, model in _MODELS.items()}

_COURSE = {"course": "course"}
_OF_STUDENT = _COURSE | {"person": "student"}
_OF_SKILL = _OF_STUDENT | {"skill": "skill"}
_KEYED: dict[type[facts.Fact], dict[str, str]] = {
    facts.Attempt: _OF_SKILL | {"session": "session"},
    facts.Decision: _OF_SKILL,
    signing_facts.MadeException: _OF_SKILL,
    signing_facts.SignOff: _OF_STUDENT,
    arrival_facts.Transfer: _OF_STUDENT,
    arrival_facts.Arrival: _OF_STUDENT,
    facts.Slip: _COURSE | {"session": "session"},
    facts.Session: _COURSE,
    facts.Join: _COURSE,
    facts.Checkpoint: _COURSE,
    finding_facts.FindingAnswer: _COURSE,
    account_facts.Account: {"person": "person"},
    account_facts.SigningPin: {"person": "person"},
}
"""What facts are looked up by, and the field of each that says it."""


def read_fact(kind: str, text: str) -> facts.Fact:
    """Read a fact back from the text that a table holds."""
    return _MODELS[kind].model_validate_json(text)


def fact_text(fact: facts.Fact) -> str:
    """Return the text that a table holds of a fact: the same for equal facts. It is never hashed.

    What is as it is by default is left out: a page reads thousands of marks, and most of them have nothing to tell.
    """
    return fact.model_dump_json(exclude_defaults=True)


def keys(fact: facts.Fact) -> FactKeys:
    """Return what a fact is looked up by."""
    kind = _KINDS[type(fact)]
    found: dict[str, str] = {key: getattr(fact, field) for key, field in _KEYED.get(type(fact), {}).items()}
    return FactKeys(kind, **found)


def project(events: Sequence[Event]) -> facts.Fact | None:
    """Return what is true of one subject.

    Args:
        events: every event of the subject, in any order.

    Returns:
        The fact, or None while the event that founds it is not there (or is none of a fact at all).
    """
    statements = live_statements(events)
    founding = next((s for s in statements if type(s.body) in _FOUNDED), None)
    if founding is None:
        return None
    shared = _shared(events, statements, founding)
    return _FOUNDED[type(founding.body)](founding, statements, shared)


def _shared(events: Sequence[Event], statements: Statements, founding: Statement) -> dict[str, Any]:
    """What every fact carries: the hashes it rests on, sealed pieces, kinds that cannot be read, disagreements."""
    pieces = [_piece(s, founding) for s in statements if not s.withdrawn or s is founding]
    return {
        "events": tuple(sorted({event.hash for event in events})),
        "private": tuple(piece for piece in pieces if piece is not None),
        "unread": tuple(sorted({event.kind for event in events if event.kind not in kinds.KINDS})),
        "contested": tuple(sorted({field for s in statements for field in s.contested})),
        "withdrawn": founding.withdrawn,
    }


def _piece(statement: Statement, founding: Statement) -> facts.SealedPiece | None:
    event, body = statement.event, statement.body
    sealed = orjson.loads(event.body).get("sealed") if '"sealed"' in event.body else None
    if not isinstance(sealed, dict):
        return None
    correction = body if isinstance(body, kinds.Corrected) else None
    return facts.SealedPiece(
        event=event.id,
        kind=event.kind,
        of=sealed["of"],
        data=sealed["data"],
        founding=statement is founding,
        corrects=correction.corrects if correction else None,
        replaces=correction.replaces if correction else (),
    )


def _public(body: kinds.Body, *leave_out: str) -> dict[str, Any]:
    """The body's public fields as keywords for a fact."""
    private = {"sealed", *body.private_fields(), *leave_out}
    return {name: getattr(body, name) for name in type(body).model_fields if name not in private}


def _centre(founding: Statement, statements: Statements, shared: dict[str, Any]) -> facts.Fact:
    public = _public(_body(founding), "centre")
    keys, retention = build_keys(statements), build_retention(statements)
    return facts.Centre(id=founding.event.subject, keys=keys, retention=retention, **public, **shared)


def _person(founding: Statement, statements: Statements, shared: dict[str, Any]) -> facts.Fact:
    checks = tuple(
        CheckOut(unit_type=body.unit_type, day=body.day) for _, body in statements.holding(kinds.CheckOutRecorded)
    )
    public = _public(_body(founding), "person")
    papers = build_papers(statements)
    person, erased = founding.event.subject, build_erasure(statements)
    if erased:  # what only the deleted key could open has no place in the tables any more
        shared = shared | {"private": tuple(piece for piece in shared["private"] if piece.of != person)}
    return facts.Person(id=person, check_outs=checks, erased=erased, **papers, **public, **shared)


def _unit(founding: Statement, statements: Statements, shared: dict[str, Any]) -> facts.Fact:
    public = _public(_body(founding), "unit")
    return facts.Unit(id=founding.event.subject, **build_unit(statements), **public, **shared)


def _adoption(founding: Statement, _: Statements, shared: dict[str, Any]) -> facts.Fact:
    return facts.Adoption(id=founding.event.subject, **_public(_body(founding), "adoption"), **shared)


def _course(founding: Statement, statements: Statements, shared: dict[str, Any]) -> facts.Fact:
    members = tuple(facts.Member(person=body.person, role=body.role) for _, body in statements.holding(kinds.Enrolled))
    assignments = tuple(
        facts.Assignment(**_public(body, "course")) for _, body in statements.holding(kinds.UnitAssigned)
    )
    return facts.Course(
        id=founding.event.subject,
        members=tuple(dict.fromkeys(members)),
        assignments=assignments,
        **build_standards(_public(_body(founding), "course"), statements, shared),
    )


def _session(founding: Statement, statements: Statements, shared: dict[str, Any]) -> facts.Fact:
    made = statements.holding(kinds.GroupMade)
    replaced = {earlier for _, body in made for earlier in body.replaces}
    groups = tuple(
        facts.Group(id=body.group, event=s.event.id, staff=body.staff, students=body.students)
        for s, body in made
        if s.event.id not in replaced
    )
    ends: dict[str, Observed] = {}
    for _, body in statements.holding(kinds.SpanEnded):  # of two ends the earlier holds: nobody gains minutes by it
        ends[body.span] = min(ends.get(body.span, body.end), body.end, key=lambda end: end.utc)
    spans = tuple(
        facts.Span(id=body.span, end=body.end or ends.get(body.span), **_public(body, "session", "span", "end"))
        for _, body in statements.holding(kinds.SpanRecorded)
    )
    water = tuple(
        day_facts.WaterTime(id=body.water, **_public(body, "session", "water"))
        for _, body in statements.holding(kinds.WaterTimeRecorded)
    )
    return facts.Session(
        id=founding.event.subject,
        groups=groups,
        spans=spans,
        water=water,
        **build_day(statements),
        **_public(_body(founding), "session"),
        **shared,
    )


def _attempt(founding: Statement, statements: Statements, shared: dict[str, Any]) -> facts.Fact:
    answered = statements.holding(kinds.ElsewhereAnswered)
    replaced = {earlier for _, body in answered for earlier in body.replaces}
    answers = [body.accepted for s, body in answered if s.event.id not in replaced]
    endings = _endings(statements)
    return facts.Attempt(
        id=founding.event.subject,
        accepted=all(answers) if answers else None,
        first_student=str(orjson.loads(founding.event.body)["student"]),
        claimants=tuple(str(student) for student in founding.claims.get("student", ())),
        sheets=build_sheets(statements),
        joint=build_joint_lines(statements),
        set_aside=build_set_aside(statements),
        ending=next(iter(endings), None),
        other_endings=endings[1:],
        **_public(_body(founding), "attempt"),
        **shared,
    )


_ENDING_RANK = {Closing.COMPLETED: 0, Closing.STOPPED: 1, Closing.VOID: 2}
"""Of two closings by two devices the one that lets the attempt count for or against holds."""


def _endings(statements: Statements) -> tuple[facts.Ending, ...]:
    """How the attempt was closed: what holds first, then what other devices closed it as."""
    closings = sorted(
        statements.holding(kinds.AttemptClosed), key=lambda pair: (_ENDING_RANK[pair[1].how], pair[0].event.order)
    )
    return tuple(
        facts.Ending(event=s.event.id, closed_by=s.event.actor, **_public(body, "attempt")) for s, body in closings
    )


def _join(founding: Statement, _: Statements, shared: dict[str, Any]) -> facts.Fact:
    return facts.Join(id=founding.event.subject, **_public(_body(founding), "join"), **shared)


def _slip(founding: Statement, statements: Statements, shared: dict[str, Any]) -> facts.Fact:
    public = _public(_body(founding), "slip")
    by = founding.event.actor
    return facts.Slip(id=founding.event.subject, set_by=by, **build_slip(statements), **public, **shared)


def _checkpoint(founding: Statement, _: Statements, shared: dict[str, Any]) -> facts.Fact:
    public = _public(_body(founding), "checkpoint", "heads", "public", "signed")
    body = _body(founding)
    heads = tuple((h.chain, h.seq, h.hash) for h in body.heads) if isinstance(body, kinds.CheckpointMade) else ()
    return facts.Checkpoint(
        id=founding.event.subject, made_by=founding.event.actor, heads=heads, **public, **shared
    )  # fmt: skip


def _decision(founding: Statement, _: Statements, shared: dict[str, Any]) -> facts.Fact:
    public = _public(_body(founding), "decision")
    return facts.Decision(id=founding.event.subject, decided_by=founding.event.actor, **public, **shared)


def _exception(founding: Statement, statements: Statements, shared: dict[str, Any]) -> facts.Fact:
    public = _public(_body(founding), "exception")
    seconds = signing_facts.build_seconds(founding, public["rests_on"], statements)
    return signing_facts.MadeException(
        id=founding.event.subject, proposed_by=founding.event.actor, seconds=seconds, **public, **shared
    )


def _sign_off(founding: Statement, statements: Statements, shared: dict[str, Any]) -> facts.Fact:
    return signing_facts.SignOff(
        id=founding.event.subject,
        signed_by=founding.event.actor,
        taken_back=signing_facts.build_taken_back(statements),
        countersigned=signing_facts.build_countersigned(founding, statements),
        **_public(_body(founding), "sign_off"),
        **shared,
    )


def _transfer(founding: Statement, _: Statements, shared: dict[str, Any]) -> facts.Fact:
    public = _public(_body(founding), "transfer")
    return arrival_facts.Transfer(id=founding.event.subject, noted_by=founding.event.actor, **public, **shared)


def _arrival(founding: Statement, statements: Statements, shared: dict[str, Any]) -> facts.Fact:
    public, accepted = _public(_body(founding), "arrival"), arrival_facts.build_accepted(statements)
    return arrival_facts.Arrival(
        id=founding.event.subject, noted_by=founding.event.actor, accepted=accepted, **public, **shared
    )


def _finding_answer(founding: Statement, _: Statements, shared: dict[str, Any]) -> facts.Fact:
    public = _public(_body(founding), "answer")
    return finding_facts.FindingAnswer(id=founding.event.subject, answered_by=founding.event.actor, **public, **shared)


def _device(founding: Statement, _: Statements, shared: dict[str, Any]) -> facts.Fact:
    return merge_facts.Device(id=founding.event.subject, accepted_by=founding.event.actor, **shared)


def _merge(founding: Statement, _: Statements, shared: dict[str, Any]) -> facts.Fact:
    body, event = _body(founding), founding.event
    heads = tuple((h.chain, h.seq, h.hash) for h in body.heads) if isinstance(body, kinds.LedgerMerged) else ()
    public = _public(body, "merge", "heads")
    return merge_facts.Merge(id=event.subject, chain=event.chain, seq=event.seq, heads=heads, **public, **shared)


def _body(statement: Statement) -> kinds.Body:
    if statement.body is None:  # a founding statement is one that could be read
        raise TypeError(f"{statement.event.kind} cannot found a fact")
    return statement.body


Builder = Callable[[Statement, Statements, dict[str, Any]], facts.Fact]
_FOUNDED: dict[type[kinds.Body] | type[None], Builder] = {
    kinds.CentreMade: _centre,
    kinds.PersonAdded: _person,
    kinds.PersonAddedForOffice: _person,
    kinds.UnitAdded: _unit,
    kinds.RubricAdopted: _adoption,
    kinds.RubricAdoptedAfter: _adoption,
    kinds.CourseMade: _course,
    kinds.SessionPlanned: _session,
    kinds.AttemptOpened: _attempt,
    kinds.AttemptsJoined: _join,
    kinds.FaultSet: _slip,
    kinds.CheckpointMade: _checkpoint,
    kinds.CheckpointSigned: _checkpoint,
    kinds.Signed: _decision,
    kinds.SignedConfirmed: _decision,
    kinds.ExceptionProposed: _exception,
    kinds.SignedOff: _sign_off,
    kinds.TransferAgreed: _transfer,
    kinds.ArrivedFromElsewhere: _arrival,
    kinds.FindingAnswered: _finding_answer,
    kinds.DeviceAccepted: _device,
    kinds.LedgerMerged: _merge,
    kinds.AccountMade: account_facts.build_account,
    kinds.SigningPinSet: account_facts.build_signing_pin,
}


def join_attempts(attempts: Sequence[facts.Attempt], joins: Sequence[facts.Join]) -> list[facts.Attempt]:
    """Put the sheets of attempts that were one try into the first one named, and leave the others out."""
    by_id = {attempt.id: attempt for attempt in attempts}
    home = {attempt.id: attempt.id for attempt in attempts}
    for join in sorted((j for j in joins if not j.withdrawn), key=lambda j: j.id):
        tries = list(dict.fromkeys(home[a] for a in join.attempts if a in home))
        for other in tries[1:]:
            kept = tries[0]
            by_id[kept] = _joined(by_id[kept], by_id.pop(other), join)
            home |= {a: kept for a, at in home.items() if at == other}
    return list(by_id.values())


def _joined(kept: facts.Attempt, other: facts.Attempt, join: facts.Join) -> facts.Attempt:
    endings = [ending for ending in (kept.ending, other.ending) if ending]
    return kept.model_copy(
        update={
            "sheets": kept.sheets + other.sheets,
            "joint": kept.joint + other.joint,
            "set_aside": kept.set_aside + other.set_aside,
            "joined": (*kept.joined, other.id, *other.joined),
            "events": tuple(sorted({*kept.events, *other.events, *join.events})),
            "private": kept.private + other.private,
            "unread": tuple(sorted({*kept.unread, *other.unread, *join.unread})),
            "contested": tuple(sorted({*kept.contested, *other.contested})),
            "ending": min(endings, key=lambda ending: _ENDING_RANK[ending.how], default=None),
        }
    )
