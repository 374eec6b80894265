"""Begin an attempt or a sheet as the pad sends it: with its first mark, and with ids made where the person acts.

Two tablets on the same line know the attempt by the same id, so either of them may begin it; the second finds it there.
"""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock
from typing import Any, Protocol

from pydantic import BaseModel, ConfigDict, ValidationError

from course.actions.attempts import Opened, opening_draft, sheet_draft, trial_of
from course.actions.session_limits import refuse_after_the_session, refuse_beginning
from course.errors import RefusedError
from course.moments import Observed
from course.record.events import Id, plain_faults
from course.record.facts import Attempt, Course
from course.standards.rubric import Slug
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed
from course.words import Closing, SheetSource

_NUMBERING = Lock()
"""Two tablets that begin at the same moment must not get the same attempt number."""


class Item(Protocol):
    """What is asked of a tap here."""

    @property
    def id(self) -> str:
        """The event's id."""

    @property
    def attempt(self) -> str:
        """The attempt's id."""

    @property
    def student(self) -> str:
        """Who was on the screen."""

    @property
    def sheet(self) -> str:
        """The sheet's id."""

    @property
    def body(self) -> dict[str, Any]:
        """What was tapped."""


class _Beginning(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    course: Id
    session: Id
    skill: Slug
    observer: Id
    within: Id | None = None


class _Start(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    observer: Id


def begin_attempt(ledger: Ledger, item: Item, observed_in: Callable[[str], Observed]) -> None:
    """Open the attempt that the tap names, unless it is open already as the same one.

    Args:
        ledger: open for writing.
        item: the tap; its body holds course, session, skill, observer and what it was seen within.
        observed_in: the moment of the tap in a zone.

    Raises:
        NotFoundError: course, session, skill, student or observer are not there.
        RefusedError: it does not fit (told what); nothing was changed.
    """
    said = _read(_Beginning, item.body)
    with _NUMBERING:
        if _is_there(ledger, item, said):
            return
        trial = trial_of(ledger, said.course, said.session, item.student, said.skill)
        observed = observed_in(trial.course.zone)
        refuse_beginning(ledger, trial.course, trial.session, item.student, trial.assigned, observed)
        if said.within:
            _refuse_within(ledger, item, said, said.within, trial.skill.title)
        common = (ledger, said.observer, trial.course, item.student, item.attempt, item.sheet, SheetSource.PAD)
        sheet_draft(*common, observed)  # an attempt that this observer may not mark is not opened
        _, opening = opening_draft(
            ledger, said.observer, trial, observed,
            opened=Opened(item.attempt, item.sheet), within=said.within, event_id=item.id,
        )  # fmt: skip
        ledger.append([opening])


def begin_sheet(ledger: Ledger, item: Item, observed_in: Callable[[str], Observed]) -> None:
    """Start the observer's sheet of an attempt, unless it was started already.

    Raises:
        NotFoundError: there is no such attempt.
        RefusedError: the observer has another sheet of it, does not teach on the course, or is the student.
    """
    said = _read(_Start, item.body)
    attempt = needed(ledger, Attempt, item.attempt, "attempt")
    if item.student != attempt.student:
        raise RefusedError("This sheet was begun for another student than the attempt belongs to. It was NOT saved.")
    for sheet in attempt.sheets:
        if (sheet.id, sheet.observer) == (item.sheet, said.observer):
            return
        if sheet.id == item.sheet or sheet.observer == said.observer:
            raise RefusedError(
                "This observer has a sheet of this attempt already, begun elsewhere. It was NOT saved; "
                "open the attempt again from Mark and go on there."
            )
    of_course = needed(ledger, Course, attempt.course, "course")
    observed = observed_in(of_course.zone)
    refuse_after_the_session(ledger, attempt.session, observed)
    start = sheet_draft(
        ledger, said.observer, of_course, attempt.student, attempt.id, item.sheet, SheetSource.PAD, observed, item.id
    )
    ledger.append([start])


def _read(model: type[Any], given: dict[str, Any]) -> Any:
    try:
        return model.model_validate(given)
    except ValidationError as error:
        raise RefusedError(f"{plain_faults(error)} Nothing was changed.") from None


def _is_there(ledger: Ledger, item: Item, said: _Beginning) -> bool:
    found = ledger.fact("attempt", item.attempt)
    if not isinstance(found, Attempt):
        return False
    own = (item.student, said.session, said.skill)
    if found.withdrawn or (found.student, found.session, found.skill) != own:
        raise RefusedError(
            "This attempt is in the ledger already, for another student, session or skill than this tablet shows. "
            "It was NOT saved; reload the page."
        )
    return True


def _refuse_within(ledger: Ledger, item: Item, said: _Beginning, within: str, title: str) -> None:
    """One act counts once for each skill, and an act seen inside another has nothing inside itself."""
    host = needed(ledger, Attempt, within, "attempt that this one was seen in")
    if (host.student, host.session) != (item.student, said.session) or host.skill == said.skill:
        raise RefusedError(
            f"{title} can be seen inside another skill of the same student in the same session only. It was NOT saved."
        )
    if host.within is not None:
        raise RefusedError(f"{title}: add it to the attempt that this act belongs to. It was NOT saved.")
    others = all_of(ledger, Attempt, course=said.course, person=item.student, skill=said.skill)
    if any(o.within == within and not (o.ending and o.ending.how == Closing.VOID) for o in others):
        raise RefusedError(f"{title} is marked inside this attempt already and counts once. It was NOT saved.")
