"""The four kinds of rubric file, as models and as a JSON Schema for editors."""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter

from course.standards.planted import PlantedFault
from course.standards.profile import Profile
from course.standards.rubric import Label, Skill, Slug, Text
from course.standards.strict import Strict
from course.standards.units import Feature, UnitType

SCHEMA = "rubric/1"
"""The file format that this program reads."""

EDITOR_HINT = "# yaml-language-server: $schema=rubric.schema.json"
"""First line of a rubric file: tells an editor where the schema is."""


class Phase(Strict):
    """A part of a course: its skills stand in one file."""

    id: Slug
    title: Label
    order: Annotated[int, Field(ge=1, le=99)]
    intro: Text


class SkillsFile(Strict):
    """One phase and its skills."""

    schema_: Annotated[Literal["rubric/1"], Field(alias="schema")]
    kind: Literal["skills"]
    revision: Annotated[str, Field(min_length=1, max_length=24)]
    phase: Phase
    skills: Annotated[tuple[Skill, ...], Field(min_length=1)]


class FeaturesFile(Strict):
    """What units can have, and the generic unit types."""

    schema_: Annotated[Literal["rubric/1"], Field(alias="schema")]
    kind: Literal["features"]
    features: Annotated[tuple[Feature, ...], Field(min_length=1)]
    unit_types: tuple[UnitType, ...]


class FaultsFile(Strict):
    """Faults planted for dry training."""

    schema_: Annotated[Literal["rubric/1"], Field(alias="schema")]
    kind: Literal["faults"]
    faults: Annotated[tuple[PlantedFault, ...], Field(min_length=1)]


class ProfilesFile(Strict):
    """What courses require. Example numbers only."""

    schema_: Annotated[Literal["rubric/1"], Field(alias="schema")]
    kind: Literal["profiles"]
    profiles: Annotated[tuple[Profile, ...], Field(min_length=1)]


RubricFile = SkillsFile | FeaturesFile | FaultsFile | ProfilesFile

KINDS: dict[str, type[RubricFile]] = {
    "skills": SkillsFile,
    "features": FeaturesFile,
    "faults": FaultsFile,
    "profiles": ProfilesFile,
}


def json_schema() -> str:
    """Return the JSON Schema (draft 2020-12) of a rubric file, the same text every time."""
    any_file: TypeAdapter[RubricFile] = TypeAdapter(Annotated[RubricFile, Field(discriminator="kind")])
    schema: dict[str, Any] = any_file.json_schema()
    schema.pop("discriminator", None)  # a keyword of another standard
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A rubric file",
        "description": "Skills of one phase, unit features, planted faults or course profiles, told apart by kind.",
    }
    return json.dumps(head | schema, indent=2, ensure_ascii=False) + "\n"
