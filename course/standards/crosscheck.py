"""What files ask of each other: every id once, every name known, no circle, and faults that stop before gas opens."""

from __future__ import annotations

from collections.abc import Iterator

from course.standards.circles import circles
from course.standards.plain import At, Flaw, are_ids, did_you_mean


class Shelf:
    """The things of all files, by kind, in the order of the files."""

    def __init__(self, files: list[At]) -> None:
        self.skills = _things(files, "skills", "skills")
        self.phases = [file["phase"] for file in files if file["kind"].text == "skills"]
        self.features = _things(files, "features", "features")
        self.unit_types = _things(files, "features", "unit_types")
        self.faults = _things(files, "faults", "faults")
        self.profiles = _things(files, "profiles", "profiles")
        named = (self.skills, self.features, self.faults)
        self.has_sound_ids = all(are_ids(thing["id"].text for thing in things) for things in named)
        self.skill = {skill["id"].text: skill for skill in reversed(self.skills) if skill["id"].text}


def _things(files: list[At], kind: str, key: str) -> list[At]:
    return [thing for file in files if file["kind"].text == kind for thing in file[key].each()]


def cross_flaws(files: list[At], *, whole: bool) -> Iterator[Flaw]:
    """Yield what does not fit between files.

    Args:
        files: every file that could be read.
        whole: no file is left out; else a name may be known in the missing file and is not called unknown.
    """
    shelf = Shelf(files)
    yield from _ids(shelf)
    if whole and shelf.has_sound_ids:
        yield from _unknown_features(shelf)
        yield from _unknown_skills(shelf)
    yield from _skill_circles(shelf)
    for profile in shelf.profiles:
        yield from _profile_flaws(profile, shelf)
    for fault in shelf.faults:
        yield from _fault_flaws(fault, shelf)
    yield from _share_flaws(shelf)


def _ids(shelf: Shelf) -> Iterator[Flaw]:
    kinds = (
        ("skills", shelf.skills),
        ("phases", shelf.phases),
        ("features", shelf.features),
        ("unit types", shelf.unit_types),
        ("planted faults", shelf.faults),
    )
    for what, things in kinds:
        yield from _met_before(f"Two {what} have the id", "id", things)
    yield from _met_before("Two phases have the order", "order", shelf.phases)
    yield from _revisions(shelf)


def _met_before(wrong: str, key: str, things: list[At]) -> Iterator[Flaw]:
    first: dict[str, At] = {}
    for place in (thing[key] for thing in things):
        word = place.text or str(place.number or "")
        if word in first:
            shown = f'"{word}"' if place.text else word
            yield place.flaw(
                f"{wrong} {shown}; the first stands in {first[word].file}.", f"Give one of them another {key}."
            )
        elif word:
            first[word] = place


def _revisions(shelf: Shelf) -> Iterator[Flaw]:
    known: dict[tuple[str, str], At] = {}
    for profile in shelf.profiles:
        name = profile["id"].text, profile["revision"].text
        if name in known and all(name):
            yield profile["revision"].flaw(
                f'Two profiles "{name[0]}" have the revision "{name[1]}".', "Give one of them another revision."
            )
        known.setdefault(name, profile)
    for profile in shelf.profiles:
        older = profile["supersedes"]
        if not older.text:
            continue
        before = known.get((profile["id"].text, older.text))
        revisions = [revision for identity, revision in known if identity == profile["id"].text]
        if before is None:
            yield older.flaw(
                f'No revision "{older.text}" of "{profile["id"].text}".',
                did_you_mean(older.text, filter(None, revisions)),
            )
        elif before["in_force_from"].text >= profile["in_force_from"].text:
            yield older.flaw(
                f'This revision is in force no later than "{older.text}", which it supersedes.',
                "Write a later in_force_from, or another supersedes.",
            )


def _unknown_features(shelf: Shelf) -> Iterator[Flaw]:
    known = [feature["id"].text for feature in shelf.features]
    named = [name for unit in shelf.unit_types for name in unit["features"].each()]
    for skill in shelf.skills:
        for needs in (skill["needs"], *(step["only_if"] for step in skill["steps"].each())):
            named.extend(name for part in ("all", "any", "none") for name in needs[part].each())
    for name in named:
        if name.text and name.text not in known:
            yield name.flaw(f'No feature "{name.text}".', did_you_mean(name.text, known))


