"""What one pad draws: a student's attempt at a skill, begun or not, as plain data with all text as it stands."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from string import ascii_lowercase
from typing import Any

from course.access import Act, Sight, may
from course.answers.consequence import consequence_of
from course.answers.course_view import CourseView, view
from course.answers.gate_view import adjusted
from course.answers.order_told import order_told
from course.answers.pad_readings import against_of, read_today
from course.asker import question
from course.assessment.attempts import SeenAttempt, judge, pending_critical
from course.errors import NotFoundError
from course.moments import training_day
from course.record.facts import Attempt, Course, Session, Sheet, Unit
from course.standards.rubric import OTHER_ERROR, Limit, Skill, Step, order_closure
from course.storage.ledger import Ledger
from course.storage.lookup import needed, skill_as_marked, unit_features
from course.words import (
    EVALUATORS,
    OUTCOME_WORDS,
    QUANTITY_WORDS,
    SETTING_WORDS,
    STAFF,
    Capacity,
    SpanRole,
)

PAD_KEYS = f"fopuw{OTHER_ERROR}"
"""Letters that mean something else on the pad's keyboard."""
LETTERS = [letter for letter in ascii_lowercase if letter not in PAD_KEYS]


@dataclass(frozen=True)
class Planned:
    """An attempt that nothing is marked of yet: it is in no ledger until its first mark."""

    attempt: str
    sheet: str
    session: str
    student: str
    skill: str
    observer: str
    number: int
    within: str | None = None


@question(Sight.MARK)
def pad(ledger: Ledger, attempt_id: str, sheet_id: str, observer: str | None = None) -> dict[str, Any]:
    """Return what the pad draws of an attempt in the ledger.

    Args:
        ledger: the ledger.
        attempt_id: the attempt.
        sheet_id: the sheet to mark on.
        observer: whose sheet it is to be, where it is not begun yet.

    Raises:
        NotFoundError: there is no such attempt or sheet.
    """
    attempt = needed(ledger, Attempt, attempt_id, "attempt")
    sheet = next((s for s in attempt.sheets if s.id == sheet_id), None)
    marks = sheet.observer if sheet else observer
    if marks is None:
        raise NotFoundError("This attempt has no such sheet. Go back to Mark and open it again.")
    seen = view(ledger, attempt.course)
    skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    unit_type = seen.adopted.standards.unit_types.get(attempt.unit_type or "")
    features = unit_type.feature_set if unit_type else frozenset()
    unit = seen.units.get(attempt.unit or "")
    capacity = sheet.capacity if sheet else _capacity(seen, marks)
    return {
        **_frame(seen, skill, attempt.student, marks, features),
        "attempt": attempt.id,
        "sheet": sheet_id,
        "unit": " · ".join(part for part in (unit.label if unit else "", unit_type.title if unit_type else "") if part),
        "unit_type": attempt.unit_type or "",
        "setting": _where(seen, attempt.session, attempt.setting, marks, attempt.unit_type),
        "capacity": capacity.value,
        "older_rubric": attempt.rubric != seen.adopted.hashes.get(attempt.skill),
        "within": attempt.within,
        "critical_now": [
            reason.sentence for reason in pending_critical(attempt, skill, features, seen.against(attempt))
        ],
        **pad_state(ledger, attempt, sheet_id, marks),
    }


@question(Sight.MARK)
def planned_pad(seen: CourseView, planned: Planned) -> dict[str, Any]:
    """Return what the pad draws of an attempt that is not begun, with what has to be sent before its first mark."""
    skill, session = seen.adopted.skill(planned.skill), seen.sessions[planned.session]
    day = training_day(session.start)
    unit_type = seen.unit_type_of(planned.student, day)
    features = unit_type.feature_set if unit_type else frozenset()
    opens = {
        "course": seen.course.id, "session": session.id, "skill": skill.id, "observer": planned.observer,
        **({"within": planned.within} if planned.within else {}),
    }  # fmt: skip
    state = {
        "number": planned.number, "marks": [], "values": [], "whole_clean": None, "orders": [], "first_taps": [],
        "order": None, "ending": None, "outcome": "", "others": [], "events": [],
        "opens": {"attempt": opens, "sheet": {"observer": planned.observer}},
        **_session_state(session, planned.student),
    }  # fmt: skip
    return {
        **_frame(seen, skill, planned.student, planned.observer, features),
        "read": read_today(skill, seen.unit_of(planned.student, day), session),
        "attempt": planned.attempt,
        "sheet": planned.sheet,
        "unit": seen.unit_words(planned.student, day),
        "unit_type": unit_type.id if unit_type else "",
        "setting": _where(seen, session.id, session.setting, planned.observer, unit_type.id if unit_type else None),
        "capacity": _capacity(seen, planned.observer).value,
        "older_rubric": False,
        "within": planned.within,
        "critical_now": [],
        **state,
        "version": _version(state),
    }


