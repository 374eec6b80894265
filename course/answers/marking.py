"""What the Mark page asks: whom and what one can mark now, and everything that one pad shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from string import ascii_lowercase
from typing import Any

from course.answers.course_view import CourseView, standing_word, view
from course.answers.days import day_words, weekday_words
from course.assessment.attempts import pending_critical
from course.assessment.sentences import missing_line
from course.errors import NotFoundError
from course.moments import training_day
from course.record.facts import Attempt, Session, Sheet
from course.standards.rubric import OTHER_ERROR, Limit, Skill, Step, order_closure
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.storage.lookup import needed, skill_as_marked
from course.words import EVALUATORS, QUANTITY_WORDS, SETTING_WORDS, STAFF, StandingState, plural

PAD_KEYS = f"fopuw{OTHER_ERROR}"
"""Letters that mean something else on the pad's keyboard."""
LETTERS = [letter for letter in ascii_lowercase if letter not in PAD_KEYS]


@dataclass(frozen=True)
class SkillChoice:
    """A skill that this student can be marked on in this session."""

    skill: str
    title: str
    state: StandingState
    word: str
    line: str
    attempts: int
    budget: int


@dataclass(frozen=True)
class PhaseChoices:
    """The skills of one phase."""

    title: str
    skills: tuple[SkillChoice, ...]


@dataclass(frozen=True)
class OpenAttempt:
    """An attempt that was opened and not closed."""

    attempt: str
    sheet: str
    student: str
    title: str
    observer: str


def observers(seen: CourseView) -> dict[str, str]:
    """Who may hold a sheet on this course: id to name, those who evaluate first."""
    evaluating = seen.course.people(*EVALUATORS)
    roles = [role for role in STAFF if role not in EVALUATORS and role != seen.profile.for_whom]
    practising = seen.course.people(*roles)
    return {person: seen.name(person) for person in dict.fromkeys([*evaluating, *practising])}


def deciders(seen: CourseView) -> dict[str, str]:
    """Who signs on this course: id to name."""
    return {person: seen.name(person) for person in seen.course.people(*EVALUATORS)}


def sessions(seen: CourseView, day: date) -> dict[str, str]:
    """Sessions that skills are shown in: id to words; those of the day, then the newest before it, then later ones."""

    def nearness(session: Session) -> tuple[bool, int, str]:
        apart = (training_day(session.start) - day).days
        return (apart > 0, abs(apart), session.start.utc)

    fit = sorted(seen.sessions.values(), key=nearness)
    return {s.id: session_words(s) for s in fit}


def session_words(session: Session) -> str:
    """A session in words: "Thu 22 Oct 13:30 · Pool 1 · pool"."""
    start = session.start.local
    day = day_words(start.date()).rsplit(" ", 1)[0]
    return f"{weekday_words(start.date())} {day} {start:%H:%M} · {session.title} · {SETTING_WORDS[session.setting]}"


def session_students(seen: CourseView, session: str) -> dict[str, str]:
    """Students of a session's groups, or of the whole course where it has no groups: id to name."""
    grouped = [student for group in seen.sessions[session].groups for student in group.students]
    return {student: seen.name(student) for student in grouped or seen.students}


def skill_choices(seen: CourseView, session: str, student: str) -> tuple[PhaseChoices, ...]:
    """Skills that fit the session's setting and the student's unit, by phase, with what is missing."""
    of_session = seen.sessions[session]
    day = training_day(of_session.start)
    unit_type = seen.unit_type_of(student, day)
    as_of = max(seen.last_day, day)
    phases = []
    for phase in seen.adopted.standards.phases:
        skills = [
            skill
            for skill in seen.skills()
            if seen.adopted.standards.phase_of[skill.id] == phase.id
            and of_session.setting in skill.setting
            and applies(skill, unit_type)
        ]
        if skills:
            phases.append(PhaseChoices(phase.title, tuple(_choice(seen, student, skill, as_of) for skill in skills)))
    return tuple(phases)


