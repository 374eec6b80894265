"""All standards together: skills by phase, unit types, planted faults and profiles, read from plain data.

The plain data are what a rubric file holds, or what the ledger keeps of an adopted rubric: a mapping of file name to
content. Nothing here knows of a file format.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from course.errors import NotFoundError, Problem, StandardsError
from course.standards.crosscheck import cross_flaws
from course.standards.files import KINDS, FaultsFile, FeaturesFile, Phase, ProfilesFile, RubricFile, SkillsFile
from course.standards.plain import At, Flaw, blanked, did_you_mean, unplain, written_path
from course.standards.planted import PlantedFault
from course.standards.profile import Profile
from course.standards.rubric import Skill
from course.standards.shape import read_shape, without
from course.standards.units import Feature, UnitType, applies

Thing = TypeVar("Thing")

ALL_FILES = "all files"
"""Stands where a file's name would, for a problem of all of them together."""


@dataclass(frozen=True)
class Standards:
    """Everything that rubric files state; skills are in the order of their phases, then as written."""

    phases: tuple[Phase, ...]
    skills: Mapping[str, Skill]
    phase_of: Mapping[str, str]
    revision_of: Mapping[str, str]
    features: Mapping[str, Feature]
    unit_types: Mapping[str, UnitType]
    planted_faults: Mapping[str, PlantedFault]
    profiles: tuple[Profile, ...]
    written: Mapping[str, object]

    def skill(self, skill_id: str) -> Skill:
        """Return a skill.

        Raises:
            NotFoundError: no skill has that id.
        """
        return _named(skill_id, self.skills, "skill")

    def unit_type(self, unit_type_id: str) -> UnitType:
        """Return a unit type.

        Raises:
            NotFoundError: no unit type has that id.
        """
        return _named(unit_type_id, self.unit_types, "unit type")

    def planted_fault(self, fault_id: str) -> PlantedFault:
        """Return a planted fault.

        Raises:
            NotFoundError: no planted fault has that id.
        """
        return _named(fault_id, self.planted_faults, "planted fault")

    def profile(self, profile_id: str, revision: str) -> Profile:
        """Return one revision of a profile.

        Raises:
            NotFoundError: there is no such profile or revision.
        """
        revisions = _named(profile_id, {p.id: self.revisions(p.id) for p in self.profiles}, "profile")
        return _named(revision, {p.revision: p for p in revisions}, f"revision of {profile_id}")

    def revisions(self, profile_id: str) -> tuple[Profile, ...]:
        """Return every revision of a profile, the oldest first."""
        found = (profile for profile in self.profiles if profile.id == profile_id)
        return tuple(sorted(found, key=lambda profile: profile.in_force_from))

    def profile_on(self, profile_id: str, day: datetime.date) -> Profile:
        """Return the revision of a profile that is in force on a day.

        Raises:
            NotFoundError: there is no such profile, or none of its revisions is in force yet.
        """
        revisions = _named(profile_id, {p.id: self.revisions(p.id) for p in self.profiles}, "profile")
        started = [profile for profile in revisions if profile.first_day <= day]
        if not started:
            first = revisions[0].in_force_from
            raise NotFoundError(f"No revision of {profile_id} is in force on {day}: the first begins on {first}.")
        return started[-1]

    def skills_of_phase(self, phase_id: str) -> tuple[Skill, ...]:
        """Return the skills of a phase as written."""
        return tuple(skill for skill in self.skills.values() if self.phase_of[skill.id] == phase_id)

    def skills_for(self, profile: Profile, unit_type: UnitType | None) -> tuple[Skill, ...]:
        """Return the required skills that apply to a unit type, in the order of the phases."""
        required = frozenset(profile.required_skills)
        return tuple(skill for skill in self.skills.values() if skill.id in required and applies(skill, unit_type))

    def optional_skills_for(self, profile: Profile, unit_type: UnitType | None) -> tuple[Skill, ...]:
        """Return the optional skills that apply to a unit type, in the order of the phases."""
        optional = frozenset(profile.optional_skills)
        return tuple(skill for skill in self.skills.values() if skill.id in optional and applies(skill, unit_type))

    def written_skill(self, skill_id: str) -> dict[str, object]:
        """Return a skill exactly as written, without defaults: what its hash is taken of.

        Raises:
            NotFoundError: no skill has that id.
        """
        self.skill(skill_id)
        places = (place for file in self.written.values() for place in At(file)["skills"].each())
        found = next(place.value for place in places if place["id"].text == skill_id)
        copied: dict[str, object] = json.loads(json.dumps(found))
        return copied


