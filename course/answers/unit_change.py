"""What changes if a student dives another unit from a day on: shown before anybody assigns it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.units import water_block
from course.asker import question
from course.assessment.sentences import standing_line
from course.assessment.standing import Standing, standing
from course.assessment.unit_change import Carry, SkillChange, skill_change
from course.errors import NotFoundError
from course.moments import now
from course.record.facts import Unit
from course.standards.rubric import Skill, Step
from course.standards.units import UnitType, applies
from course.words import listed, plural


@dataclass(frozen=True)
class ChangeRow:
    """One skill before and after the change."""

    skill: str
    title: str
    required: bool
    carry: Carry
    now: str
    """Where the student stands on the unit that they dive."""
    after: str
    """Where they would stand on the other one; empty where the skill is not for it."""
    steps: tuple[str, ...]
    """Steps that newly apply or fall away inside a skill that both units have."""


@dataclass(frozen=True)
class UnitChange:
    """What a unit change means, skill by skill; those that do not simply carry over first."""

    student: str
    unit: str
    from_day: date
    same_type: bool
    sentence: str
    kept: str
    blocked: str
    """Why the other unit may not go in the water now; empty when nothing holds it."""
    rows: tuple[ChangeRow, ...]


@question(Sight.UNITS)
def unit_change(seen: CourseView, student: str, unit: str, from_day: date) -> UnitChange:
    """Return what changes if a student dives another unit from a day on, by what is known up to that day.

    Raises:
        NotFoundError: there is no such unit, or the course's rubrics do not know its type.
    """
    if unit not in seen.units:
        raise NotFoundError("There is no such unit in this centre. Nothing was changed.")
    to = seen.units[unit]
    before, after = seen.unit_type_of(student, from_day), seen.adopted.standards.unit_type(to.unit_type)
    changes = [c for skill in seen.skills() if (c := skill_change(skill, before, after))]
    standings = {c.skill.id: _both(seen, student, c.skill, after, from_day) for c in changes}
    rows = [_row(seen, change, *standings[change.skill.id]) for change in changes]
    order = [Carry.ANEW, Carry.NEW, Carry.GONE, Carry.CARRIES_OVER]
    rows.sort(key=lambda row: (order.index(row.carry), not row.steps))
    return UnitChange(
        student=student,
        unit=unit,
        from_day=from_day,
        same_type=before is not None and before.id == after.id,
        sentence=_sentence(seen, student, to, after, from_day, changes) + _still(seen, changes, standings),
        kept=_kept(seen, student, before, after, from_day),
        blocked=water_block(to, now()) or "",
        rows=tuple(rows),
    )


def _both(seen: CourseView, student: str, skill: Skill, after: UnitType, day: date) -> tuple[Standing, Standing]:
    """Where the student stands now, and where they would stand on the other unit."""
    there = standing(
        seen.seen(student, skill), skill, after.id, after.feature_set, day, applies=applies(skill, after)
    )  # fmt: skip
    return seen.standing(student, skill, day), there


def _row(seen: CourseView, change: SkillChange, now_on: Standing, there: Standing) -> ChangeRow:
    skill = change.skill
    steps = [f"new: {_step(skill, step)}" for step in change.steps_new]
    steps += [f"falls away: {_step(skill, step)}" for step in change.steps_gone]
    return ChangeRow(
        skill=skill.id,
        title=skill.title,
        required=seen.is_required(skill),
        carry=change.carry,
        now="" if change.carry == Carry.NEW else standing_line(now_on, skill),
        after="" if change.carry == Carry.GONE else standing_line(there, skill),
        steps=tuple(steps),
    )


def _step(skill: Skill, step: Step) -> str:
    return f"step {skill.steps.index(step) + 1}, {step.do}"


def _sentence(seen: CourseView, student: str, to: Unit, after: UnitType, day: date, changes: list[SkillChange]) -> str:
    count = Counter(change.carry for change in changes)
    was = seen.unit_words(student, day) or "no unit"
    told = f"{seen.name(student)} from {was} to {to.label} · {after.title} on {day_words(day)}: "
    parts = [
        f"{plural(count[Carry.CARRIES_OVER], 'skill carries', 'skills carry')} over",
        f"{plural(count[Carry.ANEW], 'begins', 'begin')} anew" if count[Carry.ANEW] else "",
        f"{plural(count[Carry.NEW], 'is new', 'are new')}" if count[Carry.NEW] else "",
        f"{plural(count[Carry.GONE], 'is', 'are')} not for the new unit" if count[Carry.GONE] else "",
    ]
    changed = sum(1 for change in changes if change.steps_new or change.steps_gone)
    if changed:
        parts.append(f"in {plural(changed, 'skill')} other steps apply")
    return told + listed([part for part in parts if part]) + "."


def _still(seen: CourseView, changes: list[SkillChange], standings: dict[str, tuple[Standing, Standing]]) -> str:
    """The least number of attempts still to come in the required skills, on the one unit and on the other."""
    required = [change for change in changes if seen.is_required(change.skill)]
    here = sum(standings[c.skill.id][0].missing.attempts for c in required if c.carry != Carry.NEW)
    there = sum(standings[c.skill.id][1].missing.attempts for c in required if c.carry != Carry.GONE)
    return f" Still missing in required skills: at least {plural(there, 'attempt')} then, {here} without the change."


def _kept(seen: CourseView, student: str, before: UnitType | None, after: UnitType, day: date) -> str:
    if before is None:
        return ""
    if before.id == after.id:
        return "Both are of one type: every attempt keeps the label of the unit it was seen on, and all of it counts."
    signed = [s for s in seen.skills() if (d := seen.decision(student, s, day)) and d.unit_type == before.id]
    told = f"Nothing is lost: what was seen on {before.title} is shown grey and holds again on {before.title}."
    if signed:
        count = plural(len(signed), f"signature on {before.title} stays", f"signatures on {before.title} stay")
        told += f" {count} with it."
    return f"{told} A re-teach that is owed goes along."
