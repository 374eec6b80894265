"""Requirements and unit types as forms, and the forms put back. Pure.

The form is the plain data itself, so that whatever it does not show is kept as it was written, and only what differs
is written. A revision of requirements is never changed: a form makes the next one beside it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from course.standards.editing import Edited, copied, judged, next_revision, place_of
from course.standards.profile import Profile
from course.standards.skill_form import fresh_id
from course.standards.standards import Standards
from course.standards.units import applies

Plain = dict[str, Any]

NOT_ASKED, OPTIONAL, REQUIRED = "not asked", "optional", "required"
_OF_THE_REVISION = ("revision", "supersedes", "in_force_from")
FIRST_REVISION = "r1"
NEW_UNIT_TYPE = "new-unit-type"


# --- requirements ---------------------------------------------------------------------------------------------------


def written_profile(standards: Standards, profile: Profile) -> Plain:
    """Return one revision of requirements exactly as written."""
    wanted = profile.id, profile.revision
    found = next(
        plain
        for content in copied(standards).values()
        for plain in content.get("profiles", ())
        if (plain["id"], plain["revision"]) == wanted
    )
    return dict(found)


def next_profile(standards: Standards, profile_id: str, today: date) -> Plain | None:
    """Return the newest revision as a form for the next one; None where the set has no such requirements."""
    revisions = standards.revisions(profile_id)
    if not revisions:
        return None
    newest = revisions[-1]
    first_day = max(today, newest.first_day + timedelta(days=1))
    plain = {**written_profile(standards, newest), "in_force_from": first_day.isoformat()}
    return {name: value for name, value in plain.items() if name not in ("revision", "supersedes")}


def copied_profile(standards: Standards, profile_id: str, today: date) -> Plain | None:
    """Return the newest revision as a form for other requirements; None where the set has none to copy."""
    plain = next_profile(standards, profile_id, today)
    if plain is None:
        return None
    return {**plain, "title": f"Copy of {plain['title']}"[:90], "in_force_from": today.isoformat()}


def suggested_revision(standards: Standards, profile_id: str) -> str:
    """Return a name for the next revision."""
    revisions = standards.revisions(profile_id)
    taken = {profile.revision for profile in revisions}
    name = next_revision(revisions[-1].revision) if revisions else FIRST_REVISION
    while name in taken:
        name = next_revision(name)
    return name


def edited_profile(standards: Standards, form: Plain, revision: str) -> Edited:
    """Put a form in as the next revision of its requirements; nothing is added where only the day differs."""
    newest = standards.revisions(form["id"])[-1]
    was = written_profile(standards, newest)
    files = copied(standards)
    file, number = _profile_place(files, newest)
    if _content(form) == _content(was):
        return judged(standards, files, file, ("profiles", number))
    now = {**form, "revision": revision, "supersedes": newest.revision}
    files[file]["profiles"].insert(number + 1, now)
    return judged(standards, files, file, ("profiles", number + 1))


def added_profile(standards: Standards, form: Plain, revision: str) -> Edited:
    """Put a form in as requirements of their own, with an id of its title's words."""
    source = standards.revisions(form["id"])[-1]
    files = copied(standards)
    file, _ = _profile_place(files, source)
    profile_id = fresh_id(form["title"], (profile.id for profile in standards.profiles))
    number = len(files[file]["profiles"])
    files[file]["profiles"].append({**form, "id": profile_id, "revision": revision, "supersedes": None})
    return judged(standards, files, file, ("profiles", number))


def _content(plain: Plain) -> Plain:
    return {name: value for name, value in plain.items() if name not in _OF_THE_REVISION}


def _profile_place(files: Mapping[str, Any], profile: Profile) -> tuple[str, int]:
    return next(
        (name, number)
        for name, content in files.items()
        for number, plain in enumerate(content.get("profiles", ()))
        if (plain["id"], plain["revision"]) == (profile.id, profile.revision)
    )


def with_values(plain: Plain, values: Mapping[str, Any]) -> Plain:
    """Return the form with some fields as typed; a field that is as it was, or empty and not there, is left alone."""
    changed = {name: value for name, value in values.items() if plain.get(name) != value}
    return {**plain, **{name: value for name, value in changed.items() if value is not None or plain.get(name)}}


def rows(plain: Plain, field: str, key: str) -> dict[str, Plain]:
    """Return the rules of a list by what they are of."""
    return {row[key]: row for row in plain.get(field, ())}


