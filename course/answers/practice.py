"""What to practise: a student's weak skills and steps, and what to repeat where.

Numbers order what to repeat and change no standing. The class enters only in that order. Below `ENOUGH` attempts a
number is shown as what it is, too few to say anything.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from course.access import Sight
from course.answers.consequence import Consequence, consequence_of
from course.answers.course_view import CourseView
from course.answers.decisions import HELD
from course.asker import question
from course.assessment.attempts import AttemptJudgement
from course.assessment.history import Effect
from course.assessment.marks import step_name
from course.assessment.sentences import missing_line
from course.assessment.standing import Standing
from course.assessment.weak_skills import Tally, WeakSkill, rank, tally, weak_steps
from course.standards.rubric import Setting, Skill, StepError
from course.standards.units import applies
from course.words import StandingState, listed

ENOUGH = 3
"""Attempts below which nothing is said of a skill: our choice."""
DUE_SOON = timedelta(days=14)
WHERE_WORDS: dict[Setting, str] = {
    "class": "in class", "dry": "on the bench", "pool": "in the pool", "open_water": "in open water",
}  # fmt: skip
TOO_FEW = "too few to say"
_NOT_SEEN = 6
_WHY_NOW = {
    StandingState.AGAIN: (0, "a critical error is not cleared"),
    StandingState.OUT_OF_DATE: (1, "out of date"),
    StandingState.MET_WATCH: (2, "an attempt broke the count since it was met"),
    StandingState.WAITING: (4, "met only if somebody confirms"),
    StandingState.NOT_YET: (5, "not yet"),
    StandingState.NOT_STARTED: (_NOT_SEEN, "not seen yet"),
}


@dataclass(frozen=True)
class WeakStepLine:
    """One step that went wrong: how often, at which attempts, and why it matters."""

    step: str
    words: str
    wrong: int
    seen: int
    critical: int
    at_attempts: tuple[int, ...]
    why: str
    """The consequence of what went wrong most; the step's own reason where no listed error did."""
    in_numbers: Consequence | None = None
    """The same error in numbers, where its rubric names a figure."""

    @property
    def sentence(self) -> str:
        """As read: “Only then take it out” went wrong in 3 of 11, at attempts 3, 6 and 10; 3 critical."""
        often = Counter(sorted(self.at_attempts))
        at = listed([f"{number} ({count} times)" if count > 1 else str(number) for number, count in often.items()])
        word = "attempt" if len(often) == 1 else "attempts"
        critical = f"; {self.critical} critical" if self.critical else ""
        few = f": {TOO_FEW}" if self.seen < ENOUGH else ""
        return f"“{self.words}” went wrong in {self.wrong} of {self.seen}, at {word} {at}{critical}{few}."


@dataclass(frozen=True)
class WeakSkillLine:
    """One skill of one student with its numbers, as ordered for practice."""

    skill: str
    title: str
    can_be_critical: bool
    wrong: int
    attempts: int
    critical: int
    shrunk: float
    """Share that counts, drawn towards the class; for order and export, not for show."""
    doubt: float
    held: bool
    """Whether the skill is held by now: what went wrong was put right since."""
    steps: tuple[WeakStepLine, ...]

    @property
    def words(self) -> str:
        """As read: 3 of 11 went wrong, 3 critical; with a word where that is too few."""
        critical = f", {self.critical} critical" if self.critical else ""
        few = f": {TOO_FEW}" if self.attempts < ENOUGH else ""
        more_seen = any(step.seen > self.attempts for step in self.steps)  # a step may be seen in one that is not whole
        counted = f"the {self.attempts} that count" if more_seen else str(self.attempts)
        return f"{self.wrong} of {counted} went wrong{critical}{few}"


@dataclass(frozen=True)
class Repeat:
    """What to repeat, where, and what its rule still misses."""

    skill: str
    title: str
    where: tuple[Setting, ...]
    reteach: bool
    line: str
    why_now: str

    @property
    def place(self) -> str:
        """As read: in the pool, re-teach first."""
        places = listed([WHERE_WORDS[name] for name in self.where], "or")
        return f"{places}, re-teach first" if self.reteach else places


