"""Looking up what must be there: a fact by its id, and the standards that a course adopted."""

from __future__ import annotations

from functools import lru_cache
from typing import TypeVar

from course.errors import NotFoundError
from course.record import facts
from course.record.chain import content_hash
from course.standards.rubric import Skill
from course.standards.standards import Standards, standards_from
from course.storage.ledger import Ledger

_F = TypeVar("_F", bound=facts.Fact)


def needed(ledger: Ledger, model: type[_F], thing_id: str, what: str) -> _F:
    """Return a fact that must be there.

    Raises:
        NotFoundError: it is not, or it was withdrawn.
    """
    fact = ledger.fact(model.__name__.lower(), thing_id)
    if not isinstance(fact, model) or fact.withdrawn:
        raise NotFoundError(f"There is no such {what} in this centre. It may have been withdrawn; open the list again.")
    return fact


def all_of(ledger: Ledger, model: type[_F], **by: str | None) -> list[_F]:
    """Return every fact of a kind that was not withdrawn, narrowed by course, person, skill or session."""
    found = ledger.facts(model.__name__.lower(), **by)
    return [fact for fact in found if isinstance(fact, model) and not fact.withdrawn]


class Adopted:
    """The standards of one adoption, with the hash of each skill as written."""

    def __init__(self, standards: Standards) -> None:
        self.standards = standards
        self.hashes = {skill: content_hash(standards.written_skill(skill)) for skill in standards.skills}

    def skill(self, skill_id: str) -> Skill:
        """Return a skill.

        Raises:
            NotFoundError: the adopted rubrics have no such skill.
        """
        return self.standards.skill(skill_id)


def adopted(ledger: Ledger, adoption_id: str) -> Adopted:
    """Return the standards of an adoption, read again from what the ledger holds.

    Raises:
        NotFoundError: there is no such adoption.
    """
    fact = needed(ledger, facts.Adoption, adoption_id, "adopted rubric")
    return _read(_Files(fact))


def adoptions(ledger: Ledger) -> list[facts.Adoption]:
    """Return every adoption in the order in which they were made: that of the events, whatever a clock said."""
    made = [(next(ledger.events(fact.id)).order, fact) for fact in all_of(ledger, facts.Adoption)]
    return [fact for _, fact in sorted(made, key=lambda pair: pair[0])]


def in_force(ledger: Ledger) -> facts.Adoption | None:
    """Return the adoption that new courses are made on: the last one; None while nothing was adopted."""
    return next(reversed(adoptions(ledger)), None)


def adoption_heads(ledger: Ledger) -> list[facts.Adoption]:
    """Return the adoptions whose place no other took, in order; of more than one, none knew of the others."""
    made = adoptions(ledger)
    replaced: set[str] = set()
    for number, fact in enumerate(made):
        replaced.update([one.id for one in made[:number]] if fact.replaces is None else fact.replaces)
    return [fact for fact in made if fact.id not in replaced]


_FORMS: dict[tuple[str, str, str], Skill] = {}
"""Skills by centre, id and hash. A form never changes, since the hash is that of its content."""


def skill_as_marked(ledger: Ledger, skill_id: str, rubric: str) -> Skill:
    """Return a skill in the very form that an attempt is pinned to, from whichever adoption holds it.

    Raises:
        NotFoundError: no adoption in this ledger holds that form.
    """
    form = (ledger.centre_id, skill_id, rubric)
    if form in _FORMS:
        return _FORMS[form]
    for fact in all_of(ledger, facts.Adoption):
        found = _read(_Files(fact))
        if found.hashes.get(skill_id) == rubric:
            return _FORMS.setdefault(form, found.skill(skill_id))
    raise NotFoundError(
        f"No adopted rubric in this ledger holds {skill_id} in the form this attempt was marked by. "
        "Nothing was changed; merge the ledger that adopted it."
    )


_FEATURES: dict[tuple[str, str, str], frozenset[str]] = {}
"""What a unit type has, by centre, adoption and type. An adoption is never changed, only another one made."""


def unit_features(ledger: Ledger, adoption: str, unit_type: str | None) -> frozenset[str]:
    """Return what a unit type has by a course's adopted files; nothing for a student without a unit.

    Raises:
        NotFoundError: there is no such adoption.
    """
    if unit_type is None:
        return frozenset()
    key = (ledger.centre_id, adoption, unit_type)
    if key not in _FEATURES:
        found = adopted(ledger, adoption).standards.unit_types.get(unit_type)
        _FEATURES[key] = found.feature_set if found else frozenset()
    return _FEATURES[key]


class _Files:
    """An adoption as a cache key: equal when the events it rests on are."""

    def __init__(self, fact: facts.Adoption) -> None:
        self.fact = fact

    def __hash__(self) -> int:
        return hash(self.fact.events)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Files) and other.fact.events == self.fact.events


@lru_cache(maxsize=16)
def _read(files: _Files) -> Adopted:
    return Adopted(standards_from(files.fact.files))
