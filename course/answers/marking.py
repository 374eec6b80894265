"""What the Mark page asks: whom and what one can mark now, and everything that one pad shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from course.access import Sight
from course.answers.course_view import CourseView, standing_word
from course.answers.days import day_words, weekday_words
from course.asker import question
from course.assessment.sentences import missing_line
from course.moments import training_day
from course.record.facts import Session
from course.standards.rubric import Skill
from course.standards.units import applies
from course.words import EVALUATORS, SETTING_WORDS, STAFF, StandingState, plural


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
    """An attempt that was opened and not closed, with its first sheet and everybody who holds one."""

    attempt: str
    sheet: str
    student: str
    title: str
    observer: str
    observers: tuple[str, ...] = ()


@question(Sight.MARK)
def observers(seen: CourseView) -> dict[str, str]:
    """Who may hold a sheet on this course: id to name, those who evaluate first."""
    evaluating = seen.course.people(*EVALUATORS)
    roles = [role for role in STAFF if role not in EVALUATORS and role != seen.profile.for_whom]
    practising = seen.course.people(*roles)
    return {
        person: seen.name(person) for person in dict.fromkeys([*evaluating, *practising]) if not seen.is_erased(person)
    }


@question(Sight.MARK, Sight.PEOPLE)
def deciders(seen: CourseView) -> dict[str, str]:
    """Who signs on this course: id to name."""
    return {person: seen.name(person) for person in seen.course.people(*EVALUATORS) if not seen.is_erased(person)}


@question(Sight.MARK)
def sessions(seen: CourseView, day: date, now: datetime | None = None) -> dict[str, str]:
    """Sessions that skills are shown in: id to words; those of the day, then the newest before it, then later ones.

    Of the day's own, those that are over at `now` come last: the one that is on is what a tap falls into.
    """

    def nearness(session: Session) -> tuple[bool, int, bool, str]:
        apart = (training_day(session.start) - day).days
        over = now is not None and session.end.moment <= now
        return (apart > 0, abs(apart), over, session.start.utc)

    fit = sorted(seen.sessions.values(), key=nearness)
    return {s.id: session_words(s) for s in fit}


def session_words(session: Session) -> str:
    """A session in words: "Thu 22 Oct 13:30 · Pool 1 · pool"."""
    start = session.start.local
    day = day_words(start.date()).rsplit(" ", 1)[0]
    return f"{weekday_words(start.date())} {day} {start:%H:%M} · {session.title} · {SETTING_WORDS[session.setting]}"


@question(Sight.MARK)
def session_students(seen: CourseView, session: str) -> dict[str, str]:
    """Students of a session's groups, or of the whole course where it has no groups: id to name."""
    grouped = [student for group in seen.sessions[session].groups for student in group.students]
    return {student: seen.name(student) for student in grouped or seen.students if not seen.is_erased(student)}


@question(Sight.MARK)
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


@question(Sight.MARK)
def open_attempts(seen: CourseView) -> tuple[OpenAttempt, ...]:
    """Attempts that are not closed yet, newest first."""
    still = [a for a in seen.attempts if a.ending is None and a.sheets]
    return tuple(
        OpenAttempt(
            a.id,
            a.sheets[0].id,
            seen.name(a.student),
            seen.title_of(a.skill),
            seen.name(a.sheets[0].observer),
            tuple(sheet.observer for sheet in a.sheets),
        )
        for a in sorted(still, key=lambda a: a.id, reverse=True)
    )


@question(Sight.MARK)
def beside(seen: CourseView, observer: str, session: str) -> tuple[OpenAttempt, ...]:
    """Open attempts of a session that somebody could mark too, on a sheet of their own, newest first."""
    here = {attempt.id for attempt in seen.attempts if attempt.session == session and attempt.student != observer}
    return tuple(a for a in open_attempts(seen) if a.attempt in here and observer not in a.observers)


@question(Sight.MARK)
def groups(seen: CourseView, session: str) -> dict[str, tuple[str, ...]]:
    """Students of each group of a session, by the group's name."""
    return {group.name: group.students for group in seen.sessions[session].groups if group.students}


@question(Sight.MARK)
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
        line=missing_line(standing, skill, seen.names),
        attempts=standing.budget_used,
        budget=skill.rule.budget,
    )
