"""Unit features and the generic unit types that carry them, and which skills and steps apply to a type."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from course.standards.plain import At, Flaw, named_twice
from course.standards.rubric import Label, Skill, Slug
from course.standards.strict import Strict


class Feature(Strict):
    """Something a unit can have. No makes, no models."""

    id: Slug
    title: Label
    note: str = ""


class UnitType(Strict):
    """A kind of unit by what it has."""

    id: Slug
    title: Label
    features: tuple[Slug, ...]
    service_days: Annotated[int, Field(ge=30, le=1095)]
    """Days from one service to the next."""
    cell_days: Annotated[int, Field(ge=30, le=1095)]
    """Days after which an oxygen cell is too old."""

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """Each feature is named once."""
        yield from named_twice(at["features"])

    @property
    def feature_set(self) -> frozenset[str]:
        """The features as a set."""
        return frozenset(self.features)


def applies(skill: Skill, unit_type: UnitType | None) -> bool:
    """Whether a skill is for this unit type; without a unit type only skills that need nothing are."""
    return skill.needs.met_by(unit_type.feature_set if unit_type else frozenset())
