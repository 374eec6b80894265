"""What of a file has the wrong shape, in plain sentences.

The model library finds missing and unknown keys and values of the wrong type or size. It says so in a language of
its own; here each of its findings gets a sentence of ours and a way out. What the blocks' own rules find (`flaws`)
is asked of every block of the file, whether or not the blocks around it have the right shape.
"""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any, get_args

from pydantic import ValidationError

from course.standards.files import KINDS, SCHEMA, RubricFile
from course.standards.plain import At, Flaw, did_you_mean
from course.standards.strict import Strict

Sentences = tuple[str, str]  # what is wrong, what to do
_TRUTHS = {
    "yes": "true",
    "on": "true",
    "y": "true",
    "true": "true",
    "no": "false",
    "off": "false",
    "n": "false",
    "false": "false",
}


def read_shape(file: At) -> tuple[RubricFile | None, list[Flaw]]:
    """Return the model of a file, or None and every flaw inside it that does not hang on another file."""
    if not file.is_map:
        return None, [file.flaw(*_of_type("a block of keys", file.value))]
    model = KINDS.get(file["kind"].text)
    if model is None:
        return None, [_unknown_kind(file)]
    try:
        return model.model_validate_json(json.dumps(file.value), strict=True), []
    except ValidationError as error:
        shape = [flaw for flaw in map(functools.partial(_flaw_of, model, file), error.errors()) if flaw]
    shape = [flaw for flaw in shape if not _misspelt(flaw, shape)]
    return None, [*shape, *without(shape, own_flaws(model, file))]


def _misspelt(missing: Flaw, flaws: list[Flaw]) -> bool:
    """Whether a missing key is there after all, under a name that is reported as unknown."""
    name = re.fullmatch(r'The key "(\w+)" is missing\.', missing.wrong)
    unknown = [flaw for flaw in flaws if flaw.on_key and flaw.path[:-1] == missing.path]
    return name is not None and any(flaw.remedy == f'Did you mean "{name[1]}"?' for flaw in unknown)


def without(spoilt: list[Flaw], flaws: Iterator[Flaw] | list[Flaw]) -> Iterator[Flaw]:
    """Yield the flaws that do not lie at or inside a place which is spoilt already."""
    places = {(flaw.file, flaw.path) for flaw in spoilt if not flaw.on_key}
    for flaw in flaws:
        if not any((flaw.file, flaw.path[:length]) in places for length in range(len(flaw.path) + 1)):
            yield flaw


def own_flaws(model: type[Strict], at: At) -> Iterator[Flaw]:
    """Yield what the rules of a model and of all models inside it find in plain data."""
    if not at.is_map:
        return
    yield from model.flaws(at)
    for name, field in model.model_fields.items():
        inner = _model_in(field.annotation)
        if inner is not None:
            place = at[field.alias or name]
            for block in [place, *place.each()]:
                yield from own_flaws(inner, block)


def _model_in(annotation: object) -> type[Strict] | None:
    if isinstance(annotation, type) and issubclass(annotation, Strict):
        return annotation
    return next(filter(None, map(_model_in, get_args(annotation))), None)


def _model_at(model: type[Strict], path: tuple[str | int, ...]) -> type[Strict] | None:
    """Return the model of the block at a path; list numbers name no field."""
    found: type[Strict] | None = model
    for part in path:
        if isinstance(part, str) and found is not None:
            fields = {field.alias or name: field for name, field in found.model_fields.items()}
            found = _model_in(fields[part].annotation) if part in fields else None
    return found


def _unknown_kind(file: At) -> Flaw:
    kind = file["kind"]
    if kind.value is None:
        return file.flaw("The file does not say its kind.", f"Add kind: with one of {', '.join(KINDS)}.")
    return kind.flaw(f"{shown(kind.value)} is no kind of rubric file.", did_you_mean(kind.text, KINDS))


def _flaw_of(model: type[Strict], file: At, found: Any) -> Flaw | None:
    place = file
    for part in found["loc"]:
        place = place[part] if isinstance(part, str) else At(_item(place, part), (*place.path, part), place.file)
    kind, limits = found["type"], found.get("ctx", {})
    if kind == "value_error" or (kind == "too_short" and _length(place) >= limits["min_length"]):
        return None  # a rule of ours, which own_flaws says with its exact place; a list whose items are wrong, not few
    parent = At(None, place.path[:-1], place.file)
    name = str(place.path[-1]) if place.path else ""
    if kind == "missing":
        return parent.flaw(f'The key "{name}" is missing.', f"Add {name}: to this block.")
    if kind == "extra_forbidden":
        block = _model_at(model, parent.path)
        keys = [field.alias or key for key, field in block.model_fields.items()] if block else []
        return place.flaw(f'There is no key "{name}" here.', did_you_mean(name, keys), on_key=True)
    if place.path == ("schema",):
        return place.flaw(
            f"This file is written for {shown(place.value)}; this program reads {SCHEMA}.", f"Write schema: {SCHEMA}."
        )
    say = _SAYINGS.get(kind, _fallback)
    return place.flaw(*say(place.value, limits))


