"""Faults that a trainer plants on a bench for training: dry only, and never up to the opening of gas."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Literal

from pydantic import Field

from course.standards.plain import At, Flaw, named_twice
from course.standards.rubric import Label, Skill, Slug, Text
from course.standards.strict import Strict
from course.standards.units import UnitType, applies


class PlantedFault(Strict):
    """A fault, how it is set and cleared, and the steps that should find it.

    `found_in` and `found_step` go in pairs: the first skill with the first step, and so on.
    """

    id: Slug
    title: Label
    how_set: Text
    tell: Text
    """How a careful student can find it."""
    found_in: Annotated[tuple[Slug, ...], Field(min_length=1)]
    """Skills in which it should be found; pairs with found_step."""
    found_step: Annotated[tuple[Slug, ...], Field(min_length=1)]
    """The step of each of those skills that should find it."""
    stop_before: Slug | None = None
    """The trainer ends the attempt before this step, found or not."""
    settings: Annotated[tuple[Literal["dry"], ...], Field(min_length=1)]
    """Dry only: the type allows nothing else."""
    clear_by: Text
    never: Text

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """Skills and steps go in pairs."""
        yield from named_twice(at["settings"])
        skills, steps = (len(list(at[name].each())) for name in ("found_in", "found_step"))
        if skills and steps and skills != steps:
            yield at["found_step"].flaw(
                f"found_in names {skills} and found_step {steps}; they go in pairs.", "Write one step for each skill."
            )

    @property
    def found_at(self) -> tuple[tuple[str, str], ...]:
        """The pairs (skill, step) that should find it."""
        return tuple(zip(self.found_in, self.found_step, strict=True))


def finding_steps(
    fault: PlantedFault, skills: Mapping[str, Skill], unit_type: UnitType | None
) -> tuple[tuple[str, str], ...]:
    """Return the pairs (skill, step) that should find a fault and are for this unit type."""
    features = unit_type.feature_set if unit_type else frozenset()
    return tuple(
        (skill_id, step_id)
        for skill_id, step_id in fault.found_at
        if (skill := skills.get(skill_id))
        and applies(skill, unit_type)
        and step_id in {step.id for step in skill.steps_for(features)}
    )


def fits(fault: PlantedFault, skills: Mapping[str, Skill], unit_type: UnitType | None) -> bool:
    """Whether a fault can be planted in a unit of this type: some step that applies to it would find it."""
    return bool(finding_steps(fault, skills, unit_type))
