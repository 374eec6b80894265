"""Set points of a session: what is noted, and what each loop was held at over the time in the water, as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from course.access import Sight
from course.answers.course_view import CourseView
from course.asker import question
from course.hours.set_points import held_by
from course.record.day_facts import SetPoint
from course.record.facts import Session

EVERYBODY = "everybody without one of their own"


@dataclass(frozen=True)
class NotedLine:
    """One note that stands."""

    event: str
    words: str


@dataclass(frozen=True)
class HeldPicture:
    """PO2 over the time in the water, of one person or of everybody without a set point of their own."""

    whose: str
    words: str
    begins: str
    """On the clock of the place: the picture's minute 0."""
    line: tuple[tuple[float, float], ...]
    """Minutes and bar."""
    wet: tuple[tuple[float, float], ...]
    """From and to which minute somebody of them was in the water."""

    @property
    def sentence(self) -> str:
        """The picture in words."""
        return f"Set point held, {self.whose}: {self.words}."


@dataclass(frozen=True)
class SetPointsAnswer:
    """What is noted in a session; a picture where anything that is noted has a time."""

    notes: tuple[NotedLine, ...]
    pictures: tuple[HeldPicture, ...]


@question(Sight.HOURS)
def set_points(seen: CourseView, session: str) -> SetPointsAnswer:
    """Return what is noted of a session's set points, with a picture of each that changed."""
    fact = seen.sessions[session]
    in_order = sorted(fact.set_points, key=lambda one: (one.person or "", one.begins.utc if one.begins else ""))
    notes = tuple(NotedLine(one.event, f"{_words(one)}: {_whose(seen, one.person)}") for one in in_order)
    people = dict.fromkeys(water.person for water in fact.water if water.entered and water.left)
    owners = {one.person for one in fact.set_points}
    drawn = [(person, [person]) for person in people if person in owners]
    others = [person for person in people if person not in owners]
    pictures = [
        _picture(seen, fact, whose, of)
        for whose, of in [*([(None, others)] if others and None in owners else []), *drawn]
    ]
    return SetPointsAnswer(notes, tuple(one for one in pictures if one is not None))


def _words(one: SetPoint) -> str:
    if one.begins is None:
        return f"{one.bar} bar at first"
    within = f" within {one.over_minutes} min" if one.over_minutes else ""
    return f"{one.bar} bar{within} from {one.begins.local:%H:%M}"


def _whose(seen: CourseView, person: str | None) -> str:
    return seen.name(person) if person else EVERYBODY


def _picture(seen: CourseView, session: Session, whose: str | None, people: Sequence[str]) -> HeldPicture | None:
    times = [
        (one.entered, one.left, one.person)
        for one in session.water
        if one.person in people and one.entered and one.left
    ]
    begins = min((entered for entered, _, _ in times), key=lambda one: one.moment)
    _, last, person = max(times, key=lambda one: one[1].moment)
    held = held_by(session, person)
    if not held.turns:
        return None

    def minutes(since: timedelta) -> float:
        return since / timedelta(minutes=1)

    stretches = held.stretches(begins.moment, last.moment)
    return HeldPicture(
        _whose(seen, whose),
        held.words,
        f"{begins.local:%H:%M}",
        tuple(
            (minutes(at - begins.moment), bar)
            for one in stretches
            for at, bar in ((one.begins, one.bar_from), (one.ends, one.bar_to))
        ),
        tuple((minutes(came.moment - begins.moment), minutes(left.moment - begins.moment)) for came, left, _ in times),
    )
