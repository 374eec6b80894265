"""What a transfer file from another centre is, before anything of it is noted: a rehearsal that changes nothing.

Whose key signed it is asked of keys that somebody pinned here, never of the file. What cannot be trusted to be as it
was printed is not taken at all.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Literal

from pydantic import ValidationError

from course.access import Act
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.elsewhere import accepted_words, amount_words, arrivals_of, centre_words, item_words
from course.answers.filed_paper import TRANSFER_FILE
from course.answers.missing import student_counts, student_hours
from course.answers.paper_check import check_paper
from course.answers.paper_verdict import FileState, Shown, Verdict
from course.answers.transfer import Carried
from course.asker import question
from course.errors import RefusedError
from course.hours.requirements import Count, Hours
from course.moments import derived_id
from course.record.arrival_facts import Arrival
from course.record.centre_key import CentreKey, grouped
from course.storage.ledger import Ledger
from course.words import plural

Signature = Literal["pinned", "unknown", "none"]
_SIGNED: dict[Verdict, Signature] = {
    Verdict.GENUINE: "pinned",
    Verdict.NO_KEY: "unknown",
    Verdict.OTHER_CENTRE: "unknown",
    Verdict.UNSIGNED: "none",
}
"""What may be noted. Everything else was altered, or speaks of a lost key."""
_TRUST = {
    "pinned": "Signed with a key of that centre that is pinned here",
    "unknown": "Signed with a key that nobody here has pinned: anybody could have made it. Ask the centre for its keys",
    "none": "Not signed: nothing shows that it is the other centre's",
}


@dataclass(frozen=True)
class ArrivalRehearsal:
    """What a file is, and what stands against taking it in."""

    id: str
    file: str
    """The hash over its data."""
    carried: Carried
    signature: Signature
    key: str
    known: str
    """That this very file arrived before; empty when it did not."""
    person: str
    """How the person of the file differs from the one here; empty when they are told alike."""
    lines: tuple[str, ...]
    now_pinned: bool = False
    """It arrived before, signed with a key that nobody had pinned then; now somebody has."""
    back: bool = False
    """It arrived before and was taken back."""

    def text(self) -> str:
        """All of it in lines."""
        return "\n".join(filter(None, (*self.lines, self.person, self.known)))

    def plain(self) -> dict[str, Any]:
        """All of it as plain data."""
        return asdict(self) | {"carried": self.carried.model_dump(mode="json")}


@dataclass(frozen=True)
class ItemLine:
    """One thing of a file that could be accepted."""

    item: str
    words: str
    amount: int | None
    """How many there are; None for a skill."""
    accepted: str
    """What was accepted of it, as a sentence; empty while nothing is."""


@dataclass(frozen=True)
class ArrivalLine:
    """One arrival of a student, and all that could be accepted of it."""

    id: str
    sentence: str
    items: tuple[ItemLine, ...]

    def text(self) -> str:
        """All of it in lines; what is accepted says so."""
        return "\n".join([self.sentence, *(f"  {one.item} · {one.accepted or one.words}" for one in self.items)])

    def plain(self) -> dict[str, Any]:
        """All of it as plain data."""
        return asdict(self)


@question(Act.SIGN)
def rehearse(
    ledger: Ledger, seen: CourseView, student: str, shown: Shown, keys: Sequence[CentreKey] | None
) -> ArrivalRehearsal:
    """Return what a transfer file is and says, for a student of this course. Nothing is noted.

    Args:
        shown: what was read from the file.
        keys: public keys of the other centre that somebody pinned; None: none were given.

    Raises:
        RefusedError: it is no transfer file, it was altered or is a newer version's, or it was printed here.
    """
    carried, document = carried_of(shown), shown.document
    verdict = check_paper(shown, keys).verdict
    if verdict not in _SIGNED or shown.file != FileState.AS_PRINTED or document is None:
        told = str(verdict) if verdict not in _SIGNED else "The file is not as it was printed."
        raise RefusedError(f"{told} Ask the other centre for it anew. Nothing was taken in.")
    if carried.from_centre == ledger.centre_id:
        raise RefusedError(
            "This file was printed by this centre: what it tells stands here already. Nothing was taken in."
        )
    file = hashlib.sha256(document.written()).hexdigest()
    arrival = derived_id(ledger.centre_id, "arrival", student, file)
    signature = _SIGNED[verdict]
    return ArrivalRehearsal(
        id=arrival,
        file=file,
        carried=carried,
        signature=signature,
        key=shown.code.key,
        known=_known(ledger, seen, arrival, file),
        person=_other_person(seen, student, carried),
        lines=_lines(carried, signature, shown.code.key),
        now_pinned=signature == "pinned" and _is_unpinned(ledger, arrival),
        back=isinstance(fact := ledger.fact("arrival", arrival), Arrival) and fact.withdrawn,
    )


def carried_of(shown: Shown) -> Carried:
    """Return what a transfer file carries for a program.

    Raises:
        RefusedError: it is none, only its code was read, it does not fit together, or a newer version made it.
    """
    if shown.document is None:
        raise RefusedError("Only the PDF of a transfer file carries what it says: show the file itself.")
    says = shown.document.says
    if shown.document.paper != TRANSFER_FILE or not isinstance(says, dict):
        raise RefusedError(f"This is no transfer file but: {shown.document.paper}. Nothing was taken in.")
    plain = says.get("carried")
    if isinstance(plain, dict) and plain.get("version") != 1:
        raise RefusedError("A newer version made this file. Install that version first. Nothing was taken in.")
    try:
        carried = Carried.model_validate(plain)
    except ValidationError as error:
        raise RefusedError(
            "What this file carries cannot be read: it does not have the form of a transfer file. Nothing was taken in."
        ) from error
    where, asked = shown.document.ledger.centre, shown.document.asked
    named = (asked.get("course"), asked.get("student"), asked.get("as_of"))
    if where != carried.from_centre or named != (carried.from_course, carried.from_student, carried.as_of):
        raise RefusedError(
            "This file names another centre, course or student inside than outside. Nothing was taken in."
        )
    return carried


@question(Act.SIGN)
def arrival_lines(ledger: Ledger, seen: CourseView, student: str, as_of: date) -> tuple[ArrivalLine, ...]:
    """Return what arrived of a student, each with all that could be accepted of it."""
    return tuple(_arrival(ledger, seen, one, as_of) for one in arrivals_of(seen, student))


@question(Act.SIGN)
def acceptable(seen: CourseView, arrival: Arrival, as_of: date) -> tuple[str, ...]:
    """Return what of an arrival these requirements ask for: skills, minutes and counts."""
    counted: list[Hours | Count] = [
        *student_hours(seen, arrival.student, as_of), *student_counts(seen, arrival.student, as_of)
    ]  # fmt: skip
    asked = {f"{'hours' if isinstance(one, Hours) else 'count'}:{one.kind}" for one in counted if one.required}
    amounts = [one.item for one in arrival.amounts if one.item in asked and one.amount]
    known = {skill.id for skill in seen.skills()}
    return (*amounts, *(f"skill:{one.skill}" for one in arrival.skills if one.skill in known))


def _arrival(ledger: Ledger, seen: CourseView, one: Arrival, as_of: date) -> ArrivalLine:
    private = ledger.private(one)
    day = day_words(date.fromisoformat(one.as_of))
    key = f" ({grouped(one.key)})" if one.key else ""
    sentence = f"From {centre_words(private)}, as of {day}. {_TRUST[one.signature]}{key}."
    sentence += f" The file calls them otherwise: {private['sure']}" if private.get("sure") else ""
    accepted = {word.item: accepted_words(ledger, seen, one, word) for word in one.accepted}
    items = tuple(
        ItemLine(item, item_words(seen, one, item, None, private.get("titles")), one.amount_of(item),
                 accepted.get(item, ""))
        for item in acceptable(seen, one, as_of)
    )  # fmt: skip
    return ArrivalLine(one.id, sentence, items)


def _known(ledger: Ledger, seen: CourseView, arrival: str, file: str) -> str:
    """Of one student it is the same arrival for ever; for another one the file is free once it was withdrawn."""
    facts = [one for one in ledger.facts("arrival") if isinstance(one, Arrival) and one.file == file]
    fact = next((one for one in facts if one.id == arrival or not one.withdrawn), None)
    if fact is None:
        return ""
    day, who = day_words(fact.observed.local.date()), seen.name(fact.student)
    back = ", and was taken back; its lead can say that it holds after all" if fact.withdrawn else ""
    return f"This very file arrived on {day} for {who}{back}. It is not taken in a second time."


def _is_unpinned(ledger: Ledger, arrival: str) -> bool:
    fact = ledger.fact("arrival", arrival)
    return isinstance(fact, Arrival) and not fact.withdrawn and fact.signature == "unknown"


def _other_person(seen: CourseView, student: str, carried: Carried) -> str:
    here = seen.people[student]
    born = here.birth_year or ""
    if here.name.casefold() == carried.student.casefold() and born and born == carried.birth_year:
        return ""
    there = ", born ".join(filter(None, (carried.student, carried.birth_year)))
    return f"The file is of {there}; here it is {', born '.join(filter(None, (here.name, born)))}."


def _lines(carried: Carried, signature: Signature, key: str) -> tuple[str, ...]:
    day = day_words(date.fromisoformat(carried.as_of))
    fingerprint = f" ({grouped(key)})" if key else ""
    held = sum(one.standing in ("met", "met_watch") for one in carried.skills)
    uncleared = [one.title for one in carried.skills if one.uncleared]
    told = [
        f"Transfer file of {carried.student} from {carried.centre}, {carried.course}, as of {day}.",
        f"{_TRUST[signature]}{fingerprint}.",
        f"{plural(len(carried.skills), 'skill')} tried, {held} of them held there.",
        *(f"Critical error not cleared there: {title}." for title in uncleared),
        *(f"Held back by an instructor there: {one.title}." for one in carried.skills if one.held_back),
        *(f"{amount_words(one.item, one.amount)} there." for one in carried.amounts if one.amount),
        *(f"{one.what}: seen there on {day_words(date.fromisoformat(one.day))}." for one in carried.papers),
        *((f"Exam there: {carried.exam}.",) if carried.exam else ()),
        "Nothing of it counts here until the lead accepts it, one thing at a time.",
    ]
    return tuple(told)
