"""Every quantity, registered once: the Figures page, `course calc` and the guide's table read nothing else."""

from __future__ import annotations

from difflib import get_close_matches

from course.errors import NotFoundError
from course.physics.quantity import Quantity
from course.physics.registry import cell, check, dose, error, gas, in_time, loop, open_in_time

GROUPS: dict[str, tuple[Quantity, ...]] = {
    "Oxygen in the loop": loop.QUANTITIES,
    "Errors and failures": (*error.QUANTITIES, *in_time.QUANTITIES, *open_in_time.QUANTITIES),
    "Pressure and gas": gas.QUANTITIES,
    "Oxygen exposure": dose.QUANTITIES,
    "Oxygen cells": cell.QUANTITIES,
    "Other checks of a unit": check.QUANTITIES,
}
"""What the quantities are about, as they are shown one below the other."""
REGISTRY: dict[str, Quantity] = {one.name: one for group in GROUPS.values() for one in group}
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
