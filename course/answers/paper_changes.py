"""What a paper says against what the ledger says now: every place that differs, named by the titles on the way."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

_NAMES = ("title", "name", "kind", "skill", "student", "label")
"""Fields that say what a part is about."""
_SILENT = frozenset({"evidence", "rests_on"})
"""Hashes over what else is told."""
_NOTHING = "nothing"
_LONGEST = 160


def changes(then: Any, now: Any) -> list[str]:
    """Return each difference as a sentence; what the paper does not have, since it is older than the field, is none."""
    found = _walk(then, now, ())
    told = [f"{' · '.join(path) or 'The paper'}: {before}, and now {after}." for path, before, after in found]
    if not told and _rests_on(then) != _rests_on(now):
        return ["What it rests on changed, and nothing that it says."]
    return told


def _rests_on(says: Any) -> Any:
    return [says.get(name) for name in sorted(_SILENT)] if isinstance(says, dict) else None


Difference = tuple[tuple[str, ...], str, str]


def _walk(then: Any, now: Any, path: tuple[str, ...]) -> Iterator[Difference]:
    if then == now:
        return
    if isinstance(then, dict) and isinstance(now, dict):
        for field in (name for name in dict.fromkeys([*now, *then]) if name in then and name not in _SILENT):
            yield from _walk(then[field], now.get(field), (*path, field.replace("_", " ")))
    elif isinstance(then, list) and isinstance(now, list):
        yield from _lists(then, now, path)
    else:
        yield path, _shown(then), _shown(now)


def _lists(then: list[Any], now: list[Any], path: tuple[str, ...]) -> Iterator[Difference]:
    """Compare by name where the parts have names, else place by place; plain texts by what is gone and what is new."""
    if all(isinstance(one, dict) for one in (*then, *now)):
        before, after = _named(then), _named(now)
        for name in dict.fromkeys([*before, *after]):
            here = (*path[:-1], name)
            if name in before and name in after:
                yield from _walk(before[name], after[name], here)
            else:
                yield here, "is there" if name in before else _NOTHING, "is there" if name in after else _NOTHING
        return
    for one in then:
        if one not in now:
            yield path, _shown(one), _NOTHING
    for one in now:
        if one not in then:
            yield path, _NOTHING, _shown(one)
    if sorted(map(str, then)) == sorted(map(str, now)):
        yield path, _shown(then), _shown(now)


def _named(parts: list[dict[str, Any]]) -> dict[str, Any]:
    named: dict[str, Any] = {}
    for number, part in enumerate(parts, start=1):
        name = next((str(part[field]) for field in _NAMES if part.get(field)), str(number))
        named[name if name not in named else f"{name} ({number})"] = part
    return named


def _shown(value: Any) -> str:
    if value in (None, "", [], {}):
        return _NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    return f"“{text[:_LONGEST]}{'…' if len(text) > _LONGEST else ''}”"
