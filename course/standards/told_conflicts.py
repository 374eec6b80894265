"""Conflicts between two forms in the words of the form: which field, and what each person made of it. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from course.standards.field_labels import (
    COUNT_WORDS,
    HOUR_WORDS,
    LABELS,
    PROOF_WORDS,
    SIGNER_WORDS,
    STAGE_WORDS,
    label_of,
)
from course.standards.merging import GONE, Conflict
from course.standards.standards import Standards
from course.words import SETTING_WORDS, listed

_WORDS = HOUR_WORDS | COUNT_WORDS | PROOF_WORDS | STAGE_WORDS | SIGNER_WORDS | SETTING_WORDS


def words_in(standards: Standards, *forms: Mapping[str, Any]) -> dict[str, str]:
    """Return how names are told: skills and features by title, steps, errors and proofs by what they say."""
    titles = {skill.id: skill.title for skill in standards.skills.values()}
    titles |= {feature.id: feature.title for feature in standards.features.values()}
    for form in forms:
        titles |= dict(_own_words(form))
    return titles


def _own_words(value: Any) -> Iterator[tuple[str, str]]:
    """What the items inside a form say, by their ids."""
    if isinstance(value, Mapping):
        said = next((value[key] for key in ("do", "label") if value.get(key)), None)
        if said and "id" in value:
            yield value["id"], said.removesuffix(".")
        yield from (pair for name, inner in value.items() if name != "written" for pair in _own_words(inner))
    elif isinstance(value, list | tuple):
        yield from (pair for inner in value for pair in _own_words(inner))


def place_told(conflict: Conflict, titles: Mapping[str, str]) -> str:
    """Return the field of a conflict, such as: Steps, “Put a hand on the lever”, What to do."""
    told = []
    for number, part in enumerate(conflict.path, 1):
        name = str(part)
        if name in titles:
            told.append(f"“{titles[name]}”")
        else:
            field = label_of(conflict.path[:number])
            told.append(_WORDS.get(name, field) if name not in LABELS else field)
    return ", ".join(told)


def value_told(value: Any, titles: Mapping[str, str]) -> str:
    """Return what somebody made of a field, for people."""
    if value is GONE:
        return "taken out"
    if value is None or value in ("", (), []):
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        said = next((str(value[key]) for key in ("do", "label", "title") if value.get(key)), "")
        return said or listed([f"{label_of((n,))} {value_told(v, titles)}" for n, v in value.items()])
    if isinstance(value, list | tuple):
        return listed([value_told(one, titles) for one in value])
    return titles.get(str(value)) or _WORDS.get(str(value), str(value))
