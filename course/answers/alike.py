"""Who may be the same person: born on the same day, with nearly the same name. Never by the name alone."""

from __future__ import annotations

import unicodedata
from difflib import SequenceMatcher

from course.access import Sight
from course.answers.people import Known, known_people
from course.asker import question
from course.record.facts import Person
from course.storage.ledger import Ledger
from course.storage.lookup import all_of

NEAR = 0.8
"""How much of two names has to be the same, as `difflib` counts it (Ratcliff and Obershelp); our own choice."""


@question(Sight.PEOPLE)
def alike(ledger: Ledger, name: str, birth_date: str | None) -> tuple[Known, ...]:
    """Return people born on the same day whose name is near; nobody where no birth date is told."""
    if not birth_date:
        return ()
    born = [person for person in all_of(ledger, Person) if person.birth_date == birth_date]
    return tuple(known for known in known_people(ledger, born).values() if is_near(known.name, name))


def is_near(one: str, other: str) -> bool:
    """Whether two names may be the same one: written with other letters, accents or order, or with a slip."""
    first, second = _plain(one), _plain(other)
    return max(_likeness(first, second), _likeness(sorted(first), sorted(second))) >= NEAR


def _likeness(one: list[str], other: list[str]) -> float:
    return SequenceMatcher(None, " ".join(one), " ".join(other), autojunk=False).ratio()


def _plain(name: str) -> list[str]:
    """The words of a name without accents and capitals."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", name) if not unicodedata.combining(c))
    return bare.casefold().replace("-", " ").split()
