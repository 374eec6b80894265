"""What a centre has: its courses, people and units, and how its ledger is kept."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from course.answers.people import Known, known_people
from course.record.facts import Centre, Course, Person, Unit
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed
from course.words import EVALUATORS, STAFF


@dataclass(frozen=True)
class CentreAnswer:
    """A centre as it stands. Every page begins with one; people and units are read where a page lists them."""

    id: str
    name: str
    zone: str
    lead: str
    courses: tuple[Course, ...]
    storage_mode: str
    notices: tuple[str, ...]
    ending: str
    """What was looked at because the ledger had not been closed; empty after a proper end."""
    damage: str | None
    _ledger: Ledger = field(repr=False, compare=False)

    @cached_property
    def _persons(self) -> list[Person]:
        return all_of(self._ledger, Person)

    @cached_property
    def people(self) -> tuple[Known, ...]:
        """Everybody, told apart from each other."""
        return tuple(known_people(self._ledger, self._persons).values())

    @cached_property
    def units(self) -> tuple[Unit, ...]:
        """Every unit, by label."""
        return tuple(sorted(all_of(self._ledger, Unit), key=lambda u: u.label))

    @cached_property
    def check_outs(self) -> dict[str, tuple[tuple[str, str], ...]]:
        """Unit type and day of each check-out, by person."""
        return {p.id: tuple((c.unit_type, c.day) for c in p.check_outs) for p in self._persons}

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
    return CentreAnswer(
        id=fact.id,
        name=fact.name,
        zone=fact.zone,
        lead=fact.lead,
        courses=tuple(sorted(all_of(ledger, Course), key=lambda c: (c.first_day, c.id), reverse=True)),
        storage_mode=ledger.storage_mode,
        notices=ledger.notices,
        ending=ledger.ending.words if ledger.ending else "",
        damage=ledger.damage,
        _ledger=ledger,
    )
