"""Erase somebody's personal data, and say how long such data are kept. The lead answers for both."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from course.access import Act
from course.actions.accounts import closing
from course.actions.drafting import allow, body, draft, told
from course.actions.signing_pins import letting_go
from course.answers.course_view import forget_views
from course.answers.erasing import BeforeErasing, before_erasing
from course.errors import RefusedError
from course.moments import now, observed_at
from course.record.events import PersonErased, RetentionSet
from course.record.facts import Centre
from course.storage.erasing import erase
from course.storage.ledger import Ledger
from course.storage.lookup import needed
from course.words import Authority

_WORD = re.compile(r"[^\W_]+")
_SHORT = 2
"""Parts of a name with no more letters are words of many texts."""


@dataclass(frozen=True)
class Erased:
    """That somebody's data were erased: how they are called from now on, and what is left to do."""

    shown: str
    before: BeforeErasing
    notes: tuple[str, ...]
    """What could not be tidied, as sentences."""

    def text(self) -> str:
        """The answer in lines."""
        left = [*self.before.stays[:3], *(f"  {line}" for line in self.before.copies), *self.notes]
        return "\n".join([f"Erased. They are “{self.shown}” from now on.", "Left to do:", *(f"- {x}" for x in left)])


def erase_person(
    ledger: Ledger, actor: str, person: str, *, authority: Authority, reason: str, despite: str | None = None
) -> Erased:
    """Erase somebody's personal data for good: say so in the ledger, then delete the key that opens them.

    Whatever else is kept for one person is let go here too.

    Args:
        ledger: open for writing.
        actor: a lead, and not the person.
        person: whose.
        authority: on whose word.
        reason: the centre's own, without the person's name.
        despite: why, in spite of what speaks against it; needed where something does.

    Raises:
        NotFoundError: there is no such person.
        RefusedError: something speaks against it (told what) and no word is given for that, or it cannot be done.
        StorageError: the key could not be deleted; where the ledger holds the erasing, its next opening deletes it.
    """
    allow(ledger, actor, Act.ERASE)
    if actor == person:
        raise RefusedError("Nobody erases their own data: another lead does. Nothing was changed.")
    before = before_erasing(ledger, person)
    if before.against and not (despite and despite.strip()):
        why = " ".join(one.sentence for one in before.against)
        raise RefusedError(f"{why} Say why it is done in spite of that, or wait. Nothing was changed.")
    zone = needed(ledger, Centre, ledger.centre_id, "centre").zone
    content = body(
        PersonErased, person=person, authority=authority,
        against=tuple(dict.fromkeys(one.kind for one in before.against)), observed=observed_at(now(), zone),
        reason=_unnamed(told(reason), before.name), despite=_unnamed(despite or "", before.name) or None,
    )  # fmt: skip
    ledger.append([*closing(ledger, actor, person), *letting_go(ledger, actor, person), draft(actor, content)])
    notes = erase(ledger, person)
    forget_views()
    return Erased(f"erased person {person[-6:]}", before, notes)


def set_retention(
    ledger: Ledger,
    actor: str,
    *,
    student_days: int | None,
    staff_days: int | None,
    incident_days: int | None,
    note: str | None = None,
) -> None:
    """Say for how many days after their last course people's data are kept; None: no time. Erases nothing by itself.

    Raises:
        RefusedError: a number of days cannot be used, or the person may not.
    """
    allow(ledger, actor, Act.KEEP)
    centre = needed(ledger, Centre, ledger.centre_id, "centre")
    content = body(
        RetentionSet, centre=centre.id, student_days=student_days, staff_days=staff_days, incident_days=incident_days,
        replaces=centre.retention.events if centre.retention else (), observed=observed_at(now(), centre.zone),
        note=note or None,
    )  # fmt: skip
    ledger.append([draft(actor, content)])


def _unnamed(text: str, name: str) -> str:
    """Refuse a reason with the person's name or a part of it, however it is written: it would outlast them."""
    own = name.partition(" (")[0]
    if (letters := _letters(own)) and letters in _letters(text):
        raise RefusedError("The reason holds the name, which would stay. Write it without. Nothing was changed.")
    in_text = {_letters(word) for word in _words(text)}
    for part in _words(own):
        if len(part) > _SHORT and _letters(part) in in_text:
            raise RefusedError(
                f"The reason holds “{part}”, a part of the name, which would stay. Write it without. "
                "Nothing was changed."
            )
    return text


def _words(text: str) -> list[str]:
    return _WORD.findall(unicodedata.normalize("NFKC", text))


def _letters(text: str) -> str:
    """Letters and digits alone, in one form and one case."""
    return "".join(letter for letter in unicodedata.normalize("NFKC", text).casefold() if letter.isalnum())
