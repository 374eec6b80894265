"""What can be edited by form: a skill, requirements, a unit type, and a new one of each. Pure.

Each editor says how its thing becomes a form, how the form is put into a set of standards and checked, and how two
forms of the thing are joined when somebody else saved a newer set meanwhile.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any, Generic, TypeVar

from course.standards import profile_editing as plain_forms
from course.standards.editing import Edited, edited, next_revision
from course.standards.merging import Choice, Joined, joined
from course.standards.plain import Path
from course.standards.skill_form import SkillForm, empty_form, form_from, form_of, plain_form
from course.standards.standards import Standards

F = TypeVar("F")


@dataclass(frozen=True)
class Editor(Generic[F]):
    """How one thing is edited."""

    name: str
    """Whose draft it is: one draft a thing."""
    began: Callable[[Standards], F | None]
    """The form as a set of standards has it; None where it has no such thing."""
    judge: Callable[[Standards, F, str], Edited]
    """The form put into a set under a name of the new revision."""
    suggest: Callable[[Standards], str]
    """A name for the new revision; empty where the thing has none."""
    plain: Callable[[F], dict[str, Any]]
    form: Callable[[Mapping[str, Any]], F]
    suggested: tuple[str, ...] = ()
    """Fields that the program fills in: untouched they follow the newer set, and are never in conflict."""

    def join(self, began: Standards, now: Standards, mine: F, choices: Mapping[Path, Choice]) -> Joined | None:
        """Join what was typed with what somebody else saved; None where they took the thing out."""
        base, theirs = self.began(began), self.began(now)
        if base is None or theirs is None:
            return None
        plain_base, plain_mine, plain_theirs = dict(self.plain(base)), dict(self.plain(mine)), self.plain(theirs)
        for name in self.suggested:
            if plain_mine.get(name) == plain_base.get(name):
                plain_mine[name] = plain_theirs.get(name)
            plain_base[name] = plain_theirs.get(name)
        return joined(plain_base, plain_mine, plain_theirs, choices)


def skill_editor(skill_id: str) -> Editor[SkillForm]:
    """Edit a skill."""
    return Editor(
        name=f"skill {skill_id}",
        began=lambda standards: form_of(standards.skill(skill_id)) if skill_id in standards.skills else None,
        judge=edited,
        suggest=lambda standards: next_revision(standards.revision_of.get(skill_id, "")),
        plain=plain_form,
        form=form_from,
    )


def new_skill_editor(phase: str) -> Editor[SkillForm]:
    """Add a skill to a phase."""

    def revision(standards: Standards) -> str:
        skills = standards.skills_of_phase(phase)
        return next_revision(standards.revision_of[skills[0].id]) if skills else ""

    return Editor(
        name=f"new skill {phase}",
        began=lambda _: empty_form(),
        judge=partial(edited, phase=phase),
        suggest=revision,
        plain=plain_form,
        form=form_from,
    )


def profile_editor(profile_id: str, today: date) -> Editor[dict[str, Any]]:
    """Make the next revision of requirements."""
    return Editor(
        name=f"requirements {profile_id}",
        began=lambda standards: plain_forms.next_profile(standards, profile_id, today),
        judge=plain_forms.edited_profile,
        suggest=lambda standards: plain_forms.suggested_revision(standards, profile_id),
        plain=dict,
        form=dict,
        suggested=("in_force_from",),
    )


def profile_copy_editor(profile_id: str, today: date) -> Editor[dict[str, Any]]:
    """Make other requirements from a copy."""
    return Editor(
        name=f"copy of requirements {profile_id}",
        began=lambda standards: plain_forms.copied_profile(standards, profile_id, today),
        judge=plain_forms.added_profile,
        suggest=lambda _: plain_forms.FIRST_REVISION,
        plain=dict,
        form=dict,
        suggested=("in_force_from",),
    )


def unit_type_editor(unit_type_id: str) -> Editor[dict[str, Any]]:
    """Edit a unit type."""
    return Editor(
        name=f"unit type {unit_type_id}",
        began=lambda standards: plain_forms.written_unit_type(standards, unit_type_id),
        judge=plain_forms.edited_unit_type,
        suggest=lambda _: "",
        plain=dict,
        form=dict,
    )


def new_unit_type_editor() -> Editor[dict[str, Any]]:
    """Add a unit type."""
    return Editor(
        name="new unit type",
        began=lambda _: plain_forms.empty_unit_type(),
        judge=plain_forms.edited_unit_type,
        suggest=lambda _: "",
        plain=dict,
        form=dict,
    )
