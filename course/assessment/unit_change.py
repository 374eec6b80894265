"""What a unit change does to a student's evidence, skill by skill and step by step, by the rules and features alone."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from course.standards.rubric import Skill, Step
from course.standards.units import UnitType, applies


class Carry(StrEnum):
    """What becomes of a skill's evidence on another unit."""

    CARRIES_OVER = "carries over"
    ANEW = "begins anew"
    GONE = "not for the new unit"
    NEW = "new on this unit"


@dataclass(frozen=True)
class SkillChange:
    """One skill before and after a unit change."""

    skill: Skill
    carry: Carry
    steps_new: tuple[Step, ...]
    """Steps of a skill that both units have, which apply on the new one only."""
    steps_gone: tuple[Step, ...]


def skill_change(skill: Skill, before: UnitType | None, after: UnitType) -> SkillChange | None:
    """Return what a change from one unit type to another does to a skill; None where it is for neither.

    Evidence carries over on a unit of the same type, and for a skill whose rule is not bound to a unit type. Else each
    type has a record of its own: the old one is kept, shown grey, and holds again when the student changes back.
    """
    was, comes = applies(skill, before), applies(skill, after)
    if not was and not comes:
        return None
    if not comes:
        return SkillChange(skill, Carry.GONE, (), ())
    if not was:
        return SkillChange(skill, Carry.NEW, (), ())
    bound = skill.rule.same_unit_type and (before is None or before.id != after.id)
    had = {step.id for step in skill.steps_for(before.feature_set if before else frozenset())}
    has = {step.id for step in skill.steps_for(after.feature_set)}
    return SkillChange(
        skill,
        Carry.ANEW if bound else Carry.CARRIES_OVER,
        tuple(step for step in skill.steps if step.id in has - had),
        tuple(step for step in skill.steps if step.id in had - has),
    )
