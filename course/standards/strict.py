"""What every block of a rubric file is: frozen, without keys that nobody knows, and judged by its own rules."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Self

from pydantic import BaseModel, ConfigDict, model_validator

from course.standards.plain import At, Flaw


class Strict(BaseModel):
    """A frozen model that refuses unknown keys, and whatever its own rules (`flaws`) find."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, use_attribute_docstrings=True)

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """Yield what does not fit together in this block of a file; the blocks inside it answer for themselves."""
        yield from ()

    @model_validator(mode="after")
    def _has_no_flaws(self) -> Self:
        found = [f"{flaw.wrong} {flaw.remedy}" for flaw in self.flaws(At(self.model_dump(by_alias=True)))]
        if found:
            raise ValueError(" ".join(found))
        return self
