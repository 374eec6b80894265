"""Every quantity, registered once: the Figures page and `course calc` read nothing else."""

from __future__ import annotations

from difflib import get_close_matches

from course.errors import NotFoundError
from course.physics.quantity import Quantity
from course.physics.registry import cell, check, dose, error, gas, loop

REGISTRY: dict[str, Quantity] = {
    one.name: one
    for one in (
        *loop.QUANTITIES,
        *error.QUANTITIES,
        *gas.QUANTITIES,
        *dose.QUANTITIES,
        *cell.QUANTITIES,
        *check.QUANTITIES,
    )
}
"""By name, in the order in which they are listed."""


def quantity(name: str) -> Quantity:
    """Return a quantity by its name.

    Raises:
        NotFoundError: there is none of that name.
    """
    if name not in REGISTRY:
        near = get_close_matches(name, REGISTRY, 1)
        hint = f" Did you mean {near[0]}?" if near else ""
        raise NotFoundError(f"There is no quantity {name!r}.{hint} `course calc --list` names them all.")
    return REGISTRY[name]
