"""Before somebody's data are erased: what that does, what stays, what speaks against it, where copies are."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from course.access import Sight
from course.answers.course_view import CourseView, view
from course.answers.day_state import open_incidents
from course.answers.days import day_words
from course.answers.findings import ShownFinding, course_findings
from course.answers.keeping import kept_until, today_in
from course.answers.people import known_people
from course.asker import question
from course.errors import RefusedError
from course.findings.finding import SEVERITIES
from course.moments import day_words as day_in_words
from course.moments import read_stored
from course.record.chain import Event
from course.record.facts import Attempt, Centre, Course, Person
from course.record.privacy_events import Against
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed
from course.storage.remembered import recalled
from course.words import KIND_OF_EVENT_WORDS, plural

DOES = (
    "Name, birth date, contact, papers' particulars and every text about this person can be read no more, for good: "
    "the key that opens them is deleted. Attempts, standings, hours and ratios stay counted, under a number."
)
STAYS = (
    "Papers that were printed, files that were exported or sealed with names, lists that somebody keeps.",
    "Backups that were made before, on any disk: each holds the key of its day. Destroy them and make a new one now.",
    "Copies of the centre's folder on other machines: erase there too, or destroy them.",
    "Texts that are not about this person alone, such as notes of an incident, names of groups and reasons.",
    "What the record tells without a name (days, skills, marks, roles): who was there may still know who it was.",
    "What a disk keeps of a place until it is used again. A disk that is encrypted as a whole keeps nothing readable.",
)
_OURS = ("ledger.", "vault.db", "lock", "rubrics", "waiting")
"""How the names begin of what the program itself keeps in a centre's folder."""


@dataclass(frozen=True)
class Reason:
    """One thing that speaks against erasing now."""

    kind: Against
    sentence: str


@dataclass(frozen=True)
class BeforeErasing:
    """What to know before somebody's data are erased."""

    person: str
    name: str
    against: tuple[Reason, ...]
    copies: tuple[str, ...]
    """Backups made on this machine that are still where they were made, and what somebody put into the centre's folder,
    each as a sentence."""
    does: str = DOES
    stays: tuple[str, ...] = STAYS

    def text(self) -> str:
        """The answer in lines."""
        lines = [self.does, "", "What is not reached:", *(f"- {line}" for line in (*self.stays, *self.copies))]
        if self.against:
            lines += ["", "What speaks against it now:", *(f"- {one.sentence}" for one in self.against)]
        return "\n".join(lines)


@question(Sight.PRIVACY)
def before_erasing(ledger: Ledger, person: str) -> BeforeErasing:
    """Return what erasing somebody's data would do, and what speaks against it.

    Raises:
        NotFoundError: there is no such person.
        RefusedError: it cannot be done: erased already, the centre's lead, or in the middle of an attempt.
    """
    who = needed(ledger, Person, person, "person")
    _refuse(ledger, who)
    courses = [c for c in all_of(ledger, Course) if any(member.person == person for member in c.members)]
    seen = [view(ledger, course.id) for course in courses]
    return BeforeErasing(
        person,
        known_people(ledger, [who])[person].shown,
        tuple(_against(ledger, who, seen)),
        tuple(_copies(ledger)),
    )


def _copies(ledger: Ledger) -> Iterator[str]:
    for one in recalled().backups.get(ledger.centre_id, ()):
        if one.there:
            yield f"{one.file}, made on {day_in_words(read_stored(one.at).date())}."
    for found in sorted(ledger.folder.iterdir()):
        if not found.name.startswith(_OURS):
            yield f"{found}, which is not this program's own: look whether it tells of this person."


def _refuse(ledger: Ledger, who: Person) -> None:
    if who.erased:
        on = day_words(who.erased.observed.local.date())
        raise RefusedError(f"This person's data were erased on {on}. Nothing was changed.")
    if who.id == needed(ledger, Centre, ledger.centre_id, "centre").lead:
        raise RefusedError(
            "The centre's lead cannot be erased: nobody could act for the centre any more. Nothing was changed."
        )
    for attempt in all_of(ledger, Attempt):
        if attempt.ending is None and who.id in (attempt.student, *(sheet.observer for sheet in attempt.sheets)):
            raise RefusedError("This person is in an attempt that is not closed. Close it first. Nothing was changed.")