def _unknown_skills(shelf: Shelf) -> Iterator[Flaw]:
    named = [name for skill in shelf.skills for name in skill["before"].each()]
    for profile in shelf.profiles:
        named.extend(name for key in ("required_skills", "optional_skills") for name in profile[key].each())
    named.extend(name for fault in shelf.faults for name in fault["found_in"].each())
    for name in named:
        if name.text and name.text not in shelf.skill:
            yield name.flaw(f'No skill "{name.text}".', did_you_mean(name.text, shelf.skill))


def _skill_circles(shelf: Shelf) -> Iterator[Flaw]:
    for ring in circles({name: skill["before"].texts for name, skill in shelf.skill.items()}):
        yield shelf.skill[ring[0]]["before"].flaw(
            f"Skills ask for each other in a circle: {', then '.join([*ring, ring[0]])}.",
            "Take one skill out of a before.",
        )


def _profile_flaws(profile: At, shelf: Shelf) -> Iterator[Flaw]:
    whom, required = profile["for_whom"].text, profile["required_skills"].texts
    for key in ("required_skills", "optional_skills"):
        for name in profile[key].each():
            skill = shelf.skill.get(name.text)
            audience = (skill["audience"].text or "student") if skill else whom
            if whom and audience != whom:
                yield name.flaw(
                    f'"{name.text}" is a skill for a {audience}; this profile is for a {whom}.', "Take it out."
                )
    for name in profile["required_skills"].each():
        skill = shelf.skill.get(name.text)
        for earlier in skill["before"].texts if skill else ():
            same = earlier in shelf.skill and (shelf.skill[earlier]["audience"].text or "student") == whom
            if same and earlier not in required:
                yield name.flaw(
                    f'"{name.text}" asks for "{earlier}" first, which this profile does not require.',
                    f'Add "{earlier}" to required_skills, or take "{name.text}" out.',
                )


def _fault_flaws(fault: At, shelf: Shelf) -> Iterator[Flaw]:
    """Whoever misses the fault must not come to the opening of gas: the trainer stops at or before that step."""
    stop = fault["stop_before"]
    finds: list[tuple[At, At, list[At]]] = []  # where it is found, and the steps from there on
    for name, found in zip(fault["found_in"].each(), fault["found_step"].each(), strict=False):
        steps = list(shelf.skill[name.text]["steps"].each()) if name.text in shelf.skill else []
        ids = [step["id"].text for step in steps]
        if found.text in ids:
            finds.append((name, found, steps[ids.index(found.text) :]))
        elif found.text and steps and are_ids(ids):
            yield found.flaw(f'No step "{found.text}" in "{name.text}".', did_you_mean(found.text, ids))
    later = [step["id"].text for _, _, steps in finds for step in steps]
    if stop.text and stop.text not in later:
        if len(finds) == len(fault["found_in"].texts) and are_ids(later):
            wrong = f'"{stop.text}" is no step at or after the one that finds this fault.'
            yield stop.flaw(wrong, did_you_mean(stop.text, later))
        return
    for name, found, steps in finds:
        yield from _gas_flaws(stop, name, found, steps)


def _gas_flaws(stop: At, skill_name: At, found: At, steps: list[At]) -> Iterator[Flaw]:
    ids = [step["id"].text for step in steps]
    opening = next((number for number, step in enumerate(steps) if step["opens_gas"].value is True), None)
    if opening is not None and stop.text not in ids[: opening + 1]:
        place = stop if stop.text else found
        yield place.flaw(
            f'Later in "{skill_name.text}" the step "{ids[opening]}" opens gas with this fault in place.',
            f'Write stop_before: {ids[opening]}, or a step between "{found.text}" and it.',
        )


def _share_flaws(shelf: Shelf) -> Iterator[Flaw]:
    errors = [error for skill in shelf.skills for step in skill["steps"].each() for error in step["errors"].each()]
    critical = [error for error in errors if error["critical"].value is True]
    if errors and 2 * len(critical) >= len(errors):
        wrong = f"{len(critical)} of {len(errors)} errors are critical: where half are, none stands out."
        yield Flaw("", (), wrong, "Keep critical for what can injure someone on this dive by one miss.")