def _length(place: At) -> int:
    return len(list(place.each()))


def _item(place: At, number: int) -> object:
    return place.value[number] if isinstance(place.value, list) and number < len(place.value) else None


def shown(value: object) -> str:
    """Return a value as a person wrote it, cut where it is long."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 40 else f'"{value[:37]}..."'
    if isinstance(value, Mapping):
        return "a block of keys"
    return "a list" if isinstance(value, list | tuple) else str(value)


def _of_type(wanted: str, value: object) -> Sentences:
    if value is None:
        return (
            f"Nothing stands here; {wanted} is expected.",
            "Write it after the colon, or take the key out if it may be left out.",
        )
    kind = "text" if isinstance(value, str) else "a whole number" if isinstance(value, int) else ""
    kind = "a truth value" if isinstance(value, bool) else kind
    wrong = (
        f"{shown(value)} is {kind}; {wanted} is expected."
        if kind
        else f"Here stands {shown(value)}; {wanted} is expected."
    )
    return wrong, _way_to(wanted, value)


def _way_to(wanted: str, value: object) -> str:
    bare = isinstance(value, bool | int)
    if wanted == "text":
        return f'Put it in quotes: "{shown(value)}".' if bare else "Write one text, without brackets."
    if wanted == "a whole number":
        digits = isinstance(value, str) and re.fullmatch(r"-?\d+", value)
        return f"Write {value} without quotes." if digits else "Write a whole number such as 2."
    if wanted == "true or false":
        truth = _TRUTHS.get(value.lower()) if isinstance(value, str) else None
        said = f"YAML 1.2 reads {value} as text: write {truth}, without quotes." if truth else ""
        return said or "Write true or false."
    if wanted == "a list":
        return (
            f"Put it in brackets: [{value}]."
            if bare or isinstance(value, str)
            else "Write the items with a dash before each."
        )
    return "Write keys and values, one in each line."


def _typed(wanted: str) -> Callable[[object, Mapping[str, Any]], Sentences]:
    return lambda value, _: _of_type(wanted, value)


def _choice(value: object, limits: Mapping[str, Any]) -> Sentences:
    expected = str(limits["expected"])
    words = re.findall(r"'([^']*)'", expected)
    if not words:
        return f"{shown(value)} is not allowed here.", f"Write {expected.lower()}."
    if not isinstance(value, str):
        wrong, remedy = _of_type("text", value)
        return wrong, remedy if shown(value) in words else did_you_mean("", words)
    return f"{shown(value)} is not allowed here.", did_you_mean(value, words) if len(
        words
    ) > 1 else f"Write {words[0]}."


def _pattern(value: object, limits: Mapping[str, Any]) -> Sentences:
    if "d{4}" in str(limits["pattern"]):
        return f"{shown(value)} is no day of the calendar.", 'Write year, month and day: "2026-01-31".'
    guess = re.sub(r"[^a-z0-9]+", "-", str(value).lower()).strip("-")
    remedy = f'Write "{guess}", for example.' if guess else 'Write a word such as "ring-look".'
    return f"{shown(value)} is no id: an id has small letters and digits, with - or _ between them.", remedy


def _size(value: object, limits: Mapping[str, Any]) -> Sentences:
    least, most = limits.get("min_length"), limits.get("max_length")
    if isinstance(value, str):
        count, bound, word = len(value), least if least is not None else most, "characters"
        wrong = f"The text has {count} {word}; "
        return (
            (wrong + f"at least {bound} are needed.", "Write it out.")
            if least is not None
            else (wrong + f"at most {bound} fit.", "Shorten it.")
        )
    count = len(value) if isinstance(value, list) else 0
    return f"The list has {count}; at least {least} {'is' if least == 1 else 'are'} needed.", "Add what is missing."


def _too_small(value: object, limits: Mapping[str, Any]) -> Sentences:
    return f"{value} is too small.", f"Write {limits['ge']} or more."


def _too_large(value: object, limits: Mapping[str, Any]) -> Sentences:
    return f"{value} is too large.", f"Write {limits['le']} or less."


def _fallback(value: object, _: Mapping[str, Any]) -> Sentences:
    return (
        f"{shown(value)} does not fit here.",
        "Compare this place with the same place of a file that came with the program.",
    )


_SAYINGS: dict[str, Callable[[object, Mapping[str, Any]], Sentences]] = {
    "string_type": _typed("text"),
    "int_type": _typed("a whole number"),
    "bool_type": _typed("true or false"),
    "tuple_type": _typed("a list"),
    "model_type": _typed("a block of keys"),
    "literal_error": _choice,
    "string_pattern_mismatch": _pattern,
    "string_too_short": _size,
    "string_too_long": _size,
    "too_short": _size,
    "greater_than_equal": _too_small,
    "less_than_equal": _too_large,
}
