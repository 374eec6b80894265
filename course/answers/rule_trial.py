"""A rule tried on this centre's own past attempts, and against the days that its courses have. Nothing is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView, view
from course.asker import question
from course.assessment.many_standings import STATES, columns_of, many_standings
from course.assessment.sentences import standing_line
from course.assessment.standing import Standing
from course.moments import training_day
from course.record.facts import Course
from course.standards.rubric import Rule, Setting, Skill
from course.storage.ledger import Ledger
from course.storage.lookup import all_of
from course.words import EVALUATORS, SETTING_WORDS, StandingState, listed, plural

_NO_RECORD = (StandingState.NOT_STARTED, StandingState.NOT_FOR_THIS_UNIT)


@dataclass(frozen=True)
class Compared:
    """One student's standing with the skill on one course, as it is and under the rule that is tried."""

    course: str
    student: str
    name: str
    before: str
    after: str
    differs: bool
    """Whether the standing itself would be another one, such as "not yet" instead of "met"."""
    other_day: bool
    """Whether it would be met on another day."""


@dataclass(frozen=True)
class CourseDays:
    """Whether one course has the days, settings and observers that a rule needs."""

    course: str
    over: bool
    can_be_met: bool
    sentence: str


@dataclass(frozen=True)
class RuleTrial:
    """What a rule would do to this centre's standings with one skill."""

    skill: str
    title: str
    standings: int
    differing: tuple[Compared, ...]
    other_days: tuple[Compared, ...]
    sentence: str
    days: tuple[CourseDays, ...]

    @property
    def days_short(self) -> tuple[CourseDays, ...]:
        """Courses in whose days the rule cannot be met."""
        return tuple(course for course in self.days if not course.can_be_met)


@question(Sight.STANDARDS)
def rule_trial(ledger: Ledger, skill_id: str, rule: Rule) -> RuleTrial:
    """Try a rule on every standing with a skill, each as of its course's usual day, by its course's own form of it."""
    views = [view(ledger, course.id) for course in sorted(all_of(ledger, Course), key=lambda c: (c.first_day, c.id))]
    on = [seen for seen in views if any(skill.id == skill_id for skill in seen.skills())]
    standings, changed = _compared(on, skill_id, rule)
    differing = tuple(one for one in changed if one.differs)
    other_days = tuple(one for one in changed if one.other_day)
    tried = sum(len(seen.by_student_and_skill.get((s, skill_id), ())) for seen in on for s in seen.students)
    return RuleTrial(
        skill=skill_id,
        title=on[-1].adopted.skill(skill_id).title if on else skill_id,
        standings=standings,
        differing=differing,
        other_days=other_days,
        sentence=_sentence(standings, len(differing), len(other_days), tried),
        days=tuple(course_days(seen, seen.adopted.skill(skill_id), rule) for seen in on),
    )


@question(Sight.STANDARDS)
def course_days(seen: CourseView, skill: Skill, rule: Rule) -> CourseDays:
    """Say whether a course's sessions have the days and settings that a rule asks for, and its staff the observers."""
    planned = [(training_day(s.start), s.setting) for s in seen.sessions.values() if s.setting in skill.setting]
    short = _short(seen, rule, planned)
    title = seen.course.title
    over = seen.last_day < seen.today()
    if short:
        told = f"{title}: this rule {'could not have been' if over else 'cannot be'} met: {listed(short)}."
    elif planned:
        days = len({day for day, _ in planned})
        told = f"{title}: its sessions have the days and settings ({plural(days, 'day')} in settings of this skill)."
    else:
        told = f"{title}: it has days enough; no session in a setting of this skill is planned yet."
    return CourseDays(title, over, not short, told)


def _short(seen: CourseView, rule: Rule, planned: Sequence[tuple[date, Setting]]) -> list[str]:
    """What the rule asks for and the course does not have."""
    length = (seen.last_day - date.fromisoformat(seen.course.first_day)).days + 1
    days = len({day for day, _ in planned}) if seen.sessions else length
    short = []
    if rule.distinct_days > days:
        have = "with a session in a setting of this skill" if seen.sessions else "in the course"
        short.append(f"it asks for {plural(rule.distinct_days, 'day')}, and there {_only(days)} {have}")
    lacking = [name for name in rule.settings if seen.sessions and name not in {setting for _, setting in planned}]
    if lacking:
        words = listed([SETTING_WORDS[name] for name in lacking], "or")
        short.append(f"no session is {'in ' if lacking == ['open_water'] else ''}{words}")
    observers = len(seen.course.people(*EVALUATORS))
    if rule.assessors > observers:
        short.append(f"it asks for {rule.assessors} observers, and there {_only(observers)} on the course")
    return short


def _only(count: int) -> str:
    return f"{'is' if count < 2 else 'are'} only {count}" if count else "is none"


def _compared(views: Sequence[CourseView], skill_id: str, rule: Rule) -> tuple[int, list[Compared]]:
    """How many standings have a record under either rule, and those of them that the rule would change.

    All are derived at once; only one that changes is told, so only that one is derived with its reasons.
    """
    learners = [(seen, student, seen.adopted.skill(skill_id)) for seen in views for student in seen.students]
    before = [seen.standing(student, skill, seen.usual_day) for seen, student, skill in learners]
    asked = [
        seen.asked(student, _under(skill, rule), seen.seen(student, skill), seen.usual_day)
        for seen, student, skill in learners
    ]
    after = many_standings(*columns_of(asked))
    count, found = 0, []
    for (seen, student, skill), own, state, met_on in zip(learners, before, after.state, after.met_on, strict=True):
        if own.state in _NO_RECORD and STATES[state] in _NO_RECORD:
            continue
        count += 1
        if own.state != STATES[state] or (own.met_on.toordinal() if own.met_on else 0) != met_on:
            found.append(_pair(seen, student, skill, own, rule))
    return count, found


def _under(skill: Skill, rule: Rule) -> Skill:
    return skill.model_copy(update={"rule": rule})


def _pair(seen: CourseView, student: str, skill: Skill, before: Standing, rule: Rule) -> Compared:
    other = _under(skill, rule)
    after = seen.standing_of(student, other, seen.seen(student, skill), seen.usual_day)
    return Compared(
        course=seen.course.title,
        student=student,
        name=seen.name(student),
        before=standing_line(before, skill),
        after=standing_line(after, other),
        differs=before.state != after.state,
        other_day=before.state == after.state,
    )


def _sentence(standings: int, differing: int, other_days: int, tried: int) -> str:
    if not tried:
        return "Nobody has attempted this skill here yet: there is no standing to compare."
    if not standings:
        return (
            f"{plural(tried, 'attempt')} here, and none is in a standing (void, withdrawn, open, practice only or by "
            "another form of the rubric): there is nothing to compare."
        )
    verb = "standing" if standings == 1 else "standings"
    told = f"Under this rule {differing} of {standings} {verb} would differ."
    if other_days:
        told += f" {other_days} more would be met on another day."
    return told
