"""What a centre has: its courses, people and units, and how its ledger is kept."""

from __future__ import annotations

from dataclasses import dataclass

from course.answers.people import Known, known_people
from course.record.facts import Centre, Course, Person, Unit
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed
from course.words import EVALUATORS, STAFF


@dataclass(frozen=True)
class CentreAnswer:
    """A centre as it stands."""

    id: str
    name: str
    zone: str
    lead: str
    courses: tuple[Course, ...]
    people: tuple[Known, ...]
    units: tuple[Unit, ...]
    check_outs: dict[str, tuple[tuple[str, str], ...]]
    storage_mode: str
    notices: tuple[str, ...]
    damage: str | None

    @property
    def staff(self) -> tuple[Known, ...]:
        """People who teach, assist or learn to teach."""
        return tuple(p for p in self.people if set(p.roles) & set(STAFF))

    @property
    def evaluators(self) -> tuple[Known, ...]:
        """People who may give marks that count, and sign."""
        return tuple(p for p in self.people if set(p.roles) & set(EVALUATORS))


def centre(ledger: Ledger) -> CentreAnswer:
    """Return what the centre has; the newest course comes first."""
    fact = needed(ledger, Centre, ledger.centre_id, "centre")
    people = all_of(ledger, Person)
    return CentreAnswer(
        id=fact.id,
        name=fact.name,
        zone=fact.zone,
        lead=fact.lead,
        courses=tuple(sorted(all_of(ledger, Course), key=lambda c: (c.first_day, c.id), reverse=True)),
        people=tuple(known_people(ledger, people).values()),
        units=tuple(sorted(all_of(ledger, Unit), key=lambda u: u.label)),
        check_outs={p.id: tuple((c.unit_type, c.day) for c in p.check_outs) for p in people},
        storage_mode=ledger.storage_mode,
        notices=ledger.notices,
        damage=ledger.damage,
    )