def open_attempts(seen: CourseView) -> tuple[OpenAttempt, ...]:
    """Attempts that are not closed yet, newest first."""
    still = [a for a in seen.attempts if a.ending is None and a.sheets]
    return tuple(
        OpenAttempt(
            a.id,
            a.sheets[0].id,
            seen.name(a.student),
            seen.adopted.skill(a.skill).title,
            seen.name(a.sheets[0].observer),
        )
        for a in sorted(still, key=lambda a: a.id, reverse=True)
    )


def pad(ledger: Ledger, attempt_id: str, sheet_id: str) -> dict[str, Any]:
    """Return what the step pad draws: plain data, all text as it stands.

    Raises:
        NotFoundError: there is no such attempt or sheet.
    """
    attempt = needed(ledger, Attempt, attempt_id, "attempt")
    sheet = next((s for s in attempt.sheets if s.id == sheet_id), None)
    if sheet is None:
        raise NotFoundError("This attempt has no such sheet. Go back to Mark and open it again.")
    seen = view(ledger, attempt.course)
    skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    unit_type = seen.adopted.standards.unit_types.get(attempt.unit_type or "")
    features = unit_type.feature_set if unit_type else frozenset()
    unit = seen.units.get(attempt.unit or "")
    known = seen.people.get(attempt.student)
    return {
        "attempt": attempt.id,
        "sheet": sheet.id,
        "student": {"id": attempt.student, "name": known.name if known else "", "tag": known.tag if known else ""},
        "skill": {"id": skill.id, "title": skill.title, "purpose": skill.purpose, "caution": skill.caution},
        "unit": " · ".join(part for part in (unit.label if unit else "", unit_type.title if unit_type else "") if part),
        "setting": _where(seen, attempt, sheet),
        "number": attempt.number,
        "observer": {"id": sheet.observer, "name": seen.name(sheet.observer)},
        "capacity": sheet.capacity.value,
        "older_rubric": attempt.rubric != seen.adopted.hashes.get(attempt.skill),
        "route": "/course/marks",
        "pulse": "/course/pulse",
        "persons": [{"id": p, "name": seen.name(p)} for p in seen.course.people(*EVALUATORS) if p != sheet.observer],
        "steps": _steps(skill, features),
        "critical_now": [reason.sentence for reason in pending_critical(attempt, skill, features)],
        **_state(ledger, attempt, sheet),
    }


def _where(seen: CourseView, attempt: Attempt, sheet: Sheet) -> str:
    """Setting, session and who marks, with a word where this observer's marks cannot count today."""
    session = seen.sessions.get(attempt.session)
    lapsed = session and seen.is_lapsed(sheet.observer, attempt.unit_type, training_day(session.start))
    parts = [SETTING_WORDS[attempt.setting], session.title if session else "", f"{seen.name(sheet.observer)} marks"]
    return " · ".join([part for part in parts if part] + (["not current on this unit type: waits"] if lapsed else []))


def session_note(seen: CourseView, session: str, today: date) -> str:
    """What to know before marking into a session of another day; empty for one of today."""
    day = training_day(seen.sessions[session].start)
    if day == today:
        return ""
    apart = abs((today - day).days)
    when = f"{plural(apart, 'day')} ago" if day < today else f"{plural(apart, 'day')} from now"
    return f"This session is of {day_words(day)}, {when}: what you mark here counts for that day."


def _choice(seen: CourseView, student: str, skill: Skill, day: date) -> SkillChoice:
    standing = seen.standing(student, skill, day)
    return SkillChoice(
        skill=skill.id,
        title=skill.title,
        state=standing.state,
        word=standing_word(standing.state),
        line=missing_line(standing, skill),
        attempts=standing.budget_used,
        budget=skill.rule.budget,
    )


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
        {"id": e.id, "letter": letter, "label": e.label, "consequence": e.consequence, "critical": e.critical}
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


def _state(ledger: Ledger, attempt: Attempt, sheet: Sheet) -> dict[str, Any]:
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
        "ending": attempt.ending.model_dump(mode="json", include={"how", "stopped_by"}) if attempt.ending else None,
        "events": [event.id for event in ledger.events(attempt.id)],
    }
