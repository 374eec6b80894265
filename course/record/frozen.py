"""What facts and their parts are made of."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Frozen(BaseModel):
    """A fact, or part of one."""

    model_config = ConfigDict(frozen=True, extra="forbid")
