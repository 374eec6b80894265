"""What an audit file says of itself, and which members it may have."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from course.answers.audit_tables import COLUMNS, NAMED
from course.exchange.archive import MOST_BYTES
from course.exchange.bundle import Manifest, member_bound
from course.exchange.table_files import member_of

FORMAT = "audit-file"
_PAPER_BYTES = 500_000_000
_TABLES = frozenset(member_of(name) for name in (*COLUMNS, *NAMED))


class AuditCourse(BaseModel):
    """A course that the file is about, and as of which day."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    course: str
    as_of: str


class AuditManifest(Manifest):
    """What an audit file says of itself."""

    format: str = FORMAT
    courses: tuple[AuditCourse, ...]
    named: bool
    """Whether names and texts are in it."""
    given_to: str | None = None
    program: str


def audit_bound(name: str) -> int | None:
    """Return the most bytes that an audit file's member of a name may have; None where it has no such member."""
    if name in _TABLES:
        return MOST_BYTES
    return _PAPER_BYTES if name == "audit.pdf" else member_bound(name)
