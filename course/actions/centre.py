"""Make a centre, its people and its units; adopt rubric files."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path

from course.access import Act
from course.actions.drafting import allow, body, draft
from course.answers.alike import alike
from course.errors import RefusedError
from course.moments import new_id, zone_named
from course.record.chain import content_hash
from course.record.events import CentreMade, CheckOutRecorded, PersonAdded, RubricAdopted, UnitAdded
from course.record.facts import Adoption, Person, Unit
from course.standards.standards import Standards, standards_from
from course.storage.ledger import Ledger, create
from course.storage.lookup import needed
from course.words import Role, listed


def make_centre(folder: Path, *, name: str, lead_name: str, zone: str = "UTC", database: str | None = None) -> Ledger:
    """Make a centre in a folder, with its lead, and return its ledger open for writing.

    Args:
        folder: the centre's folder.
        name: the centre's name.
        lead_name: the lead instructor's name.
        zone: the centre's time zone.
        database: the URL of a PostgreSQL database for the ledger, instead of a file in the folder.

    Raises:
        RefusedError: the folder has a centre already, a name cannot be used, or that is no URL.
        StorageError: the folder or the database cannot be written.
    """
    zone_named(zone)
    centre, lead = new_id(), new_id()
    founding = body(CentreMade, centre=centre, name=name, zone=zone, lead=lead)
    person = body(PersonAdded, person=lead, roles=(Role.LEAD,), name=lead_name)
    return create(folder, [draft(lead, founding), draft(lead, person, private_of=lead)], database=database)


def add_person(
    ledger: Ledger,
    actor: str,
    *,
    name: str,
    roles: Sequence[Role],
    birth_date: str | None = None,
    contact: str | None = None,
    note: str | None = None,
    others: Collection[str] = (),
) -> str:
    """Enter a person and return their id.

    Args:
        ledger: open for writing.
        actor: who enters them.
        name, roles, birth_date, contact, note: what is known of them.
        others: people who were shown as born on that day with nearly this name, and are somebody else.

    Raises:
        RefusedError: somebody else than these may be the same person (told who); or there is no name.
    """
    allow(ledger, actor, Act.SET_UP)
    person = new_id()
    content = body(
        PersonAdded,
        person=person,
        roles=tuple(roles),
        name=name,
        birth_date=birth_date or None,
        contact=contact or None,
        note=note or None,
    )
    if content.name is None:
        raise RefusedError("A person needs a name. Nothing was changed.")
    if same := [known.name for known in alike(ledger, content.name, content.birth_date) if known.id not in others]:
        raise RefusedError(
            f"{listed(same)}, born on the same day, is in the centre already. Is it the same person? Then put them on "
            "the course; else say that it is somebody else. Nothing was changed."
        )
    ledger.append([draft(actor, content, private_of=person)])
    return person


def record_check_out(ledger: Ledger, actor: str, person: str, unit_type: str, day: str) -> None:
    """Enter an instructor's own check on a unit type.

    Raises:
        NotFoundError: there is no such person.
        RefusedError: the day is none.
    """
    allow(ledger, actor, Act.SET_UP)
    needed(ledger, Person, person, "person")
    ledger.append([draft(actor, body(CheckOutRecorded, person=person, unit_type=unit_type, day=day))])


def add_unit(ledger: Ledger, actor: str, *, label: str, unit_type: str, serial: str | None = None) -> str:
    """Enter a unit and return its id.

    Raises:
        RefusedError: another unit has that label.
    """
    allow(ledger, actor, Act.SET_UP)
    unit = new_id()
    content = body(UnitAdded, unit=unit, label=label, unit_type=unit_type, serial=serial or None)
    others = (fact for fact in ledger.facts("unit") if isinstance(fact, Unit) and not fact.withdrawn)
    if any(other.label.casefold() == (content.label or "").casefold() for other in others):
        raise RefusedError(
            f"There is a unit {content.label} already. Give this one another label. Nothing was changed."
        )
    ledger.append([draft(actor, content)])
    return unit


def adopt_standards(ledger: Ledger, actor: str, standards: Standards) -> str:
    """Take rubric files into use and return the adoption's id; the same files again are the same adoption."""
    allow(ledger, actor, Act.SET_UP)
    files = dict(standards.written)
    wanted = content_hash(files)
    for fact in ledger.facts("adoption"):
        if isinstance(fact, Adoption) and not fact.withdrawn and content_hash(fact.files) == wanted:
            return fact.id
    standards_from(files)  # what cannot be read back must not be adopted
    adoption = new_id()
    ledger.append([draft(actor, body(RubricAdopted, adoption=adoption, files=files))])
    return adoption
