"""Orders that cannot be kept because they run in a circle."""

from __future__ import annotations

import graphlib
from collections.abc import Iterable, Mapping


def circles(comes_after: Mapping[str, Iterable[str]]) -> list[list[str]]:
    """Return circles in which each comes before the next and the last before the first, no thing in two of them.

    Args:
        comes_after: each thing with those that have to come before it; names that are no key are passed over.

    Each circle begins with its first thing in the order of the mapping; none is left when all of these are broken
    and the question is asked again.
    """
    left = {thing: [earlier for earlier in before if earlier in comes_after] for thing, before in comes_after.items()}
    place = {thing: number for number, thing in enumerate(left)}
    found: list[list[str]] = []
    while True:
        sorter = graphlib.TopologicalSorter(left)
        try:
            sorter.prepare()
        except graphlib.CycleError as error:
            ring: list[str] = error.args[1][:-1]
            start = ring.index(min(ring, key=place.__getitem__))
            found.append(ring[start:] + ring[:start])
            left = {thing: [e for e in before if e not in ring] for thing, before in left.items() if thing not in ring}
        else:
            return sorted(found, key=lambda ring: place[ring[0]])