@dataclass(frozen=True)
class StudentPractice:
    """What one student's attempts say about what to repeat."""

    student: str
    weak: tuple[WeakSkillLine, ...]
    """Skills in which something went wrong: those not held first, in them what can be critical first, then by doubt."""
    not_seen_yet: tuple[str, ...]
    """Titles of required skills without an attempt that says something."""
    repeat: tuple[Repeat, ...]


@dataclass(frozen=True)
class Told:
    """One attempt that says something: whose, which number, where, and what it is worth."""

    student: str
    number: int
    where: Setting
    judgement: AttemptJudgement


@question(Sight.CLASS)
def student_practice(seen: CourseView, student: str, as_of: date) -> StudentPractice:
    """Return what one student's attempts say about what to repeat; classmates enter in the order alone."""
    skills = _skills(seen, student, as_of)
    ranked = {one.skill: one for one in ranked_skills(seen, as_of) if one.student == student}
    weak = [
        _weak_line(seen, one, seen.adopted.skill(name), as_of)
        for name, one in ranked.items()
        if one.attempts > one.counted
    ]
    weak.sort(key=lambda line: line.held)
    unseen = tuple(skill.title for skill in skills if seen.is_required(skill) and skill.id not in ranked)
    return StudentPractice(student, tuple(weak), unseen, _repeats(seen, student, skills, tuple(ranked), as_of))


def _skills(seen: CourseView, student: str, as_of: date) -> list[Skill]:
    unit_type = seen.unit_type_of(student, as_of)
    return [skill for skill in seen.skills() if applies(skill, unit_type)]


def telling_attempts(seen: CourseView, student: str, skill: Skill, as_of: date) -> list[Told]:
    """Attempts of a student's own record of a skill, oldest first; another unit type's are not in it."""
    by_id = {one.attempt.id: one.attempt for one in seen.seen(student, skill)}
    return [
        Told(student, by_id[step.attempt].number, by_id[step.attempt].setting, step.judgement)
        for step in seen.standing(student, skill, as_of).history
        if step.effect not in (Effect.OUTSIDE, Effect.OTHER_TYPE)
    ]


def _tally(seen: CourseView, student: str, skill: Skill, as_of: date) -> Tally:
    return tally(student, skill.id, [one.judgement for one in telling_attempts(seen, student, skill, as_of)])


@question(Sight.CLASS)
def ranked_skills(seen: CourseView, as_of: date) -> tuple[WeakSkill, ...]:
    """Order the skills of every student of the course for practice."""
    tallies = [
        _tally(seen, student, skill, as_of) for student in seen.students for skill in _skills(seen, student, as_of)
    ]
    return rank(tallies, frozenset(skill.id for skill in seen.skills() if can_be_critical(skill)))


def can_be_critical(skill: Skill) -> bool:
    """Whether something in a skill can end in a critical outcome."""
    return any(step.can_be_critical for step in skill.steps)


def _weak_line(seen: CourseView, one: WeakSkill, skill: Skill, as_of: date) -> WeakSkillLine:
    return WeakSkillLine(
        skill=skill.id,
        title=skill.title,
        can_be_critical=can_be_critical(skill),
        wrong=one.attempts - one.counted,
        attempts=one.attempts,
        critical=one.critical,
        shrunk=one.shrunk,
        doubt=one.doubt,
        held=seen.standing(one.student, skill, as_of).state in HELD,
        steps=telling_steps(seen, one.student, skill, as_of),
    )


def telling_steps(seen: CourseView, student: str, skill: Skill, as_of: date) -> tuple[WeakStepLine, ...]:
    """Return the steps of one skill that went wrong with one student, worst first."""
    return step_lines(skill, telling_attempts(seen, student, skill, as_of))


def step_lines(skill: Skill, told: Sequence[Told]) -> tuple[WeakStepLine, ...]:
    """Return the steps that went wrong in some attempts, worst first, with why they matter."""
    judged = [(one.number, one.judgement) for one in told]
    judged_ones = [one.judgement for one in told]
    found = weak_steps(judged, [step.id for step in skill.steps])
    return tuple(
        WeakStepLine(
            step=weak.step,
            words=_step_words(skill, weak.step),
            wrong=weak.wrong,
            seen=weak.seen,
            critical=weak.critical,
            at_attempts=weak.at_attempts,
            why=_why(skill, weak.step, judged_ones),
            in_numbers=consequence_of(worst) if (worst := _worst(skill, weak.step, judged_ones)) else None,
        )
        for weak in found
    )


