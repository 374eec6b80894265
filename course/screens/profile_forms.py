"""Requirements and unit types by form: the next revision, a copy, another unit type."""

from __future__ import annotations

from functools import partial

import streamlit as st

from course.moments import now, zone_named
from course.screens import profile_fields
from course.screens.drafts import Desk, Part, edit, left_over
from course.screens.frame import Screen, plain
from course.standards.editing import Edited
from course.standards.editors import (
    new_unit_type_editor,
    profile_copy_editor,
    profile_editor,
    unit_type_editor,
)
from course.standards.profile_editing import Plain, application_changes
from course.standards.standards import Standards
from course.storage.lookup import adopted

REVISE, COPY = "Make the next revision", "Make others from a copy"
CHANGE, ADD = "Change one", "Add one"


def edit_requirements(screen: Screen, in_force: str) -> None:
    """Choose requirements; make their next revision, or others from a copy."""
    standards = adopted(screen.ledger, in_force).standards
    today = now().astimezone(zone_named(screen.centre.zone)).date()
    what = st.pills("What to do", [REVISE, COPY], default=REVISE, key="requirements-what") or REVISE
    newest = {profile.id: standards.revisions(profile.id)[-1] for profile in standards.profiles}
    titles = {name: f"{profile.title}, revision {profile.revision}" for name, profile in newest.items()}
    titles |= left_over("requirements", titles) if what == REVISE else {}
    name = st.selectbox("Requirements", list(titles), format_func=titles.__getitem__, key="edit-requirements")
    editor = profile_copy_editor(name, today) if what == COPY else profile_editor(name, today)
    edit(Desk(screen, in_force, editor, _parts(standards, is_new=what == COPY), _saved))


def _parts(standards: Standards, *, is_new: bool) -> tuple[Part[Plain], ...]:
    return (
        Part("What it is", partial(profile_fields.what, is_new=is_new),
             ("title", "notice", "in_force_from", "supersedes", "for_whom", "unit_bound")),
        Part("Minutes", profile_fields.minutes, ("hours", "counts")),
        Part("Ratios", profile_fields.ratios, ("ratios",)),
        Part("Limits", profile_fields.limits,
             ("minimum_age_years", "max_depth_m", "finish_within_days", "instructor_currency_days")),
        Part("Proofs", profile_fields.proofs, ("prerequisites",)),
        Part("Skills", partial(profile_fields.skills, standards), ("required_skills", "optional_skills")),
        Part("Signing", profile_fields.signing, ("sign_by",)),
    )  # fmt: skip


def _saved(form: Plain, revision: str) -> str:
    return (
        f"{plain(form['title'])} is saved as revision {plain(revision)}, in force for new courses from "
        f"{form['in_force_from']}. Courses that run stay on theirs until their lead moves them."
    )


def edit_unit_types(screen: Screen, in_force: str) -> None:
    """Choose a unit type and change what it has, or add one."""
    standards = adopted(screen.ledger, in_force).standards
    what = st.pills("What to do", [CHANGE, ADD], default=CHANGE, key="unit-types-what") or CHANGE
    titles = {unit_type.id: unit_type.title for unit_type in standards.unit_types.values()}
    titles |= left_over("unit type", titles)
    editor = new_unit_type_editor()
    if what == CHANGE and titles:
        name = st.selectbox("Unit type", list(titles), format_func=titles.__getitem__, key="edit-unit-type")
        editor = unit_type_editor(name)
    parts = (
        Part("What it has", partial(profile_fields.unit_type, standards), ("title", "features")),
        Part("Days", profile_fields.unit_days, ("service_days", "cell_days")),
    )
    edit(Desk(screen, in_force, editor, parts, _unit_type_saved, _tell_skills))


def _unit_type_saved(form: Plain, _: str) -> str:
    return (
        f"{plain(form['title'])} is saved, in force for new courses. Courses that run stay on theirs until their lead "
        "moves them."
    )


def _tell_skills(found: Edited, began: Standards) -> None:
    for told in application_changes(began, found.standards) if found.standards else ():
        st.text(told)
