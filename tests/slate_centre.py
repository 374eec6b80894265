"""A centre with six students on a pool day, and paper sheets that were given out for it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from centre_builder import FIRST_DAY, ZONE, Centre, build_centre, note_papers, shipped_standards

from course.actions import centre as founding
from course.actions import courses as planning
from course.actions.slates import give_out
from course.moments import now, observed_at
from course.words import Role

MORE_STUDENTS = ("Halima Corvanne", "Ravi Solvei", "Jonas Ettrick", "Nkechi Brandvold")


@dataclass(frozen=True)
class PoolDay:
    """The centre, its six students in the order of the columns, and the session that the sheets are of."""

    centre: Centre
    students: tuple[str, ...]
    session: str

    def sheet(self, skill: str, students: Sequence[str] = (), tries: int = 1) -> str:
        """Give out a sheet of one skill; returns its id."""
        (slate,) = give_out(
            self.centre.ledger, self.centre.lead, self.session, skills=[skill], students=students or self.students,
            tries=tries,
        )  # fmt: skip
        return slate

    def code(self, slate: str) -> str:
        """The number at the top of a sheet."""
        fact = self.centre.view().sessions[self.session]
        return next(one.code for one in fact.slates if one.id == slate)


def add_pool_day(centre: Centre) -> PoolDay:
    """Add four students to the small centre and a pool session that ended two hours ago."""
    ledger, lead = centre.ledger, centre.lead
    more = [founding.add_person(ledger, lead, name=name, roles=[Role.STUDENT]) for name in MORE_STUDENTS]
    for who in more:
        note_papers(ledger, lead, centre.course, who)
        planning.enrol(ledger, lead, centre.course, who, Role.STUDENT)
        planning.assign_unit(ledger, lead, centre.course, who, centre.unit_a, FIRST_DAY.isoformat())
    this_minute = now().replace(second=0, microsecond=0)
    session = planning.plan_session(
        ledger, lead, course=centre.course, title="Pool today", setting="pool",
        start=observed_at(this_minute - timedelta(hours=5), ZONE, "minute"),
        end=observed_at(this_minute - timedelta(hours=2), ZONE, "minute"),
    )  # fmt: skip
    return PoolDay(centre, (centre.amaru, centre.zoe, *more), session)


@contextmanager
def build_pool_day(folder: Path) -> Iterator[PoolDay]:
    """Make the whole centre in a folder; its ledger is closed in the end."""
    with build_centre(folder, shipped_standards()) as centre:
        yield add_pool_day(centre)
