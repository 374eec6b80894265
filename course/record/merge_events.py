"""Events of ledgers that come together: which device is one of the centre's, and what was taken in when."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from course.record.body import Body, Id, PrivateLine
from course.record.day_events import KnownHead


class DeviceAccepted(Body):
    """Somebody who may set up the centre says that a device is one of its own: what it wrote may be taken in."""

    kind: ClassVar[str] = "device_accepted/1"
    about: ClassVar[str] = "device"

    device: Id
    note: PrivateLine = None
    """Which one it is: "the boat's tablet"."""


class LedgerMerged(Body):
    """Events of other ledgers were taken in; it names every head that was known then, as a checkpoint does."""

    kind: ClassVar[str] = "ledger_merged/1"
    about: ClassVar[str] = "merge"

    merge: Id
    added: Annotated[int, Field(ge=1)]
    heads: Annotated[tuple[KnownHead, ...], Field(min_length=1)]
