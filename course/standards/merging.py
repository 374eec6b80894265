"""Three forms of one thing joined field by field: what two people began from, and what each of them made of it. Pure.

A field that one of them changed is taken from that one. A field that both changed is a conflict, which only a person
settles. Which of the two is "mine" makes no difference to what is joined and to which fields are in conflict.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum, StrEnum
from typing import Any

from course.standards.plain import Path

ORDER = "order"
"""The last part of the path of a conflict about the order of a list."""


class Gone(Enum):
    """Stands where nothing stands."""

    GONE = "gone"


GONE = Gone.GONE


class Choice(StrEnum):
    """What a person settles a conflict with."""

    MINE = "mine"
    THEIRS = "theirs"
    BOTH = "both"


@dataclass(frozen=True)
class Conflict:
    """One field that both changed: where it is, what it was, and what each made of it."""

    path: Path
    base: Any
    mine: Any
    theirs: Any

    @property
    def can_be_both(self) -> bool:
        """Whether it is a list of names to which both changes can be made."""
        lists = all(_are_texts(value) for value in (self.base, self.mine, self.theirs))
        return lists and self.path[-1:] != (ORDER,)


@dataclass(frozen=True)
class Joined:
    """What came of joining; while a conflict is open its field holds mine."""

    value: Any
    conflicts: tuple[Conflict, ...]
    """Those that no choice has settled."""


def joined(base: Any, mine: Any, theirs: Any, choices: Mapping[Path, Choice] | None = None) -> Joined:
    """Join two changed forms of plain data: texts, numbers, truth values, lists and mappings.

    A list whose items say who they are (`id`, `of`, `setting`) is joined item by item, any other as a whole.

    Args:
        choices: how conflicts are settled, by path; an item of a list is named in a path by what it says it is.
    """
    joining = _Joining(choices or {})
    value = joining.join((), base, mine, theirs)
    return Joined(value, tuple(joining.open))


@dataclass
class _Joining:
    choices: Mapping[Path, Choice]
    open: list[Conflict] = field(default_factory=list)

    def join(self, path: Path, base: Any, mine: Any, theirs: Any) -> Any:
        if theirs in (mine, base):
            return mine
        if mine == base:
            return theirs
        if all(isinstance(value, Mapping) for value in (base, mine, theirs)):
            return self._maps(path, base, mine, theirs)
        named = [_by_name(value) for value in (base, mine, theirs)]
        if all(items is not None for items in named):
            return self._lists(path, *(items or {} for items in named))
        return self._settled(Conflict(path, base, mine, theirs))

    def _settled(self, conflict: Conflict) -> Any:
        choice = self.choices.get(conflict.path)
        if choice is None or (choice == Choice.BOTH and not conflict.can_be_both):
            self.open.append(conflict)
            return conflict.mine
        if choice == Choice.BOTH:
            return _both(conflict.base, conflict.mine, conflict.theirs)
        return conflict.mine if choice == Choice.MINE else conflict.theirs

    def _maps(
        self, path: Path, base: Mapping[str, Any], mine: Mapping[str, Any], theirs: Mapping[str, Any]
    ) -> dict[str, Any]:
        found = {
            name: self.join((*path, name), *(value.get(name, GONE) for value in (base, mine, theirs)))
            for name in dict.fromkeys([*base, *mine, *theirs])
        }
        return {name: value for name, value in found.items() if value is not GONE}

    def _lists(self, path: Path, base: dict[str, Any], mine: dict[str, Any], theirs: dict[str, Any]) -> list[Any]:
        items = self._maps(path, base, mine, theirs)
        common = [name for name in base if name in mine and name in theirs]
        orders = [[name for name in names if name in common] for names in (base, mine, theirs)]
        placed = list(self.join((*path, ORDER), *orders))
        for names in sorted((list(mine), list(theirs)), key=lambda names: [n for n in names if n not in common]):
            _place(placed, names)
        return [items[name] for name in placed if name in items]


def _place(placed: list[str], names: Sequence[str]) -> None:
    """Put what is not placed yet behind the name that stands before it."""
    for number, name in enumerate(names):
        if name not in placed:
            before = next((earlier for earlier in reversed(names[:number]) if earlier in placed), None)
            placed.insert(placed.index(before) + 1 if before is not None else 0, name)


def _by_name(value: Any) -> dict[str, Any] | None:
    """The items of a list by what they say they are; None where it is another thing, or two say the same."""
    if not isinstance(value, list | tuple) or not all(isinstance(item, Mapping) for item in value):
        return None
    names = [next((str(item[key]) for key in ("id", "of", "setting") if key in item), "") for item in value]
    return dict(zip(names, value, strict=True)) if len({*names}) == len(names) and "" not in names else None


def _are_texts(value: Any) -> bool:
    return isinstance(value, list | tuple) and all(isinstance(item, str) for item in value)


def _both(base: Sequence[str], mine: Sequence[str], theirs: Sequence[str]) -> list[str]:
    """Both changes to a list of names; what only one of them took out is out."""
    kept = [name for name in theirs if name in mine or name not in base]
    return [*kept, *(name for name in mine if name not in base and name not in theirs)]
