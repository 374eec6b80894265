"""Marks that waited on a tablet and were saved as a file: what is in it, and taking it in as the tablet would."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from pydantic import ValidationError

from course.actions.pad import PadAnswer, PadItem, take
from course.answers.days import day_words
from course.errors import CourseError, NotFoundError, RefusedError
from course.moments import zone_named
from course.record.facts import Attempt, Centre, Course, Person
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, needed, skill_as_marked
from course.words import plural

FORM = "course waiting taps"
VERSION = 1
MOST_BYTES = 4 * 1024 * 1024
MOST_MARKS = 5000
_FIRST, _LAST = datetime(1, 1, 3), datetime(9999, 12, 29)  # noqa: DTZ001 - further out no zone can be told
_BEGINNINGS = ("attempt_opened/1", "sheet_started/1")
_KEPT = "Nothing was taken in; the file and the tablet keep what they have."


@dataclass(frozen=True)
class WaitingAttempt:
    """What a file holds of one attempt."""

    attempt: str
    student: str
    skill: str
    tapped: str
    """From when to when."""
    marks: int
    there: int
    """How many of them are in the ledger already."""

    @property
    def line(self) -> str:
        """The attempt in one line."""
        left = self.marks - self.there
        there = f", {self.there} there" if self.there else ""
        new = f"{left} new{there}" if left else "all in the ledger already"
        return f"{self.student} · {self.skill} · {self.tapped} · {plural(self.marks, 'tap')}: {new}"


@dataclass(frozen=True)
class WaitingFile:
    """A file of waiting marks that can be taken in, with an account of it."""

    items: tuple[dict[str, Any], ...]
    attempts: tuple[WaitingAttempt, ...]
    tablet: str
    unreadable: int

    @property
    def new(self) -> int:
        """How many taps are not in the ledger yet."""
        return sum(attempt.marks - attempt.there for attempt in self.attempts)

    @property
    def sentence(self) -> str:
        """What is in the file, in one sentence."""
        total = sum(attempt.marks for attempt in self.attempts)
        begin = f"{plural(total, 'tap')} of {plural(len(self.attempts), 'attempt')}"
        origin = f" from tablet {self.tablet}" if self.tablet else ""
        state = "all of them are in the ledger already" if not self.new else f"{self.new} not in the ledger yet"
        odd = f"; {self.unreadable} cannot be read and will be left" if self.unreadable else ""
        return f"{begin}{origin}: {state}{odd}."


def read_waiting_file(ledger: Ledger, content: bytes) -> WaitingFile:
    """Read a file of waiting marks and say what is in it; nothing is changed.

    Raises:
        RefusedError: it is another file, damaged, of another centre or of a newer version (told which).
    """
    plain = _opened(content)
    if plain.get("centre") not in (None, ledger.centre_id):
        raise RefusedError(
            f"These marks were made at another centre, or in another folder of this one. {_KEPT} "
            "Open the folder that they were made in and take them in there."
        )
    raw = plain["items"]
    items = tuple(item for item in raw if isinstance(item, dict) and _readable(item))
    return WaitingFile(
        items=tuple(sorted(items, key=lambda item: str(item["id"]))),
        attempts=tuple(_account(ledger, items)),
        tablet=str(plain.get("tablet") or "")[:4] if re.fullmatch(r"[0-9A-Z]{8}", str(plain.get("tablet"))) else "",
        unreadable=len(raw) - len(items),
    )


def take_waiting_file(ledger: Ledger, file: WaitingFile) -> PadAnswer:
    """Take the marks in by the way of the pad's own route: what is there already is acknowledged, adding nothing.

    Raises:
        StorageError: NOT saved; those before it are, and the file can be taken in again.
    """
    return take(ledger, file.items)


def _opened(content: bytes) -> dict[str, Any]:
    """The file as plain data, or the reason why it is none of ours."""
    if len(content) > MOST_BYTES:
        raise RefusedError(f"This file is larger than any that a tablet saves. {_KEPT}")
    text = content.decode("utf-8", errors="replace")
    try:
        plain = json.loads(text)
    except (ValueError, RecursionError):
        if FORM in text[:200]:
            raise RefusedError(
                f"This file is damaged: it begins as a file of waiting marks and cannot be read to its end. {_KEPT} "
                "Save it again on the tablet: See, then Save as a file."
            ) from None
        raise _wrong_file() from None
    form = plain.get("form") if isinstance(plain, dict) else None
    found = re.fullmatch(rf"{FORM}/(\d{{1,4}})", form) if isinstance(form, str) else None
    if found is None:
        raise _wrong_file()
    if int(found[1]) > VERSION:
        raise RefusedError(
            f"This file was saved by a newer version of the program (form {found[1]}; this one reads {VERSION}). "
            f"{_KEPT} Open the centre with the newer version and take it in there."
        )
    items = plain.get("items")
    if not isinstance(items, list) or len(items) > MOST_MARKS or plain.get("count", len(items)) != len(items):
        raise RefusedError(
            f"This file is damaged: its list of marks is not whole. {_KEPT} Save it again on the tablet."
        )
    return dict(plain)


def _wrong_file() -> RefusedError:
    return RefusedError(
        f"This is no file of waiting marks. {_KEPT} Such a file is saved on a tablet's pad: See, then Save as a file; "
        "its name begins with waiting-taps."
    )


def _readable(item: dict[str, Any]) -> bool:
    try:
        tapped = _tapped(PadItem.model_validate(item))
    except (ValidationError, OverflowError):
        return False
    return _FIRST < tapped.replace(tzinfo=None) < _LAST


def _account(ledger: Ledger, items: Sequence[dict[str, Any]]) -> Iterator[WaitingAttempt]:
    of: dict[str, list[dict[str, Any]]] = {}
    for item in items:
        of.setdefault(item["attempt"], []).append(item)
    for attempt, own in of.items():
        student, skill = _names(ledger, attempt, own)
        taps = [item for item in own if item["kind"] not in _BEGINNINGS] or own  # a beginning is nobody's tap
        there = sum(_is_there(ledger, item) for item in taps)
        yield WaitingAttempt(attempt, student, skill, _when(ledger, own), len(taps), there)


def _when(ledger: Ledger, items: Sequence[dict[str, Any]]) -> str:
    """From when to when it was tapped, where the centre is, with the tablet's clock put right."""
    zone = zone_named(needed(ledger, Centre, ledger.centre_id, "centre").zone)
    taps = [_tapped(PadItem.model_validate(item)).astimezone(zone) for item in items]
    first, last = min(taps), max(taps)
    end = f"{last:%H:%M}" if first.date() == last.date() else f"{day_words(last.date())} {last:%H:%M}"
    return f"{day_words(first.date())} {first:%H:%M}" + (f" to {end}" if f"{first:%H:%M}" != end else "")