def _against(ledger: Ledger, who: Person, courses: list[CourseView]) -> Iterator[Reason]:
    today = today_in(ledger)
    for seen in courses:
        if seen.last_day >= today:
            until = day_words(seen.last_day)
            yield Reason("running_course", f"They are on {seen.course.title}, which runs until {until}.")
        for session in seen.sessions.values():
            if any(who.id in incident.people for incident in open_incidents(session)):
                yield Reason("open_incident", f"They were in {session.title} when it was frozen, and that stands open.")
        worst = [one for one in _open_findings(ledger, seen) if _is_about(one, who.id)]
        if worst:
            count = plural(len(worst), "finding")
            yield Reason("worst_finding", f"{seen.course.title} has {count} about them that nobody answered and where "
                         "somebody could have been hurt.")  # fmt: skip
    kept = kept_until(ledger, who)
    if kept and kept[1] >= today:
        yield Reason("retention", f"The centre keeps these data until {day_words(kept[1])}, {plural(kept[2], 'day')} "
                     f"after {day_words(kept[0])}.")  # fmt: skip


def _open_findings(ledger: Ledger, seen: CourseView) -> list[ShownFinding]:
    answer = course_findings(ledger, seen, seen.usual_day)
    every = [one for whole in answer.findings for one in (whole, *whole.follow)]
    return [one for one in every if one.severity is SEVERITIES[0] and not one.answered]


def _is_about(finding: ShownFinding, person: str) -> bool:
    return any(person in (line.student, line.id) for line in finding.evidence) or person in finding.key


# --- texts of others ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class NamedIn:
    """Texts of the centre or of others in which a name, or a part of it, stands."""

    texts: int
    kinds: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """How many, and of what."""
        if not self.texts:
            return "No other text holds this name or a part of it."
        verb = "holds" if self.texts == 1 else "hold"
        return (
            f"{plural(self.texts, 'other text')} {verb} this name or a part of it ({', '.join(self.kinds)}). It may be "
            "another person's. Erasing does not reach them: mend what is shown; what was written first stays in the "
            "ledger, sealed with a key that is not this person's."
        )


@question(Sight.PRIVACY)
def named_in(ledger: Ledger, person: str) -> NamedIn:
    """Look through every text that is not sealed for this person, and count those that name them. Reads the ledger."""
    name = str(ledger.private(needed(ledger, Person, person, "person")).get("name") or "")
    words = [re.escape(word) for word in name.split() if len(word) > 2] or [re.escape(name)]
    if not name:
        return NamedIn(0, ())
    wanted = re.compile(rf"\b({'|'.join(words)})\b", re.IGNORECASE)
    found = Counter(
        _kind_words(event.kind)
        for event in ledger.events()
        if _is_others(event, person) and any(wanted.search(text) for text in _texts(ledger.private_of(event)))
    )
    return NamedIn(found.total(), tuple(f"{count} in {kind}" for kind, count in sorted(found.items())))


def _is_others(event: Event, person: str) -> bool:
    if '"sealed"' not in event.body or event.kind.startswith("person_added/"):
        return False  # a name that somebody else has is theirs
    return str(json.loads(event.body)["sealed"]["of"]) != person


def _kind_words(kind: str) -> str:
    return KIND_OF_EVENT_WORDS.get(kind, kind.partition("/")[0].replace("_", " "))


def _texts(private: Any) -> Iterator[str]:
    """Every text within a private part."""
    if isinstance(private, str):
        yield private
    elif isinstance(private, dict):
        for one in private.values():
            yield from _texts(one)
    elif isinstance(private, list):
        for one in private:
            yield from _texts(one)
