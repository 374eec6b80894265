"""What is true of erasing and of how long personal data are kept; from their statements."""

from __future__ import annotations

from collections.abc import Iterable

from course.moments import Observed
from course.record.frozen import Frozen
from course.record.privacy_events import Against, PersonErased, RetentionSet
from course.record.statements import Statements
from course.words import Authority


class Erasure(Frozen):
    """That a person's data were erased; the reason is private to the centre, by event."""

    event: str
    by: str
    authority: Authority
    against: tuple[Against, ...]
    observed: Observed


class Retention(Frozen):
    """For how many days after the last course data are kept; None: no time was set."""

    events: tuple[str, ...]
    """Those that no other takes the place of: the next one names them."""
    student_days: int | None
    staff_days: int | None
    incident_days: int | None


def build_erasure(statements: Statements) -> Erasure | None:
    """Return the first erasing of a person. One that was withdrawn holds all the same: a key does not come back."""
    for statement in statements:
        body = statement.body
        if isinstance(body, PersonErased):
            return Erasure(
                event=statement.event.id, by=statement.event.actor, authority=body.authority, against=body.against,
                observed=body.observed,
            )  # fmt: skip
    return None


def build_retention(statements: Statements) -> Retention | None:
    """Return how long data are kept. Of two laptops' words the longer time holds, so that nothing goes too early."""
    said = [(s.event.id, s.body) for s in statements if isinstance(s.body, RetentionSet) and not s.withdrawn]
    replaced = {earlier for _, body in said for earlier in body.replaces}
    live = [(event, body) for event, body in said if event not in replaced]
    if not live:
        return None
    return Retention(
        events=tuple(event for event, _ in live),
        student_days=_longest(body.student_days for _, body in live),
        staff_days=_longest(body.staff_days for _, body in live),
        incident_days=_longest(body.incident_days for _, body in live),
    )


def _longest(days: Iterable[int | None]) -> int | None:
    return max((one for one in days if one is not None), default=None)