def _named(name: str, things: Mapping[str, Thing], what: str) -> Thing:
    if name not in things:
        raise NotFoundError(f'There is no {what} "{name}". {did_you_mean(name, things)}')
    return things[name]


def examine(
    written: Mapping[str, object], *, whole: bool = True, found: Iterable[Flaw] = ()
) -> tuple[Standards | None, list[Flaw]]:
    """Return the standards, or None and every flaw of all files at once.

    Args:
        written: file name to plain data.
        whole: no file is left out because it could not be read; else unknown names are not called flaws.
        found: flaws found while reading; what lies inside their places is not asked again.
    """
    files = [At(content, (), name) for name, content in written.items()]
    unkept = [flaw for file in files for flaw in unplain(file)]
    flaws = [*found, *unkept]
    files = [blanked(file, {flaw.path for flaw in unkept if flaw.file == file.file}) for file in files]
    shapes = [read_shape(file) for file in files]
    flaws += without(flaws, (flaw for _, of_file in shapes for flaw in of_file))
    known = whole and all(file["kind"].text in KINDS for file in files)
    flaws += without(flaws, cross_flaws(files, whole=known))
    if not files and not flaws:
        flaws = [Flaw("", (), "There are no rubric files.", "Add at least one file with skills.")]
    read = [model for model, _ in shapes if model is not None]
    return (None, flaws) if flaws else (_gathered(read, written), [])


def standards_from(written: Mapping[str, object]) -> Standards:
    """Return the standards that plain data hold.

    Args:
        written: file name to content: texts, truth values, nulls, whole numbers below 2**53, lists and mappings.

    Raises:
        StandardsError: with every problem of all files; its lines are 0, since plain data have none.
    """
    standards, flaws = examine(written)
    if standards is None:
        raise StandardsError([problem_of(flaw, written) for flaw in flaws])
    return standards


def problem_of(flaw: Flaw, written: Mapping[str, object], line: int = 0, column: int = 0) -> Problem:
    """Return a flaw as a problem for people, with the place of its file if it is known."""
    field = written_path(written.get(flaw.file), flaw.path)
    return Problem(flaw.file or ALL_FILES, line, column, field, flaw.wrong, flaw.remedy)


def _gathered(files: list[RubricFile], written: Mapping[str, object]) -> Standards:
    phases = sorted((file for file in files if isinstance(file, SkillsFile)), key=lambda file: file.phase.order)
    features = [file for file in files if isinstance(file, FeaturesFile)]
    copied: dict[str, object] = json.loads(json.dumps(written))
    return Standards(
        phases=tuple(file.phase for file in phases),
        skills={skill.id: skill for file in phases for skill in file.skills},
        phase_of={skill.id: file.phase.id for file in phases for skill in file.skills},
        revision_of={skill.id: file.revision for file in phases for skill in file.skills},
        features={feature.id: feature for file in features for feature in file.features},
        unit_types={unit.id: unit for file in features for unit in file.unit_types},
        planted_faults={fault.id: fault for file in files if isinstance(file, FaultsFile) for fault in file.faults},
        profiles=tuple(profile for file in files if isinstance(file, ProfilesFile) for profile in file.profiles),
        written=copied,
    )
