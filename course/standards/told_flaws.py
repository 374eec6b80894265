"""Flaws told in the words of a form, for whoever fills one: no keys of a file, and titles instead of ids. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from course.standards.field_labels import label_of
from course.standards.plain import Flaw, Path
from course.words import SETTING_WORDS

_KEY_WORDS = {
    "if_left_out: critical": "the tick at “Leaving it out is critical”",
    "if_left_out": "“Leaving it out is critical”",
    "left_out_why": "“why leaving it out is not”",
    "in_a_row": "“In a row”",
    "distinct_days": "“Over so many days”",
    "reteach": "“Re-teach attempts”",
    "after_critical": "“Critical when it comes before”",
    "in after": "in “Has to come after”",
    "into after": "into “Has to come after”",
    "of an after": "of a “Has to come after”",
    "at_least": "“At least”",
    "at_most": "“At most”",
    "add it to setting": "add it to “Where it may be tried”",
    "out of a before": "out of a “Skills to show first”",
    "required_skills": "“Required skills”",
    "in_force_from": "“In force from”",
    "or another supersedes": "or wait until a later day",
    "Write ref:": "Fill in “Reference”:",
}
"""A file's keys in the words of the form, which is what its reader sees."""


def form_words(flaw: Flaw, titles: Mapping[str, str] | None = None) -> str:
    """Tell a flaw in the words of the form; ids that have a title are told by it."""
    keys = "|".join(re.escape(key) for key in sorted(_KEY_WORDS, key=len, reverse=True))
    told = re.sub(rf"\b({keys})(?<=[\w:])", lambda found: _KEY_WORDS[found[1]], f"{flaw.wrong} {flaw.remedy}")
    return _titled(told, titles or {})


def _titled(told: str, titles: Mapping[str, str]) -> str:
    """Ids stand in quotes, or in a list with a hyphen in them; a word of a sentence is never taken for one."""
    known = sorted(titles, key=len, reverse=True)
    quoted = "|".join(re.escape(f'"{name}"') for name in known)
    bare = "|".join(re.escape(name) for name in known if "-" in name or "_" in name)
    for pattern in (quoted, rf"(?<![\w-])(?:{bare})(?![\w-])" if bare else ""):
        if pattern:
            told = re.sub(pattern, lambda found: f"“{titles[found[0].strip(chr(34))]}”", told)
    return told


def titles_of(files: Mapping[str, Any], file: str, head: Path) -> dict[str, str]:
    """Return what everything with an id is called: skills, features, unit types, and the steps of what is edited."""
    titles = dict(SETTING_WORDS)
    for content in files.values():
        for kind in ("features", "unit_types", "skills"):
            titles |= {one["id"]: one["title"] for one in content.get(kind, ()) if one.get("title")}
    here = _thing(files, file, head)
    for step in here.get("steps", ()):
        titles |= {step["id"]: step["do"].removesuffix(".")} if step.get("do") else {}
        titles |= {error["id"]: error["label"] for error in step.get("errors", ()) if error.get("label")}
    return titles


def place_words(flaw: Flaw, files: Mapping[str, Any]) -> str:
    """Return whose flaw it is and in which field, empty where it is one of all together."""
    thing = _thing(files, flaw.file, flaw.path[:2])
    title = thing.get("title", "")
    if not title:
        return ""
    revision = f" {thing['revision']}" if "revision" in thing else ""
    field = label_of(flaw.path[2:])
    return f"“{title}”{revision}{', ' + field if field else ''}: "


def _thing(files: Mapping[str, Any], file: str, path: Path) -> Mapping[str, Any]:
    here: Any = files.get(file, {})
    for part in path[:2]:
        if isinstance(part, str):
            here = here.get(part, ()) if isinstance(here, Mapping) else ()
        else:
            here = here[part] if part < len(here) else {}
    return here if isinstance(here, Mapping) else {}