def _step_words(skill: Skill, step_id: str) -> str:
    step = skill.step(step_id)
    return step_name(step) if step else step_id


def _why(skill: Skill, step_id: str, judged: Sequence[AttemptJudgement]) -> str:
    """The consequence of what went wrong, or the step's own reason where no listed error did.

    Where a reading of the unit overruled a tick the last one is told.
    """
    worst, step = _worst(skill, step_id, judged), skill.step(step_id)
    why = worst.consequence if worst else step.why if step else ""
    read = [one.sentence for each in judged for one in each.reasons if one.step == step_id and one.what == "reading"]
    return " ".join([why, *read[-1:]]).strip()


def _worst(skill: Skill, step_id: str, judged: Iterable[AttemptJudgement]) -> StepError | None:
    """The error that was seen: a critical one first, else the one seen most often."""
    step = skill.step(step_id)
    if step is None:
        return None
    seen = Counter(
        reason.error for one in judged for reason in one.reasons if reason.step == step_id and reason.error is not None
    )
    errors = [(error, count) for name, count in seen.items() if (error := step.error(name)) is not None]
    return max(errors, key=lambda pair: (pair[0].critical, pair[1]), default=(None, 0))[0]


def _repeats(
    seen: CourseView, student: str, skills: Sequence[Skill], ranked: Sequence[str], as_of: date
) -> tuple[Repeat, ...]:
    """What to repeat: what a critical error left open, what ran out, what was begun, then what was never seen.

    Before a skill that was never seen come those that its rubric wants shown first.
    """
    place = {name: number for number, name in enumerate(ranked)}
    wanted: dict[str, tuple[int, int, str]] = {}
    for number, skill in enumerate(skills):
        reason = _why_now(seen.standing(student, skill, as_of), as_of)
        if reason is not None and seen.is_required(skill):
            wanted[skill.id] = (reason[0], place.get(skill.id, len(place) + number), reason[1])
    names = sorted(wanted, key=lambda name: wanted[name][:2])
    fresh = [name for name in names if wanted[name][0] == _NOT_SEEN]
    ordered = [name for name in names if name not in fresh] + _with_those_before(fresh, seen)
    return tuple(
        _repeat(seen.standing(student, seen.adopted.skill(name), as_of), seen.adopted.skill(name), wanted[name][2])
        for name in ordered
    )


def _with_those_before(names: Sequence[str], seen: CourseView) -> list[str]:
    """Keep the order, but let what a skill builds on come first."""
    found: dict[str, None] = {}

    def add(name: str) -> None:
        for earlier in seen.adopted.skill(name).before:
            if earlier in names and earlier not in found:
                add(earlier)
        found.setdefault(name)

    for name in names:
        add(name)
    return list(found)


def _why_now(standing: Standing, as_of: date) -> tuple[int, str] | None:
    """How urgent it is to repeat a skill, and why; None where nothing is to be repeated."""
    open_critical = any(critical.met_on is None for critical in standing.criticals) or standing.missing.reteach > 0
    runs_out = standing.good_until is not None and standing.good_until - as_of < DUE_SOON
    if open_critical:
        return (0, "a critical error is not cleared")
    if standing.state == StandingState.MET:
        return (3, "runs out within 14 days") if runs_out else None
    return _WHY_NOW.get(standing.state)


def _repeat(standing: Standing, skill: Skill, why_now: str) -> Repeat:
    line = missing_line(standing, skill)
    return Repeat(
        skill=skill.id,
        title=skill.title,
        where=_where(standing, skill),
        reteach=standing.missing.reteach > 0,
        line=line or "one that counts keeps it in date",
        why_now=why_now,
    )


def _where(standing: Standing, skill: Skill) -> tuple[Setting, ...]:
    """Where the next attempt helps: a re-teach in the calmest place, else a setting that the rule still misses."""
    calm = [name for name in WHERE_WORDS if name in skill.setting]
    if standing.missing.reteach:
        return (calm[0],)
    missing = [name for name in WHERE_WORDS if name in standing.missing.settings]
    if standing.streak == 0 and missing:
        return (missing[0],)  # begin in the calmest of the places that the rule asks for
    return tuple(missing or calm)
