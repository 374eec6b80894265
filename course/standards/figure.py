"""What comes of an error in numbers: a registered quantity, and what goes into it, as a rubric writes them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Annotated

from pydantic import Field

from course.physics import telling, written
from course.physics.registry import REGISTRY
from course.standards.plain import SLUG, At, Flaw, did_you_mean
from course.standards.strict import Strict

Short = Annotated[str, Field(min_length=1, max_length=48)]


class Figure(Strict):
    """A quantity by its name in the list of figures, with inputs in their own units.

    Metabolism and loop volume are never known: left out they are their usual from-to.
    """

    quantity: Annotated[str, Field(pattern=SLUG, max_length=48)]
    inputs: dict[Short, Short] = Field(default_factory=dict)
    """Each as a text with the input's own unit, such as po2: "1.3 bar"."""

    @property
    def is_flood(self) -> bool:
        """Whether it tells of water in the loop: nothing is computed, and the unit goes on hold."""
        return _is_flood(self)

    def __hash__(self) -> int:
        """A frozen block can be a key, and pydantic cannot hash the mapping in this one."""
        return hash((self.quantity, tuple(sorted(self.inputs.items()))))

    def __str__(self) -> str:
        told = ", ".join(f"{key} {value}" for key, value in self.inputs.items())
        return f"{self.quantity} with {told}" if told else self.quantity

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """The quantity is registered, and its inputs are known, in their units and ranges, and give a number."""
        name = at["quantity"]
        if not name.text:
            return
        if name.text not in REGISTRY:
            yield name.flaw(f'There is no quantity "{name.text}".', did_you_mean(name.text, REGISTRY))
            return
        inputs = at["inputs"]
        texts = inputs.value if isinstance(inputs.value, dict) else {}
        if all(isinstance(value, str) for value in texts.values()):
            for fault in written.faults(REGISTRY[name.text], texts):
                place = inputs[fault.key] if fault.key else inputs if texts else at
                yield place.flaw(fault.wrong, fault.remedy, on_key=fault.unknown)


@lru_cache(maxsize=512)
def _is_flood(figure: Figure) -> bool:
    """A rubric's figure never changes, and findings ask for each attempt."""
    quantity = REGISTRY[figure.quantity]
    return telling.is_flood(quantity.answer(**written.values_of(quantity, figure.inputs)))