def with_rows(plain: Plain, field: str, key: str, typed: Mapping[str, Plain | None]) -> Plain:
    """Return the form with each rule of a list as typed: None takes it out, a new one comes last.

    Two rules of the same thing are left as they are written: the form shows one of each.
    """
    old = list(plain.get(field, ()))
    known = {row[key] for row in old}
    now = [typed.get(row[key], row) for row in old]
    now += [row for name, row in typed.items() if name not in known and row is not None]
    return with_values(plain, {field: [row for row in now if row is not None]})


def with_number(row: Plain, name: str, number: int) -> Plain:
    """Return a row with a number that may be left out: 0 stands for none."""
    if (row.get(name) or 0) == number:
        return row
    return {**row, name: number} if number else {key: value for key, value in row.items() if key != name}


def asked(plain: Plain) -> dict[str, str]:
    """Return the skills that are asked for, each with whether it is required or optional."""
    optional = dict.fromkeys(plain.get("optional_skills", ()), OPTIONAL)
    return optional | dict.fromkeys(plain["required_skills"], REQUIRED)


def with_asked(plain: Plain, chosen: Mapping[str, str]) -> Plain:
    """Return the form with skills required, optional or not asked; those that stay keep their order."""
    lists = {}
    for field, state in (("required_skills", REQUIRED), ("optional_skills", OPTIONAL)):
        before = list(plain.get(field, ()))
        kept = [name for name in before if chosen.get(name, state) == state]
        lists[field] = [*kept, *(name for name, now in chosen.items() if now == state and name not in before)]
    return with_values(plain, {name: value for name, value in lists.items() if value or plain.get(name)})


def with_proof(plain: Plain) -> Plain:
    """Return the form with an empty proof at the end."""
    taken = [row["id"] for row in plain["prerequisites"]]
    row = {"id": fresh_id("proof", taken), "label": "", "proof": "signed_form", "blocks": "dry"}
    return {**plain, "prerequisites": [*plain["prerequisites"], row]}


def without_proof(plain: Plain, proof_id: str) -> Plain:
    """Return the form without a proof."""
    return {**plain, "prerequisites": [row for row in plain["prerequisites"] if row["id"] != proof_id]}


# --- unit types -----------------------------------------------------------------------------------------------------


def written_unit_type(standards: Standards, unit_type_id: str) -> Plain | None:
    """Return a unit type exactly as written; None where the set has none of that id."""
    if unit_type_id not in standards.unit_types:
        return None
    files = copied(standards)
    file, number = place_of(files, "unit_types", unit_type_id)
    return dict(files[file]["unit_types"][number])


def empty_unit_type() -> Plain:
    """Return the form of a unit type that is not there yet."""
    return {"id": NEW_UNIT_TYPE, "title": "", "features": [], "service_days": 365, "cell_days": 365}


def with_features(plain: Plain, chosen: Iterable[str]) -> Plain:
    """Return the form with other features; those that stay keep their order."""
    names = list(chosen)
    kept = [name for name in plain["features"] if name in names]
    return with_values(plain, {"features": [*kept, *(name for name in names if name not in kept)]})


def edited_unit_type(standards: Standards, form: Plain, _revision: str = "") -> Edited:
    """Put a unit type's form in, a new one at the end with an id of its title's words."""
    files = copied(standards)
    if form["id"] in standards.unit_types:
        file, number = place_of(files, "unit_types", form["id"])
        files[file]["unit_types"][number] = json.loads(json.dumps(form))
    else:
        file = next(name for name, content in files.items() if "unit_types" in content)
        number = len(files[file]["unit_types"])
        own = fresh_id(form["title"], standards.unit_types)
        files[file]["unit_types"].append({**form, "id": own})
    return judged(standards, files, file, ("unit_types", number))


def application_changes(old: Standards, new: Standards) -> tuple[str, ...]:
    """Return which skills each unit type gains and loses, by its features or by what the skills need."""
    told = []
    for unit_type in new.unit_types.values():
        before = old.unit_types.get(unit_type.id)
        had = {s.id for s in old.skills.values() if before and applies(s, before)}
        has = [s for s in new.skills.values() if applies(s, unit_type)]
        came = [s.title for s in has if s.id not in had and s.id in old.skills]
        went = [s.title for s in new.skills.values() if s.id in had and s not in has]
        told += _told(unit_type.title, came, "now applies", "now apply") if before else []
        told += _told(unit_type.title, went, "applies no more", "apply no more")
    return tuple(told)


def _told(title: str, skills: Sequence[str], one: str, many: str) -> list[str]:
    if not skills:
        return []
    return [f"{title}: {'; '.join(f'“{skill}”' for skill in skills)} {one if len(skills) == 1 else many}."]