def _tapped(item: PadItem) -> datetime:
    """When it was tapped, with the tablet's clock put right; a time without a zone is UTC."""
    tapped = item.tapped_at if item.tapped_at.tzinfo else item.tapped_at.replace(tzinfo=UTC)
    return tapped + timedelta(milliseconds=item.clock_offset_ms or 0)


def _is_there(ledger: Ledger, item: dict[str, Any]) -> bool:
    """Whether the ledger has the tap, or what it begins was begun from another tablet."""
    if ledger.event(item["id"]) is not None:
        return True
    fact = ledger.fact("attempt", item["attempt"])
    if not isinstance(fact, Attempt):
        return False
    begun = item["kind"] == "attempt_opened/1"
    return begun or (item["kind"] == "sheet_started/1" and any(s.id == item["sheet"] for s in fact.sheets))


def _names(ledger: Ledger, attempt: str, items: Sequence[dict[str, Any]]) -> tuple[str, str]:
    """Whose attempt at which skill, as far as this ledger knows them."""
    student = next(str(item["student"]) for item in items)
    person = ledger.fact("person", student)
    name = ledger.private(person).get("name") if isinstance(person, Person) else None
    try:
        title = _title(ledger, attempt, items)
    except CourseError:
        title = "an attempt that this ledger does not know"
    return str(name or "somebody this ledger does not know"), title


def _title(ledger: Ledger, attempt: str, items: Sequence[dict[str, Any]]) -> str:
    fact = ledger.fact("attempt", attempt)
    if isinstance(fact, Attempt):
        return f"{skill_as_marked(ledger, fact.skill, fact.rubric).title}, attempt {fact.number}"
    opening = next((item["body"] for item in items if item["kind"] == "attempt_opened/1"), None)
    if opening is None:
        raise NotFoundError("This attempt is in no ledger here.")
    of_course = needed(ledger, Course, str(opening.get("course")), "course")
    return f"{adopted(ledger, of_course.adoption).skill(str(opening.get('skill'))).title}, a new attempt"
