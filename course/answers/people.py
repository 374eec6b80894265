"""People as they are shown: by name, and two of one name told apart.

A course reads and opens the people on it, and others one by one as they are named, so that its page costs the same
however many people the centre has. Lists of the whole centre ask for everybody.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from course.access import Sight
from course.asker import question
from course.errors import NotFoundError
from course.record.facts import Person
from course.storage.ledger import Ledger
from course.storage.lookup import all_of
from course.words import Role


@dataclass(frozen=True)
class Known:
    """A person as shown: two of one name are told apart by a tag."""

    id: str
    name: str
    tag: str
    birth_year: str | None
    roles: tuple[Role, ...]
    birth_date: str = ""
    contested: tuple[str, ...] = ()

    @property
    def shown(self) -> str:
        """The name, with its tag where another person has the same."""
        return f"{self.name} ({self.tag})" if self.tag else self.name


class People:
    """The people of a centre as one course shows them.

    Those in the circle of the course are told apart from each other; somebody else who is named is told apart from
    them, whoever was asked for before.
    """

    def __init__(self, ledger: Ledger, circle: Iterable[str], *, named: bool = True) -> None:
        self._ledger = ledger
        self._named = named
        self._persons: dict[str, Person | None] = {}
        self._opened: dict[str, Known] = {}
        self._shown: dict[str, Known] = {}
        self._circle = [known for one in dict.fromkeys(circle) if (known := self._open(one))]
        self._shown.update((known.id, known) for known in told_apart(self._circle))

    def __contains__(self, person: str) -> bool:
        return self.person(person) is not None

    def __getitem__(self, person: str) -> Known:
        known = self.get(person)
        if known is None:
            raise KeyError(person)
        return known

    def get(self, person: str) -> Known | None:
        """Return somebody of the centre as shown, None where there is no such person."""
        if person not in self._shown and (known := self._open(person)):
            self._shown[person] = told_apart([*self._circle, known])[-1]
        return self._shown.get(person)

    def person(self, person: str) -> Person | None:
        """Return somebody with their papers opened; what is erased is not there."""
        if person not in self._persons:
            fact = self._ledger.fact("person", person)
            self._persons[person] = fact if isinstance(fact, Person) and not fact.withdrawn else None
        return self._persons[person]

    @property
    def circle(self) -> dict[str, Known]:
        """Those in the circle of the course as shown, by id."""
        return {known.id: self._shown[known.id] for known in self._circle}

    def everybody(self) -> dict[str, Known]:
        """Return all people of the centre, told apart from each other, by id. Its cost grows with their number."""
        found = all_of(self._ledger, Person)
        return {known.id: known for known in told_apart(self._as_named(person) for person in found)}

    def without_names(self) -> People:
        """The same people told apart by number, as for somebody who was given no keys."""
        return People(self._ledger, [known.id for known in self._circle], named=False)

    def _open(self, person: str) -> Known | None:
        if person not in self._opened and (fact := self.person(person)):
            self._opened[person] = self._as_named(fact)
        return self._opened.get(person)

    def _as_named(self, fact: Person) -> Known:
        return _opened(self._ledger, fact) if self._named else numbered(fact)


def known_people(ledger: Ledger, people: Iterable[Person]) -> dict[str, Known]:
    """Open the names of people; those of the same name get a tag of birth year, where that does not do of the id."""
    return {known.id: known for known in told_apart(_opened(ledger, person) for person in people)}


@question(Sight.PEOPLE)
def find_anybody(ledger: Ledger, wanted: str) -> str:
    """Return the id of somebody of the centre by id, whole name or one unmistakable part of it.

    Raises:
        NotFoundError: nobody fits, or several do (all are named).
    """
    known = known_people(ledger, all_of(ledger, Person))
    if wanted in known:
        return wanted
    asked = unicodedata.normalize("NFC", wanted).strip().casefold()
    fits = [one for one in known.values() if asked in (one.name.casefold(), one.shown.casefold())]
    fits = fits or [one for one in known.values() if asked and asked in one.shown.casefold()]
    if len(fits) == 1:
        return fits[0].id
    if fits:
        names = ", ".join(one.shown for one in fits)
        raise NotFoundError(f"Several people fit {wanted!r}: {names}. Write more of the name. Nothing was changed.")
    raise NotFoundError(f"Nobody in this centre fits {wanted!r}. The People page lists everybody. Nothing was changed.")


def numbered(person: Person) -> Known:
    """A person by number alone."""
    return Known(person.id, f"person {person.id[-6:]}", "", None, person.roles)


def told_apart(people: Iterable[Known]) -> list[Known]:
    """Return people with a tag where others among them have the same name, or where a field stands in two ways."""
    everyone = list(people)
    often = Counter(known.name.casefold() for known in everyone)
    as_often = Counter((known.name.casefold(), known.birth_year) for known in everyone)
    return [
        _tagged(
            known,
            same_name=often[known.name.casefold()] > 1,
            same_year=as_often[known.name.casefold(), known.birth_year] > 1,
        )
        for known in everyone
    ]


def _tagged(known: Known, *, same_name: bool, same_year: bool) -> Known:
    told = [f"born {known.birth_year}"] if known.birth_year else []
    if same_year or not known.birth_year:
        told.append(f"no. {known.id[-4:]}")
    told = told if same_name else []
    told += [f"{field.replace('_', ' ')} corrected in two ways" for field in known.contested]
    return Known(
        known.id, known.name, ", ".join(told), known.birth_year, known.roles, known.birth_date, known.contested
    )


def _opened(ledger: Ledger, person: Person) -> Known:
    private = ledger.private(person)
    birth_date = str(private.get("birth_date") or "")
    return Known(
        id=person.id,
        name=str(private.get("name") or f"erased person {person.id[-6:]}"),
        tag="",
        birth_year=birth_date[:4] or None,
        roles=person.roles,
        birth_date=birth_date,
        contested=tuple(private.get("contested", ())),
    )