@question(Sight.MARK)
def pad_state(ledger: Ledger, attempt: Attempt, sheet_id: str, observer: str | None = None) -> dict[str, Any]:
    """Return what changes on a pad while it is marked, read by keys alone: asked every few seconds by every pad.

    Args:
        ledger: the ledger.
        attempt: the attempt as it stands.
        sheet_id: the sheet on the screen.
        observer: whose sheet it is to be, where it is not begun yet.
    """
    sheet = next((s for s in attempt.sheets if s.id == sheet_id), None)
    session = ledger.fact("session", attempt.session)
    state = {
        "number": attempt.number,
        "read": _read(ledger, attempt, session if isinstance(session, Session) else None),
        **_sheet_state(ledger, attempt, sheet),
        "order": _order(ledger, attempt, sheet),
        "ending": attempt.ending.model_dump(mode="json", include={"how", "stopped_by"}) if attempt.ending else None,
        "outcome": _outcome(ledger, attempt) if attempt.ending else "",
        "others": [
            {"observer": s.observer, "marked": len({line.step for line in s.marks}), "whole": s.whole_clean is not None}
            for s in attempt.sheets
            if s.id != sheet_id
        ],
        "events": [event.id for event in ledger.events(attempt.id)],
        "opens": None if sheet else {"attempt": None, "sheet": {"observer": observer}},
        **_session_state(session if isinstance(session, Session) else None, attempt.student),
    }
    return {**state, "version": _version(state)}


@question(Sight.PULSE_ROUTE)
def state_now(ledger: Ledger, attempt_id: str, sheet_id: str, observer: str) -> dict[str, Any] | None:
    """Return the state of a pad by ids, None for an attempt that nobody began."""
    attempt = ledger.fact("attempt", attempt_id)
    if not isinstance(attempt, Attempt) or attempt.withdrawn:
        return None
    return pad_state(ledger, attempt, sheet_id, observer)


def shut_words(session: Session | None) -> str:
    """Why a session takes no more marks, in a sentence with the way out; empty while it takes them."""
    if session is None or session.withdrawn:
        return ""
    if session.closed_at is not None:
        return (
            f"{session.title} was closed at {session.closed_at.local:%H:%M}. What was tapped before then is kept; "
            "later taps are not taken until the session is opened again, with a reason."
        )
    if session.frozen_by:
        first = min(session.frozen_by, key=lambda incident: incident.observed.moment)
        return (
            f"{session.title} was frozen at {first.observed.local:%H:%M}. What was tapped before then is kept; "
            "now an attempt can only be stopped or made void, until the session goes on."
        )
    return ""


def left_words(session: Session | None, student: str) -> str:
    """That a student was signed out before the session's end, or not signed in where others are; it refuses nothing."""
    if session is None:
        return ""
    spans = [span for span in session.spans if span.role == SpanRole.STUDENT]
    own = [span for span in spans if span.person == student]
    if not own:
        return "not signed in to this session; marks are kept all the same" if spans else ""
    ends = [span.end for span in own]
    last = max((end for end in ends if end is not None), key=lambda end: end.moment, default=None)
    if None in ends or last is None or last.moment >= session.end.moment:
        return ""
    return f"signed out at {last.local:%H:%M}; marks are kept all the same"


def _session_state(session: Session | None, student: str) -> dict[str, Any]:
    frozen = bool(session and session.frozen_by and session.closed_at is None)
    return {"shut": shut_words(session), "frozen": frozen, "left": left_words(session, student)}


def _version(state: dict[str, Any]) -> str:
    """A short name of one state, by which a pad asks whether there is another."""
    return hashlib.sha256(json.dumps(state, sort_keys=True).encode()).hexdigest()[:16]


def _frame(seen: CourseView, skill: Skill, student: str, observer: str, features: frozenset[str]) -> dict[str, Any]:
    """What stays the same while an attempt is marked."""
    known = seen.people.get(student)
    return {
        "student": {"id": student, "name": known.name if known else "", "tag": known.tag if known else ""},
        "skill": {"id": skill.id, "title": skill.title, "purpose": skill.purpose, "caution": skill.caution},
        "adjusted": " ".join(adjusted(seen, student, skill.id)),
        "observer": {"id": observer, "name": seen.name(observer)},
        "persons": [{"id": p, "name": seen.name(p)} for p in seen.course.people(*EVALUATORS) if p != observer],
        "staff": {p: seen.name(p) for p in seen.course.people(*STAFF)},
        "steps": _steps(skill, features),
    }


def _capacity(seen: CourseView, observer: str) -> Capacity:
    """What a sheet of theirs will be; the action that begins it decides by the same rule."""
    known = seen.people.get(observer)
    teaches = observer in seen.course.people(*EVALUATORS) and known is not None and may(known.roles, Act.EVALUATE)
    return Capacity.EVALUATING if teaches else Capacity.PRACTICE


