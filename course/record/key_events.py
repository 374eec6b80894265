"""Events of a centre's key, which signs its papers: it was made, or replaced by the next one."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from course.moments import Observed
from course.record.body import Body, Hash, Id, PrivateNote
from course.record.centre_key import Ended

Signature = Annotated[str, Field(pattern=r"^[0-9a-f]{128}$")]


class CentreKeyMade(Body):
    """The centre has a key. The ledger holds its public part alone."""

    kind: ClassVar[str] = "centre_key_made/1"
    about: ClassVar[str] = "centre"

    centre: Id
    public: Hash
    """32 bytes of an Ed25519 public key (RFC 8032) as hex digits."""
    observed: Observed


class CentreKeyReplaced(Body):
    """Another key takes the place of one. A key that is still there signs the next one; a lost one cannot."""

    kind: ClassVar[str] = "centre_key_replaced/1"
    about: ClassVar[str] = "centre"

    centre: Id
    public: Hash
    replaces: Hash
    why: Ended
    signed: Signature | None = None
    observed: Observed
    reason: PrivateNote = None
