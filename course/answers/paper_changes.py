"""What a paper says against what the ledger says now: every place that differs, named by the titles on the way."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

_NAMES = ("title", "name", "kind", "skill", "student", "label", "strong")
"""Fields that say what a part is about."""
_SILENT = frozenset({"evidence", "rests_on"})
"""Hashes over what else is told."""
_NOTHING = "nothing"
_LONGEST = 160
_LEAD_IN = 40
"""So much of what two long texts share is told before the place where they part."""
_WORDS = {"sign_offs": "sign-off", "streak": "in a row", "asked": "asked for", "tries": "attempts"}
"""Fields whose own word is not plain."""


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
            yield from _walk(then[field], now.get(field), (*path, _WORDS.get(field, field.replace("_", " "))))
    elif isinstance(then, list) and isinstance(now, list):
        yield from _lists(then, now, path)
    else:
        yield path, *_parted(then, now)


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
    new = [one for one in now if one not in then]
    for one in (one for one in then if one not in now):
        other = next((later for later in new if _shared(one, later) > _LEAD_IN), None)
        if other is None:
            yield path, _shown(one), _NOTHING
        else:
            new.remove(other)
            yield path, *_parted(one, other)
    yield from ((path, _NOTHING, _shown(one)) for one in new)
    if sorted(map(str, then)) == sorted(map(str, now)):
        yield path, _shown(then), _shown(now)


def _named(parts: list[dict[str, Any]]) -> dict[str, Any]:
    named: dict[str, Any] = {}
    for number, part in enumerate(parts, start=1):
        name = next((str(part[field]).rstrip(":") for field in _NAMES if part.get(field)), str(number))
        named[name if name not in named else f"{name} ({number})"] = part
    return named


def _shared(then: Any, now: Any) -> int:
    """How many letters two texts begin with alike; what is no text shares none."""
    if not (isinstance(then, str) and isinstance(now, str)):
        return 0
    both = min(len(then), len(now))
    return next((place for place in range(both) if then[place] != now[place]), both)


def _parted(then: Any, now: Any) -> tuple[str, str]:
    """Both as told: of long texts that begin alike a little before the place where they part, and on from there."""
    shared = _shared(then, now)
    if shared <= _LEAD_IN or max(len(then), len(now)) <= _LONGEST:
        return _shown(then), _shown(now)
    start = then.find(" ", shared - _LEAD_IN) + 1
    start = start if 0 < start <= shared else shared
    return _shown(f"…{then[start:]}"), _shown(f"…{now[start:]}")


def _shown(value: Any) -> str:
    if value in (None, "", [], {}):
        return _NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    return f"“{text[:_LONGEST]}{'…' if len(text) > _LONGEST else ''}”"