def _where(seen: CourseView, session_id: str, setting: str, observer: str, unit_type: str | None) -> str:
    """Setting, session and who marks, with a word where this observer's marks cannot count today."""
    session = seen.sessions.get(session_id)
    lapsed = session and seen.is_lapsed(observer, unit_type, training_day(session.start))
    parts = [SETTING_WORDS[setting], session.title if session else "", f"{seen.name(observer)} marks"]
    return " · ".join([part for part in parts if part] + (["not current on this unit type: waits"] if lapsed else []))


def _read(ledger: Ledger, attempt: Attempt, session: Session | None) -> dict[str, str]:
    """What the unit's readings of the day say, step by step; most units have none, and then no skill is asked for."""
    unit = _unit_read(ledger, attempt)
    if unit is None:
        return {}
    return read_today(skill_as_marked(ledger, attempt.skill, attempt.rubric), unit, session, attempt)


def _unit_read(ledger: Ledger, attempt: Attempt) -> Unit | None:
    """The attempt's unit, where anything was read of it."""
    unit = ledger.fact("unit", attempt.unit) if attempt.unit else None
    return unit if isinstance(unit, Unit) and unit.readings else None


def _order(ledger: Ledger, attempt: Attempt, sheet: Sheet | None) -> dict[str, Any] | None:
    """What the ledger holds of the order of this sheet, as plain data; None while there is nothing to say of it."""
    if sheet is None or not (len(sheet.first_taps) > 1 or sheet.orders or sheet.whole_clean):
        return None
    skill, features = _as_marked(ledger, attempt)
    return asdict(order_told(skill, features, sheet, attempt.joint, "you"))


def _outcome(ledger: Ledger, attempt: Attempt) -> str:
    """The outcome in a word, or that it is closed where only practice sheets were held."""
    skill, features = _as_marked(ledger, attempt)
    said = against_of(_unit_read(ledger, attempt), attempt)
    place = SeenAttempt(attempt, training_day(attempt.observed), attempt.observed.moment, frozenset(), features, said)
    judged = judge(place, skill, features)
    return OUTCOME_WORDS[judged.outcome] if judged.held else "closed"


def _as_marked(ledger: Ledger, attempt: Attempt) -> tuple[Skill, frozenset[str]]:
    """The skill in the attempt's own form, and what the attempt's unit has."""
    of_course = needed(ledger, Course, attempt.course, "course")
    skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    return skill, unit_features(ledger, of_course.adoption, attempt.unit_type)


def _steps(skill: Skill, features: frozenset[str]) -> list[dict[str, Any]]:
    here = {step.id for step in skill.steps_for(features)}
    before: dict[str, list[str]] = {step.id: [] for step in skill.steps}
    for earlier, later in order_closure(skill.steps):
        before[later].append(earlier)
    return [
        {
            "id": step.id,
            "number": number,
            "do": step.do,
            "why": step.why,
            "can_be_critical": step.can_be_critical,
            "if_left_out": step.if_left_out,
            "applies": step.id in here,
            "errors": _errors(step),
            "limit": _limit(step.limit, critical=step.can_be_critical) if step.limit else None,
            "after": before[step.id],
            "after_critical": list(step.after_critical),
        }
        for number, step in enumerate(skill.steps, 1)
    ]


def _errors(step: Step) -> list[dict[str, Any]]:
    return [
        {
            "id": e.id,
            "letter": letter,
            "label": e.label,
            "consequence": e.consequence,
            "critical": e.critical,
            "numbers": told.told if (told := consequence_of(e)) else "",
        }
        for letter, e in zip(LETTERS, step.errors, strict=False)
    ]


def _limit(limit: Limit, *, critical: bool) -> dict[str, Any]:
    return {
        "quantity": limit.quantity,
        "word": QUANTITY_WORDS[limit.quantity],
        "unit": limit.unit,
        "at_least": limit.at_least,
        "at_most": limit.at_most,
        "from": limit.from_,
        "error": limit.error,
        "needs_value": critical and limit.at_least is not None,
    }


def _sheet_state(ledger: Ledger, attempt: Attempt, sheet: Sheet | None) -> dict[str, Any]:
    if sheet is None:
        return {"marks": [], "values": [], "whole_clean": None, "orders": [], "first_taps": []}
    notes = ledger.private(attempt).get("by_event", {})
    return {
        "marks": [
            {
                "event": m.event,
                "step": m.step,
                "mark": m.mark.value,
                "errors": list(m.errors),
                "prompted": m.prompted,
                "fixed_self": m.fixed_self,
                "note": (notes.get(m.event, {}).get("notes") or {}).get(m.step),
            }
            for m in sheet.marks
        ],
        "values": [v.model_dump() for v in sheet.values],
        "whole_clean": sheet.whole_clean,
        "orders": [o.model_dump() for o in sheet.orders],
        "first_taps": [list(tap) for tap in sheet.first_taps],
    }
